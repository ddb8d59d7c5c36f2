"""What every act on a part needs: is it still here, its steps, its plies, and marks for what should not have been."""

from typing import Any

from schemas.words import Disposition, Kind, MovementKind, State
from service.operations.door.operation import Work
from service.operations.door.refusals import WrongState
from service.operations.ledger.flags import raise_flag, stands
from service.operations.ledger.graph import closure
from service.records.base import known
from service.records.items import Flag, Item, Movement
from service.records.materials import Lot
from service.records.parts import Nonconformance, Part, PartStep, PlyLaid

# A part that is in one of these is no longer in the shop's hands.
_GONE = {
    State.SHIPPED: "was shipped",
    State.SCRAPPED: "was scrapped",
    State.FITTED: "is fitted into an assembly",
    State.ABANDONED: "was never begun: its start was declared not to have occurred",
}


def still_here(item: Item) -> None:
    """Nothing can be done to a part that has left, or that is no more."""
    gone = _GONE.get(State(item.state))
    if gone is not None:
        raise WrongState(f"{item.code} {gone}.", way_out="Scan the part that is in front of you.")


def mark_if_late_in_life(work: Work, item: Item, what: str) -> None:
    """Lay-up on a part that is not being laid up: recorded, and marked unless rework or repair was decided."""
    still_here(item)
    if item.state == State.LAYING:
        return
    released = item.state == State.RELEASED
    if not released and _rework_decided(item):
        return
    raise_flag(
        work,
        item,
        "out-of-order",
        f"{what} when {item.code} was {item.state}.",
        stops=released,
        hold=released,
        state=item.state,
    )


def _rework_decided(item: Item) -> bool:
    return bool(
        Nonconformance.select()
        .where(
            (Nonconformance.item == item.id) & Nonconformance.disposition.in_([Disposition.REWORK, Disposition.REPAIR])
        )
        .exists()
    )


def add_step(work: Work, item: Item, kind: str, facts: dict[str, Any], *, passed: bool | None = None) -> PartStep:
    step = PartStep.create(
        part=item.id, kind=kind, facts=facts, passed=passed, occurred_at=work.act.occurred_at, deed=work.deed
    )
    work.touch(item)
    work.note(part=item.code, step=kind, facts=facts, passed=passed)
    return step


def standing_plies(part: int) -> list[PlyLaid]:
    return list(PlyLaid.select().where((PlyLaid.part == part) & stands(PlyLaid.deed)).order_by(PlyLaid.id))


def missing_plies(row: Part) -> list[int]:
    """Numbers of the design's plies that nobody has laid, in the order of laying."""
    laid = {p.number for p in standing_plies(row.item_id)}
    return [p["number"] for p in row.design.plies if p["number"] not in laid]


def unknown_lots(item: Item) -> list[Item]:
    """Lots that went into a part without anyone knowing the maker's number."""
    upstream = closure([item.id], back=True)[item.id]
    query = Item.select(Item).join(Lot, on=(Lot.item == Item.id))
    return list(query.where(Item.id.in_(upstream) & Lot.makers_lot.is_null()).order_by(Item.id))


def untold_lots(item: Item) -> list[Item]:
    """Those of them that no flag names yet, neither by the lot nor by the mix that brought it."""
    flags = list(Flag.select().where((Flag.item == item.id) & (Flag.kind == "lot-not-known")))
    told = {flag.facts.get("lot") for flag in flags}
    mixes = [m.id for m in Item.select().where(Item.code.in_([flag.facts.get("mix") or "" for flag in flags]))]
    brought = set().union(*closure(mixes, back=True).values())
    return [lot for lot in unknown_lots(item) if lot.code not in told and lot.id not in brought]


def mark_unknown_lots(work: Work, item: Item, row: Part) -> None:
    """A part that must be traceable, with a lot in it that nobody knows, is stopped; each lot is told once."""
    for lot in untold_lots(item) if row.design.traceable else []:
        sentence = f"The maker's lot of {lot.code} {lot.name} is not known; {item.code} must be traceable."
        raise_flag(work, item, "lot-not-known", sentence, stops=True, hold=True, lot=lot.code)


def cures_of(part: int) -> list[int]:
    """The cures that a part has been in, the last first."""
    query = (
        Movement.select(Movement.source)
        .join(Item, on=(Item.id == Movement.source))
        .where(
            (Movement.target == part)
            & (Movement.kind == MovementKind.CURE)
            & (Item.kind == Kind.CURE)
            & Movement.cancelled_by.is_null()
        )
        .order_by(Movement.id.desc())
    )
    return list(dict.fromkeys(known(row.source_id) for row in query))
