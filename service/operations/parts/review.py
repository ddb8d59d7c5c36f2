"""What has to be read before a release: flags, what was told late or done too early, cups, what the design wanted."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from peewee import Field, ForeignKeyField, fn

from schemas.words import Kind
from service.operations.door.acts import was_recorded
from service.operations.door.shop import the_site
from service.operations.ledger.permitting import covered, named
from service.operations.parts.part import PartInHand
from service.operations.stock.fitness import outside_sentence
from service.operations.stock.storage import range_of, stored
from service.records.cures import Cure
from service.records.items import Flag, Item, Movement, Permission, Touched
from service.records.journal import Deed
from service.records.lookups import another
from service.records.materials import Container, Material, Receipt, Scale, ScaleCheck
from service.records.mixes import Closing, CupCheck, Mix, Pour
from service.records.parts import Design, Kit, Part

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
) -> Iterable[ReviewPoint]:
    """All that has to be read of a part and of ``items``, itself and all that it was made of, at an instant.

    ``flags`` are all on these, with the permissions that answer them and what has settled them since.
    """
    yield from _flags(items, flags, answers, settled)
    yield from _late(held.item, items)
    zone = the_site().zone
    yield from _too_early(items, ZoneInfo(zone))
    yield from _stored_outside(items, at, zone)
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


def _late(item: Item, items: dict[int, Item]) -> Iterable[ReviewPoint]:
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
    cans = [n for n, thing in items.items() if thing.kind == Kind.CONTAINER]
    taken = Movement.source.in_(cans) & Movement.target.in_(ids) & Movement.cancelled_by.is_null()
    last_taken = Movement.select(fn.MAX(Movement.occurred_at)).where(taken).scalar()
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


# When something was begun, the plan that it follows, and the word for it.
_FOLLOWS: tuple[tuple[Field, ForeignKeyField, str], ...] = (
    (Part.started_at, Part.design, "Started"),
    (Kit.cut_at, Kit.design, "Cut"),
    (Mix.started_at, Mix.system, "Started"),
    (Cure.started_at, Cure.schedule, "Started"),
)


def _too_early(items: dict[int, Item], zone: ZoneInfo) -> Iterable[ReviewPoint]:
    """What happened, as it was told afterwards, before what it rests on was approved, checked or released."""

    def clock(at: datetime) -> str:
        return f"{at.astimezone(zone):%-d %b %Y %H:%M}"

    for when, follows, done in _FOLLOWS:
        table, plan = when.model, follows.rel_model
        early = table.select(table, plan).join(plan).where(table.item.in_(list(items)) & (when < plan.approved_at))
        for row in early.order_by(table.item):
            by = getattr(row, follows.name)
            title = f"{by.part_number if isinstance(by, Design) else by.name} revision {by.revision}"
            what = (
                f"{done} on {clock(getattr(row, when.name))}, before {title} was approved on {clock(by.approved_at)}."
            )
            yield ReviewPoint(items[row.item_id].code, "before-approval", what)
    yield from _before_its_scale(items, clock)
    yield from _before_its_lot(items, clock)


def _before_its_scale(items: dict[int, Item], clock: Callable[[datetime], str]) -> Iterable[ReviewPoint]:
    """Weighed before the scale was put up, or, where it is checked at all, before its first check that it passed."""
    weighed = (
        Pour.select(Pour.mix, Pour.scale, fn.MIN(Pour.occurred_at))
        .join(Movement)
        .where(Pour.mix.in_(list(items)) & Movement.cancelled_by.is_null())
        .group_by(Pour.mix, Pour.scale)
        .order_by(Pour.mix, Pour.scale)
    )
    first = list(weighed.tuples())
    scales = {scale for _, scale, _ in first}
    passed = dict(
        ScaleCheck.select(ScaleCheck.scale, fn.MIN(ScaleCheck.occurred_at))
        .where(ScaleCheck.scale.in_(scales) & (ScaleCheck.passed == True))  # noqa: E712
        .group_by(ScaleCheck.scale)
        .tuples()
    )
    put_up = Scale.select(Scale.item, Scale.check_every_days, Item.name, Deed.occurred_at).join(Item).join(Deed)
    for scale, every_days, name, added in put_up.where(Scale.item.in_(scales)).order_by(Scale.item).tuples():
        fit_from = added if every_days is None else passed.get(scale)
        done = "put up" if every_days is None else "first checked"
        for mix, on, at in first:
            if on == scale and fit_from is not None and at < fit_from:
                what = f"Weighed on {name} on {clock(at)}, before it was {done} on {clock(fit_from)}."
                yield ReviewPoint(items[mix].code, "before-check", what)


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


def _stored_outside(items: dict[int, Item], at: datetime, zone: str) -> Iterable[ReviewPoint]:
    """Cans that were outside their range before something was taken from them for this part, and that nobody judged."""
    ids = list(items)
    taken = (
        Movement.select(Movement.source, fn.MAX(Movement.occurred_at))
        .join(Container, on=(Movement.source == Container.item))
        .where(Movement.source.in_(ids) & Movement.target.in_(ids) & Movement.cancelled_by.is_null())
        .group_by(Movement.source)
    )
    last = dict(taken.tuples())
    materials = Container.select(Container.item, Material).join(Material).where(Container.item.in_(list(last)))
    keeps = {row.item_id: range_of(row.material) for row in materials}
    for number, told in sorted(stored(keeps, at=at).items()):
        before = tuple(span for span in told.beyond if span.begins_at < last[number])
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
