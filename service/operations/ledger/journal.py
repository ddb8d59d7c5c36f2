"""The journal as it is read: the audit trail, an item's history, the change feed; and the proof of its chain."""

import hashlib
import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Annotated, Any

from peewee import JOIN

from schemas.words import Kind, MovementKind, Unit
from service.database import one_of_few
from service.operations.door.acts import called
from service.operations.door.formerly import called_then
from service.operations.door.refusals import NotAllowed, UnknownThing
from service.operations.door.views import ItemRef, Page, page, page_of, ref
from service.operations.ledger import ledger
from service.records.base import as_word
from service.records.items import Item, Movement, Touched
from service.records.journal import Deed, Entry, Head
from service.records.lookups import another
from service.records.people import Person

MOST_ITEMS = 200
"""An entry names so many of the items that it touched; the list of them has all."""
MOST_NOTES = 200


@dataclass(frozen=True, slots=True)
class Booked:
    """What an entry booked; a correction names it by its number.

    Attributes
    ----------
    id
        A correction names it by this number.
    """

    id: int
    kind: MovementKind
    source: str | None
    target: str | None
    amount: Annotated[int, Unit] | None
    unit: Unit | None
    taken_back: bool


@dataclass(frozen=True, slots=True)
class EntryView:
    """One entry of the journal: who did what, when, and what it booked.

    Attributes
    ----------
    called
        The act in words, as it is named to a person.
    key
        Number of the access key that the person or system came in with.
    signed
        What its person signed with it with their own secret.
    items
        What it touched, the first 200; GET /v1/journal/{seq}/items lists all. A system is told the part, if it was one
        part alone or the part that was asked for.
    items_count
        How many there are; for a system, how many it is told.
    movements
        What it booked; not told to a system, nor are `why` and `body`.
    body
        What was asked and what is to be said of it: the first 200 notes; GET /v1/chain has all of it.
    notes_count
        How many notes there are.
    """

    seq: int
    deed: int
    operation: str
    called: str
    person: int
    person_name: str
    system: str | None
    key: int | None
    device: str | None
    signed: str | None
    occurred_at: datetime
    recorded_at: datetime
    late: bool
    why: str | None
    refused: str | None
    corrects: int | None
    items: tuple[str, ...]
    items_count: int
    movements: tuple[Booked, ...]
    body: dict[str, Any]
    notes_count: int
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
    asker: int | None,
    after: int | None,
    limit: int,
    item: str | None = None,
    operation: str | None = None,
    person: int | None = None,
    refused: bool | None = None,
    late: bool | None = None,
    since: int | None = None,
) -> Page[EntryView]:
    """The journal in the order in which it was written; with `since`, the last number read, it is the change feed.

    A system reads every entry, and of what it touched the part alone: which parts share a pot or a lot is not for it.
    """
    who = called_then(Person, Deed.occurred_at).alias("who")
    query = Entry.select(Entry, Deed, who).join(Deed).join(Person)
    asked = None
    if item is not None:
        found = ledger.find(item)
        asked = found.code
        if asker is None and found.kind != Kind.PART:
            raise NotAllowed(
                "A system asks the journal for a part; what else a thing went into is the shop's own.",
                way_out="Ask for the code of a part, or for all entries.",
            )
        query = query.where(Entry.deed.in_(Touched.select(Touched.deed).where(Touched.item == found.id)))
    if since is not None:
        query = query.where(Entry.seq > since)
    if operation is not None:
        query = query.where(Deed.operation == operation)
    if person is not None:
        query = query.where(Deed.person == person)
    if refused:
        # From the few that were refused to their entries, not through all entries until a page is full.
        was = another(Deed, "was_refused")
        query = query.where(one_of_few(Entry.deed, was.select(was.id).where(was.refused.is_null(False))))
    elif refused is not None:
        query = query.where(Deed.refused.is_null())
    if late is not None:
        query = query.where(Deed.late == late)
    if asker is None:
        view = lambda entry: _for_system(entry, asked)  # noqa: E731
        return page(query, Entry.seq, after=after, limit=limit, view=view, weight=Entry.body)
    return page_of(query, Entry.seq, after=after, limit=limit, views=_entries, weight=Entry.body)


def _entries(rows: Sequence[Entry]) -> Iterator[EntryView]:
    booked = _booked([entry.deed_id for entry in rows])
    return (_entry(entry, booked.get(entry.deed_id, ())) for entry in rows)


def list_items_of_entry(seq: int, *, after: int | None, limit: int) -> Page[ItemRef]:
    """List the items that an entry of the journal touched, in the order in which it did."""
    entry = find_entry(seq)
    query = Touched.select(Touched, Item).join(Item).where(Touched.deed == entry.deed_id)
    return page(query, Touched.id, after=after, limit=limit, view=lambda row: ref(row.item))


def find_entry(seq: int) -> Entry:
    entry = Entry.get_or_none(Entry.seq == seq)
    if entry is None:
        raise UnknownThing(f"There is no entry {seq} in the journal.", way_out="Look it up in the journal.")
    return entry


def _for_system(entry: Entry, asked: str | None) -> EntryView:
    """The entry without what would put a part beside another, or beside what both are made of."""
    touched = json.loads(entry.body).get("items", ())
    parts = tuple(code for code in touched if code[0] == Kind.PART and asked in (None, code))
    told = parts if len(parts) == 1 else ()
    return replace(_entry(entry, ()), items=told, items_count=len(told), why=None, body={}, notes_count=0)


def _entry(entry: Entry, booked: Sequence[Booked]) -> EntryView:
    deed = entry.deed
    body = json.loads(entry.body)
    items, notes = body.get("items", ()), body.get("notes", ())
    said = {"asked": body.get("asked"), "notes": notes[:MOST_NOTES], "refused": body.get("refused")}
    return EntryView(
        seq=entry.seq,
        deed=deed.id,
        operation=deed.operation,
        called=called(deed.operation),
        person=deed.person_id,
        person_name=entry.who,  # type: ignore[attr-defined]
        system=deed.system,
        key=deed.key_id,
        signed=body.get("signs", {}).get("meaning"),
        device=deed.device,
        occurred_at=deed.occurred_at,
        recorded_at=deed.recorded_at,
        late=deed.late,
        why=deed.why,
        refused=deed.refused,
        corrects=deed.corrects_id,
        items=tuple(items[:MOST_ITEMS]),
        items_count=len(items),
        movements=tuple(booked),
        body={name: what for name, what in said.items() if name in body},
        notes_count=len(notes),
        hash=entry.hash,
    )


def _booked(deeds: Sequence[int]) -> dict[int, list[Booked]]:
    """What each of these deeds booked, with the codes of both ends."""
    if not deeds:
        return {}
    sources, targets = another(Item, "sources"), another(Item, "targets")
    rows: Any = (
        Movement.select(Movement, sources.code.alias("source_code"), targets.code.alias("target_code"))
        .join(sources, JOIN.LEFT_OUTER, on=(Movement.source == sources.id))
        .switch(Movement)
        .join(targets, JOIN.LEFT_OUTER, on=(Movement.target == targets.id))
        .where(Movement.deed.in_(list(deeds)))
        .order_by(Movement.id)
        .objects()
    )
    found: dict[int, list[Booked]] = {}
    for m in rows:
        found.setdefault(m.deed_id, []).append(
            Booked(
                id=m.id,
                kind=as_word(MovementKind, m.kind),
                source=m.source_code,
                target=m.target_code,
                amount=m.amount,
                unit=as_word(Unit, m.unit),
                taken_back=m.cancelled_by_id is not None,
            )
        )
    return found


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
    query = Deed.select(Deed.id, called_then(Person, Deed.occurred_at)).join(Person).where(Deed.id.in_(deeds))
    return dict(query.tuples())
