"""The rows behind an account of one part: all that it was made of, and the movements by which it came together."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from schemas.words import Kind
from service.operations.door.formerly import Formerly
from service.operations.ledger import ledger
from service.operations.ledger.graph import closure, movements_behind
from service.records.base import known
from service.records.items import Item, Movement, Touched
from service.records.journal import Deed
from service.records.people import Person, Site


@dataclass(frozen=True, slots=True)
class Ground:
    """A part, everything upstream of it, and the movements that stand among all of these.

    The shop is as it was called and set up when something was last done on the part; people as of what they did.
    """

    root: Item
    items: dict[int, Item]
    movements: tuple[Movement, ...]
    site: Site
    people: Formerly[Person]
    corrected: frozenset[int]

    def of_kind(self, *kinds: Kind) -> list[Item]:
        """The items of a kind, oldest first; the part itself is left out."""
        return [i for i in self.items.values() if i.kind in kinds and i.id != self.root.id]

    @property
    def parts(self) -> set[int]:
        """The part and those that were bonded into it."""
        return {self.root.id, *(i.id for i in self.of_kind(Kind.PART))}

    def called(self, person: int, at: datetime) -> str:
        """What someone was called when they did it."""
        return self.people.at(person, at).name

    def code(self, item: int) -> str:
        return str(self.items[item].code)


def load_ground(code: str) -> Ground:
    """Gather a part's upstream in five queries."""
    root = ledger.find(code, Kind.PART)
    ids = closure([root.id], back=True)[root.id] | {root.id}
    return Ground(
        root=root,
        items={i.id: i for i in Item.select().where(Item.id.in_(ids)).order_by(Item.id)},
        movements=tuple(movements_behind(root.id)),
        site=Formerly(Site).at(root.site_id, last_act_on(root.id)),
        people=Formerly(Person),
        corrected=frozenset(d for (d,) in Deed.select(Deed.corrects).where(Deed.corrects.is_null(False)).tuples()),
    )


def last_act_on(item: int) -> datetime:
    """When something was last done with it."""
    query = Deed.select(Deed.occurred_at).join(Touched, on=(Touched.deed == Deed.id))
    row = query.where((Touched.item == item) & Deed.refused.is_null()).order_by(Deed.occurred_at.desc()).first()
    return known(row).occurred_at


def deeds_of(ids: Iterable[int]) -> dict[int, Deed]:
    return {d.id: d for d in Deed.select().where(Deed.id.in_(set(ids)))}
