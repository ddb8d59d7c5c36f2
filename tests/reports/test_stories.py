"""Five shops that are not the demo's, as arrays: a roll, an oven, a mixer, cold nights, and a bunch without a cause.

Each is a year of parts, drawn from a fixed seed, of which one in the middle of the failed is looked at. What is asked
is what the report says of it, not only what it counts.
"""

from datetime import date
from functools import cache

import numpy as np

from service.reports.finding.given import Factor, Number, Outcomes, Times
from service.reports.finding.suspected import Suspects
from service.reports.finding.suspects import find_suspects
from service.reports.finding.unusual import among_the_held, unusual
from service.reports.finding.weighing import Suspicion

SIZE = 60
PARTS = [f"P{n:04d}" for n in range(SIZE)]


class Shop:
    """Parts with what each of them has, in the order of their making."""

    def __init__(self, seed: int) -> None:
        self.rng = np.random.default_rng(seed)
        self.levels: dict[str, list[int]] = {
            "roll": [n // 15 for n in range(SIZE)],
            "lot": [int(v) for v in self.rng.integers(0, 2, SIZE)],
            "tool": [int(v) for v in self.rng.integers(0, 2, SIZE)],
            "mould": [n % 3 for n in range(SIZE)],
            "person": [int(v) for v in self.rng.integers(0, 3, SIZE)],
            "week": [n // 5 for n in range(SIZE)],
        }

        self.nights = [18 + 3 * float(np.sin(n / 5)) + float(self.rng.normal(0, 2)) for n in range(SIZE)]

    def fail(self, exposed: list[bool], *, with_it: float = 0.95, without: float = 0.02) -> list[str]:
        return [p for p, hit in zip(PARTS, exposed, strict=True) if self.rng.random() < (with_it if hit else without)]

    def report(self, failed: list[str]) -> Suspects:
        own = PARTS.index(failed[len(failed) // 2])
        factors = [
            Factor(kind, f"{kind} {levels[own]}", None,
                   frozenset(p for p, level in zip(PARTS, levels, strict=True) if level == levels[own]))
            for kind, levels in self.levels.items()
        ]  # fmt: skip
        return find_suspects(
            PARTS[own],
            outcomes=Outcomes(
                word="failed",
                failed=frozenset(failed),
                good=frozenset(PARTS) - frozenset(failed),
                undecided=frozenset(),
                otherwise=frozenset(),
                since=date(2026, 1, 5),
                until=date(2026, 11, 25),
            ),
            factors=factors,
            numbers=[Number("temperature of the coldest pot", "°C", dict(zip(PARTS, self.nights, strict=True)))],
            times=Times({part: float(place) for place, part in enumerate(PARTS)}),
        )


def _is(levels: list[int], one: int) -> list[bool]:
    return [level == one for level in levels]


@cache
def _accused(found: Suspects) -> list[str]:
    every = [*found.ranked, *found.people, *found.numbers]
    return [one.name for one in every if one.verdict == Suspicion.ACCUSED]


def test_an_oven_is_named_and_nothing_else() -> None:
    shop = Shop(1)
    found = shop.report(shop.fail(_is(shop.levels["tool"], 1)))
    assert found.ranked[0].name == "tool 1"
    assert _accused(found) == ["tool 1"]
    assert "one stands out" in found.sentence


def test_a_roll_that_comes_and_goes_with_its_days_ranks_first_and_is_not_accused() -> None:
    shop = Shop(2)
    found = shop.report(shop.fail(_is(shop.levels["roll"], 2)))
    assert found.ranked[0].name == "roll 2"
    assert found.ranked[0].verdict == Suspicion.PERIOD
    assert "cannot be told from that period" in found.ranked[0].sentence
    assert _accused(found) == []
    assert "Roll 2 ranks first of these" in found.sentence


def test_a_roll_in_use_beside_another_is_named() -> None:
    shop = Shop(3)
    shop.levels["roll"] = [n // 30 * 2 + int(shop.rng.integers(0, 2)) for n in range(SIZE)]
    found = shop.report(shop.fail(_is(shop.levels["roll"], 1)))
    assert (found.ranked[0].name, _accused(found)) == ("roll 1", ["roll 1"])


def test_whoever_mixed_badly_stands_out_among_the_tasks_and_no_thing_is_accused() -> None:
    shop = Shop(4)
    found = shop.report(shop.fail(_is(shop.levels["person"], 1)))
    assert _accused(found) == ["person 1"]
    assert found.people[0].rank == 1
    assert all(s.rank > 1 for s in found.ranked)


def test_cold_nights_inside_the_band_are_seen() -> None:
    shop = Shop(5)
    found = shop.report(shop.fail([night < 16.5 for night in shop.nights]))
    number = found.numbers[0]
    assert number.rank == 1
    assert number.median_failed is not None
    assert number.median_good is not None
    assert number.median_failed < 16.5 < number.median_good
    assert [name for name in _accused(found) if name != number.name] == []


def test_a_bunch_of_innocent_failures_accuses_nothing_that_was_then_in_use() -> None:
    """Whatever befell the middle of the year, the roll of those weeks is not accused of it: in none of ten shops."""
    for seed in range(10):
        shop = Shop(100 + seed)
        failed = shop.fail([20 <= n < 36 for n in range(SIZE)], with_it=0.85, without=0.04)
        assert _accused(shop.report(failed)) == [], seed


def test_six_of_seven_rejected_name_the_roll_that_they_share() -> None:
    """A guilty roll whose parts were rejected at inspection ranks first with a p that is not 1."""
    shop = Shop(6)
    found = shop.report([p for p, roll in zip(PARTS, shop.levels["roll"], strict=True) if roll == 3][:6])
    assert found.ranked[0].kind in ("roll", "week")
    assert found.ranked[0].p < 0.001


def test_what_few_of_the_parts_that_held_reach_is_told_with_how_few() -> None:
    """The share is counted by hand: 1.0 to 40.0 held, and one part at 39."""
    values = {f"P{n}": float(n) for n in range(1, 41)} | {"own": 39.0, "bad": 99.0}
    held = Outcomes("failed", frozenset({"own", "bad"}), frozenset(f"P{n}" for n in range(1, 41)), frozenset(),
                    frozenset(), date(2026, 1, 5), date(2026, 11, 25))  # fmt: skip
    (one,) = unusual("own", [Number("film time", "min", values)], held)
    assert one.lead + one.rest == (
        "Film time: 39 min is unusually large; 2 of 40 parts that held had one so large (5 %)."
    )
    assert unusual("own", [Number("film time", "min", values | {"own": 20.0})], held) == ()
    (far,) = unusual("own", [Number("film time", "min", values | {"own": -3.0})], held)
    assert far.rest == "; none of 40 parts that held had one so small."
    few = {code: value for code, value in values.items() if code in ("own", "P1", "P2")}
    assert unusual("own", [Number("film time", "min", few)], held) == (), "of three parts no share is told"
    both = [Number("film time", "min", values), Number("its size", "min", values, size_of="film time")]
    assert [one.name for one in unusual("own", both, held)] == ["film time"]
    # 38 of 40 lie below 39, and one is as large, which counts half.
    placed = among_the_held("own", Number("film time", "min", values), held)
    assert placed is not None
    assert placed.percentile == 96.25
    assert among_the_held("own", Number("film time", "min", few), held) is None
