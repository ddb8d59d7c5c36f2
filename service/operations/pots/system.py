"""A resin system as it is loaded and read, with its hardeners; and what is worked out from its data sheet."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from schemas.words import SystemKind, ToleranceKind
from service.formulas.clocks import LifePoint
from service.formulas.ratio import tolerance_pct
from service.formulas.ratio_forms import (
    phr_from_ratio,
    ratio_from_phr,
    volume_ratio_from_weight,
)
from service.operations.door.rows import find_row
from service.operations.pots.blends import BlendView, view_blend
from service.operations.pots.catalysts import CatalystView, dose_rows, tolerance_of, view_catalyst
from service.records.base import as_word
from service.records.journal import Document
from service.records.materials import Material, ResinSystem, SystemHardener

# A film has no mass of its own: its table is by the temperature of the mould alone.
FILM_MASS_G = 1.0


@dataclass(frozen=True, slots=True)
class HardenerView:
    """A hardener of a resin system, with its ratio, its tolerance and its tables of pot life.

    Attributes
    ----------
    weight_worked_out
        True if the parts by weight follow from the parts by volume and the densities.
    volume_worked_out
        True if the parts by volume follow from the parts by weight and the densities.
    ratio
        Grams of hardener to a gram of resin.
    tolerance_pct
        The tolerance as per cent of this ratio, to either side.
    catalyst
        Of a peroxide: its promoter, its table of per cents, its life by per cent. The ratio is that of its first line.
    blend
        The hardeners of the system that it is blended from.
    """

    material: int
    name: str
    speed: str
    parts_by_weight: float
    parts_by_volume: float | None
    weight_worked_out: bool
    volume_worked_out: bool
    ratio: float
    tolerance_pct: float
    cup_life: tuple[dict[str, float], ...]
    tray_life: tuple[dict[str, float], ...]
    film_life: tuple[dict[str, float], ...]
    catalyst: CatalystView | None
    blend: BlendView | None


@dataclass(frozen=True, slots=True)
class ToleranceView:
    kind: ToleranceKind
    value: float
    source: str


@dataclass(frozen=True, slots=True)
class SystemView:
    """A resin system in one of its revisions.

    Attributes
    ----------
    replaced_by_id
        Number of the revision that replaces it.
    document
        The frozen copy that pots are judged by.
    sentences
        What its tables leave open, for whoever approves it.
    """

    id: int
    name: str
    kind: SystemKind
    revision_number: int
    data_sheet: str
    resin: int
    resin_name: str
    hardeners: tuple[HardenerView, ...]
    tolerance: ToleranceView
    largest_pot_mg: int
    stir_min: float | None
    life_uncertainty_pct: float
    work_low_c: float | None
    work_high_c: float | None
    work_high_humidity_pct: float | None
    constants: dict[str, Any] | None
    approved_at: datetime | None
    approved_by: str | None
    replaced_by_id: int | None
    document: int | None
    document_sha256: str | None
    sentences: tuple[str, ...]
    version: int


def _volume_parts(resin: Material, hardener: Material, ratio: float) -> float | None:
    """Millilitres of hardener to 100 ml of resin where the sheet gives none but both densities are known."""
    if resin.density_g_ml is None or hardener.density_g_ml is None:
        return None
    by_volume = volume_ratio_from_weight(
        weight_ratio=ratio, resin_density_g_ml=resin.density_g_ml, hardener_density_g_ml=hardener.density_g_ml
    )
    return phr_from_ratio(ratio=by_volume)


def ratio_and_tolerance(hardener: SystemHardener) -> tuple[float, float]:
    """Grams of hardener to a gram of resin, and how far that may be out, in per cent of it."""
    ratio = ratio_from_phr(phr=hardener.parts_by_weight)
    if hardener.catalyst is not None:
        return ratio, tolerance_of(dose_rows(hardener.catalyst)[0])
    system = hardener.system
    kind = formula_kind(system.tolerance_kind)
    return ratio, tolerance_pct(kind=kind, value=system.tolerance_value, ratio=ratio)


def formula_kind(kind: str) -> str:
    """A kind of tolerance as the formulas call it."""
    return str(ToleranceKind(kind)).replace(" ", "_")


def life_points(table: Sequence[Mapping[str, float]]) -> list[LifePoint]:
    return [LifePoint(row.get("mass_g", FILM_MASS_G), row["temperature_c"], row["life_min"]) for row in table]


def hardeners_of(systems: Iterable[int]) -> dict[int, list[SystemHardener]]:
    """The hardeners of these systems, each with its material."""
    numbers = list(systems)
    found: dict[int, list[SystemHardener]] = {number: [] for number in numbers}
    query = SystemHardener.select(SystemHardener, Material).join(Material)
    for row in query.where(SystemHardener.system.in_(numbers)).order_by(SystemHardener.id):
        found[row.system_id].append(row)
    return found


def find_system(number: int, *, pointer: str | None = None) -> ResinSystem:
    """A resin system with its resin, or a refusal."""
    row = ResinSystem.select(ResinSystem, Material).join(Material).where(ResinSystem.id == number).first()
    return row if row is not None else find_row(ResinSystem, number, "resin system", pointer=pointer)


def _frozen_as(documents: Iterable[int | None]) -> dict[int | None, str]:
    numbers = [number for number in documents if number is not None]
    rows = Document.select(Document.id, Document.sha256).where(Document.id.in_(numbers)) if numbers else []
    return {row.id: row.sha256 for row in rows}


def view_system(
    row: ResinSystem,
    own: Sequence[SystemHardener] | None = None,
    sha256: str | None = None,
    approver: str | None = None,
) -> SystemView:
    """A resin system as it is read; `own` are its hardeners and `sha256` its frozen data, where they are at hand.

    Who approved it is left out where nobody reads that, unless ``approver`` names them.
    """
    if row.document_id is not None and sha256 is None:
        sha256 = _frozen_as([row.document_id])[row.document_id]
    hardeners = []
    for h in own if own is not None else hardeners_of([row.id])[row.id]:
        h.system = row
        ratio, tolerance = ratio_and_tolerance(h)
        by_volume = h.parts_by_volume if h.parts_by_volume is not None else _volume_parts(row.resin, h.material, ratio)
        hardeners.append(
            HardenerView(
                material=h.material_id,
                name=h.material.name,
                speed=h.speed,
                parts_by_weight=h.parts_by_weight,
                parts_by_volume=by_volume,
                weight_worked_out=h.weight_worked_out,
                volume_worked_out=h.parts_by_volume is None and by_volume is not None,
                ratio=ratio,
                tolerance_pct=tolerance,
                cup_life=tuple(h.cup_life),
                tray_life=tuple(h.tray_life),
                film_life=tuple(h.film_life),
                catalyst=view_catalyst(h.catalyst),
                blend=view_blend(h.blend),
            )
        )
    elsewhere = (
        "tolerance",
        "resin",
        "resin_name",
        "hardeners",
        "approved_by",
        "revision_number",
        "replaced_by_id",
        "document",
    )
    plain = {n: getattr(row, n) for n in SystemView.__slots__ if n not in (*elsewhere, "document_sha256", "sentences")}
    return SystemView(
        **plain,
        revision_number=row.revision,
        resin=row.resin_id,
        resin_name=row.resin.name,
        hardeners=tuple(hardeners),
        tolerance=ToleranceView(
            kind=as_word(ToleranceKind, row.tolerance_kind), value=row.tolerance_value, source=row.tolerance_source
        ),
        approved_by=approver,
        replaced_by_id=row.replaced_by_id,
        document=row.document_id,
        document_sha256=sha256,
        sentences=tuple(_left_open(row, hardeners)),
    )


def _left_open(row: ResinSystem, hardeners: Sequence[HardenerView]) -> Iterator[str]:
    """Pots that the system allows and no table of pot life reaches: their clock has no figure."""
    for hardener in hardeners:
        for what, table in (("cup", hardener.cup_life), ("tray", hardener.tray_life)):
            heaviest_g = max((point["mass_g"] for point in table), default=None)
            if heaviest_g is not None and heaviest_g * 1000 < row.largest_pot_mg:
                yield (
                    f"The {what} life of {hardener.name} is stated up to {heaviest_g:g} g and the largest pot is "
                    f"{row.largest_pot_mg / 1000:g} g: above {heaviest_g:g} g there is no figure for it."
                )
