"""Holds: what is stopped, why, and who may let it go on.

A hold on something that goes into other things (lot, container, kit, mix, cure, part) reaches all that was made of it.
A hold on something that is only used (mould, scale, place) or on a person stops the next use; what was made with it
before is stopped only when a look-back is ordered.
"""

from dataclasses import dataclass
from datetime import datetime

from peewee import JOIN

from schemas.words import Alone, Kind
from service.database import rows_of
from service.operations.door.acts import ACTS
from service.operations.door.operation import Work, operation
from service.operations.door.others import who_else
from service.operations.door.refusals import OnHold, SecondPersonRequired, Unprocessable, WrongState
from service.operations.door.rows import find_row
from service.operations.door.views import Page, page
from service.operations.ledger import ledger
from service.operations.ledger.done_with import AT_LAST, THE_SAME_TASK, done_by, used_on
from service.operations.ledger.flags import Stop, lift, place_hold_on, stop
from service.operations.ledger.graph import StandingHold, standing_holds
from service.operations.ledger.second import require_second
from service.operations.ledger.trace import Look
from service.records.base import known, microseconds
from service.records.items import Hold, Item
from service.records.journal import Deed
from service.records.people import Person

_MADE_WITH = (Kind.MOULD, Kind.SCALE, Kind.PLACE)
MOST_NAMED = 500
"""Of what a look-back stops so many are named in its answer."""


@dataclass(frozen=True, slots=True)
class Reached:
    """How much was made of a held item.

    Attributes
    ----------
    counts
        How many of each kind were made of the item, or of what was taken from it since.
    items
        All of them together.
    trace
        Where they are listed, with their codes.
    """

    counts: dict[str, int]
    items: int
    trace: str


@dataclass(frozen=True, slots=True)
class HoldRow:
    """A hold, and how far it reaches.

    Attributes
    ----------
    reaches
        Told of a single hold; null in the list.
    """

    id: int
    item: str | None
    person: int | None
    reason: str
    since: datetime | None
    placed_at: datetime
    placed_by_id: int
    lifted_at: datetime | None
    reaches: Reached | None = None


@dataclass(frozen=True, slots=True)
class LookBack:
    """What a look-back stopped.

    Attributes
    ----------
    stopped
        How many items.
    held
        Codes of the newest 500 of them; GET /v1/holds lists the holds of all.
    """

    used: str | None
    person: int | None
    since: datetime
    stopped: int
    held: tuple[str, ...]


@operation
def place_hold(
    work: Work, *, reason: str, item: str | None = None, person: int | None = None, since: datetime | None = None
) -> HoldRow:
    """Put something on hold, or a person; on request only what was taken from it from some time on."""
    if (item is None) == (person is None):
        raise Unprocessable("A hold is on an item or on a person; give one of the two.", pointer="/item")
    if person is not None:
        row = find_row(Person, person, "person", pointer="/person")
        hold = Hold.create(person=row, reason=reason, placed_at=work.act.occurred_at, placed_by=work.deed)
        work.note(person=row.id, held=reason)
        return view_hold(hold)
    found = ledger.lock_one(work, str(item))
    return view_hold(place_hold_on(work, found, reason, since=since), reach=True)


@operation
def lift_hold(work: Work, *, hold: int) -> HoldRow:
    """Lift one hold; `why` says what was found. Other holds on the same item stay."""
    row = find_row(Hold, hold, "hold")
    if row.lifted_at is not None:
        raise WrongState(f"Hold {hold} was lifted already.")
    if work.act.why is None:
        raise Unprocessable("Say what was found, so that the hold can go.", pointer="/why", answer_with={"why": None})
    ledger.refuse_before(work, row.placed_at, f"Hold {hold} was placed")
    if row.person_id == work.act.person:
        raise SecondPersonRequired(
            "Nobody lifts a hold on themselves.", way_out=who_else(ACTS["lift_hold"].roles, {work.act.person})
        )
    if row.item is not None:
        ledger.lock(work, row.item.code)
    require_second(
        work, Alone.LIFTING, {row.placed_by.person_id}, roles=ACTS["lift_hold"].roles, item=row.item,
        sentence="Whoever placed a hold does not lift it as well.",
    )  # fmt: skip
    lift(work, row)
    return view_hold(row)


@operation
def look_back(
    work: Work, *, since: datetime, reason: str, item: str | None = None, person: int | None = None
) -> LookBack:
    """Stop everything on which a mould, scale or place was used, or that a person worked on, from some time on."""
    if (item is None) == (person is None):
        raise Unprocessable("Look back at an item or at a person; give one of the two.", pointer="/item")
    if person is not None:
        find_row(Person, person, "person", pointer="/person")
        worked_on, given = done_by(person, THE_SAME_TASK, microseconds(since), AT_LAST)
    else:
        used = ledger.find(str(item), *_MADE_WITH)
        worked_on, given = used_on(used.id, microseconds(since), AT_LAST)
    codes = [code for (code,) in rows_of(f"SELECT i.code FROM item i WHERE i.id IN ({worked_on})", *given)]
    locked = ledger.lock(work, *codes) if codes else {}
    found = sorted(locked.values(), key=lambda i: i.id)
    stop(work, (Stop(one, reason) for one in found))
    newest = tuple(sorted(one.code for one in found[-MOST_NAMED:]))
    return LookBack(used=item, person=person, since=since, stopped=len(found), held=newest)


def require_not_held(*items: Item) -> None:
    """Before something is used on something else: a mould, a scale or a place that is on hold stops the next use."""
    held = {item.id: item for item in items}
    standing = Hold.item.in_(list(held)) & Hold.lifted_at.is_null()
    for hold in Hold.select().where(standing).order_by(Hold.id).limit(1):
        item = held[known(hold.item_id)]
        raise OnHold(
            f"{item.code} {item.name} is on hold: {hold.reason}",
            way_out="Take another one; or quality looks at it and lifts the hold.",
            hold=hold.id,
        )


def holds_at_use(work: Work, used: Item) -> list[StandingHold]:
    """The holds that reach what was used: those that stand, and of a use that is told later those that stood then."""
    at = work.act.occurred_at
    found = standing_holds([used.id], at=at)[used.id]
    if at < work.act.recorded_at:
        found += [h for h in standing_holds([used.id], at=at, known_at=at)[used.id] if h not in found]
    return found


def list_holds(
    *, after: int | None, limit: int, standing: bool | None = None, item: str | None = None
) -> Page[HoldRow]:
    """List holds, all or only those that stand."""
    query = (
        Hold.select(Hold, Item.id, Item.code, Deed.id, Deed.person)
        .join(Item, JOIN.LEFT_OUTER, on=(Hold.item == Item.id))
        .switch(Hold)
        .join(Deed, on=(Hold.placed_by == Deed.id))
    )
    if standing is not None:
        query = query.where(Hold.lifted_at.is_null(standing))
    if item is not None:
        query = query.where(Hold.item == ledger.find(item).id)
    return page(query, Hold.id, after=after, limit=limit, view=view_hold)


def read_hold(hold: int) -> HoldRow:
    """One hold, with how much of each kind it reaches; the trace that `reaches` names has the codes."""
    return view_hold(find_row(Hold, hold, "hold"), reach=True)


def _reached(item: Item, since: datetime | None) -> Reached:
    """What was made of the held item; of a hold "from this time on", what was taken since, and what became of it."""
    counts = Look.at(item.id, back=False, since=since).counts()
    begun = f"&since={since.isoformat().replace('+00:00', 'Z')}" if since is not None else ""
    return Reached(counts, sum(counts.values()), f"/v1/items/{item.code}/trace?direction=forward{begun}")


def view_hold(row: Hold, *, reach: bool = False) -> HoldRow:
    return HoldRow(
        id=row.id,
        item=row.item.code if row.item is not None else None,
        person=row.person_id,
        reason=row.reason,
        since=row.since,
        placed_at=row.placed_at,
        placed_by_id=row.placed_by.person_id,
        lifted_at=row.lifted_at,
        reaches=_reached(row.item, row.since) if reach and row.item is not None else None,
    )
