"""The second person: who made a thing does not release it, permit it or decide about it (shop rule: two persons).

A shop that is too small says so in its settings, for what and why; what is done alone there is flagged, so that the
record prints it. Otherwise the refusal names who could be given the role.
"""

from collections.abc import Collection, Iterable

from schemas.words import Alone, Kind
from service.operations.door.acts import ACTS, MAKING
from service.operations.door.operation import Work
from service.operations.door.refusals import SecondPersonRequired
from service.operations.ledger.flags import raise_flag
from service.records.items import Item, Touched
from service.records.journal import Deed
from service.records.people import Person, PersonRole

_MIXING = tuple(name for name, row in ACTS.items() if row.did in ("mixed", "weighed", "stirred"))
# Taking it out of the mould and trimming it makes nothing of it that a release judges.
_LAYING = tuple(name for name in MAKING if name not in ("demould", "trim"))
_MOST_NAMED = 3


def makers_of(items: Iterable[int]) -> set[int]:
    """Who mixed the pots, laid up the parts and carried out the cures among these; a system makes nothing."""
    mixing = (Item.kind == Kind.MIX) & Deed.operation.in_(_MIXING)
    laying = Item.kind.in_([Kind.PART, Kind.CURE]) & Deed.operation.in_(_LAYING)
    query = (
        Deed.select(Deed.person)
        .join(Touched, on=(Touched.deed == Deed.id))
        .join(Item, on=(Touched.item == Item.id))
        .where(Touched.item.in_(list(items)) & (mixing | laying) & Deed.refused.is_null() & Deed.system.is_null())
        .distinct()
    )
    return {person for (person,) in query.tuples()}


def require_second(
    work: Work, what: Alone, barred: Collection[int], *, roles: Collection[str], item: Item | None, sentence: str
) -> None:
    """Refuse whoever is barred, unless the shop says that there is no second person for this."""
    if work.act.person not in barred:
        return
    if what in (work.site.alone_in or ()):
        because = work.site.alone_because
        work.note(alone=what, because=because)
        if item is not None:
            told = f"{work.who} did this alone ({what}): the shop has no second person for it, because {because}"
            raise_flag(work, item, "done-alone", told, stops=False)
        return
    raise SecondPersonRequired(sentence, way_out=_way_out(roles, barred))


def _way_out(roles: Collection[str], barred: Collection[int]) -> str:
    called = " or ".join(sorted(roles))
    others = Person.select(Person.id, Person.name).where(
        Person.active & ~Person.is_system & Person.id.not_in(list(barred))
    )
    have_it = PersonRole.select(PersonRole.person).where(PersonRole.role.in_(list(roles)))
    if others.where(Person.id.in_(have_it)).exists():
        return f"A second person with the role {called} does it."
    names = [person.name for person in others.order_by(Person.id).limit(_MOST_NAMED)]
    given = f"an administrator can give it to {' or '.join(names)}" if names else "an administrator can add somebody"
    return f"Nobody else has the role {called}: {given}, or say in the shop's settings that there is no second person."
