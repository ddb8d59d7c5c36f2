"""Flags that something later has settled: both stay to be read, and no concession is needed any more.

A test that failed and was repeated and passed is a finding that was answered, where waiting, warming or sealing heals
it, and nothing went on in between. A soft cup, a bag that lost its vacuum or a window that was missed never heals.
"""

from collections.abc import Iterable, Sequence
from datetime import timedelta

from schemas.words import Kind, MovementKind, State
from service.operations.door.shop import span
from service.operations.ledger.undone_pours import undone
from service.operations.parts.as_designed import KINDS as AS_DESIGNED
from service.operations.parts.as_designed import as_designed
from service.operations.parts.part import PartInHand
from service.records.items import Flag, Item
from service.records.parts import Part

# The flag of a cure whose evidence does not reach: the one that further evidence answers.
NOT_PROVED = "cure-not-proved"


def settled(held: PartInHand, flags: Sequence[Flag], items: dict[int, Item]) -> dict[int, str]:
    """For each flag that is settled, what settled it in a sentence. ``items`` are those that the flags are on."""
    return {flag.id: said for flag, said in _each(held, flags, items)}


def _each(held: PartInHand, flags: Sequence[Flag], items: dict[int, Item]) -> Iterable[tuple[Flag, str]]:
    compared = [flag for flag in flags if flag.kind in AS_DESIGNED]
    by_pour = undone(flags, {number for number, item in items.items() if item.kind == Kind.MIX})
    live = {f.sentence for f in as_designed(held).found} if any(f.item_id == held.item.id for f in compared) else set()
    released = _released({flag.item_id for flag in compared} - {held.item.id})
    for flag in flags:
        item = items[flag.item_id]
        if flag.id in by_pour:
            yield flag, by_pour[flag.id]
        elif flag.kind == NOT_PROVED and item.state == State.PASSED:
            yield flag, "The cure was proved by later evidence."
        elif flag.kind in AS_DESIGNED and item.id == held.item.id and flag.sentence not in live:
            yield flag, "What was recorded since has changed it."
        elif flag.kind in AS_DESIGNED and item.id in released:
            yield flag, f"{item.code} was released with it."
        elif item.id == held.item.id and flag.facts.get("heals"):
            said = _repeated(held, flag)
            if said is not None:
                yield flag, said


def _repeated(held: PartInHand, flag: Flag) -> str | None:
    """The same test, passed later in the same zone, before anything else was done that rests on it."""
    passed = [
        step
        for step in held.steps
        if step.kind.replace(" ", "-") == flag.kind
        and step.passed
        and step.occurred_at >= flag.occurred_at
        and step.deed_id > flag.deed_id
        and step.facts.get("zone") == flag.facts.get("zone")
    ]
    if not passed:
        return None
    first = min(step.occurred_at for step in passed)
    rests = (
        [cure.started_at for cure in held.cures]
        if flag.kind == "drop-test"
        else [m.occurred_at for m in held.inputs if m.kind in _RESTS_ON_THE_TEST]
    )
    if any(flag.occurred_at < at < first for at in rests):
        return None
    return f"It was repeated {span((first - flag.occurred_at) / timedelta(minutes=1))} later and passed."


_RESTS_ON_THE_TEST = (MovementKind.LAYING, MovementKind.APPLICATION)


def _released(parts: set[int]) -> set[int]:
    """Components whose own release has looked at all of it."""
    if not parts:
        return set()
    return {n for (n,) in Part.select(Part.item).where(Part.item.in_(parts) & Part.released_at.is_null(False)).tuples()}
