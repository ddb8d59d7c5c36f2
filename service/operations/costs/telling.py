"""How costs are told: materials planned beside drawn, waste by cause, what is not known in a sentence."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Annotated

from schemas.words import MaterialKind, Unit, WasteCause
from service.formulas._money import Held, nearest
from service.operations.costs.figures import Figures
from service.operations.costs.flow import Product, Value, by_material
from service.operations.costs.planned import Card
from service.operations.ledger.amounts import counted_in, said


@dataclass(frozen=True, slots=True)
class MaterialCost:
    """What was planned of a material, and what was really drawn for it, losses on the way included.

    Attributes
    ----------
    planned
        Of what was begun; missing where the design does not tell.
    planned_minor
        At the price of the newest arrival that has one.
    drawn
        What went in, and its share of what was lost for it.
    drawn_minor
        What that had cost; null where nothing of it has a price.
    not_priced
        How much of what was drawn came without a price.
    """

    material: int
    name: str
    kind: MaterialKind
    unit: Unit
    planned: Annotated[int, Unit] | None
    planned_minor: int | None
    drawn: Annotated[int, Unit]
    drawn_minor: int | None
    not_priced: Annotated[int, Unit]


@dataclass(frozen=True, slots=True)
class WasteCost:
    """What was bought and is in no part, by its cause. What was trimmed off was in a part first.

    Attributes
    ----------
    cause
        Why: past its date, scrapped, left in a pot, spilled, a pot off its ratio, and so on.
    minor
        What it had cost; null where nothing of it has a price.
    not_priced
        How much of it came without a price.
    """

    cause: WasteCause
    unit: Unit
    amount: Annotated[int, Unit]
    minor: int | None
    not_priced: Annotated[int, Unit]


@dataclass(frozen=True, slots=True)
class Sum:
    """Money of a value: as far as it is known, and whether that is all of it."""

    known: int
    whole: bool

    @property
    def all_of_it(self) -> int | None:
        return self.known if self.whole else None


def sum_of(value: Value) -> Sum:
    known = [cost for cost in value.money.values() if cost is not None]
    return Sum(sum(known), len(known) == len(value.money))


def materials_told(
    drawn: Value, planned: Mapping[int, int], products: Mapping[int, Product], cards: Mapping[int, Card]
) -> list[MaterialCost]:
    """Planned and drawn side by side, the dearest first."""
    found = by_material(drawn)
    rows = []
    for number in sorted({*found, *planned}):
        product, card = products.get(number), cards.get(number)
        amount, money, unpriced = found.get(number, (0, None, 0))
        kind = card.kind if card is not None else MaterialKind.RESIN
        unit = product.unit if product is not None else counted_in(kind)
        wanted = planned.get(number)
        price = None
        if wanted is not None and card is not None and card.minor is not None and card.amount:
            price = nearest(card.minor * wanted, card.amount)
        named = product or card
        if named is not None:
            rows.append(
                MaterialCost(
                    number, named.name, named.kind, unit, wanted, price, amount, 0 if amount == 0 else money, unpriced
                )
            )
    return sorted(rows, key=lambda row: (-(row.drawn_minor or 0), row.name))


def waste_told(
    lost: Mapping[WasteCause, Value], products: Mapping[int, Product], trimmed: WasteCost | None = None
) -> tuple[WasteCost, ...]:
    rows = []
    for cause in WasteCause:
        by_unit: dict[Unit, tuple[int, int | None, int]] = {}
        for number, (amount, money, unpriced) in by_material(lost.get(cause, Held())).items():
            had, cost, without = by_unit.get(products[number].unit, (0, None, 0))
            both = cost if money is None else money + (cost or 0)
            by_unit[products[number].unit] = had + amount, both, without + unpriced
        rows += [WasteCost(cause, unit, *its) for unit, its in by_unit.items() if its[0]]
    return (*rows, *([trimmed] if trimmed is not None else []))


def not_known(drawn: Value, products: Mapping[int, Product], currency: str | None) -> list[str]:
    """What is drawn and has no price, a sentence for each material; one for all where the shop has no currency."""
    if currency is None:
        return ["The shop has set no currency, so nothing is known of money."]
    return [
        f"Not known for {said(unpriced, products[number].unit)} of {products[number].name}: its arrival has no price."
        for number, (_, _, unpriced) in sorted(by_material(drawn).items(), key=lambda one: products[one[0]].name)
        if unpriced
    ]


def unmeasured(names: Iterable[str], waiting: Iterable[str]) -> list[str]:
    found = [f"{name} was used without its amount, so nothing of it is in this." for name in sorted(set(names))]
    return found + [
        f"A pot of {name} is not closed yet; what it gave without a mass is shared out then."
        for name in sorted(set(waiting))
    ]


def trimmed_off(parts: Iterable[Figures]) -> WasteCost | None:
    """What was cut off finished parts, at its share of what is in them; money where the part was weighed after it."""
    mass, known, whole = 0, 0, True
    for one in parts:
        if one.trimmed_mg is None:
            continue
        money = sum_of(one.inside)
        mass += one.trimmed_mg
        if one.row.mass_mg is None or not money.whole:
            whole = False
        elif one.trimmed_mg + one.row.mass_mg:
            known += nearest(money.known * one.trimmed_mg, one.trimmed_mg + one.row.mass_mg)
    return WasteCost(WasteCause.TRIM, Unit.MILLIGRAM, mass, known if whole else None, 0) if mass else None
