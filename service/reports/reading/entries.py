"""What the journal says of a part: flags and what answers them, late and corrected entries, who did what."""

import json
from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from schemas.words import Decision, Kind, PermissionKind, Unit
from service.operations.door.acts import ACTS, called
from service.operations.ledger.flags import stands
from service.operations.ledger.permitting import answers_to
from service.operations.parts.part import PartInHand
from service.operations.parts.settling import settled
from service.records.base import as_word, known
from service.records.items import Flag, Item, MadeWith, Permission, Touched
from service.records.journal import Deed, Entry
from service.records.parts import Shipment
from service.reports.reading.account import CorrectedEntry, LateEntry, Mark, Permit, Tool, Worker
from service.reports.reading.ground import Ground
from service.reports.wording import code, grams


def read_deeds(ground: Ground) -> dict[int, tuple[Deed, tuple[str, ...]]]:
    """The acts on the part, its pots, kits and cures that were not refused, each with the items that it was about.

    A pot or a cure is shared: what was done with it on another part alone is that part's. That a document about the
    part was issued is no fact of the part: told there, each issue would make the next one differ.
    """
    own = {i.id for i in ground.of_kind(Kind.MIX, Kind.KIT, Kind.CURE)} | ground.parts
    about = Touched.select(Touched.deed).where(Touched.item.in_(own))
    rows = (
        Touched.select(Touched.deed, Touched.item, Deed, Item.id, Item.code, Item.kind)
        .join(Deed, on=(Touched.deed == Deed.id))
        .switch(Touched)
        .join(Item, on=(Touched.item == Item.id))
        .where(Touched.deed.in_(about) & Deed.refused.is_null() & (Deed.operation != "issue_document"))
        .order_by(Touched.deed, Touched.id)
    )
    deeds: dict[int, Deed] = {}
    touched: dict[int, list[tuple[int, str, str]]] = defaultdict(list)
    for row in rows:
        deeds[row.deed_id] = row.deed
        touched[row.deed_id].append((row.item_id, row.item.code, row.item.kind))
    found = {}
    for number, deed in deeds.items():
        parts = {item for item, _, kind in touched[number] if kind == Kind.PART}
        if parts and not parts & ground.parts:
            continue
        found[number] = (deed, tuple(code for item, code, _ in touched[number] if item in own))
    return found


def read_late(ground: Ground, deeds: Mapping[int, tuple[Deed, tuple[str, ...]]]) -> tuple[LateEntry, ...]:
    """What was told late of the part, of the cans that it was made of and of permits, with both times."""
    told = {**_late_about_stock(ground), **{n: one for n, one in deeds.items() if one[0].late}}
    return (
        *(
            LateEntry(
                what=called(deed.operation),
                items=codes,
                occurred_at=deed.occurred_at,
                recorded_at=deed.recorded_at,
                person_name=ground.called(deed.person_id, deed.occurred_at),
            )
            for number, (deed, codes) in sorted(told.items())
            if number not in ground.corrected
        ),
        *_shipped_before_it_was_told(ground),
    )


def _late_about_stock(ground: Ground) -> dict[int, tuple[Deed, tuple[str, ...]]]:
    """Acts on the lots and cans behind the part, and permits for them, that happened before it last took from these.

    What was done with them for something else, or after that, is nothing of this part.
    """
    stock = {i.id: i.code for i in ground.of_kind(Kind.CONTAINER, Kind.LOT)}
    last = max((m.occurred_at for m in ground.movements if m.source_id in stock), default=None)
    if last is None:
        return {}
    rows = (
        Touched.select(Touched.deed, Touched.item, Deed)
        .join(Deed, on=(Touched.deed == Deed.id))
        .where(
            Touched.deed.in_(Touched.select(Touched.deed).where(Touched.item.in_(list(stock))))
            & (Deed.late == True)  # noqa: E712
            & Deed.refused.is_null()
            & (Deed.occurred_at <= last)
        )
        .order_by(Touched.deed, Touched.id)
    )
    found: dict[int, tuple[Deed, tuple[str, ...]]] = {}
    elsewhere = set()
    for row in rows:
        if row.item_id not in stock:
            elsewhere.add(row.deed_id)
            continue
        deed, codes = found.get(row.deed_id, (row.deed, ()))
        found[row.deed_id] = (deed, (*codes, stock[row.item_id]))
    return {number: one for number, one in found.items() if number not in elsewhere}


def _shipped_before_it_was_told(ground: Ground) -> Iterable[LateEntry]:
    """A day of shipping that lies before the one on which it was recorded, told as its end: it was no later."""
    zone = ZoneInfo(ground.site.zone)
    query = Shipment.select(Shipment, Deed).join(Deed).where((Shipment.part == ground.root.id) & stands(Shipment.deed))
    for row in query:
        day_over = datetime.combine(row.shipped_on + timedelta(days=1), time(), zone)
        if day_over <= row.deed.recorded_at and not row.deed.late:
            person = ground.called(row.deed.person_id, row.deed.occurred_at)
            told = row.deed.recorded_at
            yield LateEntry(called(row.deed.operation), (ground.root.code,), day_over.astimezone(UTC), told, person)


def read_corrected(ground: Ground, deeds: Mapping[int, tuple[Deed, tuple[str, ...]]]) -> tuple[CorrectedEntry, ...]:
    """The corrections of these acts, with what was said before and what is said now."""
    corrections = list(Deed.select().where(Deed.corrects.in_(list(deeds)) & Deed.refused.is_null()).order_by(Deed.id))
    entries = {e.deed_id: json.loads(e.body) for e in Entry.select(Entry.deed, Entry.body).where(
        Entry.deed.in_([c.id for c in corrections] + [c.corrects_id for c in corrections]))}  # fmt: skip
    found = []
    for correction in corrections:
        wrong, codes = deeds[known(correction.corrects_id)]
        said = entries.get(correction.id, {})
        asked: dict[str, Any] = said.get("asked", {})
        before, after = _before_and_after(entries.get(wrong.id, {}), said)
        found.append(
            CorrectedEntry(
                what=called(wrong.operation),
                items=codes,
                entered_at=wrong.recorded_at,
                entered_by=ground.called(wrong.person_id, wrong.occurred_at),
                corrected_at=correction.occurred_at,
                corrected_by=ground.called(correction.person_id, correction.occurred_at),
                declared=asked.get("declaration"),
                why=correction.why,
                before=before,
                after=after,
            )
        )
    return tuple(found)


def _before_and_after(entry: dict[str, Any], correction: dict[str, Any]) -> tuple[dict[str, Any], dict[str, Any]]:
    """The movements that were taken back or booked again; where there were none, what the wrong entry had said."""
    amended = [m for note in correction.get("notes", []) for m in note.get("movements", ())]
    if not amended:
        return _in_grams({k: v for k, v in entry.get("asked", {}).items() if v is not None}), {}
    names = [_movement_name(m) for m in amended]
    before = {name: _amount(m["before"], m["unit"]) for name, m in zip(names, amended, strict=True)}
    after = {name: _amount(m["after"], m["unit"]) for name, m in zip(names, amended, strict=True)}
    return before, after


def _in_grams(said: Any) -> Any:
    """What an entry had said, its masses in grams: the journal keeps them in milligrams, and no page shows those."""
    if isinstance(said, list):
        return [_in_grams(one) for one in said]
    if not isinstance(said, dict):
        return said
    return {
        (f"{k[:-3]}_g" if k.endswith("_mg") else k): v / 1000 if k.endswith("_mg") and v is not None else _in_grams(v)
        for k, v in said.items()
    }


def _movement_name(moved: dict[str, Any]) -> str:
    ends = [f"{word} {code(moved[end])}" for word, end in (("from", "source"), ("to", "target")) if moved[end]]
    return " ".join([moved["kind"], *ends])


def _amount(amount: int | None, unit: str | None) -> str:
    if amount is None:
        return "taken back" if unit is not None else "without an amount"
    return grams(amount) if unit == Unit.MILLIGRAM else f"{amount} {unit}"


def read_marks(ground: Ground, held: PartInHand) -> tuple[tuple[Mark, ...], tuple[Permit, ...]]:
    """The flags on the part and all that it was made of, and the permits and concessions that answer them.

    One that something has settled since says so, and stops nothing any more.
    """
    flags = list(Flag.select().where(Flag.item.in_(list(ground.items))).order_by(Flag.id))
    settled_by = settled(held, flags, ground.items)
    answers: dict[int, Permission | None] = answers_to(flags) if flags else {}
    marks = tuple(
        Mark(
            item=ground.code(f.item_id),
            kind=f.kind,
            sentence=f"{f.sentence} {settled_by[f.id]}" if f.id in settled_by else f.sentence,
            stops=f.stops and f.id not in settled_by,
            facts=f.facts or {},
            permit=a.id if (a := answers.get(f.id)) is not None else None,
            occurred_at=f.occurred_at,
        )
        for f in flags
    )
    permits = {a.id: a for a in answers.values() if a is not None}
    codes = dict(Item.select(Item.id, Item.code).where(Item.id.in_({p.item_id for p in permits.values()})).tuples())
    return marks, tuple(_permit(permits[n], ground, codes[permits[n].item_id]) for n in sorted(permits))


def _permit(row: Permission, ground: Ground, item: str) -> Permit:
    return Permit(
        id=row.id,
        kind=as_word(PermissionKind, row.kind),
        item=item,
        reasons=tuple(row.reasons),
        decision=as_word(Decision, row.decision),
        why=row.why,
        asked_by=ground.called(row.asked_by_id, row.asked_at),
        asked_at=row.asked_at,
        signed_by=ground.called(row.signed_by_id, row.signed_at) if row.signed_by_id and row.signed_at else None,
        signed_at=row.signed_at,
        remark=row.remark,
        withdrawn_by=ground.called(row.withdrawn_by_id, row.withdrawn_at)
        if row.withdrawn_by_id and row.withdrawn_at
        else None,
        withdrawn_at=row.withdrawn_at,
        withdrawn_because=row.withdrawn_because,
    )


def read_people(ground: Ground, deeds: Mapping[int, tuple[Deed, tuple[str, ...]]]) -> tuple[Worker, ...]:
    """Who worked on the part, in the order in which they first did."""
    did: dict[str, dict[str, None]] = defaultdict(dict)
    for _, (deed, _codes) in sorted(deeds.items()):
        did_it = ACTS[deed.operation].did
        if did_it is not None:
            did[ground.called(deed.person_id, deed.occurred_at)][did_it] = None
    return tuple(Worker(name=name, did=tuple(verbs)) for name, verbs in did.items())


def read_tools(ground: Ground) -> tuple[Tool, ...]:
    """Moulds, scales, ovens and gauges that were used on the part, its pots and its cures."""
    own = {i.id for i in ground.of_kind(Kind.MIX, Kind.KIT, Kind.CURE)} | ground.parts
    rows = (
        MadeWith.select(MadeWith, Item)
        .join(Item, on=(MadeWith.used == Item.id))
        .where(MadeWith.item.in_(own))
        .order_by(MadeWith.id)
    )
    roles: dict[int, dict[str, None]] = defaultdict(dict)
    used: dict[int, Item] = {}
    for row in rows:
        tool = known(row.used)
        used[tool.id] = tool
        roles[tool.id][row.role] = None
    return tuple(Tool(code=used[n].code, name=used[n].name, roles=tuple(roles[n])) for n in used)
