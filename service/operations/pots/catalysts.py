"""What a data sheet says of the peroxides of a resin: the promoter, the per cents by temperature, the life by both."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from schemas.words import MaterialKind
from service.formulas.catalysts import PercentPoint, dose_life
from service.formulas.peroxides import DoseRow, dose_at, dose_tolerance_pct
from service.formulas.ratio_forms import phr_from_ratio
from service.operations.door.refusals import Unprocessable
from service.operations.door.rows import find_row
from service.operations.stock.peroxides import is_organic_peroxide
from service.records.materials import Material, ResinSystem, SystemHardener

CATALYST_KINDS = frozenset({MaterialKind.CATALYST, MaterialKind.HARDENER, MaterialKind.GEL_COAT_HARDENER})

CAUTIONS = (
    "Promoter and peroxide never touch each other: together they can burn or explode. Promoter first, stirred in, a "
    "second scan, then the catalyst.",
    "Never resin or promoter onto peroxide; never pour catalyst back, top it up or thin it; no acetone near it.",
    "Goggles and the gloves of the safety data sheet. A splash of catalyst in the eye: rinse with water at once and "
    "for long, and call a doctor.",
    "A catalysed pot heats itself: spread out what is left, outdoors, never lidded, and watch it until it is cold. "
    "Rags with catalyst go into water, not into the bin.",
    "The data sheet, the safety data sheet and local rules come before any figure here.",
)


@dataclass(frozen=True, slots=True)
class PromoterView:
    """The promoter that a catalyst needs, in per cent of the resin as delivered."""

    material: int
    name: str
    lowest_pct: float
    target_pct: float
    highest_pct: float


@dataclass(frozen=True, slots=True)
class CatalystView:
    """A peroxide as the data sheet of the resin allows it.

    Attributes
    ----------
    promoter
        None where the resin came with its promoter in.
    doses
        Per cent of the resin as delivered, by its temperature; outside of these lines there is no figure.
    life
        By temperature and per cent.
    with_fillers
        True where the sheet counts the per cent on fillers too.
    """

    promoter: PromoterView | None
    doses: tuple[dict[str, float], ...]
    life: tuple[dict[str, float], ...]
    with_fillers: bool


def view_catalyst(kept: Mapping[str, Any] | None) -> CatalystView | None:
    if kept is None:
        return None
    promoter = kept["promoter"]
    return CatalystView(
        promoter=None if promoter is None else PromoterView(**promoter),
        doses=tuple(kept["doses"]),
        life=tuple(kept["life"]),
        with_fillers=kept["with_fillers"],
    )


def dose_rows(kept: Mapping[str, Any]) -> list[DoseRow]:
    return [DoseRow(**row) for row in kept["doses"]]


def life_points_by_percent(kept: Mapping[str, Any]) -> list[PercentPoint]:
    return [PercentPoint(**row) for row in kept["life"]]


def dose_for(kept: Mapping[str, Any], temperature_c: float | None) -> DoseRow | None:
    """The line for the resin's temperature, if it is known and the sheet has one."""
    if temperature_c is None or not -20 <= temperature_c <= 120:
        return None
    return dose_at(rows=dose_rows(kept), temperature_c=temperature_c)


def tolerance_of(row: DoseRow) -> float:
    return dose_tolerance_pct(lowest_pct=row.lowest_pct, target_pct=row.target_pct, highest_pct=row.highest_pct)


def put_catalysts(row: ResinSystem, resin: Material, asked: Sequence[Mapping[str, Any]]) -> list[SystemHardener]:
    """Write the catalysts of a system, each with its tables proved."""
    if len({c["material"] for c in asked}) < len(asked):
        raise Unprocessable("Each catalyst stands in a system once.", pointer="/catalysts")
    return [_put(row, resin, given, f"/catalysts/{number}") for number, given in enumerate(asked)]


def _put(row: ResinSystem, resin: Material, given: Mapping[str, Any], at: str) -> SystemHardener:
    material: Material = find_row(Material, given["material"], "material", pointer=f"{at}/material")
    if not is_organic_peroxide(material) or MaterialKind(material.kind) not in CATALYST_KINDS:
        raise Unprocessable(
            f"{material.name} is not marked as an organic peroxide; the catalyst of a peroxide-cured resin is one.",
            way_out="Mark the material, by its safety data sheet.",
            pointer=f"{at}/material",
        )
    kept = {
        "promoter": _promoter(resin, given.get("promoter"), at),
        "doses": [dict(line) for line in given["doses"]],
        "life": [dict(line) for line in given["life"]],
        "with_fillers": bool(given.get("with_fillers", False)),
    }
    rows = dose_rows(kept)
    dose_at(rows=rows, temperature_c=rows[0].temperature_from_c)
    points = life_points_by_percent(kept)
    dose_life(points=points, percent=points[0].percent, temperature_c=points[0].temperature_c)
    return SystemHardener.create(
        system=row,
        material=material,
        speed=given.get("speed") or "catalyst",
        # What stands where a hardener has its parts: the target of the first line.
        parts_by_weight=phr_from_ratio(ratio=rows[0].target_pct / 100),
        parts_by_volume=None,
        cup_life=[],
        film_life=[dict(line) for line in given.get("film_life") or []],
        catalyst=kept,
    )


def _promoter(resin: Material, given: Mapping[str, Any] | None, at: str) -> dict[str, Any] | None:
    if given is None:
        return None
    material: Material = find_row(Material, given["material"], "material", pointer=f"{at}/promoter/material")
    if MaterialKind(material.kind) != MaterialKind.PROMOTER:
        raise Unprocessable(f"{material.name} is {material.kind}, not promoter.", pointer=f"{at}/promoter/material")
    line = {name: given[name] for name in ("lowest_pct", "target_pct", "highest_pct")}
    DoseRow(temperature_from_c=0, temperature_to_c=1, **line)
    return {"material": material.id, "name": material.name, **line}


def as_asked(row: SystemHardener) -> dict[str, Any]:
    """A catalyst as it was entered."""
    kept = row.catalyst
    promoter = kept["promoter"]
    return {
        "material": row.material_id,
        "speed": row.speed,
        "promoter": None if promoter is None else {n: v for n, v in promoter.items() if n != "name"},
        "doses": kept["doses"],
        "life": kept["life"],
        "film_life": row.film_life,
        "with_fillers": kept["with_fillers"],
    }
