"""How far the labels of a lot's containers are: issued by fifties, so that somebody can see how many are left."""

from dataclasses import dataclass

from peewee import fn

from schemas.words import Kind, State
from service.operations.ledger import ledger
from service.records.items import Item, Label
from service.records.materials import Container


@dataclass(frozen=True, slots=True)
class LotLabels:
    """How many containers of a lot that are still here have a label that stands, and how many have none."""

    labelled: int
    waiting: int


def lot_labels(lot: str) -> LotLabels:
    """Counted over the containers that are sealed or open."""
    found = ledger.find(lot, Kind.LOT)
    stands = fn.EXISTS(Label.select(Label.id).where((Label.item == Item.id) & Label.void_at.is_null()))
    here = (
        Item.select()
        .join(Container, on=(Container.item == Item.id))
        .where((Container.lot == found.id) & Item.state.in_([State.SEALED, State.OPEN]))
    )
    labelled = here.where(stands).count()
    return LotLabels(labelled, here.count() - labelled)
