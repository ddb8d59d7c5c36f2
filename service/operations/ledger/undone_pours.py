"""Flags whose pour was taken back: they stay to be read with what settled them, and ask for nothing any more."""

from collections.abc import Collection, Mapping, Sequence

from service.operations.door.operation import Work
from service.operations.ledger.flags import lift
from service.records.base import known
from service.records.items import Flag, Hold, Movement
from service.records.journal import Deed
from service.records.mixes import Pour

# Told again by the pour that took the place of the wrong one, if it is still so.
_BY_AMOUNT = frozenset({"pot-too-large"})

_SAID = {
    "undo_pour": "The pour was undone: it did not occur.",
    "pour_back": "The pour went back into its can before resin and hardener had met.",
}
_CORRECTED = "The pour was corrected: it did not occur."
_ANOTHER = "The pour was corrected, and is judged by its right amount."


def undone(flags: Sequence[Flag], pots: Collection[int]) -> dict[int, str]:
    """Of flags on these pots those whose pour does not stand, each with a sentence; by the number of the flag."""
    asked = [flag for flag in flags if flag.item_id in pots]
    if not asked:
        return {}
    query = (
        Pour.select(Pour.mix, Pour.deed, Movement.cancelled_by)
        .join(Movement)
        .where(Pour.mix.in_({flag.item_id for flag in asked}))
        .tuples()
    )
    cancelled = {(pot, deed): by for pot, deed, by in query}
    ends = {flag.id: _end(flag.item_id, flag.deed_id, cancelled) for flag in asked}
    if all(end is None for end, _ in ends.values()):
        return {}
    # A correction that was itself taken back has brought the pour back, by that deed; it may be corrected again.
    while back := {
        deed.corrects_id: deed.id for deed in Deed.select(Deed.id, Deed.corrects).where(Deed.corrects.in_(_gone(ends)))
    }:
        again = [flag for flag in asked if ends[flag.id][0] in back]
        ends |= {flag.id: _end(flag.item_id, back[known(ends[flag.id][0])], cancelled) for flag in again}
    gone = _gone(ends)
    told = {deed.id: deed.operation for deed in Deed.select(Deed.id, Deed.operation).where(Deed.id.in_(gone))}
    found: dict[int, str] = {}
    for flag in asked:
        end, stands = ends[flag.id]
        if end is None:
            continue
        if not stands:
            found[flag.id] = _SAID.get(told[end], _CORRECTED)
        elif flag.kind in _BY_AMOUNT:
            found[flag.id] = _ANOTHER
    return found


def let_go(work: Work, settled: Collection[int]) -> None:
    """What such flags held is free again."""
    if settled:
        for hold in Hold.select().where(Hold.flag.in_(list(settled)) & Hold.lifted_at.is_null()):
            lift(work, hold)


def _gone(ends: Mapping[int, tuple[int | None, bool]]) -> set[int]:
    return {end for end, stands in ends.values() if end is not None and not stands}


def _end(pot: int, deed: int, cancelled: dict[tuple[int, int], int | None]) -> tuple[int | None, bool]:
    """The last deed that changed the pour of a deed, if one did, and whether a pour stands in its place."""
    last: int | None = None
    while (pot, deed) in cancelled:
        by = cancelled[pot, deed]
        if by is None:
            return last, True
        last = deed = by
    return last, False
