"""What an act leaves in the journal: its deed as it begins, its entry as it ends."""

import hashlib
from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import orjson
import rfc8785
from peewee import chunked

from service.database import database, locked, worded
from service.operations.door.act import Act
from service.operations.door.expected import require_still
from service.operations.door.plain import plain
from service.operations.door.refusals import ClockSetBack
from service.records.bound import Changes, Mark
from service.records.items import Touched
from service.records.journal import Deed, Entry, Head

# A tablet's clock may run a little ahead of the server's.
CLOCK_SKEW = timedelta(minutes=2)


AT_ONCE = 100
"""Rows of one statement at most: a look-back or a failed check may stop any number of items."""


def begin(act: Act, name: str, *, late_after_min: int, refused: str | None = None) -> int:
    """Write the deed, which the act's rows point to; its number."""
    return int(
        Deed.insert(
            operation=name,
            person=act.person,
            key=act.key,
            system=act.system,
            device=act.device,
            site=act.site,
            occurred_at=act.occurred_at,
            recorded_at=act.recorded_at,
            late=act.recorded_at - act.occurred_at > timedelta(minutes=late_after_min),
            why=act.why,
            refused=refused,
        ).execute()
    )


def seal(
    act: Act, deed: int, name: str, said: Mapping[str, Any], *, changed: Changes, touched: Mapping[int, str], zone: str,
    signs: str | None = None,
) -> int:  # fmt: skip
    """Write the journal's entry, last of all, under the lock of the head. It names every row that the act wrote.

    Its number is returned. Parts and lots whose answers it changed are told to who follows: under the same lock, so
    that what another act has just put into one of them is seen by one of the two.

    What its doer ``signs`` with it is signed over all that the entry says: what was asked, each row before and after.
    """
    for some in chunked(touched, AT_ONCE):
        Touched.insert_many([{"deed": deed, "item": item} for item in some]).execute()
    head = locked(Head.select()).get()
    # What was built with times of its own (the invented workshop) came in by no key.
    if act.key is not None and head.at is not None and act.recorded_at < head.at - CLOCK_SKEW:
        raise ClockSetBack(
            f"This machine's clock says {stated(act.recorded_at, zone)}, but the last entry of the journal was "
            f"written on {stated(head.at, zone)}.",
            way_out="Nothing is recorded until the clock is right; note it on paper meanwhile.",
        )
    if act.expects is not None:
        require_still(act.expects)
    seq = head.seq + 1
    facts = {
        "seq": seq,
        "deed": deed,
        "operation": name,
        "person": act.person,
        "system": act.system,
        "device": act.device,
        "key": act.key,
        "site": act.site,
        "occurred_at": plain(act.occurred_at),
        "recorded_at": plain(act.recorded_at),
        "why": act.why,
        "items": list(touched.values()),
        **said,
    }
    rows = _by_table(changed.seal())
    if signs is not None and act.signing is not None:
        facts["signs"] = {"key": act.signing.key, "meaning": signs}
        facts["signature"] = act.signing.sign({**facts, "rows": rows})
    body = _with_rows(facts, rows)
    digest = hashlib.sha256((head.hash + body).encode()).hexdigest()
    Entry.insert(seq=seq, deed=deed, previous=head.hash, hash=digest, body=body).execute()
    Head.update(seq=seq, hash=digest, at=max(act.recorded_at, head.at or act.recorded_at)).where(Head.id == 1).execute()
    if changed.concerned:
        for text, values in changed.concerned.telling(seq):
            database.execute_sql(worded(text), values)
    return seq


def stated(at: datetime, zone: str) -> str:
    """A time as the shop's clock shows it."""
    return f"{at.astimezone(ZoneInfo(zone)):%-d %b %Y %H:%M}"


def _by_table(marks: Iterable[Mark]) -> dict[str, list[Any]]:
    rows: dict[str, list[Any]] = {}
    for table, *mark in marks:
        rows.setdefault(table, []).append(mark)
    return rows


def _with_rows(facts: Mapping[str, Any], rows: Mapping[str, list[Any]]) -> str:
    """The body in canonical JSON (RFC 8785), with ``rows``: {table: [[key, hash before, hash after], …]}.

    Canonical JSON has its names in order, so the rows, of which there are many and which are plain, are written by a
    faster writer and set into their place.
    """
    before, after = (
        rfc8785.dumps({name: fact for name, fact in facts.items() if (name < "rows") is first}).decode()
        for first in (True, False)
    )
    return f'{before[:-1]},"rows":{orjson.dumps(rows, option=orjson.OPT_SORT_KEYS).decode()},{after[1:]}'
