"""Charts and figures of a process over time.

- :func:`individuals_chart`: individuals and moving range.
- :func:`ewma_chart`: exponentially weighted moving average, for small lasting shifts.
- :func:`capability`: Cp, Cpk, Pp and Ppk against two limits.

Positions of signals count from 0.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from service.formulas.ranges import OutOfRange, series, within

__all__ = ["Capability", "EwmaChart", "IndividualsChart", "capability", "ewma_chart", "individuals_chart"]

# Constants of the moving range of two values, as tables print them: d2 = 2/sqrt(pi), D4 = 1 + 3*d3/d2.
D2 = 1.128
D4 = 3.267

LARGEST_VALUE = 1e9
LEAST_SPREAD = 1e-9


@dataclass(frozen=True, slots=True)
class IndividualsChart:
    """Individuals and moving range chart.

    Attributes
    ----------
    mean : float
        Mean [unit of the values].
    mean_moving_range : float
        Mean difference of neighbours [unit of the values].
    lower : float
        Lower control limit of the individuals [unit of the values].
    upper : float
        Upper control limit of the individuals [unit of the values].
    moving_range_upper : float
        Upper control limit of the moving range [unit of the values].
    signals : tuple of int
        Positions of values outside their limits [list of -].
    moving_range_signals : tuple of int
        Positions of values whose step from the one before is over its limit [list of -].
    """

    mean: float
    mean_moving_range: float
    lower: float
    upper: float
    moving_range_upper: float
    signals: tuple[int, ...]
    moving_range_signals: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class EwmaChart:
    """Exponentially weighted moving average chart.

    Attributes
    ----------
    averages : tuple of float
        Weighted average after each value [unit of the values].
    lower : float
        Lower control limit [unit of the values].
    upper : float
        Upper control limit [unit of the values].
    signals : tuple of int
        Positions of averages outside the limits [list of -].
    """

    averages: tuple[float, ...]
    lower: float
    upper: float
    signals: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Capability:
    """Process capability, by the spread from one value to the next, and performance, by that of all values.

    Attributes
    ----------
    mean : float
        Mean [unit of the values].
    standard_deviation : float
        Of all values, n - 1 [unit of the values].
    within_standard_deviation : float
        From one value to the next, by the mean moving range [unit of the values].
    cp : float
        Width of the limits against six standard deviations within [-].
    cpk : float
        Distance of the mean to the nearer limit against three of them; below 0 if the mean is outside [-].
    pp : float
        Width of the limits against six standard deviations of all values [-].
    ppk : float
        Distance of the mean to the nearer limit against three of them [-].
    """

    mean: float
    standard_deviation: float
    within_standard_deviation: float
    cp: float
    cpk: float
    pp: float
    ppk: float


def _values(values: Sequence[float], least: int) -> list[float]:
    members = series("values", values, least=least, most=100_000)
    return [within(f"values[{i}]", value, -LARGEST_VALUE, LARGEST_VALUE) for i, value in enumerate(members)]


def _differing(argument: str, values: list[float]) -> list[float]:
    if max(values) - min(values) < LEAST_SPREAD:
        raise OutOfRange(argument, "one value throughout", f"a list in which two values differ by {LEAST_SPREAD:g}")
    return values


def _outside(values: Sequence[float], lower: float, upper: float) -> tuple[int, ...]:
    return tuple(i for i, value in enumerate(values) if value < lower or value > upper)


def individuals_chart(*, values: Sequence[float]) -> IndividualsChart:
    """Individuals and moving range chart of single values in order of time.

    Formula: ``mean ± 3*MR/1.128``, with MR the mean of ``|x_i - x_(i-1)|``; the moving range up to ``3.267*MR``.

    Parameters
    ----------
    values : sequence of float
        The values, oldest first [list of any one unit].

    Returns
    -------
    IndividualsChart
        Mean, limits and signals [unit of the values].

    Raises
    ------
    OutOfRange
        If there are too few or too many values, one is outside its range, or all are equal (the limits have no width).

    Valid range
    -----------
    5 to 100 000 values of -1e9 to 1e9. Limits from fewer than about 20 values are a first guess.

    Examples
    --------
    >>> chart = individuals_chart(values=[49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1])
    >>> chart.mean, chart.lower, chart.upper, chart.signals
    (50.81, 45.8159, 55.8041, ())

    Source
    ------
    NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2.
    """
    x = _differing("values", _values(values, least=5))
    steps = [abs(after - before) for before, after in pairwise(x)]
    mean = math.fsum(x) / len(x)
    mean_step = math.fsum(steps) / len(steps)
    reach = 3 * mean_step / D2
    return IndividualsChart(
        mean=mean,
        mean_moving_range=mean_step,
        lower=mean - reach,
        upper=mean + reach,
        moving_range_upper=D4 * mean_step,
        signals=_outside(x, mean - reach, mean + reach),
        moving_range_signals=tuple(i + 1 for i in _outside(steps, 0, D4 * mean_step)),
    )


def ewma_chart(
    *, values: Sequence[float], target: float, sigma: float, weight: float = 0.3, width: float = 3.0
) -> EwmaChart:
    """Exponentially weighted moving average chart against a target.

    Formula: ``z_i = weight*x_i + (1 - weight)*z_(i-1)``, ``z_0 = target``; limits
    ``target ± width*sigma*sqrt(weight/(2 - weight))``, those of a long run, for every value.

    Parameters
    ----------
    values : sequence of float
        The values, oldest first [list of any one unit].
    target : float
        Target, or the mean of a stable time [unit of the values].
    sigma : float
        Standard deviation of a single value in a stable time [unit of the values].
    weight : float, optional
        Weight of the newest value [-].
    width : float, optional
        Limits in standard deviations of the average [-].

    Returns
    -------
    EwmaChart
        Averages, limits and signals [unit of the values].

    Raises
    ------
    OutOfRange
        If an argument is outside its range.

    Valid range
    -----------
    1 to 100 000 values of -1e9 to 1e9; sigma above 0 and at most 1e9; weight above 0 and at most 1; width above 0 and
    at most 10.

    Examples
    --------
    >>> chart = ewma_chart(values=[52.0, 47.0, 53.0, 49.3], target=50, sigma=2.0539)
    >>> chart.averages
    (50.60, 49.52, 50.56, 50.18)
    >>> chart.lower, chart.upper
    (47.4116, 52.5884)

    Source
    ------
    NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4.
    """
    x = _values(values, least=1)
    average = centre = within("target", target, -LARGEST_VALUE, LARGEST_VALUE)
    newest = within("weight", weight, 0, 1, above=True)
    spread = within("sigma", sigma, 0, LARGEST_VALUE, above=True)
    reach = within("width", width, 0, 10, above=True) * spread * math.sqrt(newest / (2 - newest))
    averages = []
    for value in x:
        average = newest * value + (1 - newest) * average
        averages.append(average)
    return EwmaChart(
        averages=tuple(averages),
        lower=centre - reach,
        upper=centre + reach,
        signals=_outside(averages, centre - reach, centre + reach),
    )


def capability(*, values: Sequence[float], lower: float, upper: float) -> Capability:
    """How well a process keeps two limits: as it could while nothing shifts, and as it did.

    Formula: ``Cp = (U - L)/(6*sigma)``, ``Cpk = min(U - mean, mean - L)/(3*sigma)`` with ``sigma = MR/1.128``, MR the
    mean of ``|x_i - x_(i-1)|``, for single values have no subgroup but their neighbours; ``Pp`` and ``Ppk`` the same
    with the standard deviation of all values, n - 1.

    Parameters
    ----------
    values : sequence of float
        Values, oldest first [list of any one unit].
    lower : float
        Lower limit, L [unit of the values].
    upper : float
        Upper limit, U [unit of the values].

    Returns
    -------
    Capability
        Mean, standard deviations, Cp, Cpk, Pp and Ppk.

    Raises
    ------
    OutOfRange
        If an argument is outside its range, the upper limit is not above the lower, or all values are equal.

    Valid range
    -----------
    2 to 100 000 values of -1e9 to 1e9; limits in the same range. The figures mean something for values near to normal,
    and from some 30 on; Cp and Cpk for a stable process alone. Ppk far below Cpk says that it was not stable.

    Examples
    --------
    >>> result = capability(values=[14, 16, 18], lower=8, upper=20)
    >>> result.cp, result.cpk, result.pp, result.ppk
    (1.128, 0.752, 1.0, 0.667)

    Source
    ------
    Within and overall spread apart as in ISO 22514-2 (not read) and in the library ggQC (read:
    https://rdrr.io/cran/ggQC/man/Pp.html); Cp and Cpk by the sigma of the chart (read:
    https://support.sas.com/documentation/cdl/en/qcug/68161/HTML/default/qcug_shewhart_sect440.htm), which is
    within after NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2; limits 8 and 20, mean 16, s 2 after its 6.1.6
    (from memory).
    """
    x = _differing("values", _values(values, least=2))
    low = within("lower", lower, -LARGEST_VALUE, LARGEST_VALUE)
    high = within("upper", upper, low, LARGEST_VALUE, above=True)
    mean = math.fsum(x) / len(x)
    overall = math.hypot(*(value - mean for value in x)) / math.sqrt(len(x) - 1)
    inner = math.fsum(abs(after - before) for before, after in pairwise(x)) / (len(x) - 1) / D2
    width, nearer = high - low, min(high - mean, mean - low)
    return Capability(
        mean=mean,
        standard_deviation=overall,
        within_standard_deviation=inner,
        cp=width / (6 * inner),
        cpk=nearer / (3 * inner),
        pp=width / (6 * overall),
        ppk=nearer / (3 * overall),
    )
