"""A recall on paper: the pick-up list with all that it reaches, and a letter for each customer; the shop's own."""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from service.operations.door.refusals import UnknownThing
from service.operations.door.shop import the_site
from service.operations.ledger.recall import (
    NOBODY,
    RecallView,
    every_piece,
    letters_of,
    read_recall,
    shipped_pieces,
)
from service.operations.ledger.recall_links import is_on_hold, links_of
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


@dataclass(frozen=True, slots=True)
class RecallLetter:
    """What one customer is written: their own pieces, and nothing of anybody else."""

    kind: str
    recall: int
    customer: str
    reason: str
    pieces: tuple[tuple[str, str], ...]
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
    theirs: dict[str, list[tuple[str, str]]] = {name: [] for name in letters_of(recall)}
    for piece in shipped_pieces(recall):
        theirs.setdefault(piece.customer or NOBODY, []).append((piece.code, piece.name))
    return tuple(_letter(view, name, pieces, site) for name, pieces in theirs.items() if pieces)


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
    pieces = [(piece.code, piece.name) for piece in shipped_pieces(recall, name)]
    if not pieces:
        raise UnknownThing(
            f"{name} has nothing of recall {recall} any more, so there is no letter {place}.",
            way_out="What was written before is among the papers of the recall.",
        )
    return _letter(view, name, pieces, site)


def _letter(view: RecallView, name: str, pieces: Iterable[tuple[str, str]], site: Site) -> RecallLetter:
    return RecallLetter("recall letter", view.id, name, view.reason, tuple(pieces), site.name, site.zone)
