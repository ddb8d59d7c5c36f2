"""A recall on paper: the pick-up list with all that it reaches, and a letter for each customer; the shop's own."""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import date

from service.operations.door.refusals import UnknownThing
from service.operations.door.shop import the_site
from service.operations.ledger.recall import RecallView, letters_of, read_recall
from service.operations.ledger.recall_links import is_on_hold, links_of
from service.operations.ledger.recall_pieces import NOBODY, RecallPieceView, every_piece, shipped_pieces, the_same
from service.records.people import Site
from service.reports.wording import plural


@dataclass(frozen=True, slots=True)
class RecallPaper:
    """The pick-up list: the recall as it stands, and what went into what among its pieces."""

    kind: str
    recall: RecallView
    links: tuple[tuple[str, str], ...]
    shop: str
    zone: str
    # For the drawing alone: whether the lot itself is on hold, which is none of the pieces.
    lot_on_hold: bool = field(default=False, metadata={"document": False})

    @property
    def code(self) -> str:
        return str(self.recall.id)


Delivery = tuple[date | None, str | None, str | None]
"""When a part was shipped, with which paper, for which order."""


@dataclass(frozen=True, slots=True)
class LetterPart:
    """A part in a letter, with all by which its customer may look it up."""

    code: str
    name: str
    part_number: str | None
    serial: str | None
    shipped_on: date | None
    shipped_with: str | None
    order: str | None

    @property
    def delivery(self) -> Delivery:
        return self.shipped_on, self.shipped_with, self.order


@dataclass(frozen=True, slots=True)
class RecallLetter:
    """What one customer is written: their own pieces, and nothing of anybody else."""

    kind: str
    recall: int
    customer: str
    reason: str
    pieces: tuple[LetterPart, ...]
    shop: str
    zone: str

    @property
    def code(self) -> str:
        return str(self.recall)


def recall_paper(recall: int) -> RecallPaper:
    """All that the pick-up list says, every piece in it; of papers that were issued it says nothing."""
    site = the_site()
    whole = replace(read_recall(recall), pieces=every_piece(recall), papers=())
    return RecallPaper("pick-up list", whole, links_of(recall), site.name, site.zone, is_on_hold(whole.item))


def recall_letters(recall: int) -> tuple[RecallLetter, ...]:
    """A letter for each customer who has something of it, in the order of their numbers."""
    site, view = the_site(), read_recall(recall)
    theirs: dict[str, tuple[str, list[RecallPieceView]]] = {}
    for name in letters_of(recall):
        theirs.setdefault(the_same(name), (name, []))
    for piece in shipped_pieces(recall):
        name = piece.customer or NOBODY
        theirs.setdefault(the_same(name), (name, []))[1].append(piece)
    return tuple(_letter(view, name, pieces, site) for name, pieces in theirs.values() if pieces)


def some_letters(recall: int) -> tuple[RecallLetter, ...]:
    """The same for a table, which is none without a row."""
    letters = recall_letters(recall)
    if not letters:
        raise UnknownThing(
            f"Nothing that recall {recall} reaches is with a customer, so there are no letters.",
            way_out="The pick-up list has all that it reaches.",
        )
    return letters


def recall_letter(recall: int, place: int) -> RecallLetter:
    """The letter to one of the customers, the first with 1; its number stays theirs."""
    site, view = the_site(), read_recall(recall)
    names = letters_of(recall)
    if not 1 <= place <= len(names):
        raise UnknownThing(
            f"Recall {recall} has {plural(len(names), 'letter')}; there is no letter {place}.",
            way_out="Read the recall: its customers stand in their order.",
        )
    name = names[place - 1]
    spelled = [one for one in names if the_same(one) == the_same(name)]
    first = names.index(spelled[0]) + 1
    if first != place:
        raise UnknownThing(
            f"{name} is {spelled[0]} in other letters, so there is no letter {place}.",
            way_out=f"Letter {first} has all that they have.",
        )
    pieces = shipped_pieces(recall, *spelled)
    if not pieces:
        raise UnknownThing(
            f"{name} has nothing of recall {recall} any more, so there is no letter {place}.",
            way_out="What was written before is among the papers of the recall.",
        )
    return _letter(view, name, pieces, site)


def _letter(view: RecallView, name: str, pieces: Iterable[RecallPieceView], site: Site) -> RecallLetter:
    parts = (LetterPart(p.code, p.name, p.part_number, p.serial, p.shipped_on, p.shipped_with, p.order) for p in pieces)
    return RecallLetter("recall letter", view.id, name, view.reason, tuple(parts), site.name, site.zone)
