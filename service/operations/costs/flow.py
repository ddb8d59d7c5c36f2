"""What each movement took along: how much of which arrival, and what that had cost.

Money follows the movements that stand. An arrival's price is shared among the cans that it came in, a can's content
goes with each draw, a pot's and a kit's into all that came out of them, by mass or length. Everything is whole, adds up
again, and is worked out from a fixed number of statements (`formulas._money`).
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from schemas.words import Kind, MaterialKind, MovementKind, PriceBasis, Unit
from service.database import each, each_or_none, rows_of
from service.formulas._money import Came, Held, Went, drawn, nearest, split, total
from service.formulas.shelf_life import effective_expiry
from service.operations.door.shop import day_in_shop
from service.records.base import as_day, instant
from service.records.closures import steps
from service.records.people import Site

# An arrival, and the material that it was of.
Key = tuple[int, int]
Value = Held[Key]

# So many milligrams, millimetres or pieces a price by amount is of.
PER = {PriceBasis.KILOGRAM: 1_000_000, PriceBasis.METRE: 1000, PriceBasis.PIECE: 1}


@dataclass(frozen=True, slots=True)
class Moved:
    """A movement that stands; ``act`` is the deed that it was first booked by, ``receipt`` that of the can it fills."""

    id: int
    source: int | None
    target: int | None
    amount: int | None
    unit: str | None
    kind: str
    at: datetime
    act: int
    receipt: int | None


@dataclass(frozen=True, slots=True)
class Thing:
    """An item that is looked at, with what of it matters here."""

    id: int
    code: str
    kind: str
    name: str
    state: str
    unit: str | None
    material: int | None
    expires_on: date | None
    opened_at: datetime | None
    opened_life_days: int | None
    verdict: str | None
    started_at: datetime | None


@dataclass(frozen=True, slots=True)
class Product:
    """A material that something arrived of."""

    id: int
    name: str
    kind: MaterialKind
    unit: Unit


@dataclass(slots=True)
class Flow:
    """Movements with what each took along; what was found in cans more than the book had is among them."""

    things: dict[int, Thing]
    moved: list[Moved]
    products: dict[int, Product]
    took: dict[int, Value] = field(default_factory=dict)
    # Of a pot or kit what is still in it.
    rest: dict[int, Value] = field(default_factory=dict)
    into: dict[int, list[Moved]] = field(default_factory=dict)
    out_of: dict[int, list[Moved]] = field(default_factory=dict)

    def is_kind(self, number: int | None, *kinds: Kind) -> bool:
        return number is not None and number in self.things and self.things[number].kind in kinds


def read_flow(start: str, *values: Any, site: Site) -> Flow:
    """The flow into the items that ``start`` selects, and out of all that they were made of, in three statements."""
    reach = f"WITH RECURSIVE {steps(start, back=True)}"
    things = {row[0]: _thing(row) for row in rows_of(_things(reach), *values)}
    moved = sorted((_moved(row) for row in rows_of(_movements(reach), *values, *values)), key=lambda m: (m.at, m.id))
    flow = Flow(things, moved, {})
    for one in moved:
        if one.target is not None:
            flow.into.setdefault(one.target, []).append(one)
        if one.source is not None:
            flow.out_of.setdefault(one.source, []).append(one)
    _let_arrive(flow, rows_of(_arrivals(reach), *values), site)
    for thing in sorted(things.values(), key=lambda t: t.id):
        if thing.kind == Kind.LOT:
            _pack_what_was_made(flow, thing)
        elif thing.kind == Kind.CONTAINER:
            _draw(flow, thing)
    for thing in things.values():
        if thing.kind in (Kind.MIX, Kind.KIT):
            _share(flow, thing)
    return flow


def _things(reach: str) -> str:
    """Each item once. Of a can its material's opened life counts, of a pot its verdict."""
    return (
        f"{reach} SELECT i.id, i.code, i.kind, i.name, i.state, i.unit, c.material_id, c.expires_on, c.opened_at,"
        f" a.opened_life_days, x.verdict, x.started_at FROM reach r {each('item', 'i', 'i.id = r.id')}"
        f" {each_or_none('container', 'c', 'c.item_id = i.id')}"
        f" {each_or_none('material', 'a', 'a.id = c.material_id')} {each_or_none('mix', 'x', 'x.item_id = i.id')}"
    )


def _movements(reach: str) -> str:
    columns = (
        "m.id, m.source_id, m.target_id, m.amount, m.unit, m.kind, m.occurred_at, COALESCE(d.corrects_id, d.id),"
        " c.receipt_id"
    )
    more = f"{each('deed', 'd', 'd.id = m.deed_id')} {each_or_none('container', 'c', 'c.item_id = m.target_id')}"
    holders = ", ".join(f"'{kind}'" for kind in (Kind.LOT, Kind.CONTAINER, Kind.MIX, Kind.KIT))
    # The query stands in it twice, so it is given twice.
    return (
        f"SELECT * FROM ({reach} SELECT {columns} FROM reach r {each('movement', 'm', 'm.target_id IN (r.id)')} {more}"
        f" WHERE m.cancelled_by_id IS NULL) AS came UNION SELECT * FROM ({reach} SELECT {columns} FROM reach r"
        f" {each('item', 'i', 'i.id = r.id')} {each('movement', 'm', 'm.source_id IN (r.id)')} {more}"
        f" WHERE m.cancelled_by_id IS NULL AND i.kind IN ({holders})) AS went"
    )


def _arrivals(reach: str) -> str:
    """The arrivals of each lot with the price that was said last."""
    return (
        f"{reach} SELECT t.id, l.material_id, a.name, a.kind, i.unit, p.basis, p.minor, p.currency"
        f" FROM reach r {each('receipt', 't', 't.lot_id IN (r.id)')} {each('lot', 'l', 'l.item_id = t.lot_id')}"
        f" {each('item', 'i', 'i.id = t.lot_id')} {each('material', 'a', 'a.id = l.material_id')}"
        f" {each_or_none('price', 'p', 'p.id = (SELECT MAX(n.id) FROM price n WHERE n.receipt_id = t.id)')}"
    )


def _thing(row: tuple[Any, ...]) -> Thing:
    number, code, kind, name, state, unit, material, expires, opened, life, verdict, started = row
    opened_at, started_at = (None if at is None else instant(at) for at in (opened, started))
    return Thing(number, code, kind, name, state, unit, material, as_day(expires), opened_at, life, verdict, started_at)


def _moved(row: tuple[Any, ...]) -> Moved:
    number, source, target, amount, unit, kind, at, act, receipt = row
    return Moved(number, source, target, amount, unit, kind, instant(at), act, receipt)


def _let_arrive(flow: Flow, arrivals: Iterable[tuple[Any, ...]], site: Site) -> None:
    """Share each arrival's price among the cans that it came in; without one, or in another currency, none is known."""
    packed: dict[int, list[Moved]] = {}
    for one in flow.moved:
        if one.kind == MovementKind.PACKING and one.receipt is not None:
            packed.setdefault(one.receipt, []).append(one)
    for number, material, name, kind, unit, basis, minor, currency in arrivals:
        flow.products[material] = Product(material, name, MaterialKind(kind), Unit(unit))
        cans = sorted(packed.get(number, ()), key=lambda m: m.id)
        amounts = [one.amount or 0 for one in cans]
        cost = None
        if basis is not None and currency == site.currency:
            cost = minor if basis == PriceBasis.TOTAL else nearest(minor * sum(amounts), PER[PriceBasis(basis)])
        key = (number, material)
        for one, its in zip(cans, split(Held({key: sum(amounts)}, {key: cost}), amounts), strict=True):
            flow.took[one.id] = its


def _pack_what_was_made(flow: Flow, lot: Thing) -> None:
    """Of a lot that was made here, its cans hold what was taken for it."""
    made = [flow.took[m.id] for m in flow.into.get(lot.id, ()) if m.kind == MovementKind.MADE and m.id in flow.took]
    if made:
        cans = [m for m in flow.out_of.get(lot.id, ()) if m.kind == MovementKind.PACKING]
        for one, its in zip(cans, split(total(made), [m.amount or 0 for m in cans]), strict=True):
            flow.took[one.id] = its


def _draw(flow: Flow, can: Thing) -> None:
    came = [
        m
        for m in flow.into.get(can.id, ())
        if m.unit == can.unit and (m.id in flow.took or m.kind == MovementKind.FOUND_MORE)
    ]
    went = [m for m in flow.out_of.get(can.id, ()) if m.unit == can.unit and m.amount]
    taken, found = drawn(
        [Came(m.at, flow.took.get(m.id), m.amount or 0) for m in came], [Went(m.at, m.amount or 0) for m in went]
    )
    for one, what in zip(went, taken, strict=True):
        flow.took[one.id] = what
    more = [m for m in came if m.kind == MovementKind.FOUND_MORE]
    for one, what in zip(more, found, strict=True):
        flow.took[one.id] = what


def _share(flow: Flow, thing: Thing) -> None:
    """All that went into a pot or a kit, by what came out of it; what is still in it waits for the rest."""
    came = [m for m in flow.into.get(thing.id, ()) if m.amount]
    went = [m for m in flow.out_of.get(thing.id, ()) if m.amount and m.unit == thing.unit]
    left = max(0, sum(m.amount or 0 for m in came) - sum(m.amount or 0 for m in went))
    whole = total(flow.took[m.id] for m in came if m.id in flow.took)
    *each_out, flow.rest[thing.id] = split(whole, [*(m.amount or 0 for m in went), left])
    for one, its in zip(went, each_out, strict=True):
        flow.took[one.id] = its


def by_material(value: Value) -> Mapping[int, tuple[int, int | None, int]]:
    """Of each material the amount, what it cost as far as it has a price (None: nothing of it), and without a price."""
    found: dict[int, tuple[int, int | None, int]] = {}
    for (_, material), amount in value.amounts.items():
        cost = value.money[_, material]
        had, money, unpriced = found.get(material, (0, None, 0))
        if cost is None:
            unpriced += amount
        else:
            money = (money or 0) + cost
        found[material] = (had + amount, money, unpriced)
    return found


def good_until(can: Thing, site: Site) -> date | None:
    """Until which day what is in a can was to be used: its date, or sooner by what it lasts once it is open."""
    opened = None if can.opened_at is None else day_in_shop(can.opened_at, site)
    life = can.opened_life_days
    return effective_expiry(expires_on=can.expires_on, retest_on=None, opened_on=opened, opened_life_days=life).on
