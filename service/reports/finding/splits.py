"""A container that was used beyond its limit, split at the limit day: parts made after, before, and from others."""

from collections.abc import Sequence

from service.formulas import statistics
from service.formulas.permutations import so_many
from service.formulas.ranges import OutOfRange
from service.reports.finding.given import FAILED, AgedUse, Outcomes
from service.reports.finding.suspected import AgeSplit, Count, Point
from service.reports.wording import code, count, p_value, plural


def age_name(aged: AgedUse, *, before: bool = False) -> str:
    """A container after its limit, or before it."""
    words = _limit_words(aged.because, aged.limit_days)
    if before:
        words = f"up to day {aged.limit_days}" if aged.because == "opened" else "up to its date"
    return f"{aged.noun} {code(aged.code)} {words}"


def _limit_words(because: str, limit_days: int) -> str:
    return f"after day {limit_days}" if because == "opened" else "past its date"


def counted(parts: frozenset[str], outcomes: Outcomes) -> Count:
    """How many of some parts are judged, and how many of these failed like the one that is looked at."""
    return Count(len(parts & outcomes.judged), len(parts & outcomes.failed))


def became(failed: int, word: str) -> str:
    """What became of so many: 6 are soft, one is soft, none failed."""
    if word == FAILED:
        return f"{count(failed)} failed"
    return f"{count(failed)} {'is' if failed == 1 else 'are'} {word}"


def split_at_the_limit(aged: AgedUse, part: str, outcomes: Outcomes) -> AgeSplit:
    """The three groups, their failures, and the points that a strip shows."""
    after = counted(aged.after, outcomes)
    before = counted(frozenset(aged.days) - aged.after, outcomes)
    elsewhere = counted(aged.others, outcomes)
    parts = after.parts + before.parts + elsewhere.parts
    p = so_many(after.failed, of=after.parts, failed=after.failed + before.failed + elsewhere.failed, parts=parts)
    points = tuple(
        Point(
            part=one,
            days=days,
            failed=one in outcomes.failed if one in outcomes.judged else None,
            value=aged.measured[one][0] if one in aged.measured else None,
        )
        for one, days in sorted(aged.days.items(), key=lambda d: (d[1], d[0]))
        if one in outcomes.judged | outcomes.undecided
    )
    ages, trend = _ages(points), _trend(points)
    return AgeSplit(
        code=aged.code,
        noun=aged.noun,
        material_name=aged.material,
        because=aged.because,
        limit_days=aged.limit_days,
        own_days=aged.days[part],
        after=after,
        before=before,
        elsewhere=elsewhere,
        undecided=len(frozenset(aged.days) & outcomes.undecided),
        p=p,
        median_failed=ages.median_failed if ages else None,
        median_good=ages.median_good if ages else None,
        p_ages=ages.p_greater if ages else None,
        measured=next((name for _, name in aged.measured.values()), None) if trend else None,
        tau=trend.tau if trend else None,
        p_trend=trend.p_two_sided if trend else None,
        points=points,
        sentence=_split_sentence(aged, after, before, elsewhere, p, outcomes.word),
    )


def _ages(points: Sequence[Point]) -> statistics.RankSum | None:
    failed, good = [p.days for p in points if p.failed], [p.days for p in points if p.failed is False]
    return statistics.rank_sum(failed=failed, good=good) if failed and good else None


def _trend(points: Sequence[Point]) -> statistics.RankTrend | None:
    """Whether what was measured on the parts goes with the age; nothing where too little was measured."""
    pairs = [(p.days, p.value) for p in points if p.value is not None]
    if len(pairs) < 5:
        return None
    try:
        return statistics.rank_trend(x=[days for days, _ in pairs], y=[value for _, value in pairs])
    except OutOfRange:
        return None


def _split_sentence(aged: AgedUse, after: Count, before: Count, elsewhere: Count, p: float, word: str) -> str:
    """One sentence with the three groups: after the limit, before it, and from other containers."""
    when = f"after day {aged.limit_days}" if aged.because == "opened" else "after its date"
    parts = [
        f"Of {plural(after.parts, 'part')} made from it {when}, {became(after.failed, word)}",
        f"of {before.parts} made from it before, {count(before.failed)}" if before.parts else "",
        f"of {plural(elsewhere.parts, 'sister')} from other {aged.noun.rsplit(' ', 1)[-1]}s, {count(elsewhere.failed)}"
        if elsewhere.parts
        else "",
    ]
    said = "; ".join(p for p in parts if p)
    return f"{said} ({p_value(p)})." if before.parts + elsewhere.parts else f"{said}."
