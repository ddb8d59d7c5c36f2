"""At the scales: what was poured is recorded, what should not have been is flagged; and taking back before contact."""

from datetime import datetime

from schemas.words import Component, Kind, MaterialKind, MovementKind, ReadingSource, State, Unit
from service.operations.door.operation import Work, operation
from service.operations.door.refusals import CannotCorrect, ReadItBack, Unprocessable
from service.operations.ledger import ledger
from service.operations.pots.clock import set_clock
from service.operations.pots.pot import Pot, flag_once, grams, load_pot, require_open, settle_plans, update_mix
from service.operations.pots.scales import check_state
from service.operations.pots.systems import HARDENER_KINDS, RESIN_KINDS
from service.operations.pots.verdict import correction, judge, target_mg
from service.operations.pots.view import MixView, view_mix
from service.operations.stock.using import draw, judge_use, settle_empty
from service.records.base import known
from service.records.items import Item, MadeWith
from service.records.materials import Container, Material, Scale
from service.records.mixes import PlannedPour, Pour

# A typed reading between these shares of its target counts as it is (shop rule 22).
_LEAST_OF_TARGET, _MOST_OF_TARGET = 0.8, 1.25


_MOST_POURS = 100


@operation
def pour(
    work: Work,
    *,
    mix: str,
    container: str,
    scale: str,
    reading_mg: int,
    source: ReadingSource,
    zeroed: bool = True,
    correction: bool = False,
    read_back_mg: int | None = None,
    confirmed: bool = False,
    emptied_cup_mg: int | None = None,
) -> MixView:
    """Record a pour: what the scale showed, and whether it had been zeroed. It is never refused for a shop reason."""
    locked = ledger.lock(work, mix, container, scale, kinds=[Kind.MIX, Kind.CONTAINER, Kind.SCALE])
    item, can, on = locked[mix], locked[container], locked[scale]
    require_open(item)
    pot = load_pot(item)
    balance = Scale.get_by_id(on.id)
    component, wrong = _component(pot, can)
    _check_correction(work, pot, component, correction)
    net, before = _net(pot, balance, component, reading_mg, zeroed, emptied_cup_mg)
    target = target_mg(pot, component, can.id, correction=correction)
    if source == ReadingSource.TYPED:
        _read_back(component, net, target, reading_mg, read_back_mg)
    if correction:
        _judge_correction(work, pot)
    if all(p.container_id != can.id for p in pot.pours):
        judge_use(work, can, item, besides_mix=item.id)
    movement = draw(work, can, item, net, kind=MovementKind.POUR, confirmed=confirmed)
    Pour.create(
        mix=pot.mix,
        container=can.id,
        movement=movement,
        component=component,
        scale=balance,
        reading_mg=reading_mg,
        zeroed=zeroed,
        before_mg=before,
        emptied_cup_mg=emptied_cup_mg,
        source=source,
        target_mg=target,
        correction=correction,
        occurred_at=work.act.occurred_at,
        deed=work.deed,
    )
    settle_plans(work, pot, container=can.id)
    if wrong is not None:
        flag_once(work, item, "wrong-pair", wrong, stops=True, hold=True, about=can.code)
    _use_scale(work, item, on, balance, reading_mg)
    first_hardener = component == Component.HARDENER and pot.mix.contact_at is None
    if first_hardener and (not pot.mix.separate_cups or emptied_cup_mg is not None):
        update_mix(work, item, contact_at=work.act.occurred_at)
    settle_mix(work, item)
    work.note(mix=item.code, poured=can.code, component=component, net_mg=net, target_mg=target, source=source)
    return work.answer(item, view_mix, at=work.act.occurred_at, site=work.site)


def _component(pot: Pot, can: Item) -> tuple[Component, str | None]:
    """Which component a can is, and what is wrong with it if it is not of this recipe."""
    material = Material.get_by_id(Container.get_by_id(can.id).material_id)
    if can.unit != Unit.MILLIGRAM:
        raise Unprocessable(f"{can.code} is not kept by mass; it cannot be poured.", pointer="/container")
    if material.id == pot.system["resin"]:
        return Component.RESIN, None
    if material.id == pot.hardener["material"]:
        return Component.HARDENER, None
    expected = f"this pot is {pot.system['resin_name']} with {pot.hardener['name']}"
    sentence = f"{can.code} {material.name} was poured; {expected}."
    kind = MaterialKind(material.kind)
    if kind in RESIN_KINDS:
        return Component.RESIN, sentence
    if kind in HARDENER_KINDS:
        return Component.HARDENER, sentence
    raise Unprocessable(
        f"{can.code} is {material.kind}, neither resin nor hardener.",
        way_out="Record it with the fillers of this pot; what does not belong there is flagged.",
        pointer="/container",
    )


def _check_correction(work: Work, pot: Pot, component: Component, said: bool) -> None:
    """Once hardener has met resin, more of either is a correction and says so: it is not slipped in as a plain pour."""
    if len(pot.pours) + len(pot.taken_back) >= _MOST_POURS:
        raise Unprocessable(f"A pot has at most {_MOST_POURS} pours.")
    contact = pot.mix.contact_at
    met = pot.item.state == State.RUNNING or (
        component == Component.RESIN and contact is not None and work.act.occurred_at > contact and pot.both_in
    )
    if met and not said:
        raise Unprocessable(
            "Resin and hardener have met: more of either is a correction.",
            way_out="If it corrects the mix, send correction: true.",
            pointer="/correction",
        )
    if said and not pot.both_in:
        raise Unprocessable("There is nothing to correct before both components are in.", pointer="/correction")


def _net(
    pot: Pot, balance: Scale, component: Component, reading_mg: int, zeroed: bool, emptied_cup_mg: int | None
) -> tuple[int, int]:
    """What went in, and from which reading on a running total went on."""
    if emptied_cup_mg is not None:
        if not pot.mix.separate_cups:
            raise Unprocessable("Only separate cups are emptied and weighed back.", pointer="/emptied_cup_g")
        net, before = reading_mg - emptied_cup_mg, 0
        said = f"the emptied cup's {grams(emptied_cup_mg)}"
    else:
        last = None if zeroed else pot.last_on(balance, component)
        before = last.reading_mg if last is not None else 0
        net, said = reading_mg - before, f"the {grams(before)} before"
    if net <= 0:
        raise Unprocessable(
            f"The scale reads {grams(reading_mg)}, no more than {said}.",
            way_out="Read it again; if it was zeroed, say so.",
            pointer="/reading_g",
        )
    return net, before


def _read_back(component: Component, net: int, target: int | None, reading: int, read_back: int | None) -> None:
    near = target is not None and _LEAST_OF_TARGET * target <= net <= _MOST_OF_TARGET * target
    if near or read_back == reading:
        return
    if read_back is not None:
        raise ReadItBack(
            f"{grams(reading)} and {grams(read_back)} are two readings.",
            way_out="Read the scale once more; nothing was stored.",
        )
    wanted = f"the target is {grams(target)}" if target is not None else "no more was planned"
    raise ReadItBack(
        f"{grams(net)} of {component}, but {wanted}. Read the scale once more.",
        way_out="Send the figure that it shows in read_back_g as well; nothing was stored yet.",
        net_g=net / 1000,
        target_g=None if target is None else target / 1000,
    )


def _judge_correction(work: Work, pot: Pot) -> None:
    """A correction that should not have been made any more is recorded, and stops the pot."""
    offered = correction(pot, at=work.act.occurred_at, site=work.site)
    if offered is not None and offered.possible != "yes":
        hard = offered.possible == "no"
        sentence = f"Corrected although: {' '.join(offered.why_not)}"
        flag_once(work, pot.item, "cannot-correct", sentence, stops=hard, hold=hard)


def _use_scale(work: Work, item: Item, on: Item, balance: Scale, reading_mg: int) -> None:
    """The scale was made with, not made of; an overdue or withdrawn one cannot make a passing pot."""
    if not MadeWith.select().where((MadeWith.item == item.id) & (MadeWith.used == on.id)).exists():
        ledger.made_with(work, item, "scale", used=on)
    if not MadeWith.select().where((MadeWith.item == item.id) & (MadeWith.person == work.act.person)).exists():
        ledger.made_with(work, item, "weighed by", person=work.act.person)
    stands = check_state(on, balance, at=work.act.occurred_at, site=work.site)
    if stands.stops:
        flag_once(work, item, "scale-overdue", f"Scale {on.code}: {stands.sentence}", stops=True, about=on.code)
    if on.state != State.IN_USE:
        flag_once(work, item, "scale-withdrawn", f"Scale {on.code} is {on.state}.", stops=True, about=on.code)
    if on.holds > 0:
        flag_once(work, item, "on-hold", f"Scale {on.code} is on hold.", stops=True, about=on.code)
    if reading_mg > balance.maximum_mg:
        sentence = f"Scale {on.code} takes {grams(balance.maximum_mg)}, it is said to have read {grams(reading_mg)}."
        flag_once(work, item, "scale-too-small", sentence, stops=False, about=on.code)


def settle_mix(work: Work, item: Item) -> None:
    """Work out again what follows from the pours: verdict, state, clock, and what need not be reserved any more."""
    pot = load_pot(item)
    judged = judge(pot)
    update_mix(
        work,
        item,
        deviation_pct=judged.deviation_pct if judged else None,
        uncertainty_pct=judged.uncertainty_pct if judged else None,
        verdict=judged.verdict if judged else None,
    )
    hardener_to_come = any(p.component == Component.HARDENER for p in pot.open_plans)
    if judged is not None and (
        not hardener_to_come or abs(judged.deviation_pct) <= judged.tolerance_pct + judged.uncertainty_pct
    ):
        settle_plans(work, pot)
        if pot.item.state == State.WEIGHING:
            ledger.set_state(work, item, State.RUNNING)
    if pot.total_mg > pot.largest_mg:
        sentence = f"The pot weighs {grams(pot.total_mg)}; the data sheet allows {grams(pot.largest_mg)}."
        flag_once(work, item, "pot-too-large", sentence, stops=True)
    set_clock(work, item)


@operation
def pour_back(work: Work, *, mix: str, container: str, mass_mg: int) -> MixView:
    """Pour some back into the container that it came from. Only before resin and hardener have met; after it, never."""
    locked = ledger.lock(work, mix, container, kinds=[Kind.MIX, Kind.CONTAINER])
    item, can = locked[mix], locked[container]
    require_open(item)
    pot = load_pot(item)
    last = _to_take_back(pot, can, work.act.occurred_at)
    net = known(last.movement.amount)
    if mass_mg > net:
        raise Unprocessable(f"Only {grams(net)} came from {can.code}.", pointer="/mass_g")
    ledger.cancel(work, last.movement)
    if mass_mg < net:
        movement = ledger.move(
            work, kind=MovementKind.POUR, source=can, target=item, amount=net - mass_mg, unit=Unit.MILLIGRAM
        )
        copied = ("mix", "container", "component", "scale", "zeroed", "before_mg", "source", "target_mg", "correction")
        Pour.create(
            **{name: getattr(last, name) for name in copied},
            movement=movement,
            reading_mg=last.reading_mg - mass_mg,
            emptied_cup_mg=last.emptied_cup_mg,
            occurred_at=work.act.occurred_at,
            deed=work.deed,
        )
    else:
        PlannedPour.create(mix=pot.mix, container=can.id, component=last.component, amount_mg=last.target_mg or net)
    settle_empty(work, can)
    settle_mix(work, item)
    work.note(mix=item.code, poured_back=can.code, mass_mg=mass_mg)
    return work.answer(item, view_mix, at=work.act.occurred_at, site=work.site)


def _to_take_back(pot: Pot, can: Item, at: datetime) -> Pour:
    if pot.mix.contact_at is not None:
        raise CannotCorrect(
            "Resin and hardener have met; nothing goes back into a can.",
            way_out="Correct the mix by adding the other component, or discard the pot.",
        )
    came = [p for p in pot.pours if p.container_id == can.id]
    if not came:
        raise Unprocessable(f"Nothing in this pot came from {can.code}.", pointer="/container")
    same_cup = [p for p in pot.pours if not pot.mix.separate_cups or p.component == came[-1].component]
    lots = {c.lot_id for c in Container.select().where(Container.item.in_({p.container_id for p in same_cup}))}
    if len(lots) > 1:
        raise CannotCorrect(
            "Two lots are in the cup; what is poured back would mix them in the can.",
            way_out="Keep it in the pot, or discard the pot.",
        )
    if same_cup[-1].id != came[-1].id:
        raise CannotCorrect(
            f"Another can was poured after {can.code}.", way_out=f"Pour back into the last one, {_code(same_cup[-1])}."
        )
    return came[-1]


def _code(row: Pour) -> str:
    return str(Item.get_by_id(row.container_id).code)
