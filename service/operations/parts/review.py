"""What has to be read before a release: flags, what was told late or done too early, cups, what the design wanted."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from peewee import Field, ForeignKeyField, fn

from schemas.words import Kind
from service.database import each, listed, looked_up, rows_of
from service.operations.door.acts import was_recorded
from service.operations.ledger.permitting import covered, named
from service.operations.parts.part import PartInHand
from service.operations.stock.fitness import outside_sentence
from service.operations.stock.storage import range_of, stored
from service.records.base import instant
from service.records.cures import Cure
from service.records.items import Flag, Item, Movement, Permission, Touched
from service.records.journal import Deed
from service.records.lookups import another
from service.records.materials import Container, Material, Receipt
from service.records.mixes import Closing, CupCheck, Mix
from service.records.parts import Kit, Part

# What is made for a part. Stock is made for nobody: what was done to it counts until it was used.
_MADE = (Kind.PART, Kind.MIX, Kind.KIT, Kind.CURE)


@dataclass(frozen=True, slots=True)
class ReviewPoint:
    """Something that has to be read before a release."""

    item: str
    kind: str
    what: str


Answers = Mapping[int, Permission | None]


def to_read(
    held: PartInHand,
    items: dict[int, Item],
    flags: Sequence[Flag],
    answers: Answers,
    settled: Mapping[int, str],
    *,
    at: datetime,
    zone: str,
) -> Iterable[ReviewPoint]:
    """All that has to be read of a part and of ``items``, itself and all that it was made of, at an instant.

    ``flags`` are all on these, with the permissions that answer them and what has settled them since.
    """
    yield from _flags(items, flags, answers, settled)
    taken = _last_taken(items)
    yield from _late(held.item, items, max((last for last, _ in taken.values()), default=None))
    yield from _too_early(items, ZoneInfo(zone))
    yield from _stored_outside(items, taken, at, zone)
    yield from _cups(items)
    yield from _other_schedule(held)


def _flags(
    items: dict[int, Item], flags: Sequence[Flag], answers: Answers, settled: Mapping[int, str]
) -> Iterable[ReviewPoint]:
    for flag in flags:
        answer = answers[flag.id]
        if flag.id in settled:
            yield ReviewPoint(items[flag.item_id].code, flag.kind, f"{flag.sentence} {settled[flag.id]}")
        elif not flag.stops:
            yield ReviewPoint(items[flag.item_id].code, flag.kind, flag.sentence)
        elif answer is not None and covered(answer):
            what = f"{flag.sentence} Permitted ({named(answer)}): {answer.why}"
            yield ReviewPoint(items[flag.item_id].code, flag.kind, what)


def _last_taken(items: dict[int, Item]) -> dict[int, tuple[datetime, Material]]:
    """Of each can when something was taken from it last for this part, and what is in it."""
    cans = [number for number, item in items.items() if item.kind == Kind.CONTAINER]
    if not cans:
        return {}
    last = (
        Movement.select(fn.MAX(Movement.occurred_at))
        .where((Movement.source == Container.item) & Movement.target.in_(list(items)) & Movement.cancelled_by.is_null())
        .alias("last_taken")
    )
    rows: Any = Container.select(Container.item, Material, last).join(Material).where(Container.item.in_(cans))
    return {row.item_id: (instant(row.last_taken), row.material) for row in rows if row.last_taken is not None}


def _late(item: Item, items: dict[int, Item], last_taken: datetime | None) -> Iterable[ReviewPoint]:
    """Acts that were told late, on anything that the part is made of.

    A pot, a kit and a cure can be shared: what was done with one of them for another part alone is that part's. What
    was done to stock after the last of it was taken for this part does not touch it.
    """
    ids = list(items)
    about = Touched.select(Touched.deed).where(Touched.item.in_(ids))
    rows = (
        Touched.select(Touched.item, Touched.deed, Item.id, Item.kind, Deed)
        .join(Item)
        .switch(Touched)
        .join(Deed)
        .where(Touched.deed.in_(about) & (Deed.late == True) & Deed.refused.is_null())  # noqa: E712
        .order_by(Touched.deed, Touched.id)
    )
    deeds: dict[int, Deed] = {}
    touched: dict[int, list[tuple[int, str]]] = defaultdict(list)
    for row in rows:
        deeds[row.deed_id] = row.deed
        touched[row.deed_id].append((row.item_id, row.item.kind))
    for number, deed in deeds.items():
        parts = [n for n, kind in touched[number] if kind == Kind.PART]
        made = [n for n, kind in touched[number] if kind in _MADE]
        if any(group and not any(n in items for n in group) for group in (parts, made)):
            continue
        if not made and (last_taken is None or deed.occurred_at > last_taken):
            continue
        named = (
            item.id if item.id in parts else next(n for n in (*made, *(n for n, _ in touched[number])) if n in items)
        )
        minutes = round((deed.recorded_at - deed.occurred_at).total_seconds() / 60)
        yield ReviewPoint(items[named].code, "late", was_recorded(deed.operation, minutes))


# When something was begun, the plan that it follows, how that is called, and the word for its beginning.
_FOLLOWS: tuple[tuple[Field, ForeignKeyField, str, str], ...] = (
    (Part.started_at, Part.design, "part_number", "Started"),
    (Kit.cut_at, Kit.design, "part_number", "Cut"),
    (Mix.started_at, Mix.system, "name", "Started"),
    (Cure.started_at, Cure.schedule, "name", "Started"),
)


def _too_early(items: dict[int, Item], zone: ZoneInfo) -> Iterable[ReviewPoint]:
    """What happened, as it was told afterwards, before what it rests on was approved, checked or released."""

    def clock(at: datetime) -> str:
        return f"{at.astimezone(zone):%-d %b %Y %H:%M}"

    for number, done, begun_at, name, revision, approved_at in _begun_before_its_plan(list(items)):
        title = f"{name} revision {revision}"
        what = f"{done} on {clock(begun_at)}, before {title} was approved on {clock(approved_at)}."
        yield ReviewPoint(items[number].code, "before-approval", what)
    yield from _before_its_scale(items, clock)
    yield from _before_its_lot(items, clock)


def _begun_before_its_plan(ids: list[int]) -> Iterable[tuple[int, str, datetime, str, str, datetime]]:
    """Whatever was begun, by its own time, before the plan that it follows was approved: all kinds in one statement."""
    asked = []
    for order, (when, follows, name, _) in enumerate(_FOLLOWS):
        table, plan = when.model._meta.table_name, follows.rel_model._meta.table_name
        asked.append(
            f"SELECT {order} AS kind, b.item_id AS item_id, b.{when.column_name}, p.{name}, CAST(p.revision AS TEXT),"
            " p.approved_at"
            f" FROM {looked_up()} {each(table, 'b', 'b.item_id IN (given.id)')}"
            f" {each(plan, 'p', f'p.id IN (b.{follows.column_name})')} WHERE b.{when.column_name} < p.approved_at"
        )
    text = " UNION ALL ".join(asked) + " ORDER BY kind, item_id"
    for order, number, begun_at, name, revision, approved_at in rows_of(text, *[listed(ids)] * len(asked)):
        yield number, _FOLLOWS[order][3], instant(begun_at), name, str(revision), instant(approved_at)


def _before_its_scale(items: dict[int, Item], clock: Callable[[datetime], str]) -> Iterable[ReviewPoint]:
    """Weighed before the scale was put up, or, where it is checked at all, before its first check that it passed."""
    # The first check that passed is looked for only where none had passed before; mostly there is one at once.
    passed = "FROM scale_check c WHERE c.scale_id = w.scale_id AND c.passed"
    rows = rows_of(
        "SELECT w.mix_id, w.at, i.name, s.check_every_days, d.occurred_at,"
        f" CASE WHEN NOT EXISTS (SELECT 1 {passed} AND c.occurred_at <= w.at) THEN (SELECT min(c.occurred_at) {passed})"
        f" END FROM (SELECT p.mix_id, p.scale_id, min(p.occurred_at) AS at FROM {looked_up()}"
        f" {each('pour', 'p', 'p.mix_id IN (given.id)')} {each('movement', 'm', 'm.id IN (p.movement_id)')}"
        " WHERE m.cancelled_by_id IS NULL GROUP BY p.mix_id, p.scale_id) w JOIN scale s ON s.item_id = w.scale_id"
        " JOIN item i ON i.id = w.scale_id JOIN deed d ON d.id = i.deed_id ORDER BY w.scale_id, w.mix_id",
        listed(items),
    )
    for mix, weighed_at, name, every_days, added, checked in rows:
        fit_from = added if every_days is None else checked
        done = "put up" if every_days is None else "first checked"
        if fit_from is not None and weighed_at < fit_from:
            said = f"Weighed on {name} on {clock(instant(weighed_at))}"
            yield ReviewPoint(
                items[mix].code, "before-check", f"{said}, before it was {done} on {clock(instant(fit_from))}."
            )


def _before_its_lot(items: dict[int, Item], clock: Callable[[datetime], str]) -> Iterable[ReviewPoint]:
    """Taken from a container before its arrival was released."""
    ids = list(items)
    lot = another(Item, "lot")
    taken = (
        Movement.select(Movement.source, lot.code, fn.MIN(Movement.occurred_at), fn.MIN(Deed.occurred_at))
        .join(Container, on=(Movement.source == Container.item))
        .join(Receipt)
        .join(Deed, on=(Receipt.released_in == Deed.id))
        .switch(Container)
        .join(lot, on=(Container.lot == lot.id))
        .where(
            Movement.source.in_(ids)
            & Movement.target.in_(ids)
            & Movement.cancelled_by.is_null()
            & (Movement.occurred_at < Deed.occurred_at)
        )
        .group_by(Movement.source, lot.code)
        .order_by(Movement.source)
    )
    for container, lot_code, at, released in taken.tuples():
        what = f"Taken on {clock(at)}, before lot {lot_code} was released on {clock(released)}."
        yield ReviewPoint(items[container].code, "before-release", what)


def _stored_outside(
    items: dict[int, Item], taken: Mapping[int, tuple[datetime, Material]], at: datetime, zone: str
) -> Iterable[ReviewPoint]:
    """Cans that were outside their range before something was taken from them for this part, and that nobody judged."""
    keeps = {number: range_of(material) for number, (_, material) in taken.items()}
    for number, told in sorted(stored(keeps, at=at).items()):
        before = tuple(span for span in told.beyond if span.begins_at < taken[number][0])
        keep = keeps[number]
        if before and keep is not None:
            what = outside_sentence(before, keep, now=at, zone=zone)
            yield ReviewPoint(items[number].code, "stored-outside", what)


def _cups(items: dict[int, Item]) -> Iterable[ReviewPoint]:
    """Cups that were kept for the next morning, and that nobody has looked at since (shop rule 29)."""
    ids = list(items)
    checked = CupCheck.select(CupCheck.mix).where(CupCheck.mix.in_(ids))
    kept = Closing.select().where(Closing.mix.in_(ids) & (Closing.cup_kept == True) & Closing.mix.not_in(checked))  # noqa: E712
    for closing in kept.order_by(Closing.mix):
        code = items[closing.mix_id].code
        yield ReviewPoint(code, "cup-not-checked", f"The cup of {code} was kept, and nobody has checked it.")


def _other_schedule(held: PartInHand) -> Iterable[ReviewPoint]:
    item, design = held.item, held.design
    names = {cure.schedule.name for cure in held.cures}
    if design.schedule is not None and names and design.schedule not in names:
        what = f"Cured by {', '.join(sorted(names))}; the design asks for {design.schedule}."
        yield ReviewPoint(item.code, "other-schedule", what)
