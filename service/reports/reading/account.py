"""All there is on one part, in plain values: what the investigation report and the part record are made of.

Masses are whole milligrams and lengths whole millimetres, as in the book; instants are UTC.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from schemas import words
from service.operations.parts.asked import AsDesigned
from service.operations.parts.designs import ResinNeed
from service.operations.parts.findings import DefectView, NonconformanceView
from service.operations.parts.kits import CutView
from service.operations.parts.plies import DesignPly
from service.operations.parts.scrapping import ScrappingView
from service.operations.parts.trim import TrimFigures
from service.operations.parts.view import InspectionView, LaidView, ShipmentView, StepView
from service.operations.pots.ability import ScalesView
from service.operations.stock.load import GoodBecause
from service.reports.reading.assembly import Component
from service.reports.reading.cures import CureAccount
from service.reports.reading.proof import ActEntry, LiftedHold, LoggerFile, LoggerUsed, ScaleChecked, Signed


@dataclass(frozen=True, slots=True)
class Permit:
    """A deviation permit or a concession, as far as it answers something on this part."""

    id: int
    kind: words.PermissionKind
    item: str
    reasons: tuple[str, ...]
    decision: words.Decision
    why: str
    asked_by: str
    asked_at: datetime
    signed_by: str | None
    signed_at: datetime | None
    remark: str | None
    withdrawn_by: str | None = None
    withdrawn_at: datetime | None = None
    withdrawn_because: str | None = None


@dataclass(frozen=True, slots=True)
class Mark:
    """A flag on the part or on something that it was made of."""

    item: str
    kind: str
    sentence: str
    stops: bool
    facts: dict[str, Any]
    permit: int | None
    occurred_at: datetime


@dataclass(frozen=True, slots=True)
class LateEntry:
    """Something that was told to the service later than the shop allows."""

    what: str
    items: tuple[str, ...]
    occurred_at: datetime
    recorded_at: datetime
    person_name: str

    @property
    def gap_min(self) -> float:
        return (self.recorded_at - self.occurred_at).total_seconds() / 60


@dataclass(frozen=True, slots=True)
class CorrectedEntry:
    """An entry that a later one declared wrong: what it was, what it said before and says now, by whom, and why."""

    what: str
    items: tuple[str, ...]
    entered_at: datetime
    entered_by: str
    corrected_at: datetime
    corrected_by: str
    declared: str | None
    why: str | None
    before: dict[str, Any]
    after: dict[str, Any]


@dataclass(frozen=True, slots=True)
class Weighing:
    """One pour as the scale showed it. One that was taken back stays in the record and counts nothing."""

    component: words.Component
    container: str
    material_name: str
    scale: str
    reading_mg: int
    before_mg: int
    zeroed: bool
    emptied_cup_mg: int | None
    net_mg: int
    target_mg: int | None
    typed: bool
    read_back: bool
    correction: bool
    taken_back: bool
    late: bool
    corrected: bool
    occurred_at: datetime
    person_name: str


@dataclass(frozen=True, slots=True)
class Addition:
    container: str
    material_name: str
    amount_mg: int | None
    occurred_at: datetime


@dataclass(frozen=True, slots=True)
class Applied:
    """What of a pot went into this part, or into a component of it."""

    part: str
    purpose: str | None
    zone: str | None
    amount_mg: int | None
    estimated: bool
    occurred_at: datetime


@dataclass(frozen=True, slots=True)
class StirringDone:
    started_at: datetime
    ended_at: datetime
    scraped: bool
    second_cup: bool


@dataclass(frozen=True, slots=True)
class CupChecked:
    hard: bool
    hardness: float | None
    hardness_scale: str | None
    occurred_at: datetime


@dataclass(frozen=True, slots=True)
class PotAccount:
    """One mix that went into the part."""

    code: str
    name: str
    state: words.MixState
    purpose: words.Purpose
    system: str
    system_revision: int
    hardener_name: str
    frozen_sha256: str
    ratio: float
    tolerance_pct: float
    separate_cups: bool
    started_at: datetime
    contact_at: datetime | None
    temperature_c: float | None
    temperature_of_air: bool
    use_before: datetime | None
    life_note: str | None
    resin_mg: int
    hardener_mg: int
    deviation_pct: float | None
    uncertainty_pct: float | None
    verdict: words.Verdict | None
    weighings: tuple[Weighing, ...]
    additions: tuple[Addition, ...]
    stirrings: tuple[StirringDone, ...]
    applied: tuple[Applied, ...]
    cup_kept: bool | None
    cup_checks: tuple[CupChecked, ...]
    skipped: tuple[str, ...]
    skipped_why: str | None
    stir_min: float | None
    job_plan: str | None = None
    scales: ScalesView | None = None
    catalyst_line: str | None = None
    cautions: tuple[str, ...] = ()

    @property
    def last_applied_at(self) -> datetime | None:
        return max((a.occurred_at for a in self.applied), default=None)

    @property
    def over_life_min(self) -> float | None:
        """Minutes from the end of its pot life to the last application; negative while it was still good."""
        if self.use_before is None or self.last_applied_at is None:
            return None
        return (self.last_applied_at - self.use_before).total_seconds() / 60


@dataclass(frozen=True, slots=True)
class MaterialUsed:
    """A container that something of this part came from, as it stood on the day of use."""

    container: str
    noun: str
    material_name: str
    kind: words.MaterialKind
    lot: str
    makers_lot: str | None
    lot_unknown_because: str | None
    date_basis: words.DateBasis
    supplier_name: str | None
    used_in: tuple[str, ...]
    filled_from: tuple[str, ...]
    first_used_on: date
    used_on: date
    good_until: date | None
    good_because: GoodBecause
    margin_days: int | None
    opened_on: date | None
    days_open: int | None
    opened_life_days: int | None
    released_at: datetime | None
    released_by: str | None
    released_before_use: bool
    certificates: tuple[str, ...]
    certificate_wanted: words.CertificateType | None
    storage_monitored: bool | None
    blend: bool

    @property
    def over(self) -> bool:
        return self.margin_days is not None and self.margin_days < 0


@dataclass(frozen=True, slots=True)
class KitAccount:
    code: str
    name: str
    cut_at: datetime
    cut_by: str
    mass_mg: int | None
    expected_g: float | None
    spread_g: float | None
    doubtful: bool | None
    weighed: str | None
    cuts: tuple[CutView, ...]
    plies: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class DesignAccount:
    part_number: str
    revision: str
    name: str
    frozen_sha256: str | None
    approved_at: datetime | None
    approved_by: str | None
    schedule: str | None
    resin_need: tuple[ResinNeed, ...]
    plies: tuple[DesignPly, ...]
    sentences: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Worker:
    """Someone who worked on the part or on what it was made of, and what they did."""

    name: str
    did: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Tool:
    """A mould, a scale, an oven, a gauge."""

    code: str
    name: str
    roles: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class LabelIssued:
    issue: int
    size: words.LabelSize
    issued_at: datetime
    void_at: datetime | None


@dataclass(frozen=True, slots=True)
class PartAccount:
    """One part with all that belongs to it, and nothing of any other part."""

    code: str
    name: str
    state: words.PartState
    design: DesignAccount
    order: str | None
    customer: str | None
    mould_used: Tool | None
    place_name: str | None
    started_at: datetime | None
    started_by: str | None
    laid_up_at: datetime | None
    demoulded_at: datetime | None
    released_at: datetime | None
    released_by: str | None
    shipped_at: datetime | None
    shipment: ShipmentView | None
    scrapping: ScrappingView | None
    mass_mg: int | None
    as_designed: AsDesigned
    after_trim: TrimFigures
    on_hold: tuple[str, ...]
    laid: tuple[LaidView, ...]
    missing_plies: tuple[int, ...]
    kits: tuple[KitAccount, ...]
    components: tuple[Component, ...]
    pots: tuple[PotAccount, ...]
    materials: tuple[MaterialUsed, ...]
    cures: tuple[CureAccount, ...]
    steps: tuple[StepView, ...]
    inspections: tuple[InspectionView, ...]
    defects: tuple[DefectView, ...]
    nonconformances: tuple[NonconformanceView, ...]
    marks: tuple[Mark, ...]
    permits: tuple[Permit, ...]
    late: tuple[LateEntry, ...]
    corrected: tuple[CorrectedEntry, ...]
    people: tuple[Worker, ...]
    tools: tuple[Tool, ...]
    labels: tuple[LabelIssued, ...]
    acts: tuple[ActEntry, ...]
    signed: tuple[Signed, ...]
    scale_checks: tuple[ScaleChecked, ...]
    files: tuple[LoggerFile, ...]
    loggers: tuple[LoggerUsed, ...]
    lifted_holds: tuple[LiftedHold, ...]
    shop: str
    zone: str

    def permit(self, number: int | None) -> Permit | None:
        return next((p for p in self.permits if p.id == number), None)

    def marks_of(self, kinds: Sequence[str], *, item: str | None = None, container: str | None = None) -> list[Mark]:
        """The flags of some kind, on one item, or about one container."""
        return [
            m
            for m in self.marks
            if m.kind in kinds
            and (item is None or m.item == item)
            and (container is None or m.facts.get("container") == container or m.item == container)
        ]
