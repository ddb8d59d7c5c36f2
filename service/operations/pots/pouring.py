"""At the scales: what was poured is recorded, what should not have been is flagged."""

from datetime import datetime, timedelta
from typing import Any

from schemas.words import Component, Kind, MovementKind, ReadingSource, ScaleForm, State
from service.operations.door.operation import Work, operation
from service.operations.door.refusals import ReadItBack, SaidTwice, Unprocessable
from service.operations.ledger import ledger
from service.operations.ledger.amounts import grams
from service.operations.ledger.undone_pours import let_go
from service.operations.pots.belonging import component_of
from service.operations.pots.catalysing import judge_order, judge_promoter
from service.operations.pots.clock import set_clock
from service.operations.pots.dosing import range_mg
from service.operations.pots.measures import millilitres, read_measure
from service.operations.pots.next_number import as_shown, not_needed, to_come
from service.operations.pots.pot import (
    Named,
    Pot,
    flag_once,
    load_pot,
    require_open,
    settle_plans,
)
from service.operations.pots.ratio_in_cup import settle_ratio
from service.operations.pots.receiving import received
from service.operations.pots.scale import LoadedScale, check_state, load_scales
from service.operations.pots.targets import wanted_mg
from service.operations.pots.verdict import correction, judge
from service.operations.pots.view import MixView, answered
from service.operations.stock import load
from service.operations.stock.using import draw, judge_use, load_used
from service.records.base import known
from service.records.items import Item, MadeWith, Movement
from service.records.journal import Deed
from service.records.lookups import rows_by
from service.records.materials import Scale
from service.records.mixes import PlannedPour, Pour

# A typed reading between these shares of its target counts as it is (shop rule 22).
_LEAST_OF_TARGET, _MOST_OF_TARGET = 0.8, 1.25

# Nobody pours or applies the same twice within so short a time; common practice, no source.
SECOND_TAP = timedelta(seconds=10)

_MOST_POURS = 100


@operation
def pour(
    work: Work,
    *,
    mix: str,
    container: str,
    scale: str,
    source: ReadingSource,
    reading_mg: int | None = None,
    reading_ml: float | None = None,
    density_g_ml: float | None = None,
    zeroed: bool = True,
    correction: bool = False,
    read_back_mg: int | None = None,
    read_back_ml: float | None = None,
    confirmed: bool = False,
    despite_reservation: bool = False,
    again: bool = False,
    emptied_cup_mg: int | None = None,
) -> MixView:
    """Record a pour: what the scale showed, and whether it had been zeroed. It is never refused for a shop reason."""
    locked = ledger.lock(work, mix, container, scale, kinds=[Kind.MIX, Kind.CONTAINER, Kind.SCALE])
    item, can, on = locked[mix], locked[container], locked[scale]
    require_open(item)
    pot = load_pot(item)
    # A can is judged when it is first poured from; after that it has been said what there is to say.
    used = None if any(p.container_id == can.id for p in pot.pours) else load_used(work, can, besides_mix=item.id)
    row = used.container if used is not None else load.container_of(can)
    loaded = load_scales([on], at=work.act.occurred_at)[on.id]
    balance = loaded.row
    pot.named[on.id] = Named(on.code, on.name, scale=balance)
    component, wrong = component_of(pot, can, row.material)
    measured = read_measure(balance, row.material, reading_mg, reading_ml, density_g_ml)
    reading_mg = measured.mass_mg
    zeroed = zeroed or measured.volume_ul is not None
    if not again:
        _ask_if_twice(work, pot, can, on, reading_mg, zeroed, emptied_cup_mg)
    _check_correction(work, pot, component, correction)
    net, before = _net(pot, balance, component, reading_mg, zeroed, emptied_cup_mg)
    target = wanted_mg(pot, component, can.id, correction=correction)
    if source == ReadingSource.TYPED:
        dosed = range_mg(pot, component) if pot.catalyst is not None and component != Component.RESIN else None
        once_more = read_back_mg
        if measured.volume_ul is not None:
            once_more = None if read_back_ml is None else round(read_back_ml * 1000)
        read_back(pot.told(component), net, target, measured.volume_ul or reading_mg, once_more, balance, dosed)
    sent = received(on, reading_mg, at=work.act.occurred_at) if source == ReadingSource.CAPTURED else None
    if correction:
        _judge_correction(work, pot)
    if used is not None:
        pot.named[can.id] = Named.can(used)
        pot.flagged(judge_use(work, used, item, as_catalyst=True))
    judge_order(work, pot, can, row.material, component)
    movement = draw(
        work,
        can,
        row,
        item,
        net,
        kind=MovementKind.POUR,
        confirmed=confirmed,
        despite_reservation=despite_reservation,
        planned=planned_in(pot, can),
    )
    poured = Pour.create(
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
        volume_ul=measured.volume_ul,
        uncertainty_mg=measured.uncertainty_mg,
        received=sent,
        occurred_at=work.act.occurred_at,
        deed=work.deed,
    )
    add_pour(work, pot, poured)
    settle_plans(work, pot, container=can.id)
    if wrong is not None:
        flag_once(work, pot, "wrong-pair", wrong, stops=True, hold=True, about=can.code)
    use_scale(work, pot, loaded, measured.volume_ul or reading_mg)
    if component == Component.PROMOTER:
        judge_promoter(work, pot)
    # Either of them alone in the cup has met nothing.
    together = not pot.mix.separate_cups or emptied_cup_mg is not None
    met = together and pot.both_in and pot.mix.contact_at is None
    settle_mix(work, pot, **({"contact_at": work.act.occurred_at} if met else {}))
    work.note(mix=item.code, poured=can.code, component=component, net_mg=net, target_mg=target, source=source)
    return answered(work, pot)


def planned_in(pot: Pot, can: Item) -> int:
    """What the pot is still to take from a can as it was planned, and was asked about at its start."""
    return sum(plan.amount_mg for plan in pot.open_plans if plan.container_id == can.id)


def _ask_if_twice(
    work: Work, pot: Pot, can: Item, on: Item, reading_mg: int, zeroed: bool, emptied_cup_mg: int | None
) -> None:
    """The same reading of the same can by the same person within seconds is more likely a second tap."""
    last = pot.pours[-1] if pot.pours else None
    if last is None or abs(work.act.occurred_at - last.occurred_at) > SECOND_TAP:
        return
    same = (can.id, on.id, reading_mg, zeroed, emptied_cup_mg)
    if same != (last.container_id, last.scale_id, last.reading_mg, last.zeroed, last.emptied_cup_mg):
        return
    if Deed.get_by_id(last.deed_id).person_id == work.act.person:
        raise SaidTwice(
            f"{grams(reading_mg)} from {can.code} was recorded just now. Was it poured twice?",
            way_out="If it was, say so; if not, it is recorded already.",
            answer_with={"again": True},
        )


def add_pour(work: Work, pot: Pot, poured: Pour) -> None:
    """One more reading, its movement with it."""
    pot.weighed.append(poured)
    pot.movements.append(poured.movement)
    pot.doers[work.deed] = work.who


def _check_correction(work: Work, pot: Pot, component: Component, said: bool) -> None:
    """Once all of it is in, more of either is a correction and says so: it is not slipped in as a plain pour."""
    if len(pot.weighed) >= _MOST_POURS:
        raise Unprocessable(f"A pot has at most {_MOST_POURS} pours.")
    if component == Component.PROMOTER:
        return
    contact = pot.mix.contact_at
    late = contact is not None and work.act.occurred_at > contact
    met = pot.both_in and (pot.item.state == State.RUNNING or (late and to_come(pot) != component))
    if met and not said:
        raise Unprocessable(
            "Resin and hardener have met: more of either is a correction.",
            way_out="If it corrects the mix, say so.",
            answer_with={"correction": True},
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
        before = 0 if zeroed else pot.standing_mg(balance.item_id, component)
        net, said = reading_mg - before, f"the {grams(before)} before"
    if net <= 0:
        raise Unprocessable(
            f"The scale reads {grams(reading_mg)}, no more than {said}.",
            way_out="Read it again; if it was zeroed, say so.",
            pointer="/reading_g",
        )
    return net, before


def read_back(
    component: str,
    net: int,
    target: int | None,
    reading: int,
    again: int | None,
    on: Scale,
    dosed: tuple[int, int, int] | None = None,
) -> None:
    """A typed reading far from its target, or finer than the scale can show, is asked for once more (shop rule 22).

    ``reading`` and ``again`` are as they were read: milligrams of a scale, microlitres of a graduated measure. Of a
    catalyst or promoter it is far where it lies outside its range, ``dosed``.
    """
    by_volume = on.form == ScaleForm.MEASURE
    said, field = (millilitres, "read_back_ml") if by_volume else (grams, "read_back_g")
    near = target is not None and _LEAST_OF_TARGET * target <= net <= _MOST_OF_TARGET * target
    if dosed is not None and target is not None:
        near = dosed[0] <= net <= dosed[2]
    shown = on.form != ScaleForm.SCALE or reading % on.interval_mg == 0
    if (near and shown) or again == reading:
        return
    if again is not None:
        raise ReadItBack(
            f"{said(reading)} and {said(again)} are two readings.",
            way_out=f"Read the {on.form} once more; nothing was stored.",
            answer_with={field: None},
        )
    aimed = target if target is None or on.form != ScaleForm.SCALE else as_shown(target, on)
    wanted = f"the target is {grams(aimed)}" if aimed is not None else "no more was planned"
    poured = f"{said(reading)} is {grams(net)}" if by_volume else grams(net)
    sentence = f"{poured} of {component}, but {wanted}."
    if near:
        sentence = f"{grams(reading)} is finer than the scale shows, which goes by {grams(on.interval_mg)}."
    raise ReadItBack(
        f"{sentence} Read the {on.form} once more.",
        way_out="Give the figure that it shows now; nothing was stored yet.",
        answer_with={field: None},
        net_g=net / 1000,
        target_g=None if target is None else target / 1000,
    )


def _judge_correction(work: Work, pot: Pot) -> None:
    """A correction that should not have been made any more is recorded, and stops the pot."""
    offered = correction(pot, at=work.act.occurred_at, site=work.site)
    if offered is not None and offered.possible != "yes":
        hard = offered.possible == "no"
        sentence = f"It was corrected all the same. {' '.join(offered.why_not)}"
        flag_once(work, pot, "cannot-correct", sentence, stops=hard, hold=hard)


def use_scale(work: Work, pot: Pot, loaded: LoadedScale, reading_mg: int) -> None:
    """The scale was made with, not made of; an overdue or withdrawn one cannot make a passing pot."""
    on, balance = loaded.item, loaded.row
    named = f"{balance.form.capitalize()} {on.code}"
    known = rows_by(MadeWith, MadeWith.item, pot.item.id)
    if all(row.used_id != on.id for row in known):
        ledger.made_with(work, pot.item, "scale", used=on)
    if all(row.person_id != work.act.person for row in known):
        ledger.made_with(work, pot.item, "weighed by", person=work.act.person)
    stands = check_state(balance, loaded.last, at=work.act.occurred_at, site=work.site)
    if stands.stops:
        flag_once(work, pot, "scale-overdue", f"{named}: {stands.sentence}", stops=True, about=on.code)
    if on.state != State.IN_USE:
        flag_once(work, pot, "scale-withdrawn", f"{named} is {on.state}.", stops=True, about=on.code)
    if on.holds > 0:
        flag_once(work, pot, "on-hold", f"{named} is on hold.", stops=True, about=on.code)
    if reading_mg > balance.maximum_mg:
        said = millilitres if balance.form == ScaleForm.MEASURE else grams
        sentence = f"{named} takes up to {said(balance.maximum_mg)}; {said(reading_mg)} was entered for it."
        flag_once(work, pot, "scale-too-small", sentence, stops=False, about=on.code)


def settle_mix(work: Work, pot: Pot, **columns: Any) -> None:
    """Work out again what follows from the pours: verdict, state, clock, and what need not be reserved any more.

    `columns` of the pot that change with them are written in the same statement.
    """
    columns |= settle_ratio(pot)
    judged = judge(pot)
    columns |= {
        "deviation_pct": judged.deviation_pct if judged else None,
        "uncertainty_pct": judged.uncertainty_pct if judged else None,
        "verdict": judged.verdict if judged else None,
    }
    undone = [p for p in pot.weighed if p.movement.cancelled_by_id == work.deed]
    if undone:
        columns = _take_back(pot, undone) | columns
        let_go(work, pot.settled)
    near = judged is not None and abs(judged.deviation_pct) <= judged.tolerance_pct + judged.uncertainty_pct
    if pot.both_in and (near or to_come(pot) is None):
        settle_plans(work, pot)
        if pot.item.state == State.WEIGHING:
            ledger.set_state(work, pot.item, State.RUNNING)
    elif undone and pot.item.state == State.RUNNING and not pot.applications:
        ledger.set_state(work, pot.item, State.WEIGHING)
    if not pot.both_in and (needless := not_needed(pot)) is not None:
        settle_plans(work, pot, component=needless)
    if pot.total_mg > pot.largest_mg:
        sentence = f"The pot weighs {grams(pot.total_mg)}; the data sheet allows {grams(pot.largest_mg)}."
        flag_once(work, pot, "pot-too-large", sentence, stops=True)
    set_clock(work, pot, **columns)


def _take_back(pot: Pot, undone: list[Pour]) -> dict[str, Any]:
    """What was reserved for pours that are taken back is reserved again; what has met nothing has no contact."""
    settled = {p.occurred_at for p in undone}
    kept = {p.container_id for p in pot.pours} | {p.container_id for p in pot.open_plans}
    for plan in [p for p in pot.plans if p.settled_at in settled and p.container_id not in kept]:
        kept.add(plan.container_id)
        same = {name: plan.__data__[name] for name in ("mix", "container", "component", "amount_mg")}
        pot.plans.append(PlannedPour.create(**same))
    by_pour = any(p.occurred_at == pot.mix.contact_at for p in pot.weighed)
    return {"contact_at": None} if by_pour and not pot.both_in else {}


def weighed_again(work: Work, before: Pour, movement: Movement, *, at: datetime) -> Pour:
    """A pour that is booked with another amount keeps its scale and how it was read; its reading moves with it."""
    anew = ("id", "movement", "reading_mg", "volume_ul", "strokes", "received", "source", "occurred_at", "deed")
    row: Pour = Pour.create(
        **{name: value for name, value in before.__data__.items() if name not in anew},
        movement=movement,
        source=ReadingSource.TYPED,
        reading_mg=before.reading_mg + known(movement.amount) - known(before.movement.amount),
        occurred_at=at,
        deed=work.deed,
    )
    return row
