"""What a recall reaches now and did not when it was opened, and what a correction has taken out of its reach since.

A pot that was being weighed goes into a part; an entry comes late; a can arrives of the lot. All of that is held, as
what was made of a held thing is, but nobody goes to look for it before it is one of the pieces.
"""

from dataclasses import dataclass

from schemas.words import Kind
from service.database import each, rows_of
from service.operations.ledger.recalled import Root, reaching
from service.records.journal import Deed
from service.records.recalls import Recall

_MOST_NAMED = 100


@dataclass(frozen=True, slots=True)
class Changed:
    """The codes of both, the first hundred of each, and how many there are."""

    reached: tuple[str, ...]
    reached_count: int
    taken_back: tuple[str, ...]
    taken_back_count: int


def root_of(row: Recall, name: str) -> Root:
    """What a recall is of; of a tool or a person what was done until it was entered, as these go on working."""
    kind = Kind(row.item.kind) if row.item is not None else None
    root = Root(row.item_id, row.person_id, row.task, name, kind, row.since, row.until)
    if root.goes_into_things or row.until is not None:
        return root
    entered = Deed.select(Deed.recorded_at).where(Deed.id == row.deed_id).scalar()
    return Root(row.item_id, row.person_id, row.task, name, kind, row.since, entered)


def changed_since(row: Recall, name: str) -> Changed:
    """What its pieces and what it reaches now do not have in common, in one statement."""
    prefix, given = reaching(root_of(row, name))
    had = "had(id) AS (SELECT item_id FROM recall_piece WHERE recall_id = ?)"
    rows = rows_of(
        f"{prefix}, {had} SELECT 1, i.id, i.code FROM piece {each('item', 'i', 'i.id = piece.id')}"
        " WHERE i.kind <> 'L' AND i.id NOT IN (SELECT id FROM had)"
        f" UNION ALL SELECT 0, i.id, i.code FROM had {each('item', 'i', 'i.id = had.id')}"
        " WHERE i.id NOT IN (SELECT id FROM piece) ORDER BY 2",
        *given,
        row.id,
    )
    reached, back = ([code for which, _, code in rows if which == one] for one in (1, 0))
    return Changed(tuple(reached[:_MOST_NAMED]), len(reached), tuple(back[:_MOST_NAMED]), len(back))
