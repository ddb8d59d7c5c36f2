"""What the search for suspects amounts to, in a few sentences: what can be known, and what would have to be known."""

from collections.abc import Sequence

from service.reports.finding.suspected import Measured, Suspect, Suspects
from service.reports.finding.weighing import RARE, Suspicion
from service.reports.wording import capital, count, listed, plural

_NEVER_CAUSES = "These are suspects, not causes: what goes together need not follow from one another."
_NEVER_PEOPLE = (
    "That is no suspect: whoever does a task does it with its materials, tools and days, and what was different about "
    "the work is the question."
)

_NOR_PEOPLE = " Whoever did a task is none: what was different about the work is the question."
_NOT_ITSELF = "This part is none of those that failed: what they share and it does not have is not looked at."
_THE_SAME_HANDS = (
    "The very same parts share a task by the same hands, told apart below: nothing here tells the one from the other. "
)


def said_of(verdict: Suspicion, rival: str | None) -> str:
    """What the numbers say of one factor, behind its counts; nothing where they say no more than chance."""
    if verdict == Suspicion.PERIOD:
        return " It cannot be told from that period: among parts of about the same days too little speaks for it."
    if verdict == Suspicion.RIVAL:
        return f" It cannot be told from {rival}."
    return ""


def summary(found: Suspects, *, itself: bool) -> str:
    """What was found of all that was tried; where nothing can be found, why, and what would change that.

    ``itself`` says whether the part that is looked at is one of the failed.
    """
    said = _cannot_tell(found, itself=itself) or _told(found)
    return said if itself or not found.tried else f"{said} {_NOT_ITSELF}"


def _cannot_tell(found: Suspects, *, itself: bool) -> str | None:
    others = found.compared - found.failed
    if not found.failed:
        return (
            "No part failed in this time, so there is nothing to compare. A part counts as failed when it came back as "
            "failed, was rejected, scrapped as failed or found unfit, and that is on record."
        )
    if not others and found.failed == 1 and found.left_out:
        needed = f"Inspect its sisters: {_not_judged(found)}" if found.undecided else "Needed is a part that held."
        return (
            "No part of this time is known to have held, and no other failed in this way: "
            f"{plural(found.left_out, 'part')} failed otherwise, so there is nothing to compare with. {needed}"
        )
    if not others and found.failed == 1 and not itself:
        return (
            "One part of this time is judged, and it failed, so there is nothing to compare it with. Needed is a part "
            f"that held{f': {_not_judged(found)}' if found.undecided else '.'}"
        )
    if not others and found.failed == 1 and not found.undecided:
        return (
            f"{_no_other(found)}, so there is nothing to compare with. Parts that share its materials, tools or hands, "
            "made and inspected, would tell; until then each of these is as suspect as any other."
        )
    if not others and found.failed == 1:
        return (
            "No other part of this time is judged, so there is nothing to compare with. "
            f"Inspect its sisters: {_not_judged(found)}"
        )
    if not others:
        return (
            f"All {found.failed} parts that are judged failed{_otherwise(found)}, so nothing tells them apart: what "
            "they share is as suspect as anything else. Needed is a part that held, made with another material, tool "
            f"or hand{'; or one that is not judged yet, inspected' if found.undecided else ''}."
        )
    if not found.tried:
        return (
            "This part shares nothing with others that could be compared: what only it has, or all have, tells nothing."
        )
    if found.failed == 1:
        return (
            f"One part failed{' in this way' if found.left_out else ''}{_otherwise(found)}: anything that it shares "
            f"with few others, chance would bring in one of {found.compared}. Nothing can be accused by that. A second "
            f"failure{' of its kind' if found.left_out else ''}"
            f"{', or the inspection of its sisters,' if found.undecided else ''} would tell more."
        )
    if found.smallest_p_within > RARE:
        return (
            f"Too few parts are judged to accuse anything: {_at_most(found, others)} {_leads(found)} "
            "More sisters, inspected, would tell more."
        )
    return None


def _no_other(found: Suspects) -> str:
    """That there is no other part of the time, or none that could be compared, and why not."""
    fitted, scrapped = found.became.fitted, found.became.scrapped
    if not fitted and not scrapped:
        return "No other part was made in this time"
    why = [f"{count(fitted)} {'was' if fitted == 1 else 'were'} fitted into another"] if fitted else []
    why += (
        [f"{count(scrapped)} {'was' if scrapped == 1 else 'were'} scrapped without an inspection"] if scrapped else []
    )
    return f"No other part of this time can be compared ({', '.join(why)})"


def _at_most(found: Suspects, others: int) -> str:
    """What the strongest of all things would amount to."""
    ways = round(1 / found.smallest_p_within)
    if ways == 1:
        return "within their time, and with pots and cures whole, the failures could not have fallen in another way."
    return (
        f"were a thing in all {found.failed} that failed and in none of the {others} that held, chance would bring "
        f"that in one of {ways} cases within its time, pots and cures whole."
    )


def _told(found: Suspects) -> str:
    everything: list[Suspect | Measured] = [*found.ranked, *found.people, *found.numbers]
    accused = [one for one in everything if one.verdict == Suspicion.ACCUSED]
    period = [one for one in everything if one.verdict == Suspicion.PERIOD]
    tried = plural(found.tried, "comparison")
    if accused:
        hands = accused[0] not in found.people and any(one in found.people for one in accused)
        alike = [one.name for one in accused[1:] if isinstance(one, Measured)]
        same = f"The very same order of parts have {listed(alike)}: no table tells them apart. " if alike else ""
        return (
            f"Of {tried}, one stands out from chance, from its period and from all others: {accused[0].name}. "
            f"{_THE_SAME_HANDS if hands else ''}{same}"
            f"{_NEVER_PEOPLE if accused[0] in found.people else _NEVER_CAUSES}"
        )
    rivals = [one for one in everything if one.verdict == Suspicion.RIVAL]
    if rivals:
        return (
            f"Of {tried}, some are stronger than chance would bring, but none can be told from the others; "
            f"{_first_of(rivals)} of these. {_caution(rivals)}"
        )
    if period:
        return (
            f"Of {tried}, {plural(len(period), 'goes', 'go')} with the failures more than chance would bring, but "
            f"cannot be told from the period: whatever befell those days would look the same. "
            f"{capital(_first_of(period))} of these. {_caution(period)}"
        )
    return f"Of {tried} none is stronger than chance would bring. {_leads(found)} That clears nothing."


def _caution(those: Sequence[Suspect | Measured]) -> str:
    """Behind those that rank first: suspects are no causes, and hands are no suspects."""
    rank = min(one.rank for one in those)
    hands = [isinstance(one, Suspect) and one.kind == "person" for one in those if one.rank == rank]
    return _NEVER_PEOPLE if all(hands) else f"{_NEVER_CAUSES}{_NOR_PEOPLE if any(hands) else ''}"


def _first_of(those: Sequence[Suspect | Measured]) -> str:
    """Which of them ranks first, all that share that rank."""
    rank = min(one.rank for one in those)
    first = [one.name for one in those if one.rank == rank]
    named = listed(first) if len(first) < 4 else f"{', '.join(first[:2])} and {len(first) - 2} more"
    return f"{named} {'ranks' if len(first) == 1 else 'rank'} first"


def _leads(found: Suspects) -> str:
    leading = [one for one in found.ranked if one.leads]
    if not leading:
        return "Nothing leads."
    told = _first_of(leading)
    may = "may" if told.endswith("ranks first") else "each may"
    return f"{capital(told)} of what is shared, and {may} be no more than chance."


def _not_judged(found: Suspects) -> str:
    return f"{plural(found.undecided, 'part')} of this time {_is(found.undecided)} not judged."


def _otherwise(found: Suspects) -> str:
    """How many failed in another way, behind how many failed in this one."""
    return f", {found.left_out} otherwise" if found.left_out else ""


def _is(number: int) -> str:
    return "is" if number == 1 else "are"
