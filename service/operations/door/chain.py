"""The journal's chain worked out again from its first entry, and what it says of every row put down to be compared.

All of it is streamed: entries come one by one, marks go into a temporary table, the database sorts them. So the memory
is the same for a year's account as for a day's.
"""

import hashlib
import json
from collections.abc import Iterator
from contextlib import contextmanager
from types import NoneType
from typing import Any, NamedTuple

from service.database import NotText, database, put_down, row_by_row, scratch, scratch_table
from service.operations.door.impossible import Impossibilities, Impossible
from service.operations.door.plain import plain
from service.operations.door.signers import Signers
from service.records.base import instant
from service.records.journal import Head

_MARKS = "scratch_mark"
# Of each row the last mark, and those whose "before" is not the "after" of the mark before it.
LINKS = "scratch_link"
_AT_ONCE = 5000
# What somebody wrote who is not this program must not keep the rest from being looked at.
UNREADABLE = (TypeError, ValueError, LookupError, AttributeError, ArithmeticError, NotText)

_DEED = ("deed", "operation", "person", "key", "system", "device", "site", "occurred_at", "recorded_at", "why")
_ENTRIES = """
    SELECT e.seq, e.previous, e.hash, e.body, e.deed_id, d.id, d.operation, d.person_id, d.key_id, d.system, d.device,
        d.site_id, d.occurred_at, d.recorded_at, d.why, d.refused
    FROM entry e LEFT JOIN deed d ON d.id = e.deed_id ORDER BY e.seq
"""


class Broken(NamedTuple):
    """An entry that is not as it was written, or is not there."""

    seq: int


class Unlike(NamedTuple):
    """A deed that says something else than its entry."""

    deed: int
    operation: str
    columns: tuple[str, ...]


class Unsigned(NamedTuple):
    """An entry of an act that a person signs, without a signature that holds; why it does not."""

    seq: int
    operation: str
    why: str


@contextmanager
def scratch_marks() -> Iterator[None]:
    """The temporary tables, for the length of the block. A snapshot in which nothing is written has to find them."""
    with scratch(_MARKS, LINKS):
        scratch_table(_MARKS, "tab TEXT, key TEXT, seq BIGINT, before TEXT, after TEXT")
        linked = "tab TEXT, key TEXT, seq BIGINT, after TEXT, last INTEGER, broken INTEGER, prior BIGINT"
        scratch_table(LINKS, linked, key="tab, key, seq")
        yield


def read_chain(*, signers: Signers | None = None) -> Iterator[Broken | Unlike | Unsigned | Impossible]:
    """Go through all entries; put down what each says of rows; tell the first that does not hold, and odd deeds.

    Where ``signers`` are known, each signature that an entry has to bear is proved. Entries that no act has written are
    told, too.
    """
    previous, expected, broken = "", 1, False
    marks: list[tuple[Any, ...]] = []
    impossible = Impossibilities()
    for seq, before, digest, body, deed, *of_deed in row_by_row(_ENTRIES):
        if not broken:
            honest = hashlib.sha256(f"{previous}{body}".encode(errors="replace")).hexdigest()
            broken = not isinstance(body, str) or seq != expected or before != previous or digest != honest
            if broken:
                yield Broken(seq)
            previous, expected = digest, seq + 1
        said = read_body(body)
        operation = str(said.get("operation"))
        try:
            put = list(_marks(seq, said))
            other = _unlike(said, of_deed) if of_deed[0] is not None else ()
            amiss = signers.amiss(seq, said) if signers is not None else None
            why = list(impossible.of(seq, said))
        except UNREADABLE:
            put, other, amiss, why = [], (), None, ["it is not written as this program writes"]
        if of_deed[0] is None:
            why.append("no deed stands behind it")
        elif other or of_deed[0] != deed:
            yield Unlike(deed, str(of_deed[1]), other)
        if amiss is not None:
            yield Unsigned(seq, operation, amiss)
        yield from (Impossible(seq, operation, one) for one in why)
        marks += put
        if len(marks) >= _AT_ONCE:
            put_down(_MARKS, marks)
            marks.clear()
    put_down(_MARKS, marks)
    head = Head.get_by_id(1)
    if not broken and (head.seq != expected - 1 or head.hash != previous):
        yield Broken(expected)


def link_marks() -> None:
    """Put the marks of each row in order, and keep of them what is to be looked at."""
    database.execute_sql(
        f"""INSERT INTO {LINKS} SELECT tab, key, seq, after, CASE WHEN next IS NULL THEN 1 ELSE 0 END,
            CASE WHEN COALESCE(before, '') <> COALESCE(former, '') THEN 1 ELSE 0 END, prior
        FROM (
            SELECT tab, key, seq, before, after, LAG(after) OVER one AS former, LAG(seq) OVER one AS prior,
                LEAD(seq) OVER one AS next
            FROM {_MARKS} WINDOW one AS (PARTITION BY tab, key ORDER BY seq)
        ) AS links
        WHERE next IS NULL OR COALESCE(before, '') <> COALESCE(former, '') ORDER BY tab, key, seq"""
    )
    database.execute_sql(f"ANALYZE {LINKS}")


def _marks(seq: int, said: dict[str, Any]) -> Iterator[tuple[Any, ...]]:
    rows = said.get("rows")
    for table, marks in (rows or {}).items():
        if len({str(key) for key, *_ in marks}) != len(marks):
            raise ValueError(f"entry {seq} names a row of {table} twice")
        for key, before, after in marks:
            if not {type(before), type(after)} <= {str, NoneType}:
                raise ValueError(f"entry {seq} has no hash of {table} {key}")
            yield table, str(key), seq, before, after


def _unlike(said: dict[str, Any], of_deed: list[Any]) -> tuple[str, ...]:
    *facts, refused = of_deed
    kept = {name: plain(_as_instant(name, fact)) for name, fact in zip(_DEED, facts, strict=True)}
    # Entries of the first versions do not name the key.
    other = [name for name in _DEED if said.get(name) != kept[name] and (name != "key" or name in said)]
    if (said.get("refused") or {}).get("kind") != refused:
        other.append("refused")
    return tuple(other)


def _as_instant(name: str, fact: Any) -> Any:
    return instant(fact) if name.endswith("_at") and isinstance(fact, int) else fact


def read_body(body: str) -> dict[str, Any]:
    """What an entry says; nothing if it is not as it was written."""
    try:
        said = json.loads(body)
    except (ValueError, TypeError, RecursionError):
        return {}
    return said if isinstance(said, dict) else {}
