"""Cure kinetics: how far a resin has reacted after a temperature history.

- from ``cure_models``: ``NthOrder``, ``Autocatalytic`` (with ``DiffusionFactor``), ``TwoRegime``.
- :func:`rate_per_min`: rate of cure; :func:`degree_of_cure`: integrated over a log.
- :func:`time_to_degree_min`: at constant temperature; :func:`equivalent_time_min`: a log as time at one temperature.
- from ``network``: :func:`glass_transition_c`, :func:`gel_point`.

Only with constants fitted for the resin system in hand; a figure from a model never replaces a stated post-cure (shop
rule 37).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from service.formulas.arrhenius import ZERO_CELSIUS_K
from service.formulas.cure_models import Autocatalytic, DiffusionFactor, Model, NthOrder, Rate, TwoRegime, regimes
from service.formulas.network import GelPoint, gel_point, glass_transition_c
from service.formulas.ranges import OutOfRange, within

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Numbers = npt.NDArray[np.float64]
    Slope = Callable[[float, Numbers], list[float]]

__all__ = [
    "Autocatalytic",
    "DiffusionFactor",
    "GelPoint",
    "NthOrder",
    "TwoRegime",
    "degree_of_cure",
    "equivalent_time_min",
    "gel_point",
    "glass_transition_c",
    "rate_per_min",
    "time_to_degree_min",
]

LONGEST_MIN = 1e9


def _kelvin(argument: str, temperature_c: float) -> float:
    return within(argument, temperature_c, -60, 400, unit="°C") + ZERO_CELSIUS_K


def _initial(model: Model, initial: float) -> float:
    seeded = isinstance(model, Autocatalytic) and model.order_of_degree > 0
    return within("initial", initial, 0, 1, above=seeded, below=True)


def rate_per_min(*, model: Model, degree: float, temperature_c: float) -> float:
    """Rate of cure.

    Formula: that of the model.

    Parameters
    ----------
    model : NthOrder, Autocatalytic or TwoRegime
        Model with its constants [1/min, kJ/mol].
    degree : float
        Degree of cure [-]; at the switch of a two-regime model, the rate below it.
    temperature_c : float
        Temperature [°C].

    Returns
    -------
    float
        Rate [1/min].

    Raises
    ------
    OutOfRange
        If the degree or the temperature is outside its range.

    Valid range
    -----------
    Degree 0 to 1; temperature -60 to 400 °C.

    Examples
    --------
    >>> rate_per_min(model=NthOrder(1e6, 50, 1), degree=0.5, temperature_c=60)
    0.007238

    Source
    ------
    Arrhenius equation with the stated dependence on the degree of cure.
    """
    at, kelvin = within("degree", degree, 0, 1), _kelvin("temperature_c", temperature_c)
    return next(rate for end, rate in regimes(model) if at <= end)(at, kelvin)


def degree_of_cure(
    *, model: Model, times_min: Sequence[float], temperatures_c: Sequence[float], initial: float
) -> tuple[float, ...]:
    """Degree of cure along a temperature history.

    Formula: ``da/dt`` of the model, integrated with straight lines between the samples, no step over a sample. Where
    the rate jumps, the integration is stopped and started anew.

    Parameters
    ----------
    model : NthOrder, Autocatalytic or TwoRegime
        Model with its constants [1/min, kJ/mol].
    times_min : sequence of float
        Times, ascending, at least two [list of min].
    temperatures_c : sequence of float
        Temperature at each of them [list of °C].
    initial : float
        Degree of cure at the first time; an autocatalytic model needs a seed above 0, and its result depends on it [-].

    Returns
    -------
    tuple of float
        Degree of cure at each time [-].

    Raises
    ------
    OutOfRange
        If times do not ascend, the lists differ in length, or a number is outside its range.

    Valid range
    -----------
    2 to 1,000,000 samples; temperatures -60 to 400 °C; initial degree 0 to below 1.

    Examples
    --------
    >>> degree_of_cure(model=NthOrder(1e6, 50, 1), times_min=[0, 30, 60], temperatures_c=[60, 60, 60], initial=0)
    (0.0, 0.3523, 0.5804)

    Source
    ------
    Integrated by LSODA (odeint of scipy, every sample a critical point), relative tolerance 1e-8.
    """
    import numpy as np

    times, kelvins = _history(times_min, temperatures_c)
    grid, curve = np.array(times), np.array(kelvins)
    degrees = np.ones(len(times))
    start, degree, done = times[0], _initial(model, initial), 0
    for end, rate in regimes(model):
        if degree >= end:
            continue
        slope = _slope(rate, grid, curve)
        piece = _stepped(slope, np.append(start, grid[done:]) if done else grid, degree)[1 if done else 0 :]
        below = int(np.searchsorted(np.maximum.accumulate(piece), end)) if end < 1 else len(piece)
        degrees[done : done + below] = piece[:below]
        if done + below == len(times):
            break
        last = (start, degree) if below == 0 else (times[done + below - 1], float(piece[below - 1]))
        start, degree, done = _crossing(slope, last, times[done + below], end), end, done + below
    # The solver's own noise, some 1e-9, must not make a cure run backwards.
    return tuple(np.maximum.accumulate(degrees.clip(0.0, 1.0)).tolist())


_NOT_INTEGRABLE = ("model", "too fast or too slow to integrate", "one whose constants fit the resin")


def _stepped(slope: Slope, grid: Numbers, degree: float) -> Numbers:
    """Degrees on a grid of times; no step passes over one of them, so that no short hot spell is passed over."""
    import warnings

    import numpy as np
    from scipy.integrate import odeint

    if len(grid) > 1 and grid[1] <= grid[0]:
        return np.append(degree, _stepped(slope, grid[1:], degree))
    with warnings.catch_warnings():
        # What the library would warn of is told by its message, judged here.
        warnings.simplefilter("ignore")
        found, told = odeint(
            slope,
            [degree],
            grid,
            tcrit=grid[1:],
            tfirst=True,
            rtol=1e-8,
            atol=1e-10,
            mxstep=50_000,
            full_output=True,
        )
    if told["message"] != "Integration successful." or not np.isfinite(found).all():
        raise OutOfRange(*_NOT_INTEGRABLE)
    degrees: Numbers = found[:, 0]
    return degrees


def _crossing(slope: Slope, last: tuple[float, float], until: float, end: float) -> float:
    """The time, between the last sample below a degree and the next, at which it is reached."""
    from scipy.integrate import solve_ivp

    begin, degree = last
    longest_step = max((until - begin) / 1000, 1e-6)
    try:
        solution = solve_ivp(
            slope,
            (begin, until),
            [degree],
            "LSODA",
            events=_Reached(end),
            rtol=1e-8,
            atol=1e-10,
            max_step=longest_step,
        )
    except OutOfRange:
        raise
    except ValueError:
        # A jump of the degree within one step leaves the library no crossing to look for.
        raise OutOfRange(*_NOT_INTEGRABLE) from None
    if solution.status < 0:
        raise OutOfRange(*_NOT_INTEGRABLE)
    # Within the solvers' noise of the next sample, the degree is reached at it.
    return float(solution.t_events[0][0]) if len(solution.t_events[0]) else until


class _Reached:
    """The event at which a piece of the rate ends, in the form that the integrator asks for."""

    terminal = True

    def __init__(self, degree: float) -> None:
        self.degree = degree

    def __call__(self, time: float, state: Numbers) -> float:
        return float(state[0]) - self.degree


def _slope(rate: Rate, grid: Numbers, curve: Numbers) -> Slope:
    import numpy as np

    left = 50_000 + 100 * len(grid)

    def slope(time: float, state: Numbers) -> list[float]:
        nonlocal left
        left -= 1
        if left < 0:
            raise OutOfRange("model", "too fast to be followed along this log", "one whose constants fit the resin")
        return [rate(min(max(float(state[0]), 0.0), 1.0), float(np.interp(time, grid, curve)))]

    return slope


def _history(times_min: Sequence[float], temperatures_c: Sequence[float]) -> tuple[list[float], list[float]]:
    if not 2 <= len(times_min) <= 1_000_000:
        raise OutOfRange("times_min", f"a list of {len(times_min)}", "a list of 2 to 1,000,000 times")
    if len(temperatures_c) != len(times_min):
        given = f"a list of {len(temperatures_c)}"
        raise OutOfRange("temperatures_c", given, f"a list of {len(times_min)}, one for each time")
    times: list[float] = []
    for index, time in enumerate(times_min):
        low = times[-1] if times else -1e8
        times.append(within(f"times_min[{index}]", time, low, 1e8, above=bool(times), unit="min"))
    return times, [_kelvin(f"temperatures_c[{index}]", value) for index, value in enumerate(temperatures_c)]


def time_to_degree_min(*, model: Model, temperature_c: float, degree: float, initial: float) -> float:
    """Time at constant temperature until a degree of cure is reached.

    Formula: ``integral of da / (da/dt)`` from the initial degree, split where the rate jumps.

    Parameters
    ----------
    model : NthOrder, Autocatalytic or TwoRegime
        Model with its constants [1/min, kJ/mol].
    temperature_c : float
        Temperature [°C].
    degree : float
        Degree of cure to reach [-].
    initial : float
        Degree of cure at the start; an autocatalytic model needs a seed above 0 [-].

    Returns
    -------
    float
        Time [min].

    Raises
    ------
    OutOfRange
        If a number is outside its range, or the degree is not reached within 1e9 min.

    Valid range
    -----------
    Initial degree 0 to below 1, degree from it to below 1; temperature -60 to 400 °C.

    Examples
    --------
    >>> time_to_degree_min(model=NthOrder(1e6, 50, 1), temperature_c=60, degree=0.5, initial=0)
    47.88

    Source
    ------
    Quadrature (QUADPACK by scipy) of the model's rate.
    """
    from scipy.integrate import quad

    kelvin, begin = _kelvin("temperature_c", temperature_c), _initial(model, initial)
    goal = within("degree", degree, begin, 1, below=True)
    total = 0.0
    for end, rate in regimes(model):
        stop = min(goal, end)
        if begin >= stop:
            continue
        try:
            # The full output keeps the library's warnings from the caller; the error is judged here.
            span, error = quad(
                lambda a, rate=rate: 1 / rate(a, kelvin), begin, stop, epsrel=1e-8, limit=500, full_output=1
            )[:2]
        except (ZeroDivisionError, OverflowError):
            span, error = math.inf, 0.0
        total += span
        if not (math.isfinite(total) and error <= 1e-4 * max(span, 1e-9) and 0 <= total <= LONGEST_MIN):
            raise OutOfRange(
                "degree", f"{goal:g}", f"one that the model reaches at {temperature_c:g} °C within 1e9 min"
            )
        begin = stop
    return total


def equivalent_time_min(
    *,
    model: Model,
    times_min: Sequence[float],
    temperatures_c: Sequence[float],
    reference_c: float,
    initial: float,
) -> float:
    """Time at the reference temperature that cures as far as a temperature history did.

    Formula: ``time_to_degree`` at the reference of the degree that the history reaches. With a single activation energy
    and no diffusion factor it is the Arrhenius sum.

    Parameters
    ----------
    model : NthOrder, Autocatalytic or TwoRegime
        Model with its constants [1/min, kJ/mol].
    times_min : sequence of float
        Times, ascending, at least two [list of min].
    temperatures_c : sequence of float
        Temperature at each of them [list of °C].
    reference_c : float
        Reference temperature [°C].
    initial : float
        Degree of cure at the first time [-].

    Returns
    -------
    float
        Equivalent time [min].

    Raises
    ------
    OutOfRange
        If a number is outside its range, or the degree reached is not reached at the reference temperature.

    Valid range
    -----------
    As ``degree_of_cure`` and ``time_to_degree_min``; it never replaces a stated post-cure.

    Examples
    --------
    >>> equivalent_time_min(
    ...     model=NthOrder(1e6, 50, 1), times_min=[0, 60], temperatures_c=[60, 60], reference_c=50, initial=0
    ... )
    104.9

    Source
    ------
    Shop rule 37; the model's rate integrated twice.
    """
    reached = degree_of_cure(model=model, times_min=times_min, temperatures_c=temperatures_c, initial=initial)[-1]
    # A resin cured as far as a double can tell is past any time.
    within("degree reached by the log", reached, 0, 1 - 1e-9)
    return time_to_degree_min(model=model, temperature_c=reference_c, degree=max(reached, initial), initial=initial)
