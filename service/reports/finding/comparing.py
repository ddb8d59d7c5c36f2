"""Everything that speaks for or against what a part shares, from the parts of the year before it on."""

from dataclasses import dataclass
from datetime import datetime

from schemas.words import Kind, PartState
from service.operations.door.shop import the_site
from service.records.base import as_word, instant
from service.reports.finding.afterwards import leave_out
from service.reports.finding.factors import beyond_the_limit, design, flags, made_of, when
from service.reports.finding.given import AgedUse, Factor, Number, Outcomes, Times
from service.reports.finding.inspected import hardness_of, measurements
from service.reports.finding.numbers import read_numbers
from service.reports.finding.outcomes import read_outcomes, read_record
from service.reports.finding.reworked import worked_on_again
from service.reports.finding.rows import Rows, rows_of_the_time
from service.reports.finding.tools import made_with
from service.reports.finding.uses import aged_uses, last_uses
from service.reports.reading.ages import Ages

# Flags that say the same as a container beyond its limit.
_AGE_FLAGS = ("open-too-long", "expired")

# The words by which a sister's outcome says that it failed, the same way or another.
FAILED_OUTCOMES = ("failed", "failed otherwise")


@dataclass(frozen=True, slots=True)
class Sister:
    """Another part of the time that is compared, and where it is now.

    Attributes
    ----------
    outcome
        failed, failed otherwise, not yet judged, good.
    """

    code: str
    name: str
    part_number: str
    state: PartState
    place_name: str | None
    customer: str | None
    started_at: datetime
    outcome: str


@dataclass(frozen=True, slots=True)
class Compared:
    """The parts of a time, what became of them, and what they share."""

    outcomes: Outcomes
    factors: tuple[Factor, ...]
    aged: tuple[AgedUse, ...]
    numbers: tuple[Number, ...]
    times: Times
    hardness: dict[str, float]
    sisters: dict[str, Sister]
    worked_on_again: str | None
    capped: bool


def compare(part: int, *, at: datetime) -> Compared:
    """The parts of the time, what became of them, what they share and what was measured on them.

    What the part does not share cannot speak for its failure, and is not looked at.
    """
    site = the_site()
    with rows_of_the_time(site, part, at) as rows:
        return _compared(rows, part, at)


def _compared(rows: Rows, part: int, at: datetime) -> Compared:
    record = read_record(rows)
    outcomes = read_outcomes(rows, record, part, at)
    later = leave_out(rows)
    # A limit that nobody knew at the use is looked at too: that is what an investigation is for.
    cans = [thing for thing, kind in rows.kinds.items() if kind == Kind.CONTAINER]
    ages = Ages(rows.site, cans, by_todays_cards=True)
    used = last_uses(rows, ages)
    measured = measurements(rows)
    hardness = hardness_of(measured)
    factors = [*made_of(rows, ages), *made_with(rows), *when(rows), *flags(rows), *design(rows)]
    own = {container for container, uses in used.items() if part in uses}
    aged = aged_uses(rows, ages, used, own, part, hardness)
    if any(rows.parts[part].code in a.after for a in aged):
        factors = [f for f in factors if f.kind != "flag" or f.code not in _AGE_FLAGS]
    factors += beyond_the_limit(rows, ages, used, aged)
    return Compared(
        outcomes=outcomes,
        factors=tuple(factors),
        aged=tuple(aged),
        numbers=read_numbers(rows, ages, used, own, measured),
        times=_times(rows),
        hardness={rows.parts[number].code: value for number, (value, _) in hardness.items()},
        sisters=_sisters(rows, outcomes),
        worked_on_again=worked_on_again(rows, record, outcomes, later, ages),
        capped=rows.capped,
    )


def _times(rows: Rows) -> Times:
    """When each part was started, and which parts shared a pot or a cure, one leading on to the next."""
    leader = {number: number for number in rows.parts}

    def head(number: int) -> int:
        while leader[number] != number:
            leader[number] = leader[leader[number]]
            number = leader[number]
        return number

    for thing, kind in rows.kinds.items():
        if kind in (Kind.MIX, Kind.CURE) and len(rows.reached[thing]) > 1:
            first, *others = sorted(rows.reached[thing])
            for other in others:
                leader[head(other)] = head(first)
    return Times(
        started={row.code: float(row.started_at) for row in rows.parts.values()},
        blocks={row.code: rows.parts[head(number)].code for number, row in rows.parts.items()},
    )


def _sisters(rows: Rows, outcomes: Outcomes) -> dict[str, Sister]:
    words = (
        (outcomes.failed, "failed"),
        (outcomes.otherwise, "failed otherwise"),
        (outcomes.undecided, "not yet judged"),
    )
    return {
        part.code: Sister(
            code=part.code,
            name=part.name,
            part_number=part.part_number,
            state=as_word(PartState, part.state),
            place_name=part.place,
            customer=part.customer,
            started_at=instant(part.started_at),
            outcome=next((word for codes, word in words if part.code in codes), "good"),
        )
        for part in rows.parts.values()
    }
