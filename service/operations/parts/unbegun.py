"""What stands against saying that a part or a cure was never begun, and which planned parts go back to the plan."""

from collections.abc import Collection, Mapping, Sequence

from schemas.words import Kind, MovementKind
from service.operations.door.acts import called
from service.operations.door.refusals import CannotUndo, WrongState
from service.operations.ledger.flags import stands
from service.records.items import Item, Movement, Touched
from service.records.journal import Deed

# Acts by which parts or cures begin that were not there before.
STARTS = ("start_part", "start_parts", "start_cure")
# Labels, holds and corrections are no work: they say nothing of whether a part or cure was begun.
_WORK = frozenset(
    {
        "lay_kit", "lay_ply", "use_on_part", "record_part_step", "close_lay_up", "bond_part", "apply_mix", "start_cure",
        "demould", "trim", "inspect_part", "release_part", "ship_part", "scrap_part", "import_cure_log",
        "record_cure_reading", "declare_cure", "end_cure", "start_planned_part", "return_part",
    }
)  # fmt: skip


def work_on(item: Item, *, but: int) -> list[str]:
    """The acts of work on a part or cure that stand, in their order, but for one."""
    touched = Touched.select(Touched.deed).where((Touched.item == item.id) & (Touched.deed != but))
    acts = Deed.select(Deed.operation).where(Deed.id.in_(touched) & Deed.refused.is_null() & stands(Deed.id))
    return [d.operation for d in acts.order_by(Deed.id) if d.operation in _WORK]


def refuse_to_unmake(wrong: Deed, items: Mapping[int, Item]) -> None:
    """A pot is abandoned, not undone; a part or cure on which work went on was begun, whatever anyone says."""
    if wrong.operation == "start_mix":
        raise CannotUndo("A pot that was started is not undone.", way_out="Abandon the pot; it stays in the record.")
    if wrong.operation not in (*STARTS, "start_planned_part"):
        return
    kind = Kind.CURE if wrong.operation == "start_cure" else Kind.PART
    planned = wrong.operation == "start_planned_part"
    for begun in (item for item in items.values() if item.kind == kind and (planned or item.deed_id == wrong.id)):
        later = work_on(begun, but=wrong.id)
        if later:
            raise CannotUndo(
                f"Work on {begun.code} went on: {called(later[0])}.",
                way_out="Correct those entries first; or scrap the part, which keeps it in the record."
                if kind == Kind.PART
                else "Correct those entries first.",
            )


def begun_with(wrong: Deed, booked: Sequence[Movement], items: Mapping[int, Item]) -> list[Item]:
    """The parts that were planned until this act began them."""
    made = [m.target_id for m in booked if m.kind == MovementKind.MADE and m.target_id is not None]
    return [items[n] for n in made if items[n].kind == Kind.PART and items[n].deed_id != wrong.id]


def refuse_to_begin_again(seq: int, wrong: Deed, before: Sequence[Movement], items: Mapping[int, Item]) -> None:
    """The start of a planned part comes back by starting it, not by taking back that it did not occur."""
    begun = begun_with(wrong, before, items)
    if begun:
        raise WrongState(
            f"Entry {seq} says that {begun[0].code} was not begun; it is planned again.",
            way_out="Start it, or record again what was done to it.",
        )


def without_its_making(booked: Sequence[Movement], kept: Collection[Item]) -> list[Movement]:
    """What is taken back of an act that began parts on which work went on since: they stay begun."""
    still = {item.id for item in kept}
    return [m for m in booked if not (m.kind == MovementKind.MADE and m.target_id in still)]
