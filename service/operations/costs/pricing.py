"""Prices of arrivals and of an hour's work: said by somebody on a day, and followed by another if they were wrong."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from peewee import chunked, fn

from schemas.words import PriceBasis, ReceiptKind, Unit
from service.formulas._money import minor_digits
from service.operations.door.formerly import called_then
from service.operations.door.operation import AT_ONCE, Work, operation
from service.operations.door.refusals import Unprocessable, WrongState
from service.operations.door.shop import day_in_shop
from service.operations.door.views import Page, page
from service.operations.ledger import ledger
from service.records.base import as_word
from service.records.costs import HourlyRate, Price
from service.records.items import Item
from service.records.journal import Deed
from service.records.lookups import among
from service.records.materials import Lot, Material, Receipt
from service.records.people import Person, Site

# What a price by amount goes with.
_UNITS = {PriceBasis.KILOGRAM: Unit.MILLIGRAM, PriceBasis.METRE: Unit.MILLIMETRE, PriceBasis.PIECE: Unit.PIECE}
_COMES_BY = {Unit.MILLIGRAM: "kilogram", Unit.MILLIMETRE: "metre", Unit.PIECE: "piece"}


@dataclass(frozen=True, slots=True)
class PriceView:
    """What was said of the price of an arrival.

    Attributes
    ----------
    receipt
        Number of the arrival, as its lot names it.
    basis
        What the price is of: all that arrived, or a kilogram, metre or piece of it.
    minor
        In minor units: of the whole arrival, or of a kilogram, metre or piece of it.
    minor_digits
        Decimals of the currency's minor unit, by ISO 4217: 2 means hundredths.
    currency
        By ISO 4217, as the shop had it then.
    said_at
        When it was said.
    said_by
        Who said it.
    stands
        False where another was said since.
    """

    id: int
    receipt: int
    lot: str
    name: str
    basis: PriceBasis
    minor: int
    currency: str
    minor_digits: int
    document: str | None
    said_at: datetime
    said_by: str
    stands: bool


@dataclass(frozen=True, slots=True)
class HourlyRateView:
    """What an hour of work costs from a day on, until the day of the next.

    Attributes
    ----------
    minor
        For an hour, in minor units.
    currency
        By ISO 4217, as the shop had it then.
    minor_digits
        Decimals of the currency's minor unit, by ISO 4217: 2 means hundredths.
    """

    id: int
    minor: int
    currency: str
    minor_digits: int
    since: date


def shops_currency(site: Site, said: str | None) -> str:
    """The currency that prices are said in; refused where the shop has none, or somebody means another."""
    if site.currency is None:
        raise WrongState(
            "The shop has set no currency, so a price would say nothing.",
            way_out="An administrator sets it among the shop's settings (PATCH /v1/site).",
        )
    if said not in (None, site.currency):
        raise Unprocessable(
            f"The shop reckons in {site.currency}, this is in {said}; nothing is converted here.", pointer="/currency"
        )
    return str(site.currency)


@operation
def give_prices(
    work: Work, *, prices: Sequence[Mapping[str, Any]], currency: str | None = None
) -> tuple[PriceView, ...]:
    """Say what arrivals cost: all of these or none. One that was said before is not changed; this one follows it."""
    money = shops_currency(work.site, currency)
    numbers = [one["receipt"] for one in prices]
    rows: dict[int, Any] = {
        row.id: row
        for row in Receipt.select(Receipt, Item.code.alias("code"), Item.unit.alias("unit"))
        .join(Item, on=(Receipt.lot == Item.id))
        .where(among(Receipt.id, numbers))
        .objects()
    }
    for n, one in enumerate(prices):
        _require_fit(n, one, rows.get(one["receipt"]))
        if one["receipt"] in numbers[:n]:
            raise Unprocessable("This arrival has two prices here; which is it?", pointer=f"/prices/{n}/receipt")
    work.touch(*ledger.lock(work, *{row.code for row in rows.values()}).values())
    new = [
        {
            "receipt": one["receipt"],
            "basis": one["basis"],
            "minor": one["minor"],
            "currency": money,
            "document": one.get("document"),
            "said_at": work.act.occurred_at,
            "deed": work.deed,
        }
        for one in prices
    ]
    made = [row.id for some in chunked(new, AT_ONCE) for row in Price.insert_many(some).returning(Price.id).execute()]
    work.note(told=made, receipts=numbers)
    found = {row.id: row for row in _prices().where(among(Price.id, made))}
    return tuple(_view(found[number]) for number in made)


def _require_fit(n: int, one: Mapping[str, Any], row: Any) -> None:
    at = f"/prices/{n}"
    if row is None:
        raise Unprocessable(f"There is no arrival {one['receipt']} here.", pointer=f"{at}/receipt")
    if row.kind == ReceiptKind.MADE:
        raise Unprocessable(f"{row.code} was made here; it costs what was taken for it.", pointer=f"{at}/receipt")
    unit = _UNITS.get(one["basis"])
    if unit is not None and unit != row.unit:
        came = _COMES_BY[Unit(row.unit)]
        raise Unprocessable(
            f"{row.code} comes by the {came}: give the price of one, or of the whole arrival.",
            pointer=f"{at}/per_{one['basis']}_minor",
        )


def list_prices(*, after: int | None, limit: int, receipt: int | None = None) -> Page[PriceView]:
    """List the prices that were said, all or those of an arrival."""
    query = _prices()
    if receipt is not None:
        query = query.where(Price.receipt == receipt)
    return page(query, Price.id, after=after, limit=limit, view=_view)


def _prices() -> Any:
    newest = Price.alias()
    last = newest.select(fn.MAX(newest.id)).where(newest.receipt == Price.receipt)
    return (
        Price.select(
            Price,
            Item.code.alias("code"),
            Material.name.alias("called"),
            called_then(Person, Deed.occurred_at).alias("who"),
            last.alias("last"),
        )
        .join(Receipt)
        .join(Lot)
        .join(Item, on=(Lot.item == Item.id))
        .join_from(Lot, Material)
        .join_from(Price, Deed)
        .join(Person)
        .objects()
    )


def _view(row: Any) -> PriceView:
    return PriceView(
        id=row.id,
        receipt=row.receipt_id,
        lot=row.code,
        name=row.called,
        basis=as_word(PriceBasis, row.basis),
        minor=row.minor,
        currency=row.currency,
        minor_digits=minor_digits(row.currency),
        document=row.document,
        said_at=row.said_at,
        said_by=row.who,
        stands=row.last == row.id,
    )


@operation
def set_hourly_rate(
    work: Work, *, minor: int, since: date | None = None, currency: str | None = None
) -> HourlyRateView:
    """Say what an hour of work costs from a day on, today if none is given. Work before that day keeps its rate."""
    row = HourlyRate.create(
        minor=minor,
        currency=shops_currency(work.site, currency),
        since=since or day_in_shop(work.act.occurred_at, work.site),
        deed=work.deed,
    )
    work.note(hourly_rate=row.id, since=row.since)
    return _rate(row)


def list_hourly_rates(*, after: int | None, limit: int) -> Page[HourlyRateView]:
    """List what an hour of work has cost, as it was said."""
    return page(HourlyRate.select(), HourlyRate.id, after=after, limit=limit, view=_rate)


def _rate(row: HourlyRate) -> HourlyRateView:
    return HourlyRateView(row.id, row.minor, row.currency, minor_digits(row.currency), row.since)
