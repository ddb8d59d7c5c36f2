"""What a design's laminate is worked out to be: thickness, fractions, need of resin, gel coat (shop rules 30, 31)."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from schemas.words import FabricForm, MaterialKind, Purpose
from service.formulas.fibre_fractions import fractions_with_voids
from service.formulas.laminate import (
    fibre_mass_fraction,
    fibre_volume_fraction,
    gel_coat_g,
    ply_thickness_mm,
    resin_need_g,
    thickness_from_glass_mm,
    uptake_g,
)
from service.formulas.ranges import OutOfRange
from service.formulas.symmetry import is_balanced, is_symmetric
from service.operations.door.rows import find_row
from service.operations.parts.designs import DesignRef, design_ref
from service.operations.parts.part import PartInHand
from service.operations.parts.plies import expected_kit, materials_of, stack_of
from service.operations.parts.trim import trim_figures
from service.records.base import known
from service.records.materials import Material
from service.records.parts import Design

_FROM_FIBRE, _FROM_GLASS = "density and volume fraction of the fibre", "glass content, small craft formula"


@dataclass(frozen=True, slots=True)
class PlyThickness:
    number: int
    material_name: str
    zone: str | None
    thickness_mm: float | None
    worked_out_from: str | None


@dataclass(frozen=True, slots=True)
class Stack:
    """The plies that lie one on another in a zone; zone None is the whole of a design without zones.

    Attributes
    ----------
    thickness_mm
        Without gel coat and core.
    """

    zone: str | None
    plies: int
    thickness_mm: float | None
    symmetric: bool
    balanced: bool


@dataclass(frozen=True, slots=True)
class NeedCompared:
    """What is worked out for a purpose beside what the design plans for it, losses included."""

    purposes: tuple[str, ...]
    worked_out_g: float
    planned_g: float | None
    difference_pct: float | None
    sentence: str


@dataclass(frozen=True, slots=True)
class LaminateView:
    """What the plies of a design come to: masses, resin, thickness.

    Attributes
    ----------
    thickness
        In one sentence; in the part's record too.
    """

    design: DesignRef
    process: str | None
    fibre_mass_fraction: float | None
    fibre_volume_fraction: float | None
    plies: tuple[PlyThickness, ...]
    stacks: tuple[Stack, ...]
    thickness: str | None
    fibre_g: float | None
    uptake_g: float | None
    needs: tuple[NeedCompared, ...]
    sentences: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Fractions:
    by_mass: float | None
    by_volume: float | None


def read_laminate(design: int) -> LaminateView:
    """What a design's laminate is worked out to be, beside what the design plans."""
    row: Design = find_row(Design, design, "design")
    materials = materials_of(row.plies, at=row.approved_at)
    stated: dict[str, Any] = row.laminate or {}
    sentences: list[str] = []
    fractions = _fractions(stated, row.densities, sentences)
    plies = tuple(_ply(p, materials[p["material"]], fractions, row.densities) for p in row.plies)
    sentences += [
        f"Ply {p.number} ({p.material_name}): its thickness cannot be told." for p in plies if p.thickness_mm is None
    ]
    fibres = sorted({fibre for p in row.plies if (fibre := materials[p["material"]].fibre)})
    if len(fibres) > 1 and row.densities is not None:
        sentences.append(f"The cloths are of {' and '.join(fibres)}, and the design gives one density of fibre.")
    kit = expected_kit(row, materials)
    taken_up = _uptake(row, stated)
    stacks = _stacks(row, plies, materials)
    thickness = _thickness(stacks, fractions)
    needs = _needs(row, kit.expected_g if kit else None, fractions, sentences)
    return LaminateView(
        design=design_ref(row),
        process=stated.get("process"),
        fibre_mass_fraction=_rounded(fractions.by_mass, 4),
        fibre_volume_fraction=_rounded(fractions.by_volume, 4),
        plies=plies,
        stacks=stacks,
        thickness=thickness,
        fibre_g=round(kit.expected_g, 1) if kit else None,
        uptake_g=_rounded(taken_up, 1),
        needs=tuple(needs),
        sentences=(*([thickness] if thickness else []), *sentences, *(need.sentence for need in needs)),
    )


def _needs(row: Design, fibre_g: float | None, fractions: _Fractions, said: list[str]) -> list[NeedCompared]:
    stated: dict[str, Any] = row.laminate or {}
    try:
        wet_out = _wet_out(row, stated, fibre_g, _uptake(row, stated), fractions, said)
        return [need for need in (wet_out, _gel_coat(row, stated)) if need is not None]
    except OutOfRange as wrong:
        said.append(f"The need of resin is not worked out: {wrong}")
        return []


def needs_not_stated(row: Design, materials: Mapping[int, Material]) -> list[tuple[str, float]]:
    """Purposes for which the design plans no resin, and the grams that its fibre fraction and gel coat come to."""
    kit = expected_kit(row, materials)
    needs = _needs(row, kit.expected_g if kit else None, _fractions(row.laminate or {}, row.densities, []), [])
    return [(need.purposes[-1], need.worked_out_g) for need in needs if need.planned_g is None]


def _rounded(value: float | None, places: int) -> float | None:
    return None if value is None else round(value, places)


def _fractions(stated: Mapping[str, Any], densities: Mapping[str, float] | None, said: list[str]) -> _Fractions:
    """Both fractions, the one that is not stated from the densities."""
    by_mass, by_volume = stated.get("fibre_mass_fraction"), stated.get("fibre_volume_fraction")
    if by_mass is None and by_volume is None:
        said.append("The design states no fibre fraction, so neither thickness nor need of resin is worked out.")
    elif densities is None:
        said.append("The design gives no densities of fibre and cured resin, so only the stated fraction is known.")
    elif by_mass is not None:
        by_volume = fibre_volume_fraction(
            fibre_mass_fraction=by_mass,
            fibre_density_g_cm3=densities["fibre_g_cm3"],
            matrix_density_g_cm3=densities["matrix_g_cm3"],
        )
    elif by_volume is not None:
        by_mass = fibre_mass_fraction(
            fibre_volume_fraction=by_volume,
            fibre_density_g_cm3=densities["fibre_g_cm3"],
            matrix_density_g_cm3=densities["matrix_g_cm3"],
        )
    return _Fractions(by_mass, by_volume)


def planned_by_mass(row: Design) -> float | None:
    """Fibre by mass as the design states it, or as it follows from the fraction by volume."""
    return _fractions(row.laminate or {}, row.densities, []).by_mass


def planned_uptake_g(row: Design) -> float:
    """What peel ply, core and mesh take up, as far as the design says."""
    return _uptake(row, row.laminate or {}) or 0.0


def _ply(
    ply: Mapping[str, Any], cloth: Material, fractions: _Fractions, densities: Mapping[str, float] | None
) -> PlyThickness:
    """A mat of glass by its glass, any other cloth by its fibre; glass whose density nobody gave by its glass too."""
    thickness, way = None, None
    of_glass = "glass" in (cloth.fibre or "").casefold()
    try:
        if cloth.kind != MaterialKind.FABRIC:
            pass
        elif of_glass and fractions.by_mass is not None and (cloth.form == FabricForm.MAT or densities is None):
            way = _FROM_GLASS
            thickness = thickness_from_glass_mm(
                glass_kg_m2=known(cloth.areal_weight_g_m2) / 1000, glass_mass_fraction=fractions.by_mass
            )
        elif densities is not None and fractions.by_volume is not None:
            way = _FROM_FIBRE
            thickness = ply_thickness_mm(
                areal_weight_g_m2=known(cloth.areal_weight_g_m2),
                fibre_density_g_cm3=densities["fibre_g_cm3"],
                fibre_volume_fraction=fractions.by_volume,
            )
    except OutOfRange:
        # A weight or a fraction for which the formula was not made: the ply is listed as one that cannot be told.
        way = None
    return PlyThickness(ply["number"], cloth.name, ply.get("zone"), _rounded(thickness, 3), way)


def _stacks(row: Design, plies: Sequence[PlyThickness], materials: Mapping[int, Material]) -> tuple[Stack, ...]:
    """Symmetry is a matter of what lies one on another: each zone is looked at with the plies that run through it."""
    stacks = []
    for zone in row.zones or [None]:
        chosen = [p for p in row.plies if p.get("zone") in (None, zone)]
        if not chosen:
            continue
        numbers = {p["number"] for p in chosen}
        each = [p.thickness_mm for p in plies if p.number in numbers]
        known = [t for t in each if t is not None]
        laid = stack_of(chosen, materials)
        stacks.append(
            Stack(
                zone=zone,
                plies=len(chosen),
                thickness_mm=round(sum(known), 2) if len(known) == len(each) else None,
                symmetric=is_symmetric(plies=laid),
                balanced=is_balanced(plies=laid),
            )
        )
    return tuple(stacks)


def _thickness(stacks: Sequence[Stack], fractions: _Fractions) -> str | None:
    """The laminate in one sentence, for the record of a part; without gel coat and core."""
    told = [f"{s.zone + ' ' if s.zone else ''}{s.thickness_mm:g} mm" for s in stacks if s.thickness_mm is not None]
    if not told:
        return None
    shares = [
        f"{share * 100:.0f} % {words}"
        for share, words in ((fractions.by_mass, "by mass"), (fractions.by_volume, "by volume"))
        if share is not None
    ]
    return f"Worked out for {' and '.join(shares)} of fibre: {', '.join(told)} thick."


def _area_m2(row: Design, stated: Mapping[str, Any]) -> float | None:
    """Area of the moulding: as stated, else that of the largest ply."""
    return stated.get("area_m2") or max((p["area_m2"] for p in row.plies), default=None)


def _uptake(row: Design, stated: Mapping[str, Any]) -> float | None:
    """Resin that peel ply, core and mesh take up, as far as the design says."""
    area, uptakes = _area_m2(row, stated), stated.get("uptakes") or []
    if area is None or not uptakes:
        return None
    return uptake_g(area_m2=area, uptake_g_m2=[one["uptake_g_m2"] for one in uptakes])


def _wet_out(
    row: Design,
    stated: Mapping[str, Any],
    fibre_g: float | None,
    taken_up: float | None,
    fractions: _Fractions,
    said: list[str],
) -> NeedCompared | None:
    if fibre_g is None or fractions.by_mass is None:
        return None
    if stated.get("loss_fraction") is None:
        said.append("The design does not say what is lost in cup, brush and roller, so no need of resin is worked out.")
        return None
    need = resin_need_g(
        fibre_g=fibre_g,
        fibre_mass_fraction=fractions.by_mass,
        loss_fraction=stated["loss_fraction"],
        uptake_g=taken_up or 0.0,
    )
    # A resin coat ends up in the laminate as the wet-out does.
    return _compared(row, (Purpose.RESIN_COAT, Purpose.WET_OUT), need)


def _gel_coat(row: Design, stated: Mapping[str, Any]) -> NeedCompared | None:
    coat, area = stated.get("gel_coat"), _area_m2(row, stated)
    if coat is None or area is None:
        return None
    need = gel_coat_g(
        area_m2=area,
        thickness_mm=coat["thickness_mm"],
        density_g_cm3=coat["density_g_cm3"],
        loss_fraction=coat["loss_fraction"],
    )
    return _compared(row, (Purpose.GEL_COAT,), need)


def _compared(row: Design, purposes: Iterable[Purpose], need_g: float) -> NeedCompared:
    names = tuple(str(purpose) for purpose in purposes)
    planned = [need["mass_g"] for need in row.resin_need if need["purpose"] in names]
    what = " and ".join(names).capitalize()
    if not planned:
        sentence = f"{what}: {need_g:.0f} g is worked out; the design plans none."
        return NeedCompared(names, round(need_g, 1), None, None, sentence)
    difference = (sum(planned) - need_g) / need_g * 100
    than = f", {abs(difference):.0f} % {'more' if difference > 0 else 'less'}" if abs(difference) >= 0.5 else ""
    sentence = f"{what}: {need_g:.0f} g is worked out; the design plans {sum(planned):g} g{than}."
    return NeedCompared(names, round(need_g, 1), sum(planned), round(difference, 1), sentence)


def measured_on(held: PartInHand, samples: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Each sample as measurements: its density, and the shares by volume as far as they can be told."""
    found: list[dict[str, Any]] = []
    for sample in samples:
        where = sample["zone"]
        density = {"name": f"laminate density, {where}", "value": sample["density_g_cm3"], "unit": "g/cm³"}
        shares = _shares(held, sample)
        if isinstance(shares, str):
            found.append({**density, "sentence": shares})
            continue
        said, percents = shares
        found.append({**density, "sentence": said})
        for name, percent in percents.items():
            high = sample.get("most_voids_pct") if name == "voids" else None
            found.append({"name": f"{name}, {where}", "value": percent, "unit": "%", "high": high})
    return found


def _shares(held: PartInHand, sample: Mapping[str, Any]) -> tuple[str, dict[str, float]] | str:
    """Per cent of the volume with what they rest on, or in one sentence why they are not known."""
    densities = held.design.densities
    if densities is None:
        return "Shares by volume are not known: the design gives no densities of fibre and cured resin."
    by_mass, basis = sample.get("fibre_mass_fraction"), "measured on the sample"
    if by_mass is None:
        by_mass, basis = trim_figures(held).fibre_mass_fraction, "of the whole part, from its weighing after the trim"
    if by_mass is None:
        return "Shares by volume are not known: nobody measured the fibre by mass, on the sample or on the part."
    try:
        found = fractions_with_voids(
            fibre_mass_fraction=by_mass,
            fibre_density_g_cm3=densities["fibre_g_cm3"],
            matrix_density_g_cm3=densities["matrix_g_cm3"],
            laminate_density_g_cm3=sample["density_g_cm3"],
        )
    except OutOfRange as wrong:
        return f"Shares by volume are not known: {wrong}"
    return (
        f"Fibre {by_mass:.1%} by mass, {basis}.",
        {
            "fibre by volume": round(found.fibre_volume_fraction * 100, 2),
            "resin by volume": round(found.matrix_volume_fraction * 100, 2),
            "voids": round(found.void_fraction * 100, 2),
        },
    )
