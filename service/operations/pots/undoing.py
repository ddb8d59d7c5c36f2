"""A slip at the scales, put right within a minute by the one who made it (shop rule 22); later it is the lead's."""

from datetime import timedelta

from schemas.words import Declaration, Kind, MovementKind, ReadingSource
from service.operations.door.operation import Work, operation
from service.operations.door.refusals import CannotUndo, Unprocessable, WrongState
from service.operations.ledger import ledger
from service.operations.ledger.amounts import grams
from service.operations.pots.pot import Pot, load_pot, require_open
from service.operations.pots.pouring import add_pour, read_back, settle_mix
from service.operations.pots.view import MixView, answered
from service.operations.stock import load
from service.operations.stock.using import draw, settle_empty
from service.records.base import known
from service.records.items import Item, Movement
from service.records.journal import Deed, Entry
from service.records.mixes import Pour

UNDONE_WITHIN = timedelta(minutes=1)


@operation
def undo_pour(
    work: Work,
    *,
    mix: str,
    declaration: Declaration,
    reading_mg: int | None = None,
    read_back_mg: int | None = None,
    confirmed: bool = False,
    despite_reservation: bool = False,
) -> MixView:
    """Undo the last pour of a pot, within a minute and by whoever recorded it; nobody signs, both stay in the journal.

    "incorrect data" comes with the reading that is right; "did not occur" takes the pour back, and the pot is as it was
    before it.
    """
    if (declaration == Declaration.INCORRECT_DATA) != (reading_mg is not None):
        raise Unprocessable(
            "The right reading goes with incorrect data; what did not occur has none.", pointer="/reading_g"
        )
    item, can, pot, last, root = _last_pour(work, mix)
    booked = _booked(pot, last)
    Deed.update(corrects=root).where(Deed.id == work.deed).execute()
    before = known(last.movement.amount)
    ledger.cancel(work, last.movement)
    for found in booked:
        ledger.cancel(work, found)
    net = None
    if reading_mg is not None:
        net = _pour_right(work, pot, item, can, last, reading_mg, read_back_mg, confirmed, despite_reservation)
    settle_empty(work, can)
    settle_mix(work, pot)
    work.note(
        mix=item.code,
        declaration=declaration,
        movements=[
            {
                "movement": last.movement_id,
                "kind": last.movement.kind,
                "source": can.code,
                "target": item.code,
                "before": before,
                "after": net,
                "unit": last.movement.unit,
            }
        ],
    )
    return answered(work, pot)


def _last_pour(work: Work, mix: str) -> tuple[Item, Item, Pot, Pour, int]:
    """The pot, the can and the last pour that stands, if this person may undo it now, and the deed that poured it."""
    found = ledger.find(mix, Kind.MIX)
    newest = (
        Pour.select(Pour.id, Item.code.alias("can"))
        .join(Movement)
        .switch(Pour)
        .join(Item, on=(Item.id == Pour.container))
        .where((Pour.mix == found.id) & Movement.cancelled_by.is_null())
        .order_by(Pour.id.desc())
        .objects()
        .first()
    )
    if newest is None:
        raise WrongState(f"Nothing is in {found.code} that could be undone.")
    locked = ledger.lock(work, mix, newest.can, kinds=[Kind.MIX, Kind.CONTAINER])
    item, can = locked[mix], locked[newest.can]
    require_open(item)
    pot = load_pot(item)
    last = pot.pours[-1] if pot.pours else None
    if last is None or last.id != newest.id:
        raise WrongState("Something else was poured meanwhile.", way_out="Look at the pot again.")
    deed = Deed.get_by_id(last.deed_id)
    if deed.operation not in ("pour", "undo_pour"):
        raise WrongState(
            f"What {can.code} gave was changed after it was poured.", way_out="The lead corrects it in the journal."
        )
    late = work.act.recorded_at - deed.recorded_at > UNDONE_WITHIN
    if late or deed.person_id != work.act.person:
        why = "was recorded more than a minute ago" if late else f"was recorded by {pot.doers[last.deed_id]}"
        entry = Entry.get(Entry.deed == deed.id).seq
        raise WrongState(
            f"The pour of {grams(known(last.movement.amount))} from {can.code} {why}.",
            way_out=f"The lead corrects entry {entry} of the journal.",
            entry=entry,
        )
    return item, can, pot, last, deed.corrects_id or deed.id


def _booked(pot: Pot, last: Pour) -> list[Movement]:
    """What else the pour booked: more found in the can than the book had."""
    if pot.item.balance < known(last.movement.amount):
        raise CannotUndo(
            f"Less is left in {pot.item.code} than this pour brought into it; some of it was applied.",
            way_out="Correct what was applied first.",
        )
    return list(
        Movement.select().where(
            (Movement.deed == last.deed_id)
            & (Movement.kind == MovementKind.FOUND_MORE)
            & (Movement.target == last.container_id)
            & Movement.cancelled_by.is_null()
        )
    )


def _pour_right(
    work: Work,
    pot: Pot,
    item: Item,
    can: Item,
    last: Pour,
    reading_mg: int,
    read_back_mg: int | None,
    confirmed: bool,
    despite_reservation: bool,
) -> int:
    """The same pour with the reading that is right; what is right for it to weigh is asked as for any pour."""
    if last.volume_ul is not None:
        raise Unprocessable(
            "This was measured out by volume, and a mass does not put it right.",
            way_out="Take the pour back, and record it anew with the volume that was really measured.",
            pointer="/reading_g",
        )
    before = last.emptied_cup_mg if last.emptied_cup_mg is not None else last.before_mg
    net = reading_mg - before
    if net <= 0:
        raise Unprocessable(
            f"The scale reads {grams(reading_mg)}, no more than the {grams(before)} before.", pointer="/reading_g"
        )
    if last.source == ReadingSource.TYPED:
        read_back(last.component, net, last.target_mg, reading_mg, read_back_mg, pot.scale(last.scale_id))
    movement = draw(
        work,
        can,
        load.container_of(can),
        item,
        net,
        kind=MovementKind.POUR,
        confirmed=confirmed,
        despite_reservation=despite_reservation,
        planned=known(last.movement.amount),
    )
    kept = ("mix", "container", "component", "scale", "zeroed", "before_mg", "emptied_cup_mg", "source", "target_mg",
            "correction", "uncertainty_mg", "occurred_at")  # fmt: skip
    add_pour(
        work,
        pot,
        Pour.create(
            **{name: last.__data__[name] for name in kept}, movement=movement, reading_mg=reading_mg, deed=work.deed
        ),
    )
    return net
