"""What the weighed part says of its resin (shop rule 30), and how far the account of the resin closes."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from schemas.words import Kind, MaterialKind, MovementKind, OwnStep, Purpose, Unit
from service.formulas.kits import after_trim
from service.formulas.ranges import OutOfRange
from service.operations.door.formerly import facts_then, read_then
from service.operations.parts.part import PartInHand
from service.records.base import known
from service.records.materials import Container, Material
from service.records.parts import PartStep


@dataclass(frozen=True, slots=True)
class TrimFigures:
    """Fractions by mass and by volume, mean thickness, resin not accounted for; or in one sentence what is missing.

    Attributes
    ----------
    missing
        What has to be known first, in a sentence.
    """

    missing: str | None
    resin_g: float | None = None
    resin_mass_fraction: float | None = None
    fibre_mass_fraction: float | None = None
    fibre_volume_fraction: float | None = None
    thickness_mm: float | None = None
    unexplained_g: float | None = None
    unexplained_pct: float | None = None


class _Missing(Exception):
    """Something that has to be known is not."""


def trim_figures(part: PartInHand) -> TrimFigures:
    """The figures after the trim, or in one sentence what they lack."""
    try:
        return _figures(part)
    except _Missing as missing:
        return TrimFigures(missing=str(missing))
    except OutOfRange as error:
        return TrimFigures(missing=f"The masses do not fit together: {error}")


def _figures(part: PartInHand) -> TrimFigures:
    row, design, inputs = part.row, part.design, part.inputs
    trim_g = _trimmed_off_g(part.steps)
    if row.mass_mg is None or trim_g is None or row.started_at is None:
        raise _Missing("The part after the trim and what was trimmed off have to be weighed.")
    if design.densities is None:
        raise _Missing("The design gives no densities of fibre and cured resin.")
    gel_coat, resin = _mixed(inputs)
    cloths = _cloths({m.source_id for m in inputs if m.source.kind == Kind.CONTAINER}, row.started_at)
    found = after_trim(
        part_g=row.mass_mg / 1000,
        trim_g=trim_g,
        fibre_g=_fibre_mg(inputs, part.kit_mg, cloths) / 1000,
        other_g=(gel_coat + _core_mg(inputs, cloths)) / 1000,
        fibre_density_g_cm3=design.densities["fibre_g_cm3"],
        matrix_density_g_cm3=design.densities["matrix_g_cm3"],
        resin_applied_g=resin / 1000 if resin else None,
        # Plies overlap; the largest one is as large as the moulding.
        area_m2=max((p["area_m2"] for p in design.plies), default=None),
    )
    return TrimFigures(
        missing=None,
        resin_g=round(found.resin_g, 1),
        resin_mass_fraction=round(found.resin_mass_fraction, 4),
        fibre_mass_fraction=round(found.fibre_mass_fraction, 4),
        fibre_volume_fraction=round(found.fibre_volume_fraction, 4),
        thickness_mm=None if found.thickness_mm is None else round(found.thickness_mm, 2),
        unexplained_g=None if found.unexplained_g is None else round(found.unexplained_g, 1),
        unexplained_pct=None if found.unexplained_pct is None else round(found.unexplained_pct, 1),
    )


def _trimmed_off_g(steps: Sequence[PartStep]) -> float | None:
    masses = [step.facts.get("trimmed_off_g") for step in steps if step.kind == OwnStep.TRIMMING]
    return sum(masses) if masses and all(m is not None for m in masses) else None


def _mixed(inputs: Sequence[Any]) -> tuple[int, int]:
    """Milligrams of gel coat and of other mixed resin."""
    mixes = [m for m in inputs if known(m.source).kind == Kind.MIX]
    if any(m.amount is None for m in mixes):
        raise _Missing("A mix was applied without its mass.")
    gel_coat = sum(known(m.amount) for m in mixes if m.purpose == Purpose.GEL_COAT)
    return gel_coat, sum(known(m.amount) for m in mixes) - gel_coat


def _fibre_mg(inputs: Sequence[Any], kit_mg: Sequence[int | None], cloths: dict[int, Material]) -> int:
    """Dry fabric: kits as weighed, lengths straight from a roll by their area."""
    weighed = [mass for mass in kit_mg if mass is not None]
    if len(weighed) < len(kit_mg):
        raise _Missing("The kit was not weighed.")
    lengths = [
        m for m in inputs if m.kind == MovementKind.LAYING and m.unit == Unit.MILLIMETRE and m.source.kind != Kind.KIT
    ]
    return sum(weighed) + round(sum(m.amount * _mg_to_a_mm(cloths[m.source_id]) for m in lengths))


def _mg_to_a_mm(cloth: Material) -> float:
    """What a millimetre off a roll weighs."""
    return known(cloth.width_mm) * known(cloth.areal_weight_g_m2) / 1000


def _core_mg(inputs: Sequence[Any], cloths: dict[int, Material]) -> int:
    cores = [m for m in inputs if m.source.kind == Kind.CONTAINER and cloths[m.source_id].kind == MaterialKind.CORE]
    if any(m.unit != Unit.MILLIGRAM for m in cores):
        raise _Missing("The core was not weighed.")
    return sum(m.amount for m in cores)


def _cloths(containers: set[int], at: datetime) -> dict[int, Material]:
    """What they hold, as its card said when the part was begun."""
    then = facts_then(Material, at).alias("then")
    rows: Any = Container.select(Container, Material, then).join(Material).where(Container.item.in_(containers))
    return {row.item_id: read_then(row.material, row.then) for row in rows}
