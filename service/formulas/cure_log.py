"""The samples of a cure, probe by probe, and what is found over a maximum (shop rule 35).

- ``Log``: times and the temperatures of the named probes, checked once.
- ``Excursion``, ``SuspectSample``: what was found over a maximum.
- :func:`gap_limit_min`: how far apart two samples may lie before nothing is counted between them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from service.formulas.ranges import OutOfRange

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Samples = npt.NDArray[np.float64]

__all__ = ["Excursion", "Log", "SuspectSample", "gap_limit_min"]

LEAST_GAP_MIN = 5.0
MOST_SAMPLES = 1_000_000


@dataclass(frozen=True, slots=True)
class Excursion:
    """Two or more samples in a row over the maximum.

    Attributes
    ----------
    probe : str
        The probe that saw it [text].
    from_min : float
        First sample over the maximum [min].
    to_min : float
        Last sample over the maximum [min].
    highest_c : float
        The hottest sample [°C].
    """

    probe: str
    from_min: float
    to_min: float
    highest_c: float


@dataclass(frozen=True, slots=True)
class SuspectSample:
    """One sample alone over the maximum: a bad contact looks like this, and so may a short overshoot.

    Attributes
    ----------
    probe : str
        The probe that saw it [text].
    at_min : float
        When [min].
    temperature_c : float
        What it read [°C].
    """

    probe: str
    at_min: float
    temperature_c: float


def _as_samples(name: str, values: Sequence[float | None], *, may_miss: bool, low: float, high: float) -> Samples:
    import numpy as np

    allowed = f"a list of numbers from {low:g} to {high:g}" + (", or nothing where a sample is missing" * may_miss)
    for kind in set(map(type, values)):
        missing = kind is type(None)
        if (missing and not may_miss) or (not missing and (kind is bool or not issubclass(kind, int | float))):
            raise OutOfRange(name, f"a list that holds {kind.__name__}", allowed)
    try:
        samples = np.array(values, dtype=float)
    except OverflowError:
        raise OutOfRange(name, "a list with a number too large", allowed) from None
    present = samples[np.array([value is not None for value in values], dtype=bool)] if may_miss else samples
    if not bool(np.all((present >= low) & (present <= high))):
        raise OutOfRange(name, "a list with a number outside its range", allowed)
    return samples


@dataclass(frozen=True, slots=True)
class Log:
    """Times and temperatures of a cure, as logged.

    Attributes
    ----------
    times_min : tuple of float
        Ascending, at least two [list of min].
    probes : dict of str to tuple
        One temperature for each time, or None where the sample is missing [list of °C].
    """

    times_min: tuple[float, ...]
    probes: Mapping[str, tuple[float | None, ...]]

    def __post_init__(self) -> None:
        object.__setattr__(self, "times_min", tuple(self.times_min))
        object.__setattr__(self, "probes", {name: tuple(values) for name, values in self.probes.items()})
        if not 2 <= len(self.times_min) <= MOST_SAMPLES:
            raise OutOfRange("times_min", f"a list of {len(self.times_min)}", f"a list of 2 to {MOST_SAMPLES} times")
        times = _as_samples("times_min", self.times_min, may_miss=False, low=-1e8, high=1e8)
        if not bool((times[1:] > times[:-1]).all()):
            raise OutOfRange("times_min", "not in ascending order", "a list of times, each later than the one before")
        for name, values in self.probes.items():
            if len(values) != len(self.times_min):
                given = f"a list of {len(values)}"
                raise OutOfRange(f"probes[{name}]", given, f"a list of {len(self.times_min)}, one for each time")
            _as_samples(f"probes[{name}]", values, may_miss=True, low=-273.15, high=3000)


def gap_limit_min(*, times_min: Sequence[float]) -> float:
    """Longest interval between two samples that still counts as observed.

    Formula: ``max(3 * median interval, 5)``.

    Parameters
    ----------
    times_min : sequence of float
        Times of the samples, ascending, at least two [list of min].

    Returns
    -------
    float
        Limit [min]; two samples further apart than this have a gap between them.

    Raises
    ------
    OutOfRange
        If there are fewer than two times, or they do not ascend.

    Valid range
    -----------
    2 to 1,000,000 times from -1e8 to 1e8 min, each later than the one before.

    Examples
    --------
    >>> gap_limit_min(times_min=[0, 1, 2, 3, 10])
    5.0
    >>> gap_limit_min(times_min=[0, 10, 20, 30])
    30.0

    Source
    ------
    Shop rule 35; common practice, no source.
    """
    import numpy as np

    log = Log(tuple(times_min), {})
    return max(3 * float(np.median(np.diff(np.array(log.times_min, dtype=float)))), LEAST_GAP_MIN)
