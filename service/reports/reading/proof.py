"""What a record rests on beside its figures: journal entries, checks of scales, files of loggers, lifted holds."""

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from schemas.words import Kind
from service.operations.door.acts import called, may_be_signed
from service.operations.door.formerly import facts_then, read_then
from service.operations.door.shop import day_in_shop
from service.operations.door.signatures import fingerprint
from service.operations.pots.scale import load_scales
from service.records.base import known
from service.records.cures import CureLog, Logger
from service.records.items import Hold, Item, MadeWith
from service.records.journal import Deed, Document, Entry
from service.reports.reading.cures import CureAccount
from service.reports.reading.ground import Ground, deeds_of


@dataclass(frozen=True, slots=True)
class ActEntry:
    """An act on the part or on what it was made of, with the number of its entry in the journal."""

    entry: int
    # The journal's own name of the act; people and documents are told what it was.
    operation: str = field(metadata={"document": False})
    what: str
    items: tuple[str, ...]
    person_name: str
    occurred_at: datetime
    recorded_at: datetime


@dataclass(frozen=True, slots=True)
class Signed:
    """What somebody signed with their own secret, as its entry has it.

    Attributes
    ----------
    entry
        Number of the entry that it is signed over.
    meaning
        What the signature says.
    key
        Number of the signing key.
    sha256
        Hash of what was signed: all that the entry says, the rows before and after among it.
    signature
        Ed25519, under that hash.
    """

    entry: int
    meaning: str
    key: int
    sha256: str
    signature: str


@dataclass(frozen=True, slots=True)
class ScaleChecked:
    """The last check of a scale before it last weighed for the part; nothing of it where there was none.

    Attributes
    ----------
    limit_mg
        How far it may be off at this weight.
    """

    scale: str
    name: str
    weight: str | None = None
    nominal_mg: int | None = None
    reading_mg: int | None = None
    limit_mg: int | None = None
    passed: bool | None = None
    occurred_at: datetime | None = None
    by: str | None = None


@dataclass(frozen=True, slots=True)
class LoggerFile:
    """A logger's file as it came, named by its fingerprint.

    Attributes
    ----------
    cure
        The cure that it is of.
    document
        The file: /v1/documents/{number}.
    """

    cure: str
    logger_name: str
    document: int
    sha256: str


@dataclass(frozen=True, slots=True)
class LoggerUsed:
    """A logger that a cure was proved with, and its calibration as it was kept when its file was read.

    Attributes
    ----------
    calibration
        Who calibrated it, and the number of their paper.
    overdue
        Its calibration was over by the last reading of its file.
    """

    name: str
    calibrated_on: date | None
    calibration: str | None
    calibration_due_on: date | None
    overdue: bool


@dataclass(frozen=True, slots=True)
class LiftedHold:
    """A hold on the part or on what it was made of that was lifted, by whom and why.

    Attributes
    ----------
    on
        What it was placed on.
    """

    on: str
    reason: str
    placed_at: datetime
    placed_by: str
    lifted_at: datetime
    lifted_by: str
    why: str | None


def read_acts(ground: Ground, deeds: Mapping[int, tuple[Deed, tuple[str, ...]]]) -> tuple[ActEntry, ...]:
    """Every act with its entry, in the order of the journal."""
    numbered = Entry.select(Entry.seq, Entry.deed).where(Entry.deed.in_(list(deeds))).order_by(Entry.seq).tuples()
    return tuple(_act(ground, seq, *deeds[deed]) for seq, deed in numbered)


def read_signed(deeds: Mapping[int, tuple[Deed, tuple[str, ...]]]) -> tuple[Signed, ...]:
    """The signatures among these acts: under the hash of which facts, by which key, with which meaning."""
    signing = [number for number, (deed, _) in deeds.items() if may_be_signed(deed.operation)]
    bodies = Entry.select(Entry.body).where(Entry.deed.in_(signing)).order_by(Entry.seq).tuples() if signing else ()
    said = [json.loads(body) for (body,) in bodies]
    return tuple(_signed(facts) for facts in said if "signature" in facts)


def _signed(facts: dict[str, Any]) -> Signed:
    signature, signs = facts.pop("signature"), facts["signs"]
    return Signed(facts["seq"], signs["meaning"], signs["key"], fingerprint(facts), signature)


def _act(ground: Ground, seq: int, deed: Deed, items: tuple[str, ...]) -> ActEntry:
    person = ground.called(deed.person_id, deed.occurred_at)
    return ActEntry(seq, deed.operation, called(deed.operation), items, person, deed.occurred_at, deed.recorded_at)


def read_scale_checks(ground: Ground) -> tuple[ScaleChecked, ...]:
    own = {i.id for i in ground.of_kind(Kind.MIX, Kind.KIT)} | ground.parts
    used = MadeWith.select(MadeWith.occurred_at, Item).join(Item, on=(MadeWith.used == Item.id))
    rows = list(used.where(MadeWith.item.in_(own) & (Item.kind == Kind.SCALE)).order_by(MadeWith.id))
    scales = {known(row.used).id: known(row.used) for row in rows}
    if not scales:
        return ()
    loaded = load_scales(scales.values(), at=max(row.occurred_at for row in rows))
    found = []
    for number, scale in scales.items():
        last = loaded[number].last
        found.append(
            ScaleChecked(scale.code, scale.name)
            if last is None
            else ScaleChecked(
                scale.code, scale.name, last.weight, last.nominal_mg, last.reading_mg, last.limit_mg, last.passed,
                last.occurred_at, loaded[number].by,
            )
        )  # fmt: skip
    return tuple(found)


def read_files(cures: Iterable[CureAccount]) -> tuple[LoggerFile, ...]:
    """The files behind the cures, each by its SHA-256."""
    logs = [(cure.code, log) for cure in cures for log in cure.logs]
    wanted = [log.document for _, log in logs]
    hashes = dict(Document.select(Document.id, Document.sha256).where(Document.id.in_(wanted)).tuples())
    return tuple(LoggerFile(cure, log.logger_name, log.document, hashes[log.document]) for cure, log in logs)


def read_loggers(ground: Ground, cures: Iterable[CureAccount]) -> tuple[LoggerUsed, ...]:
    """The loggers behind the cures, each with the calibrations that it had."""
    wanted = {log.id: day_in_shop(log.last_at, ground.site) for cure in cures for log in cure.logs}
    then = facts_then(Logger, Deed.recorded_at).alias("then")
    query = CureLog.select(CureLog.id, Logger, then).join(Logger).switch(CureLog).join(Deed)
    rows: Any = query.where(CureLog.id.in_(list(wanted))).order_by(CureLog.id) if wanted else ()
    found: dict[LoggerUsed, None] = {}
    for log in rows:
        card = read_then(log.logger, log.then)
        due = card.calibration_due_on
        overdue = due is not None and due < wanted[log.id]
        found[LoggerUsed(card.name, card.calibrated_on, card.calibration, due, overdue)] = None
    return tuple(found)


def read_lifted(ground: Ground) -> tuple[LiftedHold, ...]:
    rows = list(
        Hold.select().where(Hold.item.in_(list(ground.items)) & Hold.lifted_at.is_null(False)).order_by(Hold.id)
    )
    deeds = deeds_of([number for row in rows for number in (row.placed_by_id, known(row.lifted_by_id))])
    found = []
    for row in rows:
        placed, lifted = deeds[row.placed_by_id], deeds[known(row.lifted_by_id)]
        found.append(
            LiftedHold(
                on=ground.code(known(row.item_id)),
                reason=row.reason,
                placed_at=row.placed_at,
                placed_by=ground.called(placed.person_id, placed.occurred_at),
                lifted_at=known(row.lifted_at),
                lifted_by=ground.called(lifted.person_id, lifted.occurred_at),
                why=lifted.why,
            )
        )
    return tuple(found)
