"""What is reserved of materials for orders, and the question at the scales: does this draw make one impossible?

Amounts are reserved, not cans. What a part has taken, and what stands planned for it in cans, is reserved no more; nor
is anything for a part that is no longer being laid up, or of a reservation that was released or has expired.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from schemas.words import Kind, MaterialKind, Referred, State, Unit
from service.database import each, each_or_none, listed, looked_up, rows_of
from service.formulas._promises import Reserved, broken, outstanding
from service.formulas._stock import Need
from service.operations.door.operation import Work
from service.operations.door.refusals import ReservedForOrder
from service.operations.door.shop import day_in_shop
from service.operations.ledger.amounts import counted_in, said
from service.operations.stock.load import Loaded
from service.operations.stock.shelf import Shelf, read_shelf
from service.records.base import microseconds
from service.records.items import Item, Movement
from service.records.materials import Material
from service.records.orders import ExternalReference
from service.records.promises import DrawnFor, ExpectedDelivery

_STILL_TAKES = (State.PLANNED, State.LAYING)
_GIVES_NOTHING = (State.DISCARDED, State.ABANDONED)
_WENT_WHERE_IT_WENT = (State.CLOSED, State.LAID)
WHOLE_SHARE = 1_000_000
"""A share is in millionths."""


@dataclass(frozen=True, slots=True)
class Standing:
    """So much that is reserved of a material for one part, and how much of it the part still wants."""

    reservation: int
    order: int
    material: int
    part: int
    unit: Unit
    amount: int
    left: int
    needed_on: date
    known_lot: bool

    def need(self, today: date) -> Need:
        return Need(max(0, (self.needed_on - today).days), self.left, self.known_lot)


@dataclass(frozen=True, slots=True)
class Taken:
    """So much that is to leave a can or a roll; ``offcut`` of it comes back as a roll of its own."""

    can: Item
    material: int
    amount: int
    offcut: int = 0


def standing(materials: Iterable[int], *, at: datetime, but_order: int | None = None) -> list[Standing]:
    """What is reserved of these materials at that time, reservation by reservation, the first ones first.

    One statement where nothing is reserved of them.
    """
    rows = rows_of(
        "SELECT r.id, r.order_id, a.material_id, a.part_id, a.unit, a.amount, a.needed_on, a.known_lot"
        f" FROM {looked_up()} CROSS JOIN reservation r"
        f" {each('reserved_amount', 'a', 'a.reservation_id = r.id AND a.material_id = given.id')}"
        f" {each('item', 'i', 'i.id = a.part_id')}"
        " WHERE r.released_at IS NULL AND r.expires_at > CAST(? AS BIGINT) AND r.order_id <> CAST(? AS BIGINT)"
        f" AND a.released_in_id IS NULL AND i.state IN ({_words(_STILL_TAKES)}) ORDER BY r.id, a.id",
        listed(sorted(set(materials))),
        microseconds(at),
        but_order or 0,
    )
    return _as_left(rows)


def of_reservation(reservation: int) -> list[Standing]:
    """All amounts of one reservation, those that are met or whose part is gone too, with nothing left of them."""
    rows = rows_of(
        "SELECT r.id, r.order_id, a.material_id, a.part_id, a.unit, a.amount, a.needed_on, a.known_lot,"
        f" CASE WHEN a.released_in_id IS NULL AND i.state IN ({_words(_STILL_TAKES)}) THEN 1 ELSE 0 END"
        f" FROM reservation r {each('reserved_amount', 'a', 'a.reservation_id = r.id')}"
        f" {each('item', 'i', 'i.id = a.part_id')} WHERE r.id = CAST(? AS BIGINT) ORDER BY a.id",
        reservation,
    )
    return _as_left(rows)


def _words(states: Iterable[State]) -> str:
    return ", ".join(f"'{state}'" for state in states)


def _as_left(rows: Sequence[tuple[Any, ...]]) -> list[Standing]:
    """The rows of one part and material share what that part has taken of it, whichever reservation they are of."""
    taken = taken_by({row[3] for row in rows}) if rows else {}
    alike: dict[tuple[int, int], list[int]] = {}
    for index, row in enumerate(rows):
        if len(row) == 8 or row[8]:
            alike.setdefault((row[3], row[2]), []).append(index)
    left = [0] * len(rows)
    for key, places in alike.items():
        for place, size in zip(places, outstanding([rows[p][5] for p in places], taken.get(key, 0)), strict=True):
            left[place] = size
    return [
        Standing(
            reservation=row[0],
            order=row[1],
            material=row[2],
            part=row[3],
            unit=Unit(row[4]),
            amount=row[5],
            left=size,
            needed_on=date.fromisoformat(str(row[6])),
            known_lot=bool(row[7]),
        )
        for row, size in zip(rows, left, strict=True)
    ]


def taken_by(parts: Iterable[int]) -> dict[tuple[int, int], int]:
    """What these parts have taken of each material, and what stands planned for them in cans: (part, material) -> how
    much. A pot that was thrown away has given its part nothing, and so has one that went into others in the end."""
    wanted = listed(sorted(parts))
    rows = rows_of(
        f"WITH drawn(part, item, share) AS (SELECT d.part_id, d.item_id, d.share_ppm FROM {looked_up()}"
        f" {each('drawn_for', 'd', 'd.part_id = given.id')} {each('item', 's', 's.id = d.item_id')}"
        f" {each_or_none('movement', 'v', 'v.id = d.movement_id')} WHERE v.cancelled_by_id IS NULL"
        f" AND (v.id IS NOT NULL OR s.state NOT IN ({_words(_WENT_WHERE_IT_WENT)}) OR EXISTS (SELECT 1 FROM movement o"
        " WHERE o.source_id = d.item_id AND o.target_id = d.part_id AND o.cancelled_by_id IS NULL))"
        f" UNION ALL SELECT id, id, {WHOLE_SHARE} FROM {looked_up()}),"
        " gone(part, material, amount) AS (SELECT drawn.part, c.material_id, m.amount * drawn.share FROM drawn"
        f" {each('movement', 'm', 'm.target_id = drawn.item')} {each('container', 'c', 'c.item_id = m.source_id')}"
        f" {each('item', 'i', 'i.id = drawn.item')} WHERE m.cancelled_by_id IS NULL AND m.amount IS NOT NULL"
        f" AND i.state NOT IN ({_words(_GIVES_NOTHING)})"
        " UNION ALL SELECT drawn.part, c.material_id, p.amount_mg * drawn.share FROM drawn"
        f" {each('planned_pour', 'p', 'p.mix_id = drawn.item')} {each('container', 'c', 'c.item_id = p.container_id')}"
        " WHERE p.settled_at IS NULL)"
        " SELECT part, material, SUM(amount) FROM gone GROUP BY part, material",
        wanted,
        wanted,
    )
    return {(part, material): int(amount) // WHOLE_SHARE for part, material, amount in rows}


def wanted_by(
    rows: Sequence[Standing], today: date, less: Mapping[tuple[int, int], int] | None = None
) -> list[Reserved]:
    """What each reservation still wants of one material. Masses of a day are one need; pieces of a cloth stay apart.

    ``less`` is what parts take just now, by part and material.
    """
    gone = dict(less or {})
    found: dict[int, dict[tuple[int, bool, int], int]] = {}
    for number, row in enumerate(rows):
        size = row.left
        used = min(size, gone.get((row.part, row.material), 0))
        if used:
            gone[row.part, row.material] -= used
            size -= used
        if size:
            need = row.need(today)
            apart = number if row.unit == Unit.MILLIMETRE else -1
            sizes = found.setdefault(row.reservation, {})
            sizes[need.day, need.known_lot, apart] = sizes.get((need.day, need.known_lot, apart), 0) + size
    return [
        Reserved(
            number, tuple(Need(day, size, known_lot) for (day, known_lot, _), size in found.get(number, {}).items())
        )
        for number in dict.fromkeys(row.reservation for row in rows)
    ]


def expected_of(materials: Iterable[int]) -> list[dict[str, Any]]:
    """Deliveries that are on their way, as a build check is told of one, the nearest first."""
    query = (
        ExpectedDelivery.select()
        .where(ExpectedDelivery.material.in_(list(materials)) & ExpectedDelivery.ended_as.is_null())
        .order_by(ExpectedDelivery.expected_on, ExpectedDelivery.id)
    )
    return [
        {
            "material": row.material_id,
            "on": row.expected_on,
            "mass_mg": row.amount if row.unit == Unit.MILLIGRAM else None,
            "length_mm": row.amount if row.unit == Unit.MILLIMETRE else None,
            "expires_on": row.expires_on,
            "reference": row.reference or f"no. {row.id}",
        }
        for row in query
    ]


def drawn_for(work: Work, item: Item, shares: Mapping[int, int]) -> None:
    """Say for which parts a pot or a kit is: by part, its share in millionths."""
    if shares:
        DrawnFor.insert_many(
            [{"part": part, "item": item.id, "share_ppm": share, "deed": work.deed} for part, share in shares.items()]
        ).execute()


def went_into(work: Work, item: Item, shares: Mapping[int, tuple[int, Movement]]) -> None:
    """A pot or kit has gone into these parts of orders: by part, its share and the movement. What it was for from the
    start is said already."""
    if not shares:
        return
    said = {part for (part,) in DrawnFor.select(DrawnFor.part).where(DrawnFor.item == item.id).tuples()}
    rows = [
        {"part": part, "item": item.id, "share_ppm": share, "movement": movement, "deed": work.deed}
        for part, (share, movement) in shares.items()
        if part not in said
    ]
    if rows:
        DrawnFor.insert_many(rows).execute()


def ask_if_reserved(
    work: Work,
    taken: Iterable[Taken],
    *,
    into: Item | None = None,
    shares: Mapping[int, int] | None = None,
    loaded: Iterable[Loaded] | None = None,
    despite: bool,
) -> None:
    """Refuse, unless it was said that it is meant, what makes a reserved order impossible; the order is named.

    ``into`` is a pot, kit or part that takes it. Where they are at hand, ``shares`` are the parts that it is for, and
    ``loaded`` is all that stands of these materials on the shelf. What is for parts of an order is no loss to that
    order. One statement where nothing is reserved of these materials.
    """
    leaving = [one for one in taken if one.amount > 0]
    if despite or not leaving:
        return
    rows = standing({one.material for one in leaving}, at=work.act.recorded_at)
    if not rows:
        return
    if shares is None:
        shares = _for_which_parts(into)
    materials = {row.id: row for row in Material.select().where(Material.id.in_({row.material for row in rows}))}
    shelf = read_shelf(
        materials,
        expected_of(materials),
        {number: row.opened_life_days for number, row in materials.items()},
        at=work.act.occurred_at,
        site=work.site,
        loaded=loaded,
        in_hand={one.can.id: one.can for one in leaving if one.material in materials},
    )
    for number, material in materials.items():
        _ask(
            work,
            material,
            [one for one in leaving if one.material == number],
            [row for row in rows if row.material == number],
            shelf,
            shares,
        )


def _for_which_parts(into: Item | None) -> Mapping[int, int]:
    if into is None:
        return {}
    if into.kind == Kind.PART:
        return {into.id: WHOLE_SHARE}
    return dict(DrawnFor.select(DrawnFor.part, DrawnFor.share_ppm).where(DrawnFor.item == into).tuples())


def _ask(
    work: Work,
    material: Material,
    leaving: Sequence[Taken],
    rows: Sequence[Standing],
    shelf: Shelf,
    shares: Mapping[int, int],
) -> None:
    shelved, today = shelf.of(material.id), day_in_shop(work.act.occurred_at, work.site)
    gone: dict[int, int] = {}
    offcuts: list[tuple[int, int]] = []
    for one in leaving:
        place = next((n for n, thing in enumerate(shelved) if thing.code == one.can.code), None)
        if place is not None:
            gone[place] = gone.get(place, 0) + one.amount + one.offcut
            offcuts.append((place, one.offcut))
    amount = sum(one.amount for one in leaving)
    own = {row.order for row in rows if row.part in shares}
    less = {(part, material.id): amount * share // WHOLE_SHARE for part, share in shares.items()}
    orders = {row.reservation: row.order for row in rows}
    lost = broken(
        wanted_by(rows, today),
        [one.stock for one in shelved],
        gone,
        after=wanted_by(rows, today, less),
        back=[replace(shelved[place].stock, free=size) for place, size in offcuts if size],
        whole=material.kind == MaterialKind.FABRIC,
    )
    hit = [number for number in lost if orders[number] not in own]
    if hit:
        raise _question(material, leaving, amount, [row for row in rows if row.reservation in hit])


def _question(material: Material, leaving: Sequence[Taken], amount: int, rows: Sequence[Standing]) -> ReservedForOrder:
    numbers = list(dict.fromkeys(row.order for row in rows))
    named = called(numbers)
    first = [row for row in rows if row.order == numbers[0]]
    on = min(row.needed_on for row in first)
    more = f" and {len(numbers) - 1} more" if len(numbers) > 1 else ""
    unit = counted_in(material.kind)
    reserved = said(sum(row.left for row in first), unit)
    cans = " and ".join(dict.fromkeys(one.can.code for one in leaving))
    return ReservedForOrder(
        f"{said(amount, unit)} of {material.name} from {cans} leaves too little for {named[numbers[0]]}{more}: "
        f"{reserved} is reserved for it, wanted on {on:%-d %b %Y}. Take it all the same?",
        way_out="If it is for that order, say for which of its parts. Else take what nobody has reserved; if it has to "
        "be, say so, and tell who promised the order.",
        answer_with={"despite_reservation": True},
        material=material.id,
        orders=numbers,
        reservations=list(dict.fromkeys(row.reservation for row in rows)),
    )


def called(orders: Iterable[int]) -> dict[int, str]:
    """What people call these orders: by the reference that was given first, else by number."""
    wanted = list(orders)
    named = (ExternalReference.kind == Referred.ORDER) & ExternalReference.subject.in_(wanted)
    query = ExternalReference.select().where(named & ExternalReference.withdrawn_in.is_null())
    texts = {row.subject: row.text for row in query.order_by(ExternalReference.id.desc())}
    return {number: f"order {texts[number]}" if number in texts else f"order {number}" for number in wanted}


def reserved_of(materials: Iterable[int], *, at: datetime) -> dict[int, int]:
    """How much is reserved of each of these materials for orders, and not taken yet."""
    found: dict[int, int] = {}
    for row in standing(materials, at=at):
        found[row.material] = found.get(row.material, 0) + row.left
    return found
