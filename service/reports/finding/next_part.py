"""Which part to section, test or hold next: the one whose outcome would tell the first suspects apart best."""

from collections.abc import Mapping, Sequence, Set
from typing import NamedTuple

from service.reports.finding.given import Outcomes
from service.reports.finding.suspected import Measured, Suspect
from service.reports.wording import code, figure, listed

# So many of the first suspects are to be told apart.
_FIRST = 6
# A number that chance brings more often than this leads nowhere.
_A_LEAD = 0.5


# What is over: nothing that is made now has it.
_OVER = ("before", "pot", "kit", "cure", "scale interval", "day", "week", "flag")


class _Rival(NamedTuple):
    """What the first suspect is to be told from."""

    name: str
    parts: Set[str]


def next_part(
    part: str,
    outcomes: Outcomes,
    ranked: Sequence[Suspect],
    others: Sequence[Suspect | Measured] = (),
    together: Mapping[str, frozenset[str]] | None = None,
) -> str | None:
    """In a sentence; nothing where nothing leads. A part that is not judged comes before one that was shipped.

    ``others`` are the numbers and the tasks: where one of them ranks first, no single part tells it from the rest.
    ``together`` is what all judged parts have that have the first suspect, and no other; one that is not judged may
    have one of them alone, and then tells most.
    """
    first = [suspect for suspect in ranked[:_FIRST] if suspect.leads]
    leads = min((one for one in others if _leads(one)), key=lambda one: one.rank, default=None)
    if not outcomes.failed or not (first or leads):
        return None
    if leads is not None and (not first or leads.rank < first[0].rank):
        return _pieces_for(leads)
    top = first[0]
    twins = [_Rival(*one) for one in (together or {}).items()] if top is ranked[0] else []
    rivals = [*twins, *(_Rival(one.name, frozenset(one.parts)) for one in first[1:])]
    finished = outcomes.undecided - outcomes.not_there
    for codes, verb in (
        (finished - outcomes.gone, "Section or test"),
        (finished & outcomes.gone, "Ask after"),
        (outcomes.gone, "Ask after"),
    ):
        best = max(sorted(codes - {part}), key=lambda one: _tells(one, top, rivals), default=None)
        if best is not None and _tells(best, top, rivals) > 0:
            return f"{verb} {code(best)} next: it {_has(best, top, rivals)}.{_always_together(top, best, twins)}"
    other = "what ranks next to it" if first[1:] else "chance"
    if top.kind in _OVER:
        return (
            f"Whether it was {top.name} or {other}, no part that is left can tell; and as that is over, no test piece "
            f"can be made with it. Ask what was different then.{_always_together(top, None, twins)}"
        )
    return (
        f"No part that is left would tell {top.name} from {other}; make a test piece with it and one without."
        f"{_always_together(top, None, twins)}"
    )


def _leads(one: Suspect | Measured) -> bool:
    return one.leads if isinstance(one, Suspect) else one.p <= _A_LEAD


def _pieces_for(leads: Suspect | Measured) -> str:
    if isinstance(leads, Suspect):
        return (
            f"Most would be told by two test pieces of the same materials, tools and day, one as in {leads.name}, the "
            "other by other hands: what differs in the work shows."
        )
    if leads.median_failed is None or leads.median_good is None:
        return f"Most would be told by two test pieces that differ in their {leads.name} alone."
    unit = f" {leads.unit}" if leads.unit else ""
    return (
        f"Most would be told by two test pieces that differ in one thing alone, {leads.name}: one at "
        f"{figure(leads.median_failed, leads.unit)}{unit}, one at {figure(leads.median_good, leads.unit)}{unit}."
    )


def _tells(one: str, top: Suspect, rivals: Sequence[_Rival]) -> int:
    """From how many of the next it would tell the first; the nearer they rank, the more that counts.

    Where there is no other, a part that has the first tells whether there is anything to it.
    """
    has = one in top.parts
    if not rivals:
        return int(has)
    return sum(len(rivals) - place for place, rival in enumerate(rivals) if (one in rival.parts) != has)


def _has(one: str, top: Suspect, rivals: Sequence[_Rival]) -> str:
    has = one in top.parts
    apart = [rival.name for rival in rivals if (one in rival.parts) != has][:2]
    named = listed(apart)
    if not apart:
        return f"has {top.name}; if it is sound, that speaks against it"
    if has:
        return (
            f"has {top.name} and not {' nor '.join(apart)}; if it is sound, that speaks against the first, if not, "
            "against the others"
        )
    return f"has {named} and not {top.name}; if it fails too, that speaks against the first"


def _always_together(top: Suspect, best: str | None, twins: Sequence[_Rival]) -> str:
    """What no part that could be looked at tells apart either."""
    left = [twin.name for twin in twins if best is None or (best in twin.parts) == (best in top.parts)]
    if not left:
        return ""
    return (
        f" What always went together ({listed([top.name, *left[:2]])}) is told apart only by a test piece that has one "
        "of them."
    )
