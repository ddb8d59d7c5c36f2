"""The parts that are compared and what each was made of: the rows that outcomes, factors and numbers are read from.

The parts and all that they were made of are tables within each statement; only what tells them apart comes back.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any, NamedTuple

from schemas.words import Kind
from service.database import SCRATCH, database, each, each_or_none, on_postgresql, rows_of, scratch, scratch_table
from service.records.base import microseconds
from service.records.closures import steps
from service.records.parts import Part
from service.records.people import Site

WINDOW = timedelta(days=365)
MOST_PARTS = 2000


class PartOfTheTime(NamedTuple):
    """A part of the time that is compared."""

    id: int
    code: str
    name: str
    state: str
    place: str | None
    customer: str | None
    started_at: int
    released_at: int | None
    mass_mg: int | None
    part_number: str


# A movement into a part of the time or into something that one was made of: target, source, kind, when, who entered it
# by which act, and whether late. As the driver gives them: there are tens of thousands.
Moved = tuple[int, int, str, int, int, str, bool]
# From when until when parts are compared, and which is looked at: what stands first in every statement's values.
_Time = tuple[int, int, int]


@dataclass(frozen=True, slots=True)
class Rows:
    """The parts that are compared, what each was made of (itself with it), and which of them each thing reaches.

    Attributes
    ----------
    moved
        Without what came to a part only after its failure, once outcomes are known (`afterwards`).
    into
        The sources of all movements into a thing.
    failed_at
        When a part was first seen to have failed, like the one that is looked at where it did.
    reworked_at
        When something first went into it after that.
    """

    site: Site
    root: int
    time: _Time
    parts: dict[int, PartOfTheTime]
    upstream: dict[int, set[int]]
    reached: dict[int, set[int]]
    kinds: dict[int, str]
    moved: list[Moved]
    into: dict[int, set[int]]
    capped: bool
    code: dict[int, str]
    failed_at: dict[int, int] = field(default_factory=dict)
    reworked_at: dict[int, int] = field(default_factory=dict)

    def came_after(self, thing: int, at: int) -> bool:
        """That a part had been seen to have failed before this was done to it."""
        return thing in self.failed_at and at > self.failed_at[thing]

    def was_reworked(self, part: int, at: int) -> bool:
        """That something had gone into a part after its failure before this was found on it."""
        return at >= self.reworked_at.get(part, at + 1)

    def behind(self, things: Iterable[int]) -> set[int]:
        """These things and all that they were made of. What was poured back leads round: nothing is gone to twice."""
        seen = set(things)
        ahead = list(seen)
        for thing in ahead:
            for source in self.into.get(thing, ()):
                if source not in seen:
                    seen.add(source)
                    ahead.append(source)
        return seen

    def codes(self, parts: Iterable[int]) -> frozenset[str]:
        return frozenset(map(self.code.__getitem__, parts))

    def codes_with(self, things: Iterable[int]) -> frozenset[str]:
        """Of the parts that any of these things reaches."""
        return self.codes(set().union(*(self.reached[thing] for thing in things)))

    def of(self, sql: str, kind: Kind | None = None) -> list[tuple[Any, ...]]:
        """Rows about the parts of the time, the table `parts`, or about all that they were made of, `made`.

        Only what is of a ``kind`` is in `made`, where one is given: nobody looks for the pours of a roll.
        """
        return _about(self.time, sql, kind)


# The newest parts of the time, and the one that is looked at.
_OF_THE_TIME = (
    "parts(id) AS (SELECT item_id FROM (SELECT item_id FROM part WHERE started_at >= ? AND started_at <= ?"
    f" ORDER BY started_at DESC, item_id DESC LIMIT {MOST_PARTS}) newest UNION SELECT CAST(? AS BIGINT))"
)


def _made(name: str) -> str:
    """Composed when asked, not when this is imported: the account that is open then says for which engine."""
    return steps("SELECT id FROM parts", back=True, name=name)


# Some twenty statements ask about these. PostgreSQL lets nobody make a table while a snapshot is only read; there the
# closure stands in each of them.
_PUT_DOWN = {"parts": f"{SCRATCH}parts", "made": f"{SCRATCH}made"}


def _about(time: _Time, sql: str, kind: Kind | None = None) -> list[tuple[Any, ...]]:
    if on_postgresql():
        made = _made("made")
        if kind is not None:
            of_kind = each("item", "i", f"i.id = a.id AND i.kind = '{kind}'")
            made = f"{_made('all_made')}, made(id) AS (SELECT a.id FROM all_made a {of_kind})"
        return rows_of(f"WITH RECURSIVE {_OF_THE_TIME}, {made} {sql}", *time)
    # CTEs of these names, so that a table of the account is never mistaken for one of them.
    parts, made = _PUT_DOWN.values()
    only = "" if kind is None else f" WHERE kind = '{kind}'"
    return rows_of(f"WITH parts(id) AS (SELECT id FROM {parts}), made(id) AS (SELECT id FROM {made}{only}) {sql}")


@contextmanager
def rows_of_the_time(site: Site, root: int, at: datetime) -> Iterator[Rows]:
    """The parts that were started from a year before this one on, and what each was made of, for the block's length."""
    # A part that is only planned is compared as if it were begun now: nothing is in it yet.
    begun = microseconds((Part.get_by_id(root).started_at or at) - WINDOW)
    time = (begun, microseconds(at), root)
    with scratch(*(() if on_postgresql() else _PUT_DOWN.values())):
        if not on_postgresql():
            _put_down(time)
        yield _read_rows(site, root, time)


def _put_down(time: _Time) -> None:
    """What was found once is not looked for again."""
    parts, made = _PUT_DOWN.values()
    scratch_table(parts, "id INTEGER PRIMARY KEY")
    scratch_table(made, "id INTEGER, kind TEXT")
    database.execute_sql(f"INSERT INTO {parts} WITH {_OF_THE_TIME} SELECT id FROM parts", time)
    reach = steps(f"SELECT id FROM {parts}", back=True)
    # In their order: rows that lie beside one another are looked up sooner.
    kinds = f"SELECT reach.id, i.kind FROM reach {each('item', 'i', 'i.id = reach.id')} ORDER BY reach.id"
    database.execute_sql(f"INSERT INTO {made} WITH RECURSIVE {reach} {kinds}")


def _kinds(time: _Time) -> dict[int, str]:
    if on_postgresql():
        return dict(_about(time, f"SELECT made.id, i.kind FROM made {each('item', 'i', 'i.id = made.id')}"))
    return dict(rows_of(f"SELECT id, kind FROM {_PUT_DOWN['made']}"))


def _read_rows(site: Site, root: int, time: _Time) -> Rows:
    found = _about(
        time,
        f"SELECT i.id, i.code, i.name, i.state, a.name, p.customer, COALESCE(p.started_at, {time[1]}), p.released_at,"
        f" p.mass_mg, d.part_number FROM parts {each('part', 'p', 'p.item_id = parts.id')}"
        f" {each('item', 'i', 'i.id = parts.id')}"
        f" JOIN design d ON d.id = p.design_id {each_or_none('item', 'a', 'a.id = i.place_id')}"
        " ORDER BY p.started_at DESC, i.id DESC",
    )
    (of_the_time,) = rows_of("SELECT count(*) FROM part WHERE started_at >= ? AND started_at <= ?", *time[:2])
    # Each movement once, whoever asks about it.
    went = "m.target_id IN (made.id) AND m.source_id IS NOT NULL AND m.cancelled_by_id IS NULL"
    moved = _about(
        time,
        "SELECT m.target_id, m.source_id, m.kind, m.occurred_at, d.person_id, d.operation, d.late FROM made"
        f" {each('movement', 'm', went)} {each('deed', 'd', 'd.id = m.deed_id')}",
    )
    rows = Rows(
        site=site,
        root=root,
        time=time,
        parts={row[0]: PartOfTheTime(*row) for row in found},
        code={row[0]: row[1] for row in found},
        upstream={},
        reached=defaultdict(set),
        kinds=_kinds(time),
        moved=moved,
        into=defaultdict(set),
        capped=of_the_time[0] > MOST_PARTS,
    )
    for movement in moved:
        rows.into[movement[0]].add(movement[1])
    for part in rows.parts:
        rows.upstream[part] = rows.behind((part,))
        for thing in rows.upstream[part]:
            rows.reached[thing].add(part)
    return rows
