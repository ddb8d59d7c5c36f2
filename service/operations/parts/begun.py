"""A planned part begins: started in the shop, or by the first record of work on it.

Its revision is fixed then, where its line asks for the newest one; a label that names another revision is replaced.
"""

from schemas.words import MovementKind, State, Unit
from service.operations.door.operation import Work
from service.operations.ledger import ledger
from service.operations.ledger.flags import raise_flag
from service.operations.ledger.labelling import renew_label
from service.operations.parts.designs import find_design
from service.records.items import Item
from service.records.orders import OrderLine
from service.records.parts import Design, Part


def begin_if_planned(work: Work, item: Item, what: str) -> None:
    """What has happened to a part that nobody had started is its start; said so, to be read at its release."""
    if item.state != State.PLANNED:
        return
    begin(work, item)
    sentence = f"{what}; {item.code} was only planned until then, and nobody had started it."
    raise_flag(work, item, "begun-by-record", sentence, stops=False)


def begin(work: Work, item: Item, *, mould: Item | None = None) -> Design:
    """From planned to being laid up, by the revision that counts now; the piece is there from here on."""
    row: Part = Part.select(Part, Design).join(Design).where(Part.item == item.id).get()
    design = _newest_for(work, item, row)
    Part.update(
        design=design,
        mould=mould.id if mould is not None else None,
        started_at=work.act.occurred_at,
        started_by=work.act.person,
    ).where(Part.item == item.id).execute()
    ledger.move(work, kind=MovementKind.MADE, target=item, amount=1, unit=Unit.PIECE)
    ledger.set_state(work, item, State.LAYING)
    if design.id != row.design_id:
        work.carry(item, name=design.name)
        renew_label(work, item)
    return design


def _newest_for(work: Work, item: Item, row: Part) -> Design:
    """The design by which a planned part is built now: its line's revision, or else the newest approved."""
    planned: Design = row.design
    line = OrderLine.get_or_none(OrderLine.id == row.line_id)
    if line is None or line.revision is not None:
        return planned
    newest = find_design(design=None, part_number=line.part_number, revision=None)
    if newest.id != planned.id:
        work.note(part=item.code, revision={"planned": planned.revision, "started": newest.revision})
    return newest


def unbegin(work: Work, item: Item) -> None:
    """Its start did not occur: it is planned again, as if nobody had touched it."""
    Part.update(started_at=None, started_by=None, mould=None, laid_up_at=None).where(Part.item == item.id).execute()
    ledger.set_state(work, item, State.PLANNED)
