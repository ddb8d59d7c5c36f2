"""What a part and an order cost: planned beside drawn, waste, work."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from schemas.words import Kind, PartState, WasteCause
from service.formulas._money import Held, minor_digits, total
from service.operations.costs.figures import Figures, Reckoning, reckon
from service.operations.costs.flow import Value
from service.operations.costs.labour import NOT_COUNTED, Labour, together
from service.operations.costs.planned import Card, Plan, cards_of, hardeners_used, plans_of
from service.operations.costs.telling import (
    MaterialCost,
    Sum,
    WasteCost,
    materials_told,
    not_known,
    sum_of,
    trimmed_off,
    unmeasured,
    waste_told,
)
from service.operations.door.rows import find_row
from service.operations.door.shop import the_site
from service.operations.ledger import ledger
from service.records.base import as_word
from service.records.orders import Order, OrderLine
from service.records.people import Site


@dataclass(frozen=True, slots=True)
class ComponentCost:
    """A part that was fitted in, and what it cost with all that is in it.

    Attributes
    ----------
    total_minor
        Null where something of it is not known.
    """

    code: str
    name: str
    total_minor: int | None


@dataclass(frozen=True, slots=True)
class PartCost:
    """What a part cost, in whole minor units of the shop's currency.

    Attributes
    ----------
    currency
        By ISO 4217; null where the shop has set none, and then no price is known.
    minor_digits
        Decimals of the currency's minor unit, by ISO 4217: 2 means hundredths.
    materials
        Of the part itself, without what was fitted into it.
    waste
        What of that is not in it: its share of what pots and cuts lost, and what was trimmed off.
    planned_minor
        Of the part itself; null where something planned has no price or cannot be told.
    known_minor
        What was drawn for it, as far as it has a price.
    material_minor
        What was drawn for it; null where something of it has no price.
    labour
        The work on it, without that on what was fitted in.
    total_minor
        Material, work and all that was fitted in; null where something of it is not known.
    components
        Parts that were fitted into it.
    sentences
        What is not known, and what counts.
    """

    code: str
    name: str
    part_number: str
    revision: str
    state: PartState
    currency: str | None
    minor_digits: int
    materials: tuple[MaterialCost, ...]
    waste: tuple[WasteCost, ...]
    planned_minor: int | None
    known_minor: int
    material_minor: int | None
    labour: Labour
    components: tuple[ComponentCost, ...]
    total_minor: int | None
    sentences: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class OrderLineCost:
    """What the parts of a line cost so far.

    Attributes
    ----------
    begun
        How many parts of the line were begun, those that were scrapped among them.
    known_minor
        What was drawn for them, as far as it has a price.
    labour_minutes
        The work on them.
    total_minor
        Material, work and what was fitted in; null where something of it is not known.
    """

    number: int
    part_number: str
    quantity: int
    begun: int
    known_minor: int
    labour_minutes: int
    total_minor: int | None


@dataclass(frozen=True, slots=True)
class OrderCost:
    """What the parts of an order cost so far, in whole minor units of the shop's currency.

    Attributes
    ----------
    currency
        By ISO 4217; null where the shop has set none, and then no price is known.
    minor_digits
        Decimals of the currency's minor unit, by ISO 4217: 2 means hundredths.
    lines
        Line by line.
    materials
        Of all parts that were begun, and of those fitted into them; the dearest first.
    waste
        What of that is in none of them.
    planned_minor
        Of the parts that were begun; null where something planned has no price or cannot be told.
    known_minor
        What was drawn for them, as far as it has a price.
    material_minor
        What was drawn for them; null where something of it has no price.
    labour
        The work on them.
    total_minor
        Material and work; null where something of it is not known.
    sentences
        What is not known, and what counts.
    """

    order_id: int
    currency: str | None
    minor_digits: int
    lines: tuple[OrderLineCost, ...]
    materials: tuple[MaterialCost, ...]
    waste: tuple[WasteCost, ...]
    planned_minor: int | None
    known_minor: int
    material_minor: int | None
    labour: Labour
    total_minor: int | None
    sentences: tuple[str, ...]


_OF_ORDER = "SELECT p.item_id FROM order_line l JOIN part p ON p.line_id = l.id WHERE l.order_id = ?"


@dataclass(frozen=True, slots=True)
class _Told:
    """What several parts come to together."""

    drawn: Value
    materials: list[MaterialCost]
    waste: tuple[WasteCost, ...]
    planned: Sum
    labour: Labour
    sentences: list[str]

    @property
    def sum(self) -> Sum:
        return sum_of(self.drawn)


def read_part_cost(part: str) -> PartCost:
    """What a part cost: what was planned for it and what was drawn, what was wasted and why, the work on it."""
    item, site = ledger.find(part, Kind.PART), the_site()
    made = reckon("SELECT CAST(? AS BIGINT)", item.id, site=site)
    own = made.parts[item.id]
    plans, cards = _plans(made, [item.id])
    told = _told(made, [item.id], plans, cards)
    components = [_component(made, number) for number in own.components]
    fitted = [one.total_minor for one in components]
    inside = _whole_cost(told.sum, told.labour)
    return PartCost(
        code=own.row.code,
        name=own.row.name,
        part_number=own.row.part_number,
        revision=own.row.revision,
        state=as_word(PartState, own.row.state),
        currency=site.currency,
        minor_digits=minor_digits(site.currency or ""),
        materials=tuple(told.materials),
        waste=told.waste,
        planned_minor=told.planned.all_of_it,
        known_minor=told.sum.known,
        material_minor=told.sum.all_of_it,
        labour=told.labour,
        components=tuple(components),
        total_minor=None if inside is None or None in fitted else inside + sum(one or 0 for one in fitted),
        sentences=tuple(told.sentences),
    )


def read_order_cost(order: int) -> OrderCost:
    """What the parts of an order cost so far, line by line and by material."""
    find_row(Order, order, "order")
    site = the_site()
    lines = list(OrderLine.select().where(OrderLine.order == order).order_by(OrderLine.number))
    made = reckon(_OF_ORDER, order, site=site)
    of_line: dict[int, list[int]] = {}
    for number, one in made.parts.items():
        if one.row.line is not None and one.row.laid.begun is not None:
            of_line.setdefault(one.row.line, []).append(number)
    begun = made.with_components(number for line in lines for number in of_line.get(line.id, ()))
    plans, cards = _plans(made, begun)
    told = _told(made, begun, plans, cards)
    return OrderCost(
        order_id=order,
        currency=site.currency,
        minor_digits=minor_digits(site.currency or ""),
        lines=tuple(_line(made, line, of_line.get(line.id, [])) for line in lines),
        materials=tuple(told.materials),
        waste=told.waste,
        planned_minor=told.planned.all_of_it,
        known_minor=told.sum.known,
        material_minor=told.sum.all_of_it,
        labour=told.labour,
        total_minor=_whole_cost(told.sum, told.labour),
        sentences=tuple(told.sentences),
    )


def _line(made: Reckoning, line: OrderLine, parts: list[int]) -> OrderLineCost:
    every = [made.parts[number] for number in made.with_components(parts)]
    money, labour = sum_of(total(one.drawn for one in every)), together(one.labour for one in every)
    return OrderLineCost(
        number=line.number,
        part_number=line.part_number,
        quantity=line.quantity,
        begun=len(parts),
        known_minor=money.known,
        labour_minutes=labour.minutes,
        total_minor=_whole_cost(money, labour),
    )


def _component(made: Reckoning, number: int) -> ComponentCost:
    every = [made.parts[one] for one in made.with_components([number])]
    money, labour = sum_of(total(one.drawn for one in every)), together(one.labour for one in every)
    row = made.parts[number].row
    return ComponentCost(row.code, row.name, _whole_cost(money, labour))


def _whole_cost(material: Sum, labour: Labour) -> int | None:
    if material.all_of_it is None or labour.minor is None:
        return None
    return material.all_of_it + labour.minor


def _plans(made: Reckoning, parts: Iterable[int]) -> tuple[dict[int, Plan], dict[int, Card]]:
    """The plan of a part of each design, and the cards of all that is planned."""
    designs = {number: made.parts[number].row.design for number in parts}
    plans = plans_of(set(designs.values()), hardeners_used(made.flow, designs))
    return plans, cards_of({m for plan in plans.values() for m in plan.amounts}, site=made.site)


def _told(made: Reckoning, parts: Iterable[int], plans: Mapping[int, Plan], cards: Mapping[int, Card]) -> _Told:
    every = [made.parts[number] for number in parts]
    drawn = total(one.drawn for one in every)
    planned: dict[int, int] = {}
    lost: dict[WasteCause, Value] = {}
    said: dict[str, None] = {}
    for one in every:
        plan = plans[one.row.design]
        said |= dict.fromkeys(plan.sentences)
        for material, amount in plan.amounts.items():
            planned[material] = planned.get(material, 0) + amount
        for cause, value in one.lost.items():
            lost.setdefault(cause, Held()).add(value)
    materials = materials_told(drawn, planned, made.flow.products, cards)
    labour = together(one.labour for one in every)
    wanted = [row.planned_minor for row in materials if row.planned is not None]
    sentences = [
        *not_known(drawn, made.flow.products, made.site.currency),
        *unmeasured((n for one in every for n in one.not_measured), (n for one in every for n in one.waiting)),
        *(f"Planned: {sentence}" for sentence in said),
        *_of_work(every, labour, made.site),
    ]
    return _Told(
        drawn=drawn,
        materials=materials,
        waste=waste_told(lost, made.flow.products, trimmed_off(every)),
        planned=Sum(sum(one or 0 for one in wanted), None not in wanted and not said),
        labour=labour,
        sentences=sentences,
    )


def _of_work(parts: Iterable[Figures], labour: Labour, site: Site) -> list[str]:
    every = list(parts)
    said = []
    if any(one.row.laid.begun is not None and one.row.laid.closed is None for one in every):
        said.append("A lay-up is not closed yet, so how long it took is not known.")
    elif labour.minor is None and site.currency is not None:
        said.append("What an hour of work costs was not set for that day, so what the work cost is not known.")
    return [*said, NOT_COUNTED]
