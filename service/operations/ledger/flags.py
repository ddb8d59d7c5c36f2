"""What a release must look at, and the holds that follow from what should not have happened."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from peewee import Field, chunked

from service.operations.door.operation import AT_ONCE, Work
from service.records.items import Flag, Hold, Item
from service.records.journal import Deed
from service.records.lookups import another


def raise_flag(
    work: Work,
    item: Item,
    kind: str,
    sentence: str,
    *,
    stops: bool,
    permission: int | None = None,
    hold: bool = False,
    **facts: Any,
) -> Flag:
    """Mark an item. ``stops``: a release needs a signed permission for it; ``hold``: nothing goes on until then."""
    flag = Flag.create(
        item=item,
        kind=kind,
        sentence=sentence,
        facts=facts,
        stops=stops,
        permission=permission,
        occurred_at=work.act.occurred_at,
        deed=work.deed,
    )
    work.touch(item)
    work.note(item=item.code, flag=kind, sentence=sentence)
    if hold:
        place_hold_on(work, item, sentence, flag=flag.id)
    return flag


def place_hold_on(
    work: Work,
    item: Item,
    reason: str,
    *,
    since: Any = None,
    flag: int | None = None,
    nonconformance: int | None = None,
) -> Hold:
    """A hold on an item that is locked, with its count carried along."""
    hold = Hold.create(
        item=item,
        reason=reason,
        since=since,
        flag=flag,
        nonconformance=nonconformance,
        placed_at=work.act.occurred_at,
        placed_by=work.deed,
    )
    work.carry(item, holds=1)
    work.touch(item)
    work.note(item=item.code, held=reason)
    return hold


@dataclass(frozen=True, slots=True)
class Stop:
    """One of many items that an act stops, and why; ``kind`` and ``facts`` are those of the flag that goes with it."""

    item: Item
    reason: str
    kind: str | None = None
    facts: dict[str, Any] | None = None


def stop(work: Work, stops: Iterable[Stop]) -> None:
    """A hold on each of many items that are locked, with a flag that needs a permission where it has a kind.

    So many rows a statement, however many items there are.
    """
    act = work.act
    for some in chunked(stops, AT_ONCE):
        flagged = [
            {
                "item": one.item.id, "kind": one.kind, "sentence": one.reason, "facts": one.facts or {}, "stops": True,
                "occurred_at": act.occurred_at, "deed": work.deed,
            }
            for one in some
            if one.kind is not None
        ]  # fmt: skip
        written = Flag.insert_many(flagged).returning(Flag.id, Flag.item).execute() if flagged else ()
        flags = {row.item_id: row.id for row in written}
        Hold.insert_many(
            [
                {
                    "item": one.item.id, "reason": one.reason, "flag": flags.get(one.item.id),
                    "placed_at": act.occurred_at, "placed_by": work.deed,
                }
                for one in some
            ]
        ).execute()  # fmt: skip
        for one in some:
            if one.kind is not None:
                work.note(item=one.item.code, flag=one.kind, sentence=one.reason)
            work.carry(one.item, holds=1)
            work.touch(one.item)
            work.note(item=one.item.code, held=one.reason)


def lift(work: Work, hold: Hold) -> None:
    """Lift one hold; others on the same item stay."""
    Hold.update(lifted_at=work.act.recorded_at, lifted_by=work.deed).where(Hold.id == hold.id).execute()
    hold.lifted_at = work.act.recorded_at
    if hold.item_id is not None:
        item = work.item(hold.item_id)
        work.carry(item, holds=-1)
        work.touch(item)
        work.note(item=item.code, lifted=hold.reason)


def corrected_deeds() -> Any:
    """A query of the deeds that a correction which itself stands has corrected."""
    undone = another(Deed, "undone")
    taken_back = undone.select(undone.corrects).where(undone.corrects.is_null(False))
    return Deed.select(Deed.corrects).where(Deed.corrects.is_null(False) & Deed.id.not_in(taken_back))


def stands(deed: Field) -> Any:
    """The rows whose deed no later entry has corrected, but for a correction that was itself taken back."""
    return deed.not_in(corrected_deeds())
