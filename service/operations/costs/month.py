"""What a month cost: what arrived, what went into parts, what was wasted and why, what the stock grew by; it closes.

What arrived and what was found more than the book had is, to the last minor unit, what went into parts, was wasted, or
still stands there. A movement belongs to the month in which it happened, by the shop's calendar; a price that is said
later counts in the month in which the goods moved.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from typing import Annotated
from zoneinfo import ZoneInfo

from schemas.words import Kind, MaterialKind, MovementKind, OwnStep, Unit, WasteCause
from service.formulas._money import Held, minor_digits, total
from service.operations.costs.figures import Figures, Reckoning, cause_of, reckon
from service.operations.costs.flow import Moved, Value, by_material
from service.operations.costs.labour import NOT_COUNTED, Labour, together
from service.operations.costs.telling import WasteCost, not_known, sum_of, trimmed_off, waste_told
from service.operations.door.shop import the_site
from service.records.base import microseconds
from service.records.people import Site


@dataclass(frozen=True, slots=True)
class MaterialOfMonth:
    """Where a material came from and went in a month: received and found = in parts, wasted, and in stock.

    Attributes
    ----------
    received
        What arrived, opening stock too.
    found
        What the book did not have and was there.
    in_parts
        What went into parts.
    wasted
        What went nowhere, by whatever cause.
    stock_change
        What cans, pots and kits hold more at the end than at the beginning; below zero is less.
    received_minor
        In minor units, as all that follow: of what has a price.
    found_minor
        At what the rest of its can had cost.
    in_parts_minor
        What that had cost.
    wasted_minor
        What that had cost.
    stock_change_minor
        What that had cost; below zero is less.
    """

    material: int
    name: str
    kind: MaterialKind
    unit: Unit
    received: Annotated[int, Unit]
    found: Annotated[int, Unit]
    in_parts: Annotated[int, Unit]
    wasted: Annotated[int, Unit]
    stock_change: Annotated[int, Unit]
    received_minor: int
    found_minor: int
    in_parts_minor: int
    wasted_minor: int
    stock_change_minor: int


@dataclass(frozen=True, slots=True)
class MonthCost:
    """What a month cost, in whole minor units of the shop's currency.

    Attributes
    ----------
    month
        By the shop's own calendar.
    currency
        By ISO 4217; null where the shop has set none, and then no price is known.
    minor_digits
        Decimals of the currency's minor unit, by ISO 4217: 2 means hundredths.
    received_minor
        What arrived, as far as it has a price; received and found are in parts, wasted, or in stock.
    found_minor
        What was found more than the book had, at what the rest of its can had cost.
    in_parts_minor
        What went into parts.
    wasted_minor
        What went nowhere.
    stock_change_minor
        What cans, pots and kits hold more at the end than at the beginning; below zero is less.
    complete
        Whether all that moved has a price.
    materials
        Of each material that moved where it came from and went.
    waste
        By cause. What was trimmed off was in a part first, and is not in what was wasted.
    parts
        How many parts something went into.
    scrapped_parts
        How many parts were scrapped.
    scrapped_minor
        What is in them had cost, as far as it has a price; it counts as what went into parts.
    labour
        On parts whose lay-up was closed in the month.
    sentences
        What is not known, and what counts.
    """

    month: str
    currency: str | None
    minor_digits: int
    received_minor: int
    found_minor: int
    in_parts_minor: int
    wasted_minor: int
    stock_change_minor: int
    complete: bool
    materials: tuple[MaterialOfMonth, ...]
    waste: tuple[WasteCost, ...]
    parts: int
    scrapped_parts: int
    scrapped_minor: int
    labour: Labour
    sentences: tuple[str, ...]


@dataclass(slots=True)
class _Account:
    """Where all that moved in a time came from and went."""

    received: Value = field(default_factory=Held)
    found: Value = field(default_factory=Held)
    in_parts: Value = field(default_factory=Held)
    wasted: dict[WasteCause, Value] = field(default_factory=dict)
    before: Value = field(default_factory=Held)
    after: Value = field(default_factory=Held)

    @property
    def lost(self) -> Value:
        return total(self.wasted.values())

    @property
    def growth(self) -> Value:
        growth: Value = Held()
        growth.add(self.after)
        growth.add(self.before, -1)
        return growth


_MOVED = "m.occurred_at >= ? AND m.occurred_at < ? AND m.cancelled_by_id IS NULL"
_IN_IT = f"FROM movement m WHERE {_MOVED} AND m.kind NOT IN ('{MovementKind.SHIPMENT}', '{MovementKind.RETURN}')"
_OF_MONTH = (
    f"SELECT id FROM (SELECT m.source_id AS id {_IN_IT} AND m.source_id IS NOT NULL"
    f" UNION SELECT m.target_id {_IN_IT} AND m.target_id IS NOT NULL"
    " UNION SELECT p.item_id FROM part p WHERE p.laid_up_at >= ? AND p.laid_up_at < ?"
    f" UNION SELECT s.part_id FROM part_step s WHERE s.occurred_at >= ? AND s.occurred_at < ?"
    f" AND s.kind = '{OwnStep.TRIMMING}') AS begun"
)


def read_month_cost(*, month: str) -> MonthCost:
    """What a month cost: what arrived, what went into parts, what was wasted and why, what stands there more."""
    site = the_site()
    begins, ends = _bounds(month, site)
    span = (microseconds(begins), microseconds(ends))
    made = reckon(_OF_MONTH, *span * 4, site=site)
    account = _account(made, begins, ends)
    moved = [m for m in made.flow.moved if begins <= m.at < ends]
    used = {m.target for m in moved if m.id in made.flow.took and made.flow.is_kind(m.target, Kind.PART)}
    scrapped = [m.source for m in moved if m.kind == MovementKind.SCRAP and m.source in made.parts]
    closed = [one for one in made.parts.values() if one.row.laid.closed and begins <= one.row.laid.closed < ends]
    labour = together(one.labour for one in closed)
    everything = total([account.received, account.in_parts, account.lost, _sizes(account.growth)])
    return MonthCost(
        month=month,
        currency=site.currency,
        minor_digits=minor_digits(site.currency or ""),
        received_minor=sum_of(account.received).known,
        found_minor=sum_of(account.found).known,
        in_parts_minor=sum_of(account.in_parts).known,
        wasted_minor=sum_of(account.lost).known,
        stock_change_minor=sum_of(account.growth).known,
        complete=sum_of(everything).whole,
        materials=tuple(_materials(made, account)),
        waste=waste_told(account.wasted, made.flow.products, trimmed_off(_trimmed(made, begins, ends))),
        parts=len(used),
        scrapped_parts=len(scrapped),
        scrapped_minor=sum_of(_inside(made, (n for n in scrapped if n is not None))).known,
        labour=labour,
        sentences=(
            *not_known(total([account.in_parts, account.lost]), made.flow.products, site.currency),
            *(
                ["What an hour of work costs was not set for all of it."]
                if closed and labour.minor is None and site.currency is not None
                else []
            ),
            NOT_COUNTED,
        ),
    )


def _bounds(month: str, site: Site) -> tuple[datetime, datetime]:
    year, number = int(month[:4]), int(month[5:])
    first, after = date(year, number, 1), date(year + number // 12, number % 12 + 1, 1)
    zone = ZoneInfo(site.zone)
    begins, ends = (datetime(day.year, day.month, 1, tzinfo=zone).astimezone(UTC) for day in (first, after))
    return begins, ends


def _account(made: Reckoning, begins: datetime, ends: datetime) -> _Account:
    account = _Account()
    for moved in made.flow.moved:
        took = made.flow.took.get(moved.id)
        if took is None or moved.at >= ends:
            continue
        within = moved.at >= begins
        bought = _is_bought(made, moved)
        for stock in (account.after,) if within else (account.before, account.after):
            if made.flow.is_kind(moved.target, Kind.LOT, Kind.CONTAINER, Kind.MIX, Kind.KIT):
                stock.add(took)
            if moved.source is not None and not bought:
                stock.add(took, -1)
        if not within:
            continue
        if bought:
            account.received.add(took)
        elif moved.source is None:
            account.found.add(took)
        if made.flow.is_kind(moved.target, Kind.PART):
            account.in_parts.add(took)
        elif moved.target is None:
            cause = cause_of(made.flow, moved, made.site) or WasteCause.NOT_FOUND
            account.wasted.setdefault(cause, Held()).add(took)
    return account


def _is_bought(made: Reckoning, moved: Moved) -> bool:
    """Does it come out of an arrival? What was made here is packed out of what was taken for it."""
    if moved.kind != MovementKind.PACKING or moved.source is None:
        return False
    return not any(m.kind == MovementKind.MADE for m in made.flow.into.get(moved.source, ()))


def _sizes(value: Value) -> Value:
    """Only what changed at all."""
    kept = {key: amount for key, amount in value.amounts.items() if amount}
    return Held(kept, {key: value.money[key] for key in kept})


def _inside(made: Reckoning, parts: Iterable[int]) -> Value:
    return total(made.parts[number].inside for number in made.with_components(parts))


def _trimmed(made: Reckoning, begins: datetime, ends: datetime) -> list[Figures]:
    return [one for one in made.parts.values() if one.trimmed_at is not None and begins <= one.trimmed_at < ends]


def _materials(made: Reckoning, account: _Account) -> list[MaterialOfMonth]:
    columns = [
        by_material(v) for v in (account.received, account.found, account.in_parts, account.lost, account.growth)
    ]
    rows = []
    for number in sorted({n for column in columns for n in column}, key=lambda n: made.flow.products[n].name):
        product = made.flow.products[number]
        each = [column.get(number, (0, None, 0)) for column in columns]
        if any(amount for amount, _, _ in each):
            amounts, money = [amount for amount, _, _ in each], [cost or 0 for _, cost, _ in each]
            rows.append(MaterialOfMonth(number, product.name, product.kind, product.unit, *amounts, *money))
    return rows
