"""What a tool was used on and what somebody did, within a time, as the beginning of a recursive statement.

A pot notes a scale and who weighed once, when it first had to do with them. Which of its pours was before a time and
which was after it, each pour says itself; an addition has no scale of its own, so it counts with those of its pot.
"""

from collections.abc import Iterable
from typing import Any

from schemas.words import MovementKind
from service.database import each
from service.operations.door.acts import ACTS

# What was noted with the thing itself is the same work as its movement tells of: one task, two words.
THE_SAME_TASK = {
    "weighed by": "weighed",
    "laid by": "laid plies",
    "lay-up closed by": "closed the lay-up",
    "started by": "started the cure",
}
AT_FIRST, AT_LAST = -(2**62), 2**62
"""Before and after any time that there is."""

STANDS = "m.source_id IS NOT NULL AND m.target_id IS NOT NULL AND m.cancelled_by_id IS NULL"
"""Of a movement, that it tells what somebody did to what it went into."""

Selected = tuple[str, tuple[Any, ...]]
"""A statement that selects items, and its values."""


def used_on(tool: int, first: int, last: int) -> Selected:
    """The items that a scale, mould or place was used on within that time."""
    within = "{0}.occurred_at >= ? AND {0}.occurred_at <= ?"
    noted = f"SELECT w.item_id FROM made_with w WHERE w.used_id = ? AND {within.format('w')}"
    weighed = f"SELECT r.mix_id FROM pour r WHERE r.scale_id = ? AND {within.format('r')}"
    added = (
        f"SELECT w.item_id FROM made_with w {each('movement', 'm', 'm.target_id IN (w.item_id)')} WHERE w.used_id = ?"
        f" AND m.kind = '{MovementKind.ADDITION}' AND m.cancelled_by_id IS NULL AND {within.format('m')}"
    )
    return f"{noted} UNION {weighed} UNION {added}", (tool, first, last) * 3


def done_by(person: int, tasks: Iterable[str], first: int, last: int) -> Selected:
    """The items that somebody did one of these tasks to within that time."""
    words = said_alike(tasks)
    noted = (
        f"SELECT w.item_id FROM made_with w WHERE w.person_id = ? AND w.role IN ({', '.join('?' for _ in words)})"
        " AND w.occurred_at >= ? AND w.occurred_at <= ?"
    )
    moved = (
        f"SELECT m.target_id FROM deed d {moved_in(words)} WHERE d.person_id = ? AND {STANDS}"
        " AND m.occurred_at >= ? AND m.occurred_at <= ?"
    )
    return f"{noted} UNION {moved}", (person, *words, first, last, person, first, last)


def said_alike(tasks: Iterable[str]) -> tuple[str, ...]:
    """These tasks, each by all the words that it has.

    >>> said_alike(["weighed"])
    ('weighed', 'weighed by')
    """
    asked = set(tasks)
    return tuple(sorted(asked.union(*({noted, did} for noted, did in THE_SAME_TASK.items() if {noted, did} & asked))))


def moved_in(words: Iterable[str]) -> str:
    """The movements of deeds by which one of these tasks is done, in the words in which a report names it."""
    wanted = set(words)
    acts = ", ".join(f"'{name}'" for name, act in ACTS.items() if act.did in wanted) or "''"
    return each("movement", "m", f"m.deed_id = d.id AND d.operation IN ({acts})")
