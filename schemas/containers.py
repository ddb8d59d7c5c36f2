"""Cans, drums, bottles, jugs and rolls."""

from schemas.base import ActIn, PageIn
from schemas.fields import Code, Grams, Text, Whole, Word, Yes, held_or_free, taken_despite
from schemas.words import ContainerState, MaterialKind


class DecantIn(ActIn):
    mass_g = Grams(required=True)
    into = Code("C", metadata={"description": "A container that is filled up again; a new one if left out."})
    tare_g = Grams()
    place = Code("A")
    cleaned = Yes(metadata={"description": "The container was emptied and cleaned before."})
    blend = Yes(metadata={"description": "Two lots are put together on purpose: a new code, the earliest date of all."})
    vented = Yes(metadata={"description": "A peroxide goes into its supplier's vented type of container."})
    happened = Yes(metadata={"description": "It was done already, though it should not: recorded, and held."})


class WeighBackIn(ActIn):
    gross_g = Grams(required=True)
    tare_g = Grams(metadata={"description": "Of the empty container; that of its pack, as far as known, if left out."})
    read_back_g = Grams(metadata={"description": "The gross figure again, if it is more than the container holds."})


class ScrapIn(ActIn):
    method = Text(required=True, longest=200)
    despite_reservation = taken_despite()


class ContainerQuery(PageIn):
    material = Whole(1)
    kind = Word(MaterialKind)
    lot = Code("L")
    place = Code("A")
    state = Word(ContainerState)
    on_hold = held_or_free()


class MoveIn(ActIn):
    place = Code("A", required=True)
    happened = Yes(metadata={"description": "It stands there already, though it should not: recorded, and held."})
