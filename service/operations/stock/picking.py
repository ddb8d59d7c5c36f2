"""In which order cans are used up: first expired first, the opened one before the sealed."""

from datetime import date, datetime

from schemas.words import Fitness, State
from service.operations.door.shop import the_site
from service.operations.stock import load
from service.records.items import Item
from service.records.materials import Container


def pick_order(loaded: load.Loaded) -> tuple[date, int, int]:
    """First expired first out; of equal dates the opened one first, then the older."""
    opened_first = 0 if loaded.item.state == State.OPEN else 1
    return (loaded.facts.good_until or date.max, opened_first, loaded.item.id)


def fit_containers(material: int, *, at: datetime) -> list[load.Loaded]:
    """The containers of a material that are fit for use, in the order in which they are to be used up."""
    items = (
        Item.select(Item)
        .join(Container, on=(Container.item == Item.id))
        .where((Container.material == material) & (Item.balance > 0) & Item.state.in_([State.SEALED, State.OPEN]))
    )
    site = the_site()
    fit = [r for r in load.load(items, at=at, site=site) if r.judged(at=at, site=site).answer == Fitness.FIT]
    return sorted(fit, key=pick_order)


def fit_instead(loaded: load.Loaded, *, at: datetime) -> tuple[str, ...]:
    others = fit_containers(loaded.material.id, at=at)
    return tuple(o.item.code for o in others if o.item.id != loaded.item.id)[:3]
