"""The part record for a customer: this part and nothing else, in the form of one document with a fingerprint.

No sisters, no suspects, no prices, nothing of any other part (shop rule 43): where a text that somebody typed names
another part, its code is left out.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass, field, fields, is_dataclass, replace
from datetime import datetime
from typing import Any

from labels.codes import parse
from labels.errors import Misread
from schemas.words import Kind, OwnStep, PartState
from service.operations.cures.curves import CurePlot
from service.operations.ledger.permitting import COVERS
from service.operations.parts.asked import AsDesigned
from service.operations.parts.findings import DefectView, NonconformanceView
from service.operations.parts.scrapping import ScrappingView
from service.operations.parts.trim import TrimFigures
from service.operations.parts.view import InspectionView, LaidView, ShipmentView, StepView
from service.reports.finding.standing_out import Finding, stand_out
from service.reports.reading.account import (
    CorrectedEntry,
    DesignAccount,
    KitAccount,
    LateEntry,
    MaterialUsed,
    PartAccount,
    Permit,
    PotAccount,
    Tool,
    Worker,
)
from service.reports.reading.assembly import Closed, Component
from service.reports.reading.cures import CureAccount
from service.reports.reading.curves import read_curves
from service.reports.reading.ground import load_ground
from service.reports.reading.part import account_of
from service.reports.reading.proof import ActEntry, LiftedHold, LoggerFile, LoggerUsed, ScaleChecked, Signed

CAUTION = (
    "This record does not replace the data sheet, approved data or licensed people where a part carries a life.",
)
# What tells about the shop's stock and not about the part.
_THE_SHOPS_OWN = frozenset({"skipped"})
_PART_CODE = re.compile(r"\bP[0-9O]{5,12}[ -]?[0-9A-Z]\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Signature:
    """Who put their name to what, and when.

    Attributes
    ----------
    item
        What was signed: the part, a component of it, or what a permit is for.
    entry
        Number of its entry in the journal.
    signed
        By which key and under which hash of what was signed, where it was signed with a secret.
    """

    meaning: str
    item: str
    name: str
    at: datetime
    entry: int | None = None
    signed: Signed | None = None


@dataclass(frozen=True, slots=True)
class PartRecord:
    """One part as its customer gets it.

    Attributes
    ----------
    zone
        The shop's time zone; days are days there.
    design
        part_number, revision, name, frozen_sha256, approved_by, plies, resin_need, schedule.
    materials
        container, material, kind, lot, makers_lot, supplier, used_in, used_on, good_until and margin_days as on that
        day, good_because (supplier, retest, opened, none), opened_on, days_open, opened_life_days, released_at,
        released_before_use, certificates, storage_monitored
    pots
        code, purpose, system, hardener, frozen_sha256, ratio, tolerance_pct, deviation_pct, uncertainty_pct, verdict,
        resin_g, hardener_g, contact_at, temperature_c, use_before, weighings (component, container, scale, reading_g,
        before_g, zeroed, net_g, target_g, typed, read_back, correction, taken_back, late, corrected, person),
        additions, stirrings, applied (part, purpose, zone, amount_g, estimated), cup_kept, cup_checks, job_plan (one
        line), scales (scales, uncertainty_pct, third_of_tolerance_pct, smallest_honest_g, honest, weighed, sentence),
        catalyst (one line on a peroxide and its promoter), cautions
    as_designed
        What the design asks for compared with what was applied: system, mass and coats of each purpose, fibre by mass.
    kits
        code, cut_at, cut_by, mass_g, expected_g, weighed, cuts (roll, lot, length_mm), plies.
    laid
        Each ply as it was laid: number, source, angle_deg, face, zone, in_order, occurred_at, by.
    components
        Parts that were bonded into this one: code, name, part_number, revision, state, plies, closings (who signed the
        lay-up), inspections, released_at, released_by. Their pots, kits and cures stand with those of the part.
    acts
        Every act with its entry in the journal: entry, what, items, person, occurred_at, recorded_at.
    scale_checks
        The last check of each scale before it last weighed for the part.
    files
        The loggers' files: cure, logger, document, sha256.
    loggers
        The loggers, each with its calibration as it was kept when its file was read.
    lifted_holds
        on, reason, placed_at, placed_by, lifted_at, lifted_by, why.
    cures
        code, schedule, revision, post_cure, started_at, ended_at, needed, evidence, passed, sentences, stages (asked
        and proved minutes, gaps), logs, statements, model (how far its resin reacted by fitted constants of its own)
    steps
        kind, facts, passed, occurred_at, by.
    inspections
        accepted, remark, measurements (name, value, unit, low, high, within), occurred_at, by.
    defects
        kind, zone, size_mm, limit_mm, accepted, remark.
    nonconformances
        found, in_service, failed, opened_at, disposition, decided_by, decided_because.
    permits
        Permits and concessions: kind, item, reasons, why, asked_by, decision, signed_by, signed_at, withdrawn_by,
        withdrawn_at, withdrawn_because.
    late
        Entries made late: what, items, occurred_at, recorded_at, person.
    corrected
        Corrected entries: what, items, before, after, declared, why, by whom and when.
    people
        name, and what they did.
    tools
        Moulds, scales, ovens: code, name, roles.
    """

    kind: str
    shop: str
    zone: str
    code: str
    name: str
    state: PartState
    design: DesignAccount
    order: str | None
    customer: str | None
    started_at: datetime | None
    laid_up_at: datetime | None
    demoulded_at: datetime | None
    released_at: datetime | None
    released_by: str | None
    shipment: ShipmentView | None
    scrapping: ScrappingView | None
    on_hold: bool
    mass_mg: int | None
    as_designed: AsDesigned
    after_trim: TrimFigures
    standing_out: tuple[Finding, ...]
    materials: tuple[MaterialUsed, ...]
    pots: tuple[PotAccount, ...]
    kits: tuple[KitAccount, ...]
    laid: tuple[LaidView, ...]
    missing_plies: tuple[int, ...]
    components: tuple[Component, ...]
    cures: tuple[CureAccount, ...]
    steps: tuple[StepView, ...]
    inspections: tuple[InspectionView, ...]
    defects: tuple[DefectView, ...]
    nonconformances: tuple[NonconformanceView, ...]
    permits: tuple[Permit, ...]
    late: tuple[LateEntry, ...]
    corrected: tuple[CorrectedEntry, ...]
    people: tuple[Worker, ...]
    tools: tuple[Tool, ...]
    acts: tuple[ActEntry, ...]
    scale_checks: tuple[ScaleChecked, ...]
    files: tuple[LoggerFile, ...]
    loggers: tuple[LoggerUsed, ...]
    lifted_holds: tuple[LiftedHold, ...]
    signatures: tuple[Signature, ...]
    caution: tuple[str, ...]
    curves: dict[str, CurePlot] = field(default_factory=dict, metadata={"document": False})

    @property
    def part_number(self) -> str:
        return self.design.part_number


def part_record(part: str, *, at: datetime) -> PartRecord:
    """The record of one part, for its customer: materials, weighings, plies, cures, findings, signatures."""
    ground = load_ground(part)
    account = account_of(ground, at=at)
    curves = read_curves(account.cures)
    return record_of(account, curves)


def record_of(account: PartAccount, curves: dict[str, CurePlot]) -> PartRecord:
    """The customer's part of an account."""
    pots = tuple(replace(p, skipped=(), skipped_why=None) for p in account.pots)
    shown = replace(account, pots=pots)
    record = PartRecord(
        kind="part record",
        shop=account.shop,
        zone=account.zone,
        code=account.code,
        name=account.name,
        state=account.state,
        design=account.design,
        order=account.order,
        customer=account.customer,
        started_at=account.started_at,
        laid_up_at=account.laid_up_at,
        demoulded_at=account.demoulded_at,
        released_at=account.released_at,
        released_by=account.released_by,
        shipment=account.shipment,
        scrapping=account.scrapping,
        on_hold=bool(account.on_hold),
        mass_mg=account.mass_mg,
        as_designed=account.as_designed,
        after_trim=account.after_trim,
        standing_out=tuple(f for f in stand_out(shown) if f.kind not in _THE_SHOPS_OWN),
        materials=account.materials,
        pots=pots,
        kits=account.kits,
        laid=account.laid,
        missing_plies=account.missing_plies,
        components=account.components,
        cures=account.cures,
        steps=account.steps,
        inspections=account.inspections,
        defects=account.defects,
        nonconformances=account.nonconformances,
        permits=account.permits,
        late=account.late,
        corrected=account.corrected,
        people=account.people,
        tools=account.tools,
        acts=account.acts,
        scale_checks=account.scale_checks,
        files=account.files,
        loggers=account.loggers,
        lifted_holds=account.lifted_holds,
        signatures=tuple(sorted(_signatures(account), key=lambda s: (s.at, s.meaning))),
        caution=CAUTION,
        curves=curves,
    )
    own = frozenset({account.code, *(c.code for c in account.components)})
    scrubbed: PartRecord = without_others(record, own)
    return scrubbed


def _signatures(account: PartAccount) -> Iterable[Signature]:
    entries = {(act.operation, item, at): act.entry for act in account.acts for item in act.items
               for at in (act.occurred_at, act.recorded_at)}  # fmt: skip

    proved = {one.entry: one for one in account.signed}

    def signed(meaning: str, item: str, name: str, at: datetime, operation: str) -> Signature:
        entry = entries.get((operation, item, at))
        return Signature(meaning, item, name, at, entry, proved.get(entry or 0))

    closings = tuple(Closed(step.occurred_at, step.by) for step in account.steps if step.kind == OwnStep.CLOSING)
    for code, closed, inspections in (
        (account.code, closings, account.inspections),
        *((piece.code, piece.closings, piece.inspections) for piece in account.components),
    ):
        for closing in closed:
            yield signed("lay-up complete", code, closing.by, closing.occurred_at, "close_lay_up")
        for inspection in inspections:
            meaning = "inspected and accepted" if inspection.accepted else "inspected, not accepted"
            yield signed(meaning, code, inspection.by, inspection.occurred_at, "inspect_part")
    for permit in account.permits:
        if permit.decision in COVERS and permit.signed_by is not None and permit.signed_at is not None:
            meaning = f"{permit.kind} {permit.id}"
            yield signed(meaning, permit.item, permit.signed_by, permit.signed_at, "sign_permission")
    for found in account.nonconformances:
        if found.decided_by is not None and found.decided_at is not None:
            meaning = f"nonconformance {found.id}: {found.disposition}"
            yield signed(meaning, found.item, found.decided_by, found.decided_at, "decide_nonconformance")
    signed_for: tuple[PartAccount | Component, ...] = (account, *account.components)
    for one in signed_for:
        if one.released_by is not None and one.released_at is not None:
            yield signed("released", one.code, one.released_by, one.released_at, "release_part")


def without_others(value: Any, own: frozenset[str]) -> Any:
    """The same value with the codes of other parts left out of every text in it."""
    if isinstance(value, str):
        return _PART_CODE.sub(lambda match: _kept(match[0], own), value)
    if is_dataclass(value) and not isinstance(value, type):
        return replace(
            value,
            **{
                f.name: without_others(getattr(value, f.name), own)
                for f in fields(value)
                if f.init and f.metadata.get("document", True)
            },
        )
    if isinstance(value, tuple | list):
        return type(value)(without_others(v, own) for v in value)
    if isinstance(value, dict):
        return {without_others(k, own): without_others(v, own) for k, v in value.items()}
    return value


def _kept(text: str, own: frozenset[str]) -> str:
    try:
        found = parse(text)
    except Misread:
        return text
    return text if found.kind != Kind.PART or found.text in own else "another part"
