"""What a signer does before it signs: it works out again what was written since its own last head.

It believes nothing that the account says of itself: not its head, not its hashes. A journal that was written anew is
never signed, since it does not continue what the signer itself has signed before.
"""

import hashlib
import json
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, NamedTuple

from service.operations.ledger.sealed import IssuedDocument, JournalHead, printed

# What is written by the signing itself, after which there is nothing new to sign.
_OWN = "keep_head"


class ChainEntry(NamedTuple):
    """An entry as it was handed over."""

    seq: int
    hash: str
    body: str


Entries = Callable[[int], Iterator[ChainEntry]]


class CannotContinue(Exception):
    """The journal does not continue what was signed before; the sentence says where."""


@dataclass
class _Walk:
    """How far the entries were followed."""

    number: int
    hash: str
    founding: str | None = None
    documents: list[IssuedDocument] = field(default_factory=list)
    news: bool = False
    restored: bool = False


def next_head(entries: Entries, own: Sequence[JournalHead], *, at: datetime) -> JournalHead | None:
    """The head to be signed at ``at``, or nothing if nothing was written since the last of one's ``own``.

    ``entries(number)`` gives what follows that number. After a restore that the journal itself tells of, the newest of
    one's own heads that still holds is continued, and those that do not are named as abandoned.
    """
    if not own:
        walk = _follow(entries, 0, "")
        if walk.number == 0 or walk.founding is None:
            raise CannotContinue("the journal has no entries.")
        return _head(walk, walk.founding, None, (), at)
    for place in range(len(own) - 1, -1, -1):
        last, abandoned = own[place], tuple(head.number for head in own[place + 1 :])
        if not _has(entries, last):
            continue
        walk = _follow(entries, last.number, last.hash)
        if abandoned and not walk.restored:
            break
        return _head(walk, last.founding, last, abandoned, at) if walk.news or abandoned else None
    last = own[-1]
    raise CannotContinue(
        f"the journal does not continue from head {printed(last.number, last.hash)}, signed on {last.at:%-d %b %Y}. "
        "It was cut, written anew, or restored from an older copy; for the last of these, `potmark restored --why` "
        "says so in the journal."
    )


def _has(entries: Entries, head: JournalHead) -> bool:
    first = next(entries(head.number - 1), None)
    return first is not None and (first.seq, first.hash) == (head.number, head.hash)


def _head(
    walk: _Walk, founding: str, before: JournalHead | None, abandoned: tuple[int, ...], at: datetime
) -> JournalHead:
    return JournalHead(
        number=walk.number,
        hash=walk.hash,
        at=at,
        founding=founding,
        before=None if before is None else (before.number, before.hash),
        documents=tuple(walk.documents),
        abandoned=abandoned,
    )


def _follow(entries: Entries, number: int, digest: str) -> _Walk:
    walk = _Walk(number, digest)
    for entry in entries(number):
        honest = hashlib.sha256((walk.hash + entry.body).encode()).hexdigest()
        if entry.seq != walk.number + 1 or entry.hash != honest:
            raise CannotContinue(
                f"entry {walk.number + 1} of the journal is missing, or does not follow from the last."
            )
        walk.number, walk.hash = entry.seq, honest
        walk.founding = walk.founding or honest
        said = _read(entry)
        walk.news |= said.get("operation") != _OWN
        walk.restored |= said.get("operation") == "declare_restored" and "refused" not in said
        walk.documents += _issued(said)
    return walk


def _read(entry: ChainEntry) -> dict[str, Any]:
    try:
        said = json.loads(entry.body)
        if isinstance(said, dict) and said.get("seq") == entry.seq:
            return said
    except ValueError:
        pass
    raise CannotContinue(f"entry {entry.seq} of the journal cannot be read.")


def _issued(said: dict[str, Any]) -> Iterator[IssuedDocument]:
    for note in said.get("notes", ()):
        issued = note.get("issued")
        if isinstance(issued, dict):
            yield IssuedDocument(str(issued["document"]), int(issued["issue"]), str(issued["sha256"]))
