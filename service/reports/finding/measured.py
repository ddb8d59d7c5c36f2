"""A number of the parts against their failures by rank tests, and against the hardness that was measured on them."""

from collections.abc import Callable, Mapping
from statistics import median

from service.formulas.ranks import trend
from service.reports.finding.given import Number, Outcomes
from service.reports.finding.saying import said_of
from service.reports.finding.suspected import Measured
from service.reports.finding.unusual import AmongTheHeld, among_the_held
from service.reports.finding.weighing import Weighed
from service.reports.wording import capital, count, figure, p_number, p_value, plural

_ENOUGH = 5


def measured_against(
    one: Number,
    weighed: Weighed,
    part: str,
    outcomes: Outcomes,
    hardness: Mapping[str, float],
    names: Callable[[int], str],
) -> Measured:
    """What is told of a number, with its medians among failed and good parts."""
    failed = [value for code, value in one.values.items() if code in outcomes.failed]
    good = [value for code, value in one.values.items() if code in outcomes.good]
    middle = (median(failed) if failed else None, median(good) if good else None)
    tau, p_trend = _trend(one, hardness)
    rival = names(weighed.rival) if weighed.rival is not None else None
    held = among_the_held(part, one, outcomes)
    return Measured(
        name=one.name,
        unit=one.unit,
        rank=weighed.rank,
        verdict=weighed.verdict,
        rival=rival,
        own=one.values.get(part),
        percentile=held.percentile if held is not None else None,
        parts=len(failed) + len(good),
        median_failed=middle[0],
        median_good=middle[1],
        p=weighed.p,
        p_within=weighed.p_within,
        p_adjusted=weighed.p_adjusted,
        p_neighbours=weighed.p_neighbours,
        tau=tau,
        p_trend=p_trend,
        sentence=_sentence(one, *middle, weighed) + said_of(weighed.verdict, rival) + _own(one, part, held),
    )


def _sentence(one: Number, failed: float | None, good: float | None, weighed: Weighed) -> str:
    if failed is None or good is None:
        return f"{capital(one.name)} is known of {'failed' if good is None else 'good'} parts only."
    unit = f" {one.unit}" if one.unit else ""
    return (
        f"{capital(one.name)}: the median of the failed parts is {figure(failed, one.unit)}{unit}, that of the good "
        f"ones {figure(good, one.unit)}{unit} ({p_value(weighed.p)}; {p_number(weighed.p_adjusted)} within its time, "
        "adjusted)."
    )


def _own(one: Number, part: str, held: AmongTheHeld | None) -> str:
    if held is None:
        return ""
    unit = f" {one.unit}" if one.unit else ""
    less = 100 * held.less / held.parts
    share = f" ({f'{less:.0f}' if less >= 10 else f'{less:.2g}'} %)" if held.less else ""
    as_much = f" and {count(held.same)} as much" if held.same else ""
    return (
        f" This part has {figure(one.values[part], one.unit)}{unit}: of {plural(held.parts, 'part')} that held, "
        f"{count(held.less)} {'has' if held.less < 2 else 'have'} less{share}{as_much}."
    )


def _trend(one: Number, hardness: Mapping[str, float]) -> tuple[float, float] | tuple[None, None]:
    """Kendall's tau and its chance; nothing where the one or the other is the same throughout."""
    along = [value for code, value in one.values.items() if code in hardness]
    hard = [hardness[code] for code in one.values if code in hardness]
    if len(along) < _ENOUGH or min(along) == max(along) or min(hard) == max(hard):
        return None, None
    return trend(along, hard)
