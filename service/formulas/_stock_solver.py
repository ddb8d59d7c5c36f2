"""The exact part of a search of the stock: opened lives, pieces and conditions as a mixed-integer program."""

from collections import defaultdict
from collections.abc import Callable, Sequence
from typing import Any

from service.formulas._stock import Draw, Found, Need, Outcome, Stock

LARGEST_PROGRAM = 40_000
"""Needs times stock that a program is made of; beyond it is not tried."""

_SCALE = 1000.0
"""Masses go to the solver in grams: its tolerance of 1e-6 is then a thousandth of a milligram."""

Kind = tuple[int, int, bool]
"""Needs that are alike: day, size of a piece (0 for what can be divided), known lot."""


def solve(
    needs: Sequence[Need], stocks: Sequence[Stock], *, whole: bool, limit_s: float, rank: Callable[[str], int]
) -> Found:
    """The fewest conditions that are enough and their draws; no, if all are not; "not shown" after ``limit_s``.

    For each kind of need and each stock how much it gives (pieces are counted by kind, not told apart); for each
    sealed can with an opened life the day on which it is opened; for each condition whether it is asked for.

    Source: counts by kind as in Gilmore and Gomory, A linear programming approach to the cutting-stock problem, 1961
    (from memory); solved by HiGHS (scipy).
    """
    import numpy as np
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import coo_matrix

    alike: dict[Kind, list[int]] = defaultdict(list)
    for index, need in enumerate(needs):
        alike[(need.day, need.size if whole else 0, need.known_lot)].append(index)
    kinds = sorted(alike)
    if len(kinds) * len(stocks) > LARGEST_PROGRAM:
        return Found(Outcome.NOT_SHOWN)
    program = _Program(kinds, [sum(1 if whole else needs[i].size for i in alike[kind]) for kind in kinds], stocks, rank)
    if program.hopeless:
        return Found(Outcome.NO)
    rows, columns, values = zip(*program.cells, strict=True)
    shape = (len(program.lows), len(program.cost))
    result = milp(
        np.array(program.cost),
        constraints=LinearConstraint(coo_matrix((values, (rows, columns)), shape).tocsr(), program.lows, program.highs),
        integrality=np.array(program.integral),
        bounds=Bounds(np.zeros(len(program.cost)), np.array(program.most)),
        options={"time_limit": limit_s, "mip_rel_gap": 0},
    )
    if result.status == 2:
        return Found(Outcome.NO)
    if result.x is None:
        return Found(Outcome.NOT_SHOWN)
    asked = tuple(name for name, column in program.conditions.items() if result.x[column] > 0.5)
    scale = 1 if whole else _SCALE
    given = {pair: round(result.x[column] * scale) for pair, column in program.gives.items()}
    draws = _shared_out(needs, stocks, [alike[kind] for kind in kinds], given, whole=whole)
    return Found(Outcome.YES_IF if asked else Outcome.YES, draws, asked, smallest=result.status == 0)


class _Program:
    """Columns and rows of the program. A cell is its row, its column and its value."""

    def __init__(
        self, kinds: Sequence[Kind], counts: Sequence[int], stocks: Sequence[Stock], rank: Callable[[str], int]
    ) -> None:
        self.cost: list[float] = []
        self.most: list[float] = []
        self.integral: list[int] = []
        self.cells: list[tuple[int, int, float]] = []
        self.lows: list[float] = []
        self.highs: list[float] = []
        names = dict.fromkeys(n for s in stocks for n in (*s.needs, *([s.beyond] if s.beyond is not None else [])))
        # Each condition weighs more than all differences of rank together: the fewest first, then the easier ones.
        heavy = 1.0 + sum(rank(name) for name in names)
        self.conditions = {name: self._column(heavy + rank(name), 1, integral=True) for name in names}
        self.gives: dict[tuple[int, int], int] = {}
        days = sorted({day for day, _, _ in kinds})
        capacity: dict[int, list[tuple[int, float]]] = defaultdict(list)
        met: dict[int, list[tuple[int, float]]] = defaultdict(list)
        for number, stock in enumerate(stocks):
            opened_on = self._openings(stock, days)
            for kind, (day, size, known_lot) in enumerate(kinds):
                if not stock.gives(Need(day, size, known_lot), conditions=True):
                    continue
                scale = 1.0 if size else _SCALE
                most = min(counts[kind], stock.free // (size or 1)) / scale
                if most <= 0:
                    continue
                column = self._column(0.0, most, integral=bool(size))
                self.gives[kind, number] = column
                capacity[number].append((column, float(size or 1)))
                met[kind].append((column, 1.0))
                for name in stock.needs:
                    self._row([(column, 1.0), (self.conditions[name], -most)], high=0.0)
                lifted = [(self.conditions[stock.beyond], -most)] if stock.beyond is not None else []
                if day > stock.last:
                    self._row([(column, 1.0), *lifted], high=0.0)
                elif opened_on:
                    within = [(c, -most) for d, c in opened_on.items() if d <= day <= d + (stock.life or 0)]
                    self._row([(column, 1.0), *within, *lifted], high=0.0)
        # A need that nothing may give to, whatever comes true.
        self.hopeless = len(met) < len(kinds)
        for kind, count in enumerate(counts):
            scaled = count / (1.0 if kinds[kind][1] else _SCALE)
            self._row(met[kind], low=scaled, high=scaled)
        for number, taken in capacity.items():
            self._row(taken, high=stocks[number].free / (1.0 if kinds[0][1] else _SCALE))

    def _column(self, cost: float, most: float, *, integral: bool) -> int:
        self.cost.append(cost)
        self.most.append(most)
        self.integral.append(int(integral))
        return len(self.cost) - 1

    def _row(self, cells: Sequence[tuple[int, float]], *, low: float = -float("inf"), high: float) -> None:
        self.cells += [(len(self.lows), column, value) for column, value in cells]
        self.lows.append(low)
        self.highs.append(high)

    def _openings(self, stock: Stock, days: Sequence[int]) -> dict[int, int]:
        if stock.life is None:
            return {}
        columns = {day: self._column(0.0, 1, integral=True) for day in days if stock.first <= day <= stock.last}
        if columns:
            self._row([(column, 1.0) for column in columns.values()], high=1.0)
        return columns


def _shared_out(
    needs: Sequence[Need],
    stocks: Sequence[Stock],
    alike: Sequence[Sequence[int]],
    given: dict[tuple[int, int], int],
    *,
    whole: bool,
) -> tuple[Draw, ...]:
    """The solver's amounts for kinds of needs, given to the single needs in their order."""
    left = [stock.free for stock in stocks]
    draws: list[Draw] = []
    for kind, indexes in enumerate(alike):
        amounts = {number: amount for (of, number), amount in given.items() if of == kind and amount > 0}
        if whole:
            rolls = [number for number, count in amounts.items() for _ in range(count)]
            draws += [Draw(i, n, needs[i].size) for i, n in zip(indexes, rolls, strict=False)]
            continue
        for number in amounts:
            amounts[number] = min(amounts[number], left[number])
        off = sum(needs[i].size for i in indexes) - sum(amounts.values())
        for number in amounts:
            # A rounding of the solver's goes to whichever can bear it.
            more = max(-amounts[number], min(off, left[number] - amounts[number]))
            amounts[number] += more
            off -= more
            left[number] -= amounts[number]
        draws += _one_after_the_other(needs, indexes, amounts)
    return tuple(draws)


def _one_after_the_other(needs: Sequence[Need], indexes: Sequence[int], amounts: dict[int, int]) -> list[Draw]:
    draws: list[Draw] = []
    cans: list[Any] = [[number, amount] for number, amount in sorted(amounts.items()) if amount > 0]
    for index in indexes:
        wanted = needs[index].size
        while wanted and cans:
            amount = min(wanted, cans[0][1])
            draws.append(Draw(index, cans[0][0], amount))
            wanted -= amount
            cans[0][1] -= amount
            if not cans[0][1]:
                cans.pop(0)
    return draws
