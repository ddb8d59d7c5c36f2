"""What is measured in a place, whether it is a cold one, and what quality decides about a time out of range there."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from peewee import SQL, chunked

from schemas.words import Kind, MovementKind, State, StorageDecision
from service.database import rows_of
from service.operations.door.formerly import keep_former, require_reason
from service.operations.door.operation import AT_ONCE, Work, operation
from service.operations.door.refusals import AlreadyThere, Unprocessable, WrongState
from service.operations.door.rows import find_row
from service.operations.door.shop import time_in_shop
from service.operations.door.views import ItemRef, Page, page, ref
from service.operations.ledger import ledger
from service.operations.ledger.failing import stands
from service.operations.ledger.flags import stands as standing
from service.operations.stock.peroxides import alarm_if_hot
from service.operations.stock.storage import DAYS_BETWEEN_READINGS, keeps_at, range_of
from service.records.base import as_word, known, microseconds
from service.records.items import Flag, Hold, Item, Movement
from service.records.lookups import among
from service.records.materials import Container, Material, StorageReading
from service.records.storage import PlaceSetting, StorageReview

# A place that nobody calls cold or not is cold below this: common practice, no source. Between the two a shop that
# keeps its resins cool has to say which it is.
COLD_BELOW_C = 10.0
MOST_NAMED = 200
"""Of the cans that a review is about, and of what was made of them, so many are named in its answer."""


@dataclass(frozen=True, slots=True)
class StorageReadingView:
    """What the thermometer of a place said.

    Attributes
    ----------
    lowest_c
        Since the reading before; the reading itself where the thermometer keeps none.
    highest_c
        The same.
    alarms
        Peroxides there that were over their emergency temperature, and what to do: leave them.
    """

    place: str
    temperature_c: float
    lowest_c: float
    highest_c: float
    humidity_pct: float | None
    alarms: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class PlaceView:
    """A place and its settings.

    Attributes
    ----------
    cold
        Nothing where nobody said so: then what is measured there tells it.
    """

    code: str
    kind: Kind
    name: str
    state: State
    cold: bool | None
    read_every_days: float


@dataclass(frozen=True, slots=True)
class StorageReviewView:
    """What quality decided, once for all, about a time out of range in one place.

    Attributes
    ----------
    containers
        That stood there then, of this material: the newest 200; GET /v1/journal/{seq}/items of its entry lists all.
    containers_count
        How many they are.
    made
        Taken from these since it began, and marked with it: the newest 200; GET /v1/journal/{seq}/items of its entry
        lists all.
    made_count
        How many they are.
    """

    id: int
    place: str
    material: int
    begins_at: datetime
    ends_at: datetime
    decision: StorageDecision
    good_until: date | None
    containers: tuple[str, ...]
    containers_count: int
    made: tuple[str, ...]
    made_count: int


@operation
def add_place(work: Work, *, name: str) -> ItemRef:
    """Add a shelf, a cupboard, a room or an oven."""
    same = Item.get_or_none((Item.kind == Kind.PLACE) & (Item.name == name))
    if same is not None:
        raise AlreadyThere(f"There is a place {name} already.", way_out=f"Use {same.code}.", place=same.code)
    return ref(ledger.new_item(work, Kind.PLACE, name=name, state=State.IN_USE))


def list_places(*, after: int | None, limit: int) -> Page[ItemRef]:
    """List places."""
    named = Item.kind.in_([SQL("'A'"), SQL("'S'")])  # by the index of these alone, as it says it word for word
    return page(Item.select().where(named & (Item.kind == Kind.PLACE)), Item.id, after=after, limit=limit, view=ref)


def read_place(place: str) -> PlaceView:
    """One place and its settings."""
    item = ledger.find(place, Kind.PLACE)
    row = PlaceSetting.get_or_none(PlaceSetting.item == item.id)
    return _view(item, row.cold, row.read_every_days) if row is not None else _view(item, None, DAYS_BETWEEN_READINGS)


def _view(item: Item, cold: bool | None, read_every_days: float) -> PlaceView:
    return PlaceView(item.code, Kind.PLACE, item.name, as_word(State, item.state), cold, read_every_days)


@operation
def set_up_place(
    work: Work, *, place: str, cold: bool | None = None, read_every_days: float = DAYS_BETWEEN_READINGS
) -> PlaceView:
    """Say of a place whether it is a cold store, and how often it is measured."""
    item = ledger.lock_one(work, place, Kind.PLACE)
    setting: dict[str, Any] = {"cold": cold, "read_every_days": read_every_days}
    # The item is locked, so nobody sets the same place up meanwhile.
    before = PlaceSetting.get_or_none(PlaceSetting.item == item.id)
    if before is None:
        PlaceSetting.insert(item=item.id, **setting).execute()
    else:
        require_reason(work, f"how {item.name} is kept")
        keep_former(work, before, version=item.version)
        PlaceSetting.update(setting).where(PlaceSetting.item == item.id).execute()
        work.carry(item)
    work.note(place=item.code, cold=cold, read_every_days=read_every_days)
    work.touch(item)
    return _view(item, cold, read_every_days)


@operation
def record_storage_reading(
    work: Work,
    *,
    place: str,
    temperature_c: float,
    lowest_c: float | None = None,
    highest_c: float | None = None,
    humidity_pct: float | None = None,
) -> StorageReadingView:
    """Record what the thermometer in a place says, and the lowest and highest since the reading before if it keeps
    them. It speaks for what stood there since that reading."""
    item = ledger.find(place, Kind.PLACE)
    low = temperature_c if lowest_c is None else lowest_c
    high = temperature_c if highest_c is None else highest_c
    if not low <= temperature_c <= high:
        raise Unprocessable(
            f"{temperature_c:g} °C has to lie between the lowest, {low:g} °C, and the highest, {high:g} °C.",
            pointer="/lowest_c" if low > temperature_c else "/highest_c",
        )
    StorageReading.create(
        place=item,
        temperature_c=temperature_c,
        lowest_c=low,
        highest_c=high,
        humidity_pct=humidity_pct,
        occurred_at=work.act.occurred_at,
        deed=work.deed,
    )
    work.touch(item)
    alarms = alarm_if_hot(work, item, high, work.act.occurred_at)
    return StorageReadingView(item.code, temperature_c, low, high, humidity_pct, alarms)


def leaves_the_cold(came_from: int | None, goes_to: int, *, at: datetime) -> bool:
    """Whether a move is one out of the cold. Of a place of which nothing is known, stock that has to warm up came cold;
    and nothing that goes into a place of which nothing is known stays cold there."""
    places = [number for number in (came_from, goes_to) if number is not None]
    cold: dict[int, bool | None] = {}
    said = "SELECT g.cold FROM place_setting g WHERE g.item_id = i.id"
    last = (
        "SELECT r.temperature_c FROM storage_reading r WHERE r.place_id = i.id AND r.occurred_at <= ?"
        f" AND {stands('r')} ORDER BY r.occurred_at DESC, r.id DESC LIMIT 1"
    )
    for number, marked, temperature_c in rows_of(
        f"SELECT i.id, ({said}), ({last}) FROM item i WHERE i.id IN ({', '.join('?' for _ in places)})",
        microseconds(at),
        *places,
    ):
        told = None if temperature_c is None else temperature_c < COLD_BELOW_C
        cold[number] = told if marked is None else bool(marked)
    was_cold = cold.get(came_from) if came_from is not None else None
    return was_cold is not False and cold.get(goes_to) is not True


@operation
def review_storage(
    work: Work,
    *,
    place: str,
    material: int,
    begins_at: datetime,
    ends_at: datetime,
    decision: StorageDecision,
    good_until: date | None = None,
) -> StorageReviewView:
    """Decide once, for all cans of a material that stood in a place while it was outside their range: use them as they
    are, shorten their life, have them retested, or reject them. What was made of them already says so."""
    where = ledger.lock_one(work, place, Kind.PLACE)
    product = find_row(Material, material, "material", pointer="/material")
    _check_review(work, where, product, begins_at, ends_at, decision, good_until)
    review = StorageReview.create(
        place=where,
        material=product,
        begins_at=begins_at,
        ends_at=ends_at,
        decision=decision,
        good_until=good_until,
        why=known(work.act.why),
        deed=work.deed,
    )
    cans = _stood_there(where, product, begins_at, ends_at)
    zone, now = work.site.zone, work.act.occurred_at
    span = " to ".join(time_in_shop(at, now=now, zone=zone) for at in (begins_at, ends_at))
    sentence = (
        f"{product.name} was outside {keeps_at(known(range_of(product)))} in {where.name}, {span}; "
        f"{_DECIDED[decision]}: {work.act.why}"
    )
    if decision == StorageDecision.SHORTEN:
        older = (Container.expires_on.is_null()) | (Container.expires_on > good_until)
        which = among(Container.item, [can.id for can in cans])
        Container.update(expires_on=good_until).where(which & older).execute()
    if decision in (StorageDecision.RETEST, StorageDecision.REJECT):
        _hold(work, [can for can in cans if can.state not in (State.EMPTY, State.SCRAPPED)], sentence, begins_at)
    made = _made_since(cans, begins_at)
    _mark(work, made, sentence, stops=decision in (StorageDecision.RETEST, StorageDecision.REJECT))
    work.touch(where, *cans, *made)
    work.note(place=where.code, material=product.name, decision=decision, cans=len(cans), made=len(made))
    return StorageReviewView(
        review.id,
        where.code,
        product.id,
        begins_at,
        ends_at,
        decision,
        good_until,
        tuple(can.code for can in cans[-MOST_NAMED:]),
        len(cans),
        tuple(one.code for one in made[-MOST_NAMED:]),
        len(made),
    )


_DECIDED = {
    StorageDecision.USE: "used as it is",
    StorageDecision.SHORTEN: "its life is shortened",
    StorageDecision.RETEST: "to be retested",
    StorageDecision.REJECT: "rejected",
}


def _check_review(
    work: Work,
    where: Item,
    product: Material,
    begins_at: datetime,
    ends_at: datetime,
    decision: StorageDecision,
    good_until: date | None,
) -> None:
    if work.act.why is None:
        raise Unprocessable("Say what this rests on.", pointer="/why", answer_with={"why": None})
    if not begins_at <= ends_at <= work.act.occurred_at:
        raise Unprocessable("Review a time that is over, from its beginning to its end.", pointer="/ends_at")
    if (decision == StorageDecision.SHORTEN) != (good_until is not None):
        raise Unprocessable(
            "Give the new last day where the life is shortened, and nowhere else.", pointer="/good_until"
        )
    keeps = range_of(product)
    readings = StorageReading.select().where(
        (StorageReading.place == where)
        & StorageReading.occurred_at.between(begins_at, ends_at)
        & standing(StorageReading.deed)
    )
    beyond = (
        None
        if keeps is None
        else readings.where((StorageReading.lowest_c < keeps.low_c) | (StorageReading.highest_c > keeps.high_c))
    )
    if beyond is None or not beyond.exists():
        raise WrongState(
            f"No reading in {where.name} from then to then is outside what {product.name} keeps at.",
            way_out="Take place and times from the sentence on a can's page; the end is that of the reading.",
        )


def _stood_there(where: Item, product: Material, begins_at: datetime, ends_at: datetime) -> list[Item]:
    """The containers of a material that stood in a place at some time of a span, by their codes."""
    there = rows_of(
        "SELECT DISTINCT s.item_id FROM stay s JOIN container c ON c.item_id = s.item_id WHERE s.place_id = ?"
        " AND c.material_id = ? AND s.since <= ? AND coalesce((SELECT min(n.since) FROM stay n"
        " WHERE n.item_id = s.item_id AND n.since > s.since), ?) >= ?",
        where.id,
        product.id,
        microseconds(ends_at),
        microseconds(ends_at),
        microseconds(begins_at),
    )
    return list(Item.select().where(among(Item.id, [number for (number,) in there])).order_by(Item.id))


def _made_since(cans: list[Item], begins_at: datetime) -> list[Item]:
    """What was taken from these since: pots, kits, parts."""
    taken = Movement.select(Movement.target).where(
        among(Movement.source, [can.id for can in cans])
        & (Movement.occurred_at >= begins_at)
        & Movement.cancelled_by.is_null()
        & (Movement.kind != MovementKind.DECANT)
    )
    return list(
        Item.select().where(Item.id.in_(taken) & Item.kind.in_([Kind.MIX, Kind.KIT, Kind.PART])).order_by(Item.id)
    )


def _hold(work: Work, cans: list[Item], reason: str, since: datetime) -> None:
    """A hold on each can, and through it on what was taken from it since: one line of the table for each, in one go."""
    about = {"reason": reason, "since": since, "placed_at": work.act.occurred_at, "placed_by": work.deed}
    for some in chunked(cans, AT_ONCE):
        Hold.insert_many([{"item": can.id, **about} for can in some]).execute()
    for can in cans:
        work.carry(can, holds=1)


def _mark(work: Work, made: list[Item], sentence: str, *, stops: bool) -> None:
    about = {"kind": "stored-outside", "sentence": sentence, "facts": {}, "stops": stops, "permission": None}
    stamp = {"occurred_at": work.act.occurred_at, "deed": work.deed}
    for some in chunked(made, AT_ONCE):
        Flag.insert_many([{"item": one.id, **about, **stamp} for one in some]).execute()
