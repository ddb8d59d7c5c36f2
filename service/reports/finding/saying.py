"""What the search for suspects amounts to, in a few sentences: what can be known, and what would have to be known."""

import math

from service.reports.finding.suspected import Measured, Suspect, Suspects
from service.reports.finding.weighing import RARE, Suspicion
from service.reports.wording import plural

_NEVER_CAUSES = "These are suspects, not causes: what goes together need not follow from one another."
_NEVER_PEOPLE = (
    "That is no suspect: whoever does a task does it with its materials, tools and days, and what was different about "
    "the work is the question."
)


def said_of(verdict: Suspicion, rival: str | None) -> str:
    """What the numbers say of one factor, behind its counts; nothing where they say no more than chance."""
    if verdict == Suspicion.PERIOD:
        return " It cannot be told from that period: too few parts of those days were made without it."
    if verdict == Suspicion.RIVAL:
        return f" It cannot be told from {rival}."
    return ""


def summary(found: Suspects) -> str:
    """What was found of all that was tried; where nothing can be found, why, and what would change that."""
    return _cannot_tell(found) or _told(found)


def _cannot_tell(found: Suspects) -> str | None:
    others = found.compared - found.failed
    if not found.failed:
        return (
            "No part failed in this time, so there is nothing to compare. A part counts as failed when it came back, "
            "was rejected, scrapped or found unfit, and that is on record."
        )
    if not others and found.failed == 1 and found.left_out:
        needed = f"Inspect its sisters: {_not_judged(found)}" if found.undecided else "Needed is a part that held."
        return (
            "No part of this time is known to have held, and no other failed in this way: "
            f"{plural(found.left_out, 'part')} failed otherwise, so there is nothing to compare with. {needed}"
        )
    if not others and found.failed == 1 and not found.undecided:
        return (
            "No other part was made in this time, so there is nothing to compare with. Parts that share its materials, "
            "tools or hands, made and inspected, would tell; until then each of these is as suspect as any other."
        )
    if not others and found.failed == 1:
        return (
            "No other part of this time is judged, so there is nothing to compare with. "
            f"Inspect its sisters: {_not_judged(found)}"
        )
    if not others:
        return (
            f"All {found.failed} parts that are judged failed{_otherwise(found)}, so nothing tells them apart: what "
            "they share is as "
            "suspect as anything else. Needed is a part that held, made with another material, tool or hand; or one "
            "that is not judged yet, inspected."
        )
    if not found.tried:
        return (
            "This part shares nothing with others that could be compared: what only it has, or all have, tells nothing."
        )
    if found.failed == 1:
        return (
            f"One part failed{' in this way' if found.left_out else ''}{_otherwise(found)}: anything that it shares "
            f"with few others, chance would bring in one of {found.compared}. Nothing can be accused by that. A second "
            f"failure{' of its kind' if found.left_out else ''}, or the inspection of its sisters, would tell more."
        )
    if found.smallest_p_within > RARE:
        return (
            f"Too few parts are judged to accuse anything: were a thing in all {found.failed} that failed and in none "
            f"of the {others} that held, chance would bring that in one of {round(1 / found.smallest_p_within)} cases. "
            f"{_leads(found)} More sisters, inspected, would tell more."
        )
    return None


def _told(found: Suspects) -> str:
    everything: list[Suspect | Measured] = [*found.ranked, *found.people, *found.numbers]
    accused = [one for one in everything if one.verdict == Suspicion.ACCUSED]
    period = [one for one in everything if one.verdict == Suspicion.PERIOD]
    tried = plural(found.tried, "comparison")
    if accused:
        return (
            f"Of {tried}, one stands out from chance, from its period and from all others: {accused[0].name}. "
            f"{_NEVER_PEOPLE if accused[0] in found.people else _NEVER_CAUSES}"
        )
    rivals = [one for one in everything if one.verdict == Suspicion.RIVAL]
    if rivals:
        first = min(rivals, key=lambda one: one.rank)
        return (
            f"Of {tried}, some are stronger than chance would bring, but none can be told from the others; "
            f"{first.name} ranks first of these. {_NEVER_CAUSES}"
        )
    if period:
        first = min(period, key=lambda one: one.rank)
        return (
            f"Of {tried}, {plural(len(period), 'goes', 'go')} with the failures more than chance would bring, but "
            f"cannot be told from the period: whatever befell those days would look the same. {first.name[:1].upper()}"
            f"{first.name[1:]} ranks first of these. {_NEVER_CAUSES}"
        )
    return f"Of {tried} none is stronger than chance would bring. {_leads(found)} That clears nothing."


def _leads(found: Suspects) -> str:
    first = next(iter(found.ranked), None)
    if first is None or math.isclose(first.p, 1.0):
        return "Nothing leads."
    return f"{first.name[:1].upper()}{first.name[1:]} ranks first of what is shared, and may be no more than chance."


def _not_judged(found: Suspects) -> str:
    return f"{plural(found.undecided, 'part')} of this time {_is(found.undecided)} not judged."


def _otherwise(found: Suspects) -> str:
    """How many failed in another way, behind how many failed in this one."""
    return f", {found.left_out} otherwise" if found.left_out else ""


def _is(number: int) -> str:
    return "is" if number == 1 else "are"
