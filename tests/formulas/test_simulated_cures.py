"""Cures that never were, judged as real ones would be: the good ones are seldom held, the bad ones never pass.

Loggers of 1 s, 1, 10 and 30 min; ovens that cycle; a door that is opened; a probe that falls off; radio packets lost
one by one and for 40 min; an autoclave in two stages (shop rule 35).
"""

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest

from service.formulas.cure_verdicts import cure_verdict
from service.formulas.stages import CureVerdict, Stage
from tests.formulas.simulated_cures import Cure, Curve, Logger, cycling, fallen, lagging, opened, way

HOLD = Stage(
    name="80 °C", low_c=75, high_c=85, minimum_min=240, over_c=95, air_over_c=110, heating_limit_k_min=2,
    cooling_limit_k_min=3, dip_min=15, dip_k=8,
)  # fmt: skip
AUTOCLAVE = [
    Stage(
        name="dwell", low_c=85, high_c=95, minimum_min=60, over_c=105, air_over_c=None, maximum_min=120,
        heating_limit_k_min=2,
    ),
    Stage(
        name="cure", low_c=125, high_c=135, minimum_min=120, over_c=145, air_over_c=160, heating_limit_k_min=2,
        cooling_limit_k_min=3,
    ),
]  # fmt: skip

# The air of an oven swings in at least four of the intervals that its schedule allows.
LOGGERS = {"1 s": Logger(1 / 60), "1 min": Logger(1), "10 min": Logger(10), "30 min": Logger(30)}
END = 600.0


def air(set_c: float = 80.0, *, rise_min: float = 60, leaves: float = 480) -> Curve:
    return way((0, 20), (rise_min, set_c + 1), (leaves, set_c + 1), (leaves + 100, 25))


def whole(kind: str, **more: Any) -> Cure:
    """A good cure: two probes on the part, one in the air."""
    logger = LOGGERS[kind]
    above = air()
    return Cure(
        name=f"{kind}, plain",
        probes={"root": lagging(above, 12), "tip": lagging(above, 20)},
        air={"air": above},
        logger=logger,
        until_min=END,
        stages=[HOLD],
        longest_interval_min=max(1.0, logger.every_min),
        **more,
    )


def autoclave(kind: str) -> Cure:
    above = way((0, 20), (60, 91), (150, 91), (180, 131), (360, 131), (460, 30), (END, 25))
    probes = {"root": lagging(above, 6), "tip": lagging(above, 9)}
    return replace(
        whole(kind), name=f"{kind}, autoclave in two stages", probes=probes, air={"air": above}, stages=AUTOCLAVE
    )


def good_cures() -> Iterator[Cure]:
    for kind, logger in LOGGERS.items():
        good = whole(kind)
        yield good
        period = max(16.0, 4 * logger.every_min)
        swinging = cycling(air(), swing_k=6, period_min=period)
        yield replace(
            good,
            name=f"{kind}, cycling oven",
            probes={"root": lagging(swinging, 25), "tip": lagging(swinging, 40)},
            air={"air": swinging},
        )
        draughty = opened(air(), at=200, minutes_open=4)
        yield replace(
            good,
            name=f"{kind}, opened door",
            probes={"root": lagging(draughty, 12), "tip": lagging(draughty, 20)},
            air={"air": draughty},
        )
        keel = fallen(lagging(air(), 15), at=150, to=air(45))
        yield replace(
            good, name=f"{kind}, a fallen probe left out", probes={**good.probes, "keel": keel}, left_out=["keel"]
        )
        late = fallen(lagging(air(), 15), at=500, to=way((0, 25), (END, 25)))
        yield replace(
            good,
            name=f"{kind}, a probe that fell off at the end",
            probes={**good.probes, "keel": late},
            stages=[replace(HOLD, cooling_limit_k_min=None)],
        )
        yield replace(good, name=f"{kind}, 2 % lost", logger=replace(logger, lost=0.02))
        yield replace(good, name=f"{kind}, 40 min lost", logger=replace(logger, silent=[(220, 260)]))
        yield autoclave(kind)
        yield replace(autoclave(kind), name=f"{kind}, autoclave, 2 % lost", logger=replace(logger, lost=0.02))
        yield replace(
            good, name=f"{kind}, half a kelvin of noise and step", logger=replace(logger, noise_k=0.5, step_k=0.5)
        )


def bad_cures() -> Iterator[Cure]:
    for kind, logger in LOGGERS.items():
        good = whole(kind)
        cold = lagging(air(76), 20)
        yield replace(
            good,
            name=f"{kind}, a tip that stays cold",
            probes={**good.probes, "tip": way((0, 20), (90, 73), (END, 73))},
        )
        yield replace(
            good, name=f"{kind}, half an hour short", probes={"root": cold, "tip": lagging(air(leaves=300), 20)}
        )
        hot = way((0, 20), (60, 81), (150, 81), (170, 100), (210, 100), (230, 81), (480, 81), (580, 25))
        yield replace(good, name=f"{kind}, too hot for 40 min", probes={**good.probes, "root": hot})
        yield replace(
            good, name=f"{kind}, too hot where it was left out", probes={**good.probes, "keel": hot}, left_out=["keel"]
        )
        steep = air(rise_min=15)
        yield replace(good, name=f"{kind}, heated at 4 K/min", probes={"root": steep, "tip": steep}, air={"air": steep})
        yield replace(good, name=f"{kind}, logged from minute 70 on", logger=replace(logger, begin=70))
        yield replace(good, name=f"{kind}, logged until minute 400", logger=replace(logger, end=400))
        yield replace(
            good,
            name=f"{kind}, a door open for an hour",
            probes={name: lagging(opened(air(), at=200, minutes_open=60), 10) for name in good.probes},
        )
        # What happened meanwhile is seen by nobody: the oven may have run away, the part may have been out.
        yield replace(good, name=f"{kind}, 100 min lost", logger=replace(logger, silent=[(180, 280)]))
        yield replace(
            good,
            name=f"{kind}, a ramp in a hole",
            probes={"root": way((0, 20), (50, 20), (70, 80), (480, 80), (580, 25))},
            logger=replace(logger, silent=[(45, 90)]),
        )
        dead = replace(good, name=f"{kind}, a dead transmitter", probes={"root": lagging(air(leaves=240), 12)})
        yield replace(dead, air={"air": air(leaves=240)}, frozen={"root": 200.0})
        short = way((0, 20), (60, 91), (80, 91), (110, 131), (360, 131), (460, 30), (END, 25))
        yield replace(autoclave(kind), name=f"{kind}, autoclave, no dwell", probes={"root": short, "tip": short})
        long = way((0, 20), (60, 91), (260, 91), (290, 131), (450, 131), (550, 30), (END, 25))
        yield replace(autoclave(kind), name=f"{kind}, autoclave, too long a dwell", probes={"root": long, "tip": long})
    for kind in ("1 s", "1 min"):
        good = whole(kind)
        shadowed = fallen(way((0, 20), (80, 68), (END, 70)), at=90, to=air())
        yield replace(good, name=f"{kind}, a probe that fell into the hot air", probes={**good.probes, "tip": shadowed})


def judged(cure: Cure, seed: int = 7) -> CureVerdict:
    return cure_verdict(**cure.log(seed))


GOOD, BAD = list(good_cures()), list(bad_cures())


def test_of_forty_good_cures_few_are_not_known_and_none_is_violated() -> None:
    assert len(GOOD) == 40
    found = {cure.name: judged(cure) for cure in GOOD}
    told = {name: verdict.sentences for name, verdict in found.items() if verdict.result == "violated"}
    assert told == {}
    unknown = [name for name, verdict in found.items() if verdict.result == "not known"]
    assert len(unknown) <= 8, unknown
    assert set(unknown) >= {f"{kind}, 40 min lost" for kind in LOGGERS}, "over 30 min the highest is not known"


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_it_does_not_hang_on_one_seed(seed: int) -> None:
    counted = Counter(judged(cure, seed).result for cure in GOOD if not cure.name.startswith("1 s"))
    assert counted["violated"] == 0
    assert counted["not known"] <= 6


@pytest.mark.parametrize("cure", [pytest.param(cure, id=cure.name) for cure in BAD])
def test_no_bad_cure_passes(cure: Cure) -> None:
    verdict = judged(cure)
    assert verdict.result != "proved", verdict.sentences


@pytest.mark.parametrize(
    ("name", "result"),
    [
        ("too hot for 40 min", "violated"),
        ("too hot where it was left out", "violated"),
        ("heated at 4 K/min", "violated"),
        ("a tip that stays cold", "violated"),
        ("half an hour short", "violated"),
        ("autoclave, no dwell", "violated"),
        ("autoclave, too long a dwell", "violated"),
        ("logged from minute 70 on", "not known"),
        ("logged until minute 400", "not known"),
        ("100 min lost", "not known"),
        ("a ramp in a hole", "not known"),
        ("a dead transmitter", "not known"),
        ("a probe that fell into the hot air", "not known"),
    ],
)
def test_what_is_seen_is_violated_and_what_is_not_seen_is_not_known(name: str, result: str) -> None:
    for cure in BAD:
        if cure.name.endswith(f", {name}"):
            verdict = judged(cure)
            assert verdict.result == result, (cure.name, verdict.sentences)


def test_a_violation_names_the_probe_the_time_and_how_far() -> None:
    for cure in BAD:
        verdict = judged(cure)
        if verdict.result == "violated":
            said = " ".join(verdict.sentences)
            assert any(name in said for name in cure.probes), said
            assert "minute" in said
            assert any(character.isdigit() for character in said)
