"""Rows that a step of the schema changed, named in entries of their own, so that they still follow from the journal.

A row that was not as the journal left it before the step is left alone: `potmark check` goes on naming it. An account
from before rows were bound has all its rows named here for the first time.
"""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime
from itertools import islice
from typing import Any

from service.database import bound_tables, key_as_text, put_down, row_by_row, rows_of, scratch, scratch_table
from service.operations.door import chain, entry
from service.operations.door.act import Act, by_the_machine
from service.records.bound import Whole, changes
from service.records.people import Site

# Rows as the journal left them before the step, with their hash; others without one. And what is to be named.
_KEPT = "scratch_kept"
ANEW = "scratch_anew"
_AT_ONCE = 5000


@contextmanager
def marked_anew(steps: Sequence[str], at: datetime, *, had: Sequence[str]) -> Iterator[None]:
    """Name in the journal what the block does to rows: within one transaction, which it shares.

    The entry says which steps the schema had before these, too: none of them is ever named again.
    """
    with chain.scratch_marks(), scratch(_KEPT, ANEW):
        make_room()
        scratch_table(_KEPT, "tab TEXT, key TEXT, hash TEXT", key="tab, key")
        read_journal()
        if rows_of(f"SELECT 1 FROM {chain.LINKS} LIMIT 1"):
            for name, form in bound_tables().items():
                _keep(name, *form)
        yield
        for name, form in bound_tables().items():
            _compare(name, *form)
        write_entries(steps, at, had=had)


def make_room() -> None:
    scratch_table(ANEW, "tab TEXT, key TEXT, before TEXT, after TEXT")


def read_journal() -> None:
    """Put down what the journal says of all rows."""
    for _ in chain.read_chain():
        pass  # what is wrong there is for `potmark check` to say
    chain.link_marks()


def _keep(name: str, columns: tuple[str, ...], keys: tuple[str, ...]) -> None:
    read = Whole(columns, keys)
    joined = f"LEFT JOIN {chain.LINKS} m ON m.tab = '{name}' AND m.last = 1 AND m.key = {key_as_text(keys)}"
    rows = row_by_row(f'SELECT t.*, m.after FROM "{name}" t {joined}', at_once=100)
    as_left = ((name, str(read.key(row)), after if read.hash(row) == after else None) for *row, after in rows)
    put_down_all(_KEPT, as_left)


def _compare(name: str, columns: tuple[str, ...], keys: tuple[str, ...]) -> None:
    read, key = Whole(columns, keys), key_as_text(keys)
    joined = f"LEFT JOIN {_KEPT} k ON k.tab = '{name}' AND k.key = {key}"
    rows = row_by_row(f'SELECT t.*, k.key, k.hash FROM "{name}" t {joined}', at_once=100)
    hashed = ((row, known, before, read.hash(row)) for *row, known, before in rows)
    other = (
        (name, str(read.key(row)), before, now)
        for row, known, before, now in hashed
        if before != now and (known is None or before is not None)
    )
    put_down_all(ANEW, other)
    gone = f'SELECT key FROM {_KEPT} WHERE tab = ? AND hash IS NOT NULL EXCEPT SELECT {key} FROM "{name}" t'
    removed = row_by_row(
        f"SELECT k.key, k.hash FROM {_KEPT} k JOIN ({gone}) g ON g.key = k.key WHERE k.tab = ?", name, name
    )
    put_down_all(ANEW, ((name, key, before, None) for key, before in removed))


def put_down_all(table: str, rows: Iterator[tuple[Any, ...]]) -> None:
    while several := list(islice(rows, _AT_ONCE)):
        put_down(table, several)


def write_entries(steps: Sequence[str], at: datetime, *, had: Sequence[str] = ()) -> None:
    """As many entries as it takes, a few thousand rows in each, in the program's own name; one if no row is changed."""
    found = row_by_row(f"SELECT tab, key, before, after FROM {ANEW}")
    ((rows,),) = rows_of(f"SELECT COUNT(*) FROM {ANEW}")
    count = max(-(-rows // _AT_ONCE), 1)
    for number in range(1, count + 1):
        asked = {"steps": list(steps), "had": list(had), "number": number, "of": count}
        with changes() as changed:
            act, site = _in_whose_name(at)
            deed = entry.begin(act, "mark_anew", late_after_min=site.late_after_min)
            for mark in islice(found, _AT_ONCE):
                changed.saw(*mark)
            said = {"asked": asked, "notes": []}
            entry.seal(act, deed, "mark_anew", said, changed=changed, touched={}, zone=site.zone)


def _in_whose_name(at: datetime) -> tuple[Act, Site]:
    site = Site.select().order_by(Site.id).get()
    return by_the_machine(site.id, at, device="command line"), site
