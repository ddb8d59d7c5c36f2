"""Which part to section, test or hold next: the one whose outcome would tell the first suspects apart best."""

from collections.abc import Sequence

from service.reports.finding.given import Outcomes
from service.reports.finding.suspected import Measured, Suspect
from service.reports.wording import code, listed, number

# So many of the first suspects are to be told apart.
_FIRST = 6


def next_part(
    part: str, outcomes: Outcomes, ranked: Sequence[Suspect], others: Sequence[Suspect | Measured] = ()
) -> str | None:
    """In a sentence; nothing where nothing is ranked. A part that is not judged comes before one that was shipped.

    ``others`` are the numbers and the tasks: where one of them ranks first, no single part tells it from the rest.
    """
    first = [suspect for suspect in ranked[:_FIRST] if suspect.p < 1]
    leads = min((one for one in others if one.p < 1), key=lambda one: one.rank, default=None)
    if not outcomes.failed or not (first or leads):
        return None
    if leads is not None and (not first or leads.rank < first[0].rank):
        return _pieces_for(leads)
    top, rivals = first[0], first[1:]
    sections = _always_together(top)
    for codes, verb in ((outcomes.undecided - outcomes.gone, "Section or test"), (outcomes.undecided & outcomes.gone,
                        "Ask after"), (outcomes.gone, "Ask after")):  # fmt: skip
        best = max(sorted(codes - {part}), key=lambda one: _tells(one, top, rivals), default=None)
        if best is not None and _tells(best, top, rivals) > 0:
            return f"{verb} {code(best)} next: it {_has(best, top, rivals)}.{sections}"
    return (
        f"No part that is left would tell {top.name} from what comes next; make a test piece with it and without."
        f"{sections}"
    )


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
        f"{number(leads.median_failed, 2)}{unit}, one at {number(leads.median_good, 2)}{unit}."
    )


def _tells(one: str, top: Suspect, rivals: Sequence[Suspect]) -> int:
    """From how many of the next it would tell the first; the nearer they rank, the more that counts."""
    has = one in top.parts
    return sum(len(rivals) - place for place, rival in enumerate(rivals) if (one in rival.parts) != has)


def _has(one: str, top: Suspect, rivals: Sequence[Suspect]) -> str:
    has = one in top.parts
    apart = [rival.name for rival in rivals if (one in rival.parts) != has][:2]
    named = listed(apart)
    if has:
        return (
            f"has {top.name} and not {named}; if it is sound, that speaks against the first, if not, against the others"
        )
    return f"has {named} and not {top.name}; if it fails too, that speaks against the first"


def _always_together(top: Suspect) -> str:
    if not top.cannot_separate:
        return ""
    return (
        f" What always went together ({listed([top.name, *top.cannot_separate[:2]])}) is told apart only by a test "
        "piece that has one of them."
    )
