"""Which part to section, test or hold next: the one whose outcome would tell the first suspects apart best."""

from collections.abc import Sequence

from service.reports.finding.given import Outcomes
from service.reports.finding.suspected import Suspect
from service.reports.wording import code, listed

# So many of the first suspects are to be told apart.
_FIRST = 6


def next_part(part: str, outcomes: Outcomes, ranked: Sequence[Suspect]) -> str | None:
    """In a sentence; nothing where nothing is ranked. A part that is not judged comes before one that was shipped."""
    first = [suspect for suspect in ranked[:_FIRST] if suspect.p < 1]
    if not first or not outcomes.failed:
        return None
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
