"""A recall on paper: the pick-up list with all that it reaches, and a letter for each customer; the shop's own."""

from dataclasses import dataclass, field, replace

from service.operations.door.refusals import UnknownThing
from service.operations.door.shop import the_site
from service.operations.ledger.recall import (
    NOBODY,
    RecallView,
    every_piece,
    is_on_hold,
    links_of,
    read_recall,
    shipped_pieces,
)


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
    """A letter for each customer to whom something was shipped, in the order of their names."""
    site, view = the_site(), read_recall(recall)
    sent = shipped_pieces(recall)
    return tuple(
        RecallLetter(
            "recall letter",
            view.id,
            customer,
            view.reason,
            tuple((p.code, p.name) for p in sent if (p.customer or NOBODY) == customer),
            site.name,
            site.zone,
        )
        for customer in view.customers
    )


def recall_letter(recall: int, place: int) -> RecallLetter:
    """The letter to one of the customers, the first with 1."""
    letters = recall_letters(recall)
    if not 1 <= place <= len(letters):
        raise UnknownThing(
            f"Recall {recall} has {len(letters)} letters; there is no letter {place}.",
            way_out="Read the recall: its customers stand in their order.",
        )
    return letters[place - 1]
