"""Heads that were kept elsewhere, beside the account as it is: does it continue from them?

A head that the account does not have shows that something was cut off, or that the journal was written anew, however
well its chain may hold by itself. What is numbered after a head was written after it: an earlier time is dated back.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from service.database import row_by_row, rows_of
from service.operations.door.entry import CLOCK_SKEW
from service.operations.ledger.sealed import NotAHead, SignedHead, printed, proved
from service.records.base import instant, microseconds


@dataclass(frozen=True, slots=True)
class Anchor:
    """A head from elsewhere: its number, its hash or as much of it as was printed, and what a file says besides."""

    where: str
    number: int
    figures: str
    at: datetime | None = None
    founding: str | None = None
    public_key: str | None = None

    @classmethod
    def of(cls, where: str, signed: SignedHead) -> "Anchor":
        head = signed.head
        return cls(where, head.number, head.hash, head.at, head.founding, signed.public_key)


@dataclass(frozen=True, slots=True)
class Amiss:
    """What does not hold of a head, with the number of its entry."""

    number: int
    sentence: str


def compare_heads(anchors: Sequence[Anchor], *, public_key: str | None) -> Iterator[Amiss]:
    """What of the heads from elsewhere and of those that are kept here does not agree with the account."""
    ((last,),) = rows_of("SELECT COALESCE(MAX(seq), 0) FROM entry")
    for anchor in anchors:
        yield from _compare(anchor, last, public_key)
    yield from _kept(public_key)


def _compare(anchor: Anchor, last: int, public_key: str | None) -> Iterator[Amiss]:
    known = dict(rows_of("SELECT seq, hash FROM entry WHERE seq IN (1, ?)", anchor.number))
    name = f"The head {printed(anchor.number, anchor.figures)} ({anchor.where})"
    if anchor.founding is not None and known.get(1) != anchor.founding:
        yield Amiss(anchor.number, f"{name} is of another account, or this one's first entry is not what it was.")
        return
    if anchor.number > last:
        cut = f"The account does not continue from it: its journal ends at entry {last}, so something was cut off"
        yield Amiss(anchor.number, f"{name} is not in the account. {cut}{_restored(last)}")
        return
    if not known.get(anchor.number, "").startswith(anchor.figures):
        yield Amiss(
            anchor.number,
            f"{name} has another hash here: the account does not continue from it, so what came up to entry"
            f" {anchor.number} is not what it was{_restored(anchor.number)}",
        )
        return
    if anchor.public_key is not None and public_key is not None and anchor.public_key != public_key:
        yield Amiss(anchor.number, f"{name} is signed with another key than this machine's.")
    if anchor.at is not None:
        yield from _dated_back(anchor.number, anchor.at, name)


def _restored(last: int) -> str:
    """Whether it was said that the account was restored, which looks the same."""
    found = rows_of(
        "SELECT e.seq, d.why FROM entry e JOIN deed d ON d.id = e.deed_id"
        " WHERE d.operation = 'declare_restored' AND d.refused IS NULL ORDER BY e.seq DESC LIMIT 1"
    )
    if not found:
        return "."
    ((seq, why),) = found
    return f"; or it was restored from an older copy, which entry {seq} says ({why})."


def _dated_back(number: int, at: datetime, name: str) -> Iterator[Amiss]:
    before = microseconds(at - CLOCK_SKEW)
    ((first, count),) = rows_of(
        "SELECT MIN(e.seq), COUNT(*) FROM entry e JOIN deed d ON d.id = e.deed_id"
        " WHERE e.seq > ? AND d.recorded_at < ?",
        number,
        before,
    )
    if count:
        several = f"{count} entries after it bear" if count > 1 else "an entry after it bears"
        yield Amiss(
            number, f"{name} was signed on {at:%-d %b %Y %H:%M} UTC; {several} an earlier time, from {first} on."
        )


def _kept(public_key: str | None) -> Iterator[Amiss]:
    """The heads that the account keeps itself: each as it was signed, and of an entry that is there."""
    rows = row_by_row(
        "SELECT s.number, s.hash, s.sealed_at, s.head, s.signature, s.public_key, e.hash, f.hash FROM sealed_head s"
        " LEFT JOIN entry e ON e.seq = s.number LEFT JOIN entry f ON f.seq = 1 ORDER BY s.number"
    )
    for number, digest, sealed_at, text, signature, key, here, founding in rows:
        try:
            said = proved(text, signature, key).head
        except NotAHead as wrong:
            yield Amiss(number, f"The head {number} that is kept is no head. {wrong}")
            continue
        same_time = abs(said.at - instant(sealed_at)) < timedelta(seconds=1)
        if (said.number, said.hash) != (number, digest) or not same_time:
            yield Amiss(number, f"The head {number} that is kept says something else than was signed.")
        if said.hash != here or said.founding != founding:
            yield Amiss(
                number, f"The account does not continue from the head {printed(number, said.hash)} that it keeps."
            )
        if public_key is not None and key != public_key:
            yield Amiss(number, f"The head {number} that is kept is signed with another key than this machine's.")
