"""The second person: who made a thing does not release it, permit it or decide about it (shop rule: two persons).

A shop that is too small says so in its settings, for what and why; what is done alone there is flagged, so that the
record prints it. Otherwise the refusal names who could be given the role.
"""

from collections.abc import Collection, Iterable

from schemas.words import Alone, Kind
from service.operations.door.acts import ACTS, MAKING
from service.operations.door.operation import Work
from service.operations.door.others import who_else
from service.operations.door.refusals import SecondPersonRequired
from service.operations.ledger.flags import raise_flag
from service.records.cures import Schedule
from service.records.items import Item, Touched
from service.records.journal import Deed
from service.records.materials import ResinSystem
from service.records.parts import Design

_MIXING = tuple(name for name, row in ACTS.items() if row.did in ("mixed", "weighed", "stirred"))
# Taking it out of the mould and trimming it makes nothing of it that a release judges.
_LAYING = tuple(name for name in MAKING if name not in ("demould", "trim"))


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
) -> str | None:
    """Refuse whoever is barred, unless the shop says that there is no second person for this; then why it says so."""
    if work.act.person not in barred:
        return None
    if is_alone(work, what):
        because = work.site.alone_because
        work.note(alone=what, because=because)
        if item is not None:
            told = f"{work.who} did this alone ({what}): the shop has no second person for it, because {because}"
            raise_flag(work, item, "done-alone", told, stops=False)
        return f"alone: the shop has no second person for it, because {because}"
    raise SecondPersonRequired(sentence, way_out=who_else(roles, barred, or_alone=True))


def is_alone(work: Work, what: Alone) -> bool:
    """Does the shop say that it has no second person for this?"""
    return what in (work.site.alone_in or ())


def require_other_than_author(work: Work, row: Design | ResinSystem | Schedule, title: str) -> str | None:
    """Whoever wrote a draft, or changed it, does not approve it as well; why they may where they may."""
    return require_second(
        work, Alone.APPROVAL, row.authors or (), roles=ACTS["approve_revisions"].roles, item=None,
        sentence=f"Whoever wrote {title} does not approve it as well.",
    )  # fmt: skip
