"""Shops drawn from a seed, each with one cause of failure or none, and how often the report's numbers find it.

python -m tests.benchmarks.shops [--shops 1080] [--no-regression]

Each shop is arrays only: what each part was made of, by whom, when, in which oven and how warm. A part that has the
cause fails at one rate, any other at another. The report's own functions rank and accuse; beside them stand the lot
that most failed parts share, and a penalised logistic regression (scikit-learn). Printed are how often the true cause
came first or in the first group, in all and where the part that is looked at has it, and how often an innocent or the
cause was accused. A part that failed without the cause is no case of it: nothing that it shares can be the answer.
"""

import argparse
import time
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from service.reports.finding.weighing import Column, Suspicion, weigh

CAUSES = ("bad lot", "can open too long", "roll", "oven", "cold nights", "mixer", "mould", "scale drift", "none")
# Those of which some parts have it and some have not at any time; the others come and go with the days.
AT_ANY_TIME = ("bad lot", "oven", "mixer", "mould")
SIZES = (12, 24, 48, 96)
HARD, SOFT = (0.9, 0.03), (0.7, 0.1)


@dataclass
class Shop:
    """One shop: names and columns of all that is recorded, who shares a pot or cure, and what became of the parts."""

    cause: str
    started: Any
    columns: dict[str, Any] = field(default_factory=dict)
    numbers: dict[str, Any] = field(default_factory=dict)
    blocks: Any = None
    exposed: Any = None
    failed: Any = None
    bunched: bool = False
    confounded: bool = False

    @property
    def size(self) -> int:
        return len(self.started)


def draw(seed: int, cause: str, size: int, rates: tuple[float, float]) -> Shop:
    """A shop of so many parts; drawn again until some failed and some did not."""
    rng = np.random.default_rng([seed, CAUSES.index(cause), size])
    while True:
        shop = _draw(rng, cause, size, rates)
        bad = int(shop.failed.sum())
        if 2 <= bad <= size - 2:
            return shop


def _runs(rng: Any, size: int, mean: float) -> Any:
    """What is used up and followed by the next: numbers that go up with time."""
    ends = np.cumsum(rng.poisson(max(mean - 1, 0.5), size) + 1)
    return np.searchsorted(ends, np.arange(size), side="right")


def _draw(rng: Any, cause: str, size: int, rates: tuple[float, float]) -> Shop:
    per_day = rng.uniform(0.6, 2.5)
    started = np.sort(rng.uniform(0, size / per_day, size))
    day = started.astype(int)
    shop = Shop(cause, started)
    kept = shop.columns
    # Two lots of hardener side by side, or one after the other; cans within lots. Where cans are confounded the resin
    # changes together with the hardener.
    shop.confounded = bool(rng.random() < 0.3)
    side_by_side = cause == "bad lot" or rng.random() < 0.5
    hardener = rng.integers(0, 2, size) if side_by_side else _runs(rng, size, size / 2.5)
    kept["hardener lot"] = hardener
    kept["hardener can"] = hardener * 100 + _within(rng, hardener, size / 5)
    kept["resin lot"] = hardener if shop.confounded and not side_by_side else _runs(rng, size, size / 2)
    kept["resin can"] = kept["resin lot"] * 100 + _within(rng, kept["resin lot"], size / 5)
    kept["roll"] = _runs(rng, size, size / 4)
    kept["second roll"] = _runs(rng, size, size / 3)
    kept["kit"] = np.arange(size)
    kept["mould"] = rng.integers(0, rng.integers(2, 4), size)
    together = rng.random() < 0.4
    cure = _runs(rng, size, 2.2) if together else np.arange(size)
    kept["cure"] = cure
    shop.blocks = cure
    kept["oven"] = rng.integers(0, 2, cure.max() + 1)[cure]
    kept["scale"] = rng.integers(0, 2, size)
    kept["scale interval"] = kept["scale"] * 100 + _runs(rng, size, size / 3)
    kept["day"] = day
    kept["shift"] = rng.integers(0, 2, size)
    kept["design"] = rng.integers(0, 2, size)
    for task in ("mixed", "cut", "laid", "cured"):
        kept[f"{task} by"] = rng.integers(0, 3, size)
    opened = np.zeros(size)
    for can in np.unique(kept["hardener can"]):
        mine = kept["hardener can"] == can
        opened[mine] = started[mine] - started[mine].min()
    limit = np.quantile(opened, rng.uniform(0.55, 0.8)) if size > 3 else 0
    kept["this can after its limit"] = np.where(opened > limit, kept["hardener can"], -1)
    kept["a can after its limit"] = np.where(opened > limit, 0, -1)
    night = 19 + 3 * np.sin(day / 9 + rng.uniform(0, 6)) + rng.normal(0, 1.6, day.max() + 1)[day]
    shop.numbers = {
        "night": night,
        "cure temperature": rng.normal(60, 1, cure.max() + 1)[cure],
        "time in band": rng.normal(300, 12, cure.max() + 1)[cure],
        "deviation of the ratio": rng.normal(0, 0.7, size),
        "dew-point margin": night - 8 + rng.normal(0, 1.5, size),
        "age at use": started + rng.uniform(0, 2, size),
        "days open": opened,
        "film time": rng.normal(30, 6, size),
        "stirring": rng.normal(3, 0.4, size),
        "thickness": rng.normal(2.1, 0.05, size),
        "fibre fraction": rng.normal(0.5, 0.01, size),
    }
    shop.exposed = _exposed(rng, shop, cause)
    with_it, without = rates
    rate = np.where(shop.exposed, with_it, without)
    if cause == "none":
        shop.bunched = bool(rng.random() < 0.5)
        middle = rng.uniform(0.2, 0.8) * started.max()
        near = np.argsort(np.abs(started - middle))[: max(4, size // 4)]
        rate = np.full(size, 0.05 if shop.bunched else 0.3)
        if shop.bunched:
            rate[near] = 0.85
    shop.failed = rng.random(size) < rate
    return shop


def _within(rng: Any, lots: Any, mean: float) -> Any:
    found = np.zeros(len(lots), dtype=int)
    for lot in np.unique(lots):
        mine = np.flatnonzero(lots == lot)
        found[mine] = _runs(rng, len(mine), mean)
    return found


_OF = {"bad lot": "hardener lot", "can open too long": "a can after its limit", "roll": "roll", "oven": "oven",
       "mixer": "mixed by", "mould": "mould", "scale drift": "scale interval"}  # fmt: skip


def _exposed(rng: Any, shop: Shop, cause: str) -> Any:
    if cause == "none":
        return np.zeros(shop.size, dtype=bool)
    if cause == "cold nights":
        return shop.numbers["night"] < np.quantile(shop.numbers["night"], 0.4)
    levels = shop.columns[_OF[cause]]
    ones, counts = np.unique(levels[levels >= 0], return_counts=True)
    # About half of the parts in a small shop, as its issue says.
    best = ones[np.argmin(np.abs(counts - 0.45 * shop.size))]
    return levels == best


@dataclass
class Seen:
    """What the report said of one shop, and whether the part that it is on has the cause at all."""

    first: bool
    has_it: bool
    accused: bool
    innocent: bool
    by_lot: bool
    by_regression: bool | None


def look(shop: Shop, rng: Any, *, most: int, regression: bool) -> Seen:
    """The report on one failed part of the shop: on the one that failed last."""
    part = int(np.flatnonzero(shop.failed)[-1])
    names: list[str] = []
    columns: list[Column] = []
    for name, levels in shop.columns.items():
        own = levels == levels[part]
        if levels[part] >= 0 and own.sum() > 1:
            names.append(name)
            columns.append(Column(own.astype(float)))
    for name, values in shop.numbers.items():
        names.append(name)
        columns.append(Column(values, number=True))
    weighed = weigh(shop.failed, shop.started, columns, shop.blocks, most=most)
    right = _right(shop, columns, names, part)
    first = any(g.rank == 1 and right & set(g.members) for g in weighed.groups)
    accused = [g for g in weighed.groups if g.verdict == Suspicion.ACCUSED]
    return Seen(
        first=first,
        has_it=bool(shop.exposed[part]),
        accused=any(right & set(g.members) for g in accused),
        innocent=any(not right & set(g.members) for g in accused),
        by_lot=bool(right & set(_most_shared(shop, columns, names))),
        by_regression=bool(right & set(_regression(shop, columns))) if regression else None,
    )


def _right(shop: Shop, columns: list[Column], names: list[str], part: int) -> set[int]:
    """The columns that are the cause: the thing itself, or that which has the very same parts."""
    if shop.cause == "none":
        return set()
    if shop.cause == "cold nights":
        return {names.index("night")}
    return {n for n, c in enumerate(columns) if not c.number and np.array_equal(c.values > 0, shop.exposed)}


def _most_shared(shop: Shop, columns: list[Column], names: list[str]) -> list[int]:
    """The lot, can or roll that most of the failed parts share."""
    counts = {n: int((columns[n].values[shop.failed] > 0).sum()) for n, name in enumerate(names)
              if name.split()[-1] in ("lot", "can", "roll")}  # fmt: skip
    return [n for n, c in counts.items() if c == max(counts.values())]


def _regression(shop: Shop, columns: list[Column]) -> list[int]:
    """The largest coefficient of a logistic regression with a ridge penalty over all columns."""
    from sklearn.linear_model import LogisticRegression

    table = np.column_stack([c.values for c in columns])
    table = (table - table.mean(axis=0)) / np.where(table.std(axis=0) > 0, table.std(axis=0), 1)
    fitted = LogisticRegression(C=0.3, max_iter=200).fit(table, shop.failed)
    size = np.where([c.number for c in columns], np.abs(fitted.coef_[0]), fitted.coef_[0])
    return [n for n, s in enumerate(size) if s >= size.max() - 1e-9]


def seen(shops: int, rates: tuple[float, float], *, most: int, regression: bool = True) -> Iterator[tuple[Shop, Seen]]:
    """So many shops, each cause and size as often as any other."""
    rng = np.random.default_rng(11)
    for seed in range(shops):
        shop = draw(seed, CAUSES[seed % len(CAUSES)], SIZES[seed // len(CAUSES) % len(SIZES)], rates)
        yield shop, look(shop, rng, most=most, regression=regression)


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--shops", type=int, default=1080, help="as many at each of the two failure rates")
    parser.add_argument("--most", type=int, default=1000, help="rearrangements of each shop")
    parser.add_argument("--no-regression", action="store_true")
    asked = parser.parse_args()
    begun = time.monotonic()
    for rates in (HARD, SOFT):
        groups: dict[str, list[Seen]] = defaultdict(list)
        for shop, said in seen(asked.shops, rates, most=asked.most, regression=not asked.no_regression):
            groups["all" if shop.cause != "none" else "none, bunched" if shop.bunched else "none"].append(said)
            if shop.cause != "none":
                groups[shop.cause].append(said)
                groups[f"{shop.size} parts"].append(said)
            groups["every shop"].append(said)
            if shop.cause in AT_ANY_TIME:
                groups["at any time"].append(said)
                groups[f"at any time, {shop.size} parts"].append(said)
        print(f"failure rate {rates[0]} with the cause, {rates[1]} without")
        heads = ("shops", "first", "where it has", "cause accused", "innocent", "most shared", "regression")
        print(f"{'':28}" + "".join(f"{head:>14}" for head in heads))
        for name in sorted(groups):
            rows = groups[name]
            shares = [
                100 * float(np.mean([getattr(row, key) or False for row in rows]))
                for key in ("first", "accused", "innocent", "by_lot", "by_regression")
            ]
            own = [row.first for row in rows if row.has_it]
            shares.insert(1, 100 * float(np.mean(own)) if own else 0.0)
            print(f"{name:28}{len(rows):14d}" + "".join(f"{share:14.1f}" for share in shares))
    print(f"{time.monotonic() - begun:.0f} s")


if __name__ == "__main__":
    main()
