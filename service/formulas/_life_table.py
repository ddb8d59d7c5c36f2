"""A table of lives as a whole: what its points prove of any mass and temperature (shop rule 26).

A heavier or hotter mix never lives longer. So a point proves that all that is lighter and cooler lives at least as
long, and that all that is heavier and hotter lives no longer. Between its points ln(life) is linear in temperature and
in ln(mass). A ragged table, which does not give every mass at every temperature, is filled up to a grid by these two
alone: a place between two points is interpolated, and never outside what the points prove; a place that only heavier
or hotter ones speak for has their life, as "at least"; a place that none speaks for has no figure.
"""

import math
from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import Protocol

from service.formulas.ranges import OutOfRange

MOST_POINTS = 400
# Masses times temperatures: a data sheet gives the same few of each again, and what lies between is filled in.
MOST_PLACES = 10_000


class Point(Protocol):
    """A mass, a temperature and the life there."""

    @property
    def mass_g(self) -> float: ...
    @property
    def temperature_c(self) -> float: ...
    @property
    def life_min(self) -> float: ...


@dataclass(frozen=True, slots=True)
class Found:
    """A place in the table.

    Attributes
    ----------
    log_life
        ln of the life; None where the table gives no figure.
    proved_only
        It is what a heavier or hotter point proves, and may be longer.
    log_below
        Where there is no figure: ln of the life that it stays below, if the table proves any.
    """

    log_life: float | None
    proved_only: bool = False
    log_below: float | None = None


@dataclass(frozen=True, slots=True)
class LifeTable:
    """ln(life) at each mass (rows) and temperature (columns), and where that is only what others prove of it."""

    masses: tuple[float, ...]
    temperatures: tuple[float, ...]
    logs: tuple[tuple[float | None, ...], ...]
    proved_only: tuple[tuple[bool, ...], ...]

    def at(self, mass_g: float, temperature_c: float) -> Found:
        """A lighter or cooler mix counts as at the edge of the table."""
        mass, temperature = max(mass_g, self.masses[0]), max(temperature_c, self.temperatures[0])
        row, column = bisect_left(self.masses, mass), bisect_left(self.temperatures, temperature)
        inside = row < len(self.masses) and column < len(self.temperatures)
        if not inside or self.logs[row][column] is None:
            return Found(None, log_below=min(self._above(mass, temperature), default=None))
        corners = [
            (i, j, share)
            for i, by_mass in self._shares(self.masses, mass, row, logarithmic=True)
            for j, by_temperature in self._shares(self.temperatures, temperature, column)
            if (share := by_mass * by_temperature) > 0
        ]
        # Whoever has a figure has one at every lighter and cooler corner as well.
        total = math.fsum(share * (self.logs[i][j] or 0.0) for i, j, share in corners)
        return Found(total, proved_only=any(self.proved_only[i][j] for i, j, _ in corners))

    @staticmethod
    def _shares(axis: Sequence[float], value: float, end: int, *, logarithmic: bool = False) -> list[tuple[int, float]]:
        if axis[end] == value:
            return [(end, 1.0)]
        low, high, here = axis[end - 1], axis[end], value
        if logarithmic:
            low, high, here = math.log(low), math.log(high), math.log(value)
        share = (here - low) / (high - low)
        return [(end - 1, 1 - share), (end, share)]

    def _above(self, mass: float, temperature: float) -> Iterator[float]:
        """What the lighter and cooler places say that it stays below; what is only proved as "at least" says none."""
        last_row, last_column = bisect_right(self.masses, mass), bisect_right(self.temperatures, temperature)
        for i in range(last_row):
            known = [j for j in range(last_column) if self._told(i, j)]
            if not known:
                continue
            yield self.logs[i][known[-1]] or 0.0
            # In this row itself, up to the temperature, where the row goes on that far.
            if known[-1] + 1 < len(self.temperatures) and self._told(i, known[-1] + 1):
                yield self.at(self.masses[i], temperature).log_life or 0.0
        for j in range(last_column):
            if 0 < last_row < len(self.masses) and self._told(last_row - 1, j) and self._told(last_row, j):
                yield self.at(mass, self.temperatures[j]).log_life or 0.0

    def _told(self, row: int, column: int) -> bool:
        return self.logs[row][column] is not None and not self.proved_only[row][column]


def life_table(points: Sequence[Point]) -> LifeTable:
    """The grid of a table of points; OutOfRange if it is empty or contradicts itself."""
    if not 1 <= len(points) <= MOST_POINTS:
        raise OutOfRange("points", f"a list of {len(points)}", f"a list of 1 to {MOST_POINTS} points")
    return _filled(tuple((float(p.mass_g), float(p.temperature_c), float(p.life_min)) for p in points))


# A plan asks the same table many times.
@lru_cache(maxsize=32)
def _filled(points: tuple[tuple[float, float, float], ...]) -> LifeTable:
    rows: dict[float, list[tuple[float, float]]] = {}
    for mass, temperature, life in points:
        rows.setdefault(mass, []).append((temperature, math.log(life)))
    for mass, row in rows.items():
        row.sort()
        if any(first[0] == second[0] for first, second in pairwise(row)):
            once = "a table that names each mass and temperature once"
            raise OutOfRange("points", f"a table with a temperature twice for {mass:g} g", once)
    _refuse_contradiction(points)
    masses = sorted(rows)
    temperatures = sorted({temperature for _, temperature, _ in points})
    if len(masses) * len(temperatures) > MOST_PLACES:
        spread = f"a table of {len(masses)} masses and {len(temperatures)} temperatures"
        raise OutOfRange("points", spread, f"a table of at most {MOST_PLACES:,} masses times temperatures")
    given = {(mass, temperature): math.log(life) for mass, temperature, life in points}
    at_least = _swept(masses, temperatures, given, upward=False)
    at_most = _swept(masses, temperatures, given, upward=True)
    told = _told(masses, temperatures, rows)
    for i, j in told:
        told[i, j] = min(max(told[i, j], at_least[i, j]), at_most[i, j])
    # Two rows that go by different temperatures may cross between their points; the shorter life holds from there on.
    places = {(masses[i], temperatures[j]): log for (i, j), log in told.items()}
    shortest = _swept(masses, temperatures, places, upward=True)
    told = {place: shortest[place] for place in told}
    places = {(masses[i], temperatures[j]): log for (i, j), log in told.items()}
    proved = _swept(masses, temperatures, places, upward=False)
    across = range(len(temperatures))
    return LifeTable(
        masses=tuple(masses),
        temperatures=tuple(temperatures),
        logs=tuple(tuple(told.get((i, j), proved.get((i, j))) for j in across) for i in range(len(masses))),
        proved_only=tuple(tuple((i, j) not in told for j in across) for i in range(len(masses))),
    )


def _refuse_contradiction(points: Sequence[tuple[float, float, float]]) -> None:
    for mass, temperature, life in points:
        for other_mass, other_temperature, other_life in points:
            if other_mass >= mass and other_temperature >= temperature and other_life > life:
                given = f"longer for {other_mass:g} g at {other_temperature:g} °C"
                given += f" than for {mass:g} g at {temperature:g} °C"
                raise OutOfRange("points", given, "a table in which a hotter or heavier mix never lives longer")


def _swept(
    masses: Sequence[float], temperatures: Sequence[float], given: dict[tuple[float, float], float], *, upward: bool
) -> dict[tuple[int, int], float]:
    """For each place the shortest life of all lighter and cooler ones, or the longest of all heavier and hotter."""
    best, step = (min, -1) if upward else (max, 1)
    found: dict[tuple[int, int], float] = {}
    over_rows, over_columns = range(len(masses)), range(len(temperatures))
    for i in over_rows if upward else reversed(over_rows):
        for j in over_columns if upward else reversed(over_columns):
            near = [
                value
                for value in (
                    given.get((masses[i], temperatures[j])),
                    found.get((i + step, j)),
                    found.get((i, j + step)),
                )
                if value is not None
            ]
            if near:
                found[i, j] = best(near)
    return found


def _told(
    masses: Sequence[float], temperatures: Sequence[float], rows: dict[float, list[tuple[float, float]]]
) -> dict[tuple[int, int], float]:
    """What lies between points: of one mass by temperature, and of one temperature by ln(mass)."""
    told: dict[tuple[int, int], float] = {}
    for i, mass in enumerate(masses):
        row = rows[mass]
        for (cool, slow), (hot, fast) in pairwise([row[0], *row]):
            for j in range(bisect_left(temperatures, cool), bisect_right(temperatures, hot)):
                share = (temperatures[j] - cool) / (hot - cool) if hot > cool else 0.0
                told[i, j] = slow + share * (fast - slow)
    for j in range(len(temperatures)):
        known = [i for i in range(len(masses)) if (i, j) in told]
        for light, heavy in pairwise(known):
            span = math.log(masses[heavy] / masses[light])
            for i in range(light + 1, heavy):
                share = math.log(masses[i] / masses[light]) / span
                told[i, j] = told[light, j] + share * (told[heavy, j] - told[light, j])
    return told
