"""The journal as it is read: the audit trail, an item's history, the change feed; and the proof of its chain."""

import hashlib
import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from schemas.words import MovementKind, Unit
from service.operations.door.acts import called
from service.operations.door.views import Page, page
from service.operations.ledger import ledger
from service.records.base import as_word
from service.records.items import Movement, Touched
from service.records.journal import Deed, Entry, Head


@dataclass(frozen=True, slots=True)
class Booked:
    """What an entry booked; a correction names it by its number.

    Attributes
    ----------
    id
        A correction names it by this number.
    amount
        In the unit named: mg, mm or pieces.
    """

    id: int
    kind: MovementKind
    source: str | None
    target: str | None
    amount: int | None
    unit: Unit | None
    taken_back: bool


@dataclass(frozen=True, slots=True)
class EntryView:
    """One entry of the journal: who did what, when, and what it booked.

    Attributes
    ----------
    called
        The act in words, as it is named to a person.
    movements
        What it booked.
    """

    seq: int
    deed: int
    operation: str
    called: str
    person: int
    person_name: str
    system: str | None
    device: str | None
    occurred_at: datetime
    recorded_at: datetime
    late: bool
    why: str | None
    refused: str | None
    corrects: int | None
    items: tuple[str, ...]
    movements: tuple[Booked, ...]
    body: dict[str, Any]
    hash: str


@dataclass(frozen=True, slots=True)
class ChainView:
    """Whether the journal is as it was written: the number of entries, and the first that does not hold."""

    entries: int
    unbroken: bool
    first_broken: int | None
    head: str


def list_entries(
    *,
    after: int | None,
    limit: int,
    item: str | None = None,
    operation: str | None = None,
    person: int | None = None,
    refused: bool | None = None,
    late: bool | None = None,
    since: int | None = None,
) -> Page[EntryView]:
    """The journal in the order in which it was written; with `since`, the last number read, it is the change feed."""
    query = Entry.select(Entry, Deed).join(Deed)
    if item is not None:
        found = ledger.find(item)
        query = query.where(Entry.deed.in_(Touched.select(Touched.deed).where(Touched.item == found.id)))
    if since is not None:
        query = query.where(Entry.seq > since)
    if operation is not None:
        query = query.where(Deed.operation == operation)
    if person is not None:
        query = query.where(Deed.person == person)
    if refused is not None:
        query = query.where(Deed.refused.is_null(not refused))
    if late is not None:
        query = query.where(Deed.late == late)
    return page(query, Entry.seq, after=after, limit=limit, view=view_entry)


def view_entry(entry: Entry) -> EntryView:
    deed = entry.deed
    body = json.loads(entry.body)
    return EntryView(
        seq=entry.seq,
        deed=deed.id,
        operation=deed.operation,
        called=called(deed.operation),
        person=deed.person_id,
        person_name=deed.person.name,
        system=deed.system,
        device=deed.device,
        occurred_at=deed.occurred_at,
        recorded_at=deed.recorded_at,
        late=deed.late,
        why=deed.why,
        refused=deed.refused,
        corrects=deed.corrects_id,
        items=tuple(body.get("items", ())),
        movements=_booked(deed),
        body={k: body[k] for k in ("asked", "notes", "refused") if k in body},
        hash=entry.hash,
    )


def _booked(deed: Deed) -> tuple[Booked, ...]:
    return tuple(
        Booked(
            id=m.id,
            kind=as_word(MovementKind, m.kind),
            source=m.source.code if m.source is not None else None,
            target=m.target.code if m.target is not None else None,
            amount=m.amount,
            unit=as_word(Unit, m.unit),
            taken_back=m.cancelled_by_id is not None,
        )
        for m in Movement.select().where(Movement.deed == deed.id).order_by(Movement.id)
    )


def verify_chain() -> ChainView:
    """Work the journal's hash chain out again from its first entry."""
    previous, expected, broken = "", 1, None
    for seq, before, digest, body in (
        Entry.select(Entry.seq, Entry.previous, Entry.hash, Entry.body).order_by(Entry.seq).tuples().iterator()
    ):
        honest = hashlib.sha256((previous + body).encode()).hexdigest()
        if seq != expected or before != previous or digest != honest:
            broken = seq
            break
        previous, expected = digest, seq + 1
    head = Head.get_by_id(1)
    if broken is None and (head.seq != expected - 1 or head.hash != previous):
        broken = expected
    return ChainView(entries=head.seq, unbroken=broken is None, first_broken=broken, head=head.hash)


def names_of(deeds: set[int]) -> dict[int, str]:
    if not deeds:
        return {}
    return {d.id: d.person.name for d in Deed.select().where(Deed.id.in_(deeds))}
