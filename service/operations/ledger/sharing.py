"""Which parts share what went into a part: every lot, container, kit, pot, cure and mould of it."""

from collections import defaultdict
from dataclasses import dataclass

from schemas.words import Kind, State
from service.database import each, listed, looked_up, row_by_row, rows_of
from service.operations.ledger import ledger
from service.operations.ledger.failing import failed_parts, scrapped_as_failed
from service.operations.ledger.trace import TracedItem, traced_items
from service.records.closures import steps
from service.records.items import Item

# Where a part stands, in the four words that a look at its sisters needs.
_IN_WORK = (State.LAYING, State.LAID_UP, State.CURING, State.CURED, State.DEMOULDED, State.TRIMMED)
_OUT = (State.SHIPPED, State.FITTED)
MOST_NAMED = 500
"""Of the parts that share one thing so many are named, the newest; all are counted."""


@dataclass(frozen=True, slots=True)
class SharedBy:
    """One thing that went into a part, and which other parts share it: all are counted, the newest 500 are named."""

    code: str
    kind: Kind
    name: str
    parts: int
    in_work: int
    finished: int
    shipped: int
    scrapped: int
    failed: int
    others: tuple[TracedItem, ...]


@dataclass(frozen=True, slots=True)
class Sharing:
    code: str
    shared: tuple[SharedBy, ...]


@dataclass(frozen=True, slots=True)
class Other:
    """Another part that shares something."""

    id: int
    code: str


@dataclass(frozen=True, slots=True)
class Shared:
    """One thing that went into a part, how many other parts share it by their state and failure, and the newest."""

    code: str
    kind: str
    name: str
    counts: dict[tuple[str, bool], int]
    newest: tuple[Other, ...]

    @property
    def parts(self) -> int:
        return sum(self.counts.values())

    @property
    def failed(self) -> int:
        return self.of(failed=True)

    def of(self, *states: str, failed: bool | None = None) -> int:
        """How many are in one of these states (in any, if none is given), and failed or not, if that is asked."""
        return sum(
            number
            for (state, is_failed), number in self.counts.items()
            if (not states or state in states) and (failed is None or failed == is_failed)
        )


# The part's upstream and what was used on it; and of each of these the parts that it reaches.
def _things() -> str:
    return (
        f"{steps('SELECT CAST(? AS BIGINT)', back=True, name='up')}"
        ", used(id) AS (SELECT DISTINCT used_id FROM made_with WHERE item_id = ? AND used_id IS NOT NULL)"
        ", thing(id) AS (SELECT id FROM up UNION SELECT id FROM used)"
    )


def _pairs() -> str:
    """Each thing with each other part that it reaches."""
    reached = steps("SELECT id, id FROM up WHERE id <> ?", back=False, also="root")
    used = f"SELECT u.id, w.item_id FROM used u {each('made_with', 'w', 'w.used_id = u.id')}"
    return (
        f"WITH RECURSIVE {_things()}, {reached}, pair(root, id) AS (SELECT root, id FROM reach UNION {used})"
        f", failed(id) AS ({failed_parts()})"
        f" SELECT p.root, i.id, i.state, f.id IS NOT NULL OR {scrapped_as_failed('i')} FROM pair p"
        f" {each('item', 'i', 'i.id = p.id')} LEFT JOIN failed f ON f.id = i.id"
        " WHERE i.kind = 'P' AND i.id <> ?"
    )


def shares(part: Item) -> list[Shared]:
    """What went into a part, in the order of its making, with how many other parts share each."""
    sql = (
        f"WITH RECURSIVE {_things()} SELECT i.id, i.code, i.kind, i.name FROM thing t"
        f" {each('item', 'i', 'i.id IN (t.id)')} WHERE i.kind <> 'P' ORDER BY i.id"
    )
    things = rows_of(sql, part.id, part.id)
    counts: dict[int, dict[tuple[str, bool], int]] = defaultdict(lambda: defaultdict(int))
    newest: dict[int, list[int]] = defaultdict(list)
    for root, other, state, failed in row_by_row(_pairs(), *[part.id] * 4):
        counts[root][state, bool(failed)] += 1
        latest = newest[root]
        latest.append(other)
        if len(latest) == 2 * MOST_NAMED:
            latest[:] = sorted(latest)[MOST_NAMED:]
    newest = {root: sorted(latest)[-MOST_NAMED:] for root, latest in newest.items()}
    codes = dict(
        rows_of(
            f"SELECT i.id, i.code FROM {looked_up()} {each('item', 'i', 'i.id = given.id')}",
            listed(set().union(*newest.values())),
        )
    )
    return [
        Shared(
            code, kind, name, dict(counts[thing]), tuple(Other(other, codes[other]) for other in newest.get(thing, ()))
        )
        for thing, code, kind, name in things
    ]


def read_sharing(code: str) -> Sharing:
    """Which other parts share each lot, container, kit, pot, cure and mould of this part, and where each is now.

    All of them are counted; of more than 500 that share one thing the newest 500 are named, and the trace forward of
    that thing names every one.
    """
    root = ledger.find(code, Kind.PART)
    shared = shares(root)
    rows = traced_items({other.id for thing in shared for other in thing.newest})
    return Sharing(code=root.code, shared=tuple(_shared_by(thing, rows) for thing in shared))


def _shared_by(thing: Shared, rows: dict[int, TracedItem]) -> SharedBy:
    return SharedBy(
        code=thing.code,
        kind=Kind(thing.kind),
        name=thing.name,
        parts=thing.parts,
        in_work=thing.of(*_IN_WORK),
        finished=thing.of(State.RELEASED),
        shipped=thing.of(*_OUT),
        scrapped=thing.of(State.SCRAPPED),
        failed=thing.failed,
        others=tuple(rows[other.id] for other in thing.newest),
    )
