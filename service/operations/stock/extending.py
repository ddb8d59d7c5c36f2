"""A longer life of a lot: asked for after a retest that it passed, and agreed to by a second person."""

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from schemas.words import Alone, Kind
from service.operations.door.acts import ACTS
from service.operations.door.operation import Work, operation
from service.operations.door.refusals import Unprocessable, WrongState
from service.operations.door.shop import day_in_shop
from service.operations.ledger import ledger
from service.operations.ledger.second import is_alone, require_second
from service.operations.stock.lots import LotInHand, LotView, load_lot, view_lot
from service.records.items import Item, Touched
from service.records.journal import Deed, Entry
from service.records.lookups import among
from service.records.materials import IncomingCheck, Lot

# With what the name of an incoming check begins that was made for a longer life.
_RETEST = "retest: "


@operation
def extend_lot(work: Work, *, lot: str, until: date, method: str, result: str) -> LotView:
    """Ask for a longer life of a lot after a retest that it passed; it holds once a second person has agreed.

    The supplier's own date stays visible. Where the shop has no second person for it, it holds at once.
    """
    item = ledger.lock_one(work, lot, Kind.LOT)
    held = load_lot(item)
    row = held.lot
    today = day_in_shop(work.act.occurred_at, work.site)
    if until <= today:
        raise Unprocessable("The new date has to lie ahead.", pointer="/until")
    held.checks.append(
        IncomingCheck.create(lot=row, name=f"{_RETEST}{method}", result=result, passed=True, deed=work.deed)
    )
    work.note(lot=item.code, retest={"method": method, "result": result}, asked_until=until)
    if is_alone(work, Alone.EXTENSION):
        _second_for_extension(work, item, {work.act.person})
        _extend(work, held, until)
    else:
        _put(row, extension_until=until, extension_asked_by=work.act.person)
    work.touch(item)
    return view_lot(held, at=work.act.occurred_at)


@operation
def agree_extension(work: Work, *, lot: str) -> LotView:
    """Agree to the longer life of a lot that another person has asked for after a retest."""
    item = ledger.lock_one(work, lot, Kind.LOT)
    held = load_lot(item)
    until, asked_by = held.lot.extension_until, held.lot.extension_asked_by_id
    if until is None or asked_by is None:
        raise WrongState(
            f"Nobody has asked for a longer life of lot {item.code}.", way_out="Quality retests it and asks for it."
        )
    # Answered as if before it was asked, what is over by now would have been good for longer.
    asked = next(check for check in reversed(held.checks) if check.name.startswith(_RETEST))
    ledger.refuse_before(work, asked.deed.occurred_at, f"A longer life of lot {item.code} was asked for")
    if until <= day_in_shop(work.act.recorded_at, work.site):
        raise WrongState(f"Lot {item.code} was to be good until {until:%-d %b %Y}, which is over.",
                         way_out="Retest it, and ask anew.")  # fmt: skip
    _second_for_extension(work, item, {asked_by})
    _extend(work, held, until)
    work.touch(item)
    return view_lot(held, at=work.act.occurred_at)


def _second_for_extension(work: Work, item: Item, barred: set[int]) -> None:
    require_second(
        work, Alone.EXTENSION, barred, roles=ACTS["agree_extension"].roles, item=item,
        sentence="Whoever asked for a longer life does not agree to it as well.",
    )  # fmt: skip


def _extend(work: Work, held: LotInHand, until: date) -> None:
    work.note(lot=held.item.code, before=held.lot.retest_on, until=until)
    _put(held.lot, retest_on=until, extension_until=None, extension_asked_by=None)


def _put(row: Lot, **columns: Any) -> None:
    Lot.update(**columns).where(Lot.item == row.item_id).execute()
    for name, value in columns.items():
        setattr(row, name, value)


@dataclass(frozen=True, slots=True)
class Extension:
    """A retest that moved a lot's date."""

    at: datetime
    before: date | None


def retest_date_then(current: date | None, extended: Sequence[Extension], at: datetime) -> date | None:
    """The retest date of a lot as it was at a time, by what extended it since."""
    later = [e for e in extended if e.at > at]
    return later[0].before if later else current


# What one person asks for and another agrees to; where one is enough, the asking is all.
_EXTENDING = ("extend_lot", "agree_extension")


def extensions(lots: Iterable[int]) -> dict[int, list[Extension]]:
    """The retests of these lots, oldest first, from what the journal says of them."""
    # Few lots ever were retested, and each was touched by all that was done with its cans.
    retested = _retested(lots)
    if not retested:
        return {}
    query = (
        Touched.select(Touched.item, Deed.occurred_at, Entry.body)
        .join(Deed, on=(Touched.deed == Deed.id))
        .join(Entry, on=(Entry.deed == Deed.id))
        .where(among(Touched.item, retested) & Deed.operation.in_(_EXTENDING) & Deed.refused.is_null())
        .order_by(Deed.id)
    )
    found: dict[int, list[Extension]] = {}
    for row in query.objects():
        note: dict[str, Any] | None = next((n for n in json.loads(row.body)["notes"] if "until" in n), None)
        if note is None:
            continue  # it was only asked for
        before = note.get("before")
        found.setdefault(row.item_id, []).append(
            Extension(at=row.occurred_at, before=date.fromisoformat(before) if before else None)
        )
    return found


def _retested(lots: Iterable[int]) -> set[int]:
    tested = IncomingCheck.select(IncomingCheck.lot).where(
        among(IncomingCheck.lot, lots) & IncomingCheck.name.startswith(_RETEST)
    )
    return {lot for (lot,) in tested.distinct().tuples()}
