"""What a corrected receipt carries along: it is what it was packed in, whichever of the two was wrong."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from schemas.words import MovementKind, Unit
from service.operations.door.refusals import Unprocessable
from service.records.base import known
from service.records.items import Movement
from service.records.journal import Deed
from service.records.materials import Container, Receipt


def packed_with(booked: Sequence[Movement]) -> list[Movement]:
    """The packings of receipts among these movements that another entry booked: an earlier correction of one can."""
    lots = {m.target_id for m in booked if m.kind == MovementKind.RECEIPT} | {
        m.source_id for m in booked if m.kind == MovementKind.PACKING
    }
    if not lots:
        return []
    here = {m.id for m in booked}
    receipts = {
        known(c.receipt_id)
        for c in Container.select(Container.receipt).where(
            Container.item.in_([m.target_id for m in booked if m.kind == MovementKind.PACKING])
        )
    }
    of_receipt = Container.select(Container.item).where(Container.receipt.in_(list(receipts)))
    packings = Movement.select().where(
        (Movement.kind == MovementKind.PACKING) & Movement.target.in_(of_receipt) & Movement.cancelled_by.is_null()
    )
    arrived = Movement.select().where(
        (Movement.kind == MovementKind.RECEIPT)
        & Movement.target.in_(list(lots))
        & Movement.cancelled_by.is_null()
        & Movement.deed.in_(family(receipts))
    )
    return [m for m in (*arrived, *packings) if m.id not in here]


def standing_amounts(receipts: Sequence[Receipt]) -> dict[int, int]:
    """What stands now of each receipt; 0 where it was declared not to have occurred."""
    root = {r.deed_id: r.id for r in receipts}
    for _ in range(2):  # a correction, and a correction of it
        later = list(Deed.select(Deed.id, Deed.corrects).where(Deed.corrects.in_(list(root))))
        if not later:
            break
        root |= {d.id: root[known(d.corrects_id)] for d in later}
    amounts = {r.id: 0 for r in receipts}
    booked = Movement.select(Movement.deed, Movement.target, Movement.amount).where(
        Movement.kind.in_([MovementKind.RECEIPT, MovementKind.MADE])
        & Movement.deed.in_(list(root))
        & Movement.cancelled_by.is_null()
    )
    lots = {r.id: r.lot_id for r in receipts}
    for m in booked:
        if lots[root[m.deed_id]] == m.target_id:
            amounts[root[m.deed_id]] += known(m.amount)
    return amounts


def family(receipts: Iterable[int]) -> list[int]:
    """The deeds that booked these receipts and those that corrected them."""
    made = [r.deed_id for r in Receipt.select(Receipt.deed).where(Receipt.id.in_(list(receipts)))]
    first = [d.id for d in Deed.select(Deed.id).where(Deed.corrects.in_(made))]
    again = [d.id for d in Deed.select(Deed.id).where(Deed.corrects.in_(first))]
    return [*made, *first, *again]


def right_amounts(
    booked: Sequence[Movement], packed: Sequence[Movement], amounts: Sequence[Mapping[str, Any]]
) -> dict[int, int]:
    """The right amount of each movement that was named, and of those that follow: a receipt is what it came in."""
    by_number = {m.id: m for m in (*booked, *packed)}
    right: dict[int, int] = {}
    for n, line in enumerate(amounts):
        movement = by_number.get(int(line["movement"]))
        if movement is None:
            raise Unprocessable(
                f"Movement {line['movement']} does not stand in that entry.",
                pointer=f"/amounts/{n}/movement",
                way_out=f"What stands of it now: {_numbered(list(by_number.values()))}.",
            )
        if line.get("unit", movement.unit) != movement.unit:
            raise Unprocessable(
                f"Movement {movement.id} is kept in {movement.unit}, the right amount came in {line['unit']}.",
                pointer=f"/amounts/{n}",
            )
        right[movement.id] = int(line["amount"])
    for receipt in [m for m in by_number.values() if m.kind == MovementKind.RECEIPT]:
        packings = [
            m for m in by_number.values() if m.kind == MovementKind.PACKING and m.source_id == receipt.target_id
        ]
        named = [m for m in packings if m.id in right]
        if not named and receipt.id in right and right[receipt.id] != receipt.amount and packings:
            if len(packings) > 1:
                raise Unprocessable(
                    f"It came in {len(packings)} containers; give the right amounts of those that were wrong "
                    f"(movements {', '.join(str(m.id) for m in packings)}), and the receipt follows.",
                    pointer="/amounts",
                )
            right[packings[0].id] = right[receipt.id]
        elif named:
            total = sum(right.get(m.id, m.amount or 0) for m in packings)
            if right.setdefault(receipt.id, total) != total:
                raise Unprocessable(
                    f"The containers add up to {_shown(total, receipt)}, the receipt says "
                    f"{_shown(right[receipt.id], receipt)}.",
                    pointer="/amounts",
                )
    return right


def _numbered(movements: Sequence[Movement]) -> str:
    return ", ".join(f"movement {m.id} ({m.kind}, {_shown(known(m.amount), m)})" for m in movements[:20]) or "nothing"


def _shown(amount: int, movement: Movement) -> str:
    return f"{amount / 1000:g} g" if movement.unit == Unit.MILLIGRAM else f"{amount} {movement.unit}"
