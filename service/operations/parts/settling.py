"""Flags that something later has settled: both stay to be read, and no concession is needed any more."""

from collections.abc import Iterable, Sequence

from schemas.words import Kind, State
from service.operations.parts.as_designed import KINDS as AS_DESIGNED
from service.operations.parts.as_designed import as_designed
from service.operations.parts.part import PartInHand
from service.records.items import Flag, Item
from service.records.parts import Part


def settled(held: PartInHand, flags: Sequence[Flag], items: dict[int, Item]) -> dict[int, str]:
    """For each flag that is settled, what settled it in a sentence. ``items`` are those that the flags are on."""
    return {flag.id: said for flag, said in _each(held, flags, items)}


def _each(held: PartInHand, flags: Sequence[Flag], items: dict[int, Item]) -> Iterable[tuple[Flag, str]]:
    compared = [flag for flag in flags if flag.kind in AS_DESIGNED]
    live = {f.sentence for f in as_designed(held).found} if any(f.item_id == held.item.id for f in compared) else set()
    released = _released({flag.item_id for flag in compared} - {held.item.id})
    for flag in flags:
        item = items[flag.item_id]
        if item.kind == Kind.CURE and item.state == State.PASSED:
            yield flag, "The cure was proved by later evidence."
        elif flag.kind in AS_DESIGNED and item.id == held.item.id and flag.sentence not in live:
            yield flag, "What was recorded since has changed it."
        elif flag.kind in AS_DESIGNED and item.id in released:
            yield flag, f"{item.code} was released with it."


def _released(parts: set[int]) -> set[int]:
    """Components whose own release has looked at all of it."""
    if not parts:
        return set()
    return {n for (n,) in Part.select(Part.item).where(Part.item.in_(parts) & Part.released_at.is_null(False)).tuples()}
