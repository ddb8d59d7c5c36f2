"""Cures that never were: what happens to a part in an oven, and what loggers of several kinds make of it.

A cure is a curve of the part and of the air, minute by minute; a logger takes samples of it with its noise, its step
and its losses. Everything follows from the seed.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt

Values = npt.NDArray[np.float64]
Curve = Callable[[Values], Values]


def way(*points: tuple[float, float]) -> Curve:
    """Straight lines through (minute, °C)."""
    times, temperatures = zip(*points, strict=True)
    return lambda minutes: np.interp(minutes, times, temperatures)


def lagging(curve: Curve, constant_min: float) -> Curve:
    """What follows the curve as a mass with this time constant does."""

    def followed(minutes: Values) -> Values:
        grid = np.arange(-60, float(minutes.max()) + 1, 0.25)
        driven, found = curve(grid), np.empty(len(grid))
        found[0] = driven[0]
        share = 0.25 / constant_min
        for place in range(1, len(grid)):
            found[place] = found[place - 1] + share * (driven[place - 1] - found[place - 1])
        return np.interp(minutes, grid, found)

    return followed


def cycling(curve: Curve, *, swing_k: float, period_min: float) -> Curve:
    """An oven that switches on and off about its set temperature."""
    return lambda minutes: curve(minutes) + swing_k * np.sin(2 * np.pi * minutes / period_min)


def opened(curve: Curve, *, at: float, minutes_open: float, room_c: float = 20.0) -> Curve:
    """A door that stood open: the air falls towards the room and comes back."""

    def seen(minutes: Values) -> Values:
        values = curve(minutes)
        since = minutes - at
        falling = (since >= 0) & (since < minutes_open)
        share = 1 - np.exp(-np.clip(since, 0, minutes_open) / 3)
        back = np.exp(-np.clip(since - minutes_open, 0, None) / 4)
        drop = np.where(falling, share, (1 - np.exp(-minutes_open / 3)) * back) * (since >= 0)
        return values - (values - room_c) * 0.6 * drop

    return seen


def fallen(curve: Curve, *, at: float, to: Curve) -> Curve:
    """A probe that comes off at a moment and shows something else from then on."""
    return lambda minutes: np.where(minutes < at, curve(minutes), to(minutes))


@dataclass(frozen=True)
class Logger:
    """How a logger takes its samples."""

    every_min: float
    noise_k: float = 0.1
    step_k: float = 0.1
    lost: float = 0.0
    silent: Sequence[tuple[float, float]] = ()
    begin: float = 0.0
    end: float | None = None


@dataclass
class Cure:
    """One cure: its probes, its air, its logger, and what is asked."""

    name: str
    probes: dict[str, Curve]
    air: dict[str, Curve]
    logger: Logger
    until_min: float
    stages: Sequence[Any]
    longest_interval_min: float
    left_out: Sequence[str] = ()
    spikes: dict[str, dict[float, float]] = field(default_factory=dict)
    # A transmitter that repeats its last value from a moment on.
    frozen: dict[str, float] = field(default_factory=dict)
    sensor_ranges_c: dict[str, tuple[float, float]] | None = None

    def log(self, seed: int) -> dict[str, Any]:
        """The arguments of ``cure_verdict``."""
        random, logger = np.random.default_rng(seed), self.logger
        end = self.until_min if logger.end is None else logger.end
        times = np.arange(logger.begin, end + 1e-9, logger.every_min)
        columns: dict[str, list[float | None]] = {}
        for name, curve in {**self.probes, **self.air}.items():
            values = curve(times) + random.normal(0, logger.noise_k, len(times))
            values = np.round(values / logger.step_k) * logger.step_k
            if name in self.frozen:
                values[times >= self.frozen[name]] = values[int(np.searchsorted(times, self.frozen[name]))]
            for minute, temperature in self.spikes.get(name, {}).items():
                values[int(np.abs(times - minute).argmin())] = temperature
            lost = random.random(len(times)) < logger.lost
            for begin, stop in logger.silent:
                lost |= (times > begin) & (times < stop)
            lost[[0, -1]] = False
            columns[name] = [None if gone else float(value) for gone, value in zip(lost, values, strict=True)]
        return {
            "stages": self.stages,
            "times_min": times.tolist(),
            "probes": columns,
            "required": [name for name in self.probes if name not in self.left_out],
            "air": list(self.air),
            "left_out": list(self.left_out),
            "longest_interval_min": self.longest_interval_min,
            "from_min": 0.0,
            "until_min": self.until_min,
            "sensor_ranges_c": self.sensor_ranges_c,
        }
