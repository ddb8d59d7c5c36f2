"""How a part was scrapped: as what, how it was made unusable, when and by whom."""

import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from schemas.words import MovementKind, ScrappedAs, State
from service.operations.door.formerly import called_then
from service.records.base import as_word
from service.records.items import Item, Movement
from service.records.journal import Deed, Entry
from service.records.people import Person


@dataclass(frozen=True, slots=True)
class ScrappingView:
    """How a part was scrapped.

    Attributes
    ----------
    scrapped_as
        As what; before anybody could say so, all that was scrapped had failed.
    method
        How it was made unusable, or why a nonconformance was decided so.
    """

    scrapped_as: ScrappedAs
    method: str | None
    occurred_at: datetime
    by: str


def scrapping_of(item: int, code: str) -> ScrappingView | None:
    """How this part was scrapped, as it stands; how it was made unusable is said in the journal alone."""
    rows: Any = (
        Movement.select(
            Movement.purpose, Movement.occurred_at, Deed.corrects, Entry.body,
            called_then(Person, Deed.occurred_at).alias("by"),
        )
        .join(Deed, on=(Movement.deed == Deed.id))
        .join(Person)
        .join_from(Deed, Entry, on=(Entry.deed == Deed.id))
        .where(_booked_out(item))
        .order_by(Movement.id.desc())
    )  # fmt: skip
    newest = rows.tuples().first()
    if newest is None:
        return None
    said, at, corrects, body, by = newest
    method = _method(body, code)
    # What stands again since a correction was taken back is booked under that entry; the first one says how.
    while method is None and corrects is not None:
        earlier = Deed.select(Deed.corrects, Entry.body).join(Entry, on=(Entry.deed == Deed.id))
        corrects, body = earlier.where(Deed.id == corrects).tuples().get()
        method = _method(body, code)
    return ScrappingView(as_word(ScrappedAs, said or ScrappedAs.FAILED), method, at, by)


def was_tested(item: Item) -> bool:
    """Whether a part was scrapped because it was sectioned or tested."""
    as_tested = _booked_out(item.id) & (Movement.purpose == ScrappedAs.TESTED)
    return item.state == State.SCRAPPED and Movement.select().where(as_tested).exists()


def _booked_out(item: int) -> Any:
    return (Movement.source == item) & Movement.cancelled_by.is_null() & (Movement.kind == MovementKind.SCRAP)


def _method(body: str, code: str) -> str | None:
    notes = json.loads(body).get("notes", ())
    return next((note["scrapped"] for note in notes if note.get("part") == code and "scrapped" in note), None)
