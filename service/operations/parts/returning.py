"""A part that was shipped comes back from its customer: it is here again, on hold, and no longer released."""

from schemas.words import Kind, MovementKind, State, Unit
from service.operations.door.operation import Work, operation
from service.operations.door.refusals import WrongState
from service.operations.door.shop import begin_of_day
from service.operations.ledger import ledger
from service.operations.ledger.flags import raise_flag
from service.operations.parts.part import load_part
from service.operations.parts.view import PartView, answered
from service.records.parts import Shipment


@operation
def return_part(work: Work, *, part: str, reason: str, document: str | None = None) -> PartView:
    """Take back a shipped part. It is held until quality has looked at it, and is released anew before it leaves."""
    item = ledger.lock_one(work, part, Kind.PART)
    if item.state != State.SHIPPED:
        raise WrongState(f"{item.code} is {item.state}; only what was shipped comes back.")
    held = load_part(item)
    last = Shipment.select().where(Shipment.part == item.id).order_by(Shipment.id.desc()).first()
    ledger.refuse_before(work, begin_of_day(last.shipped_on, work.site), f"{item.code} was shipped")
    ledger.move(work, kind=MovementKind.RETURN, target=item, amount=1, unit=Unit.PIECE)
    held.update(released_at=None, released_by=None, shipped_at=None)
    held.released_by = None
    ledger.set_state(work, item, State.RETURNED)
    sentence = f"{item.code} came back from {last.customer}: {reason.rstrip('.')}."
    raise_flag(work, item, "returned", sentence, stops=False, hold=True, document=document)
    work.note(part=item.code, returned=reason, document=document, shipped_with=last.document)
    return answered(work, held)
