"""In which order cans are used up: first expired first, the opened one before the sealed."""

from collections.abc import Iterable
from datetime import date, datetime, timedelta

from peewee import JOIN, SQL

from schemas.words import Fitness, State
from service.operations.door.shop import day_in_shop
from service.operations.stock import load
from service.records.items import Item
from service.records.lookups import RowSelect
from service.records.materials import Container
from service.records.people import Site

# Of so many cans the board looks for those that are soon past their date.
_LOOKED_AT = 300


def pick_order(loaded: load.Loaded) -> tuple[date, int, int]:
    """First expired first out; of equal dates the opened one first, then the older."""
    opened_first = 0 if loaded.item.state == State.OPEN else 1
    return (loaded.facts.good_until or date.max, opened_first, loaded.item.id)


def on_shelf(materials: Iterable[int]) -> list[Item]:
    """The containers of these materials that are not empty, be they fit for use or not."""
    return list(_standing().where(Container.material.in_(list(materials))))


def _standing() -> "RowSelect[Item]":
    """Cans with something in them, each with its row, by the index of these alone.

    It is used where its own condition stands word for word, not as values; and on SQLite where cans come first, which
    otherwise begins with all cans that there ever were of a material.
    """
    query = Item.select(Item).join(Container, JOIN.CROSS).where(Container.item == Item.id)
    filled = (Item.kind == SQL("'C'")) & (Item.balance > SQL("0"))
    return query.where(filled & Item.state.in_([State.SEALED, State.OPEN]))


def fit_among(loaded: Iterable[load.Loaded], material: int, *, at: datetime, site: Site) -> list[load.Loaded]:
    """Those of a material that are fit for use, in the order in which they are to be used up."""
    own = (r for r in loaded if r.material.id == material)
    return sorted((r for r in own if r.judged(at=at, site=site).answer == Fitness.FIT), key=pick_order)


def fit_containers(material: int, *, at: datetime, site: Site) -> list[load.Loaded]:
    """The containers of a material that are fit for use, in the order in which they are to be used up."""
    return fit_among(load.load(on_shelf([material]), at=at, site=site), material, at=at, site=site)


def fit_instead(loaded: load.Loaded, *, at: datetime, site: Site) -> tuple[str, ...]:
    others = fit_containers(loaded.material.id, at=at, site=site)
    return tuple(o.item.code for o in others if o.item.id != loaded.item.id)[:3]


def soon_past(*, at: datetime, site: Site, days: int, most: int = 12) -> list[load.Loaded]:
    """Cans that will be past their date within so many days and can still be used, the nearest first."""
    last = day_in_shop(at, site) + timedelta(days=days)
    near = (Container.expires_on <= last) | Container.opened_at.is_null(False)
    items = list(_standing().where(near).order_by(Container.expires_on, Item.id).limit(_LOOKED_AT))
    loaded = load.load(items, at=at, site=site)
    soon = sorted((one for one in loaded if (one.facts.good_until or date.max) <= last), key=pick_order)
    return [one for one in soon if one.judged(at=at, site=site).answer == Fitness.FIT][:most]
