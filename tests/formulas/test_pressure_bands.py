"""Vacuum and pressure of a cure are bands with a from and an until (shop rule 35)."""

import random
from typing import Any

import pytest

from service.formulas.pressure_bands import PressureBand, PressureVerdict, pressure_verdict
from service.formulas.ranges import OutOfRange

VACUUM = PressureBand(measure="vacuum", low_mbar=850, high_mbar=None)
AUTOCLAVE = PressureBand(measure="pressure", low_mbar=5500, high_mbar=6500)


def judged(readings: Any, band: PressureBand = VACUUM, *, every: float = 1, **more: Any) -> PressureVerdict:
    """One gauge, from minute 0 on, a sample each `every` minutes; the band holds all the time."""
    times = [every * place for place in range(len(readings))]
    facts = {"longest_interval_min": every, "from_min": 0, "until_min": times[-1], **more}
    return pressure_verdict(band=band, times_min=times, gauges={"bag": readings}, **facts)


def test_a_bag_that_holds_is_proved_with_its_lowest_and_highest() -> None:
    verdict = judged([900.0] * 60 + [870.0] + [910.0] * 60)
    assert (verdict.result, verdict.lowest_mbar, verdict.highest_mbar) == ("proved", 870, 910)
    assert verdict.sentences == (
        "The vacuum was 870 to 910 mbar from minute 0.0 to 120.0, at least 850 mbar asked for.",
    )


def test_the_edges_belong_to_the_band() -> None:
    assert judged([850.0] * 10).result == "proved"
    assert judged([849.9] * 10).result == "violated"
    assert judged([5500.0, 6500.0] * 10, AUTOCLAVE).result == "proved"
    assert judged([6500.5] * 10, AUTOCLAVE).result == "violated"
    assert judged([900.0] * 6 + [700.0], every=10).result == "violated", "what was read at its until counts"


def test_a_bag_that_leaks_is_named_with_gauge_time_and_how_far() -> None:
    verdict = judged([900.0] * 30 + [640.0] * 10 + [900.0] * 30)
    assert verdict.result == "violated"
    assert verdict.sentences == ("bag was below 850 mbar from minute 29.2 to 39.8, 640 mbar at the lowest.",)


def test_a_dip_of_under_two_minutes_is_told_and_does_not_hold() -> None:
    # 900, 820, 900: below 850 for 0.75 min.
    verdict = judged([900.0] * 30 + [820.0] + [900.0] * 30)
    assert verdict.result == "proved"
    assert verdict.sentences[1] == "bag was below 850 mbar for less than 2 min, at minute 29.6, 820 mbar at the lowest."
    assert judged([900.0, 900.0, 820.0, 900.0], every=10).result == "violated", "any sample, where they are far apart"


def test_a_sudden_fall_is_no_spike() -> None:
    """Temperatures cannot fall by 500 in a minute and come back; the vacuum of a bag can."""
    verdict = judged([900.0] * 30 + [100.0] * 3 + [900.0] * 30)
    assert verdict.result == "violated"


def test_what_comes_before_its_from_and_after_its_until_does_not_count() -> None:
    readings = [0.0] * 20 + [900.0] * 40 + [0.0] * 20
    assert judged(readings, from_min=20, until_min=59).result == "proved"
    assert judged(readings, from_min=17, until_min=59).result == "violated"
    assert judged(readings, from_min=20, until_min=62).result == "violated"


def test_numbers_below_zero_count_by_their_amount_for_a_vacuum_alone() -> None:
    assert judged([-900.0] * 30).result == "proved"
    assert judged([-900.0] * 20 + [10.0] * 10).result == "violated", "over the air's pressure is no vacuum of 10"
    assert judged([-6000.0 / 10] * 30, AUTOCLAVE).result == "violated"


def test_absolute_pressure_is_judged_from_zero() -> None:
    band = PressureBand(measure="absolute", low_mbar=None, high_mbar=100)
    assert judged([80.0] * 30, band).sentences == (
        "The absolute pressure was 80 to 80 mbar from minute 0.0 to 29.0, at most 100 mbar allowed.",
    )
    assert judged([180.0] * 30, band).result == "violated"


@pytest.mark.parametrize(("minutes", "result"), [(30, "proved"), (31, "not known")])
def test_a_hole_over_half_an_hour_leaves_it_open(minutes: int, result: str) -> None:
    lost: list[float | None] = [900.0] * 20 + [None] * (minutes - 1) + [900.0] * 20
    verdict = judged(lost)
    assert verdict.result == result
    if result == "not known":
        assert verdict.sentences == ("The vacuum is not known from minute 19.0 to 50.0: bag gave nothing.",)


def test_the_log_must_span_its_from_and_its_until() -> None:
    readings: list[float | None] = [900.0] * 40
    assert judged(readings, from_min=-1.1).result == "proved"
    assert judged(readings, from_min=-1.2).result == "not known"
    assert judged(readings, until_min=40.1).result == "proved"
    assert judged(readings, until_min=40.2).result == "not known"


def test_a_silent_gauge_proves_nothing_and_neither_does_none() -> None:
    silent = judged([None] * 30)
    assert (silent.result, silent.lowest_mbar) == ("not known", None)
    nothing = pressure_verdict(
        band=AUTOCLAVE, times_min=[0, 10], gauges={}, longest_interval_min=10, from_min=0, until_min=10
    )
    assert (nothing.result, nothing.sentences) == ("not known", ("No gauge shows the pressure.",))


def test_every_gauge_of_its_kind_has_to_stay_in_the_band() -> None:
    verdict = pressure_verdict(
        band=VACUUM,
        times_min=range(30),
        gauges={"bag": [900.0] * 30, "second bag": [700.0] * 30},
        longest_interval_min=1,
        from_min=0,
        until_min=29,
    )
    assert (verdict.result, verdict.lowest_mbar, verdict.highest_mbar) == ("violated", 700, 900)
    assert verdict.sentences[0].startswith("second bag was below 850 mbar")


@pytest.mark.parametrize("seed", range(5))
def test_two_per_cent_of_lost_packets_hold_no_good_bag_and_hide_no_bad_one(seed: int) -> None:
    drawn = random.Random(seed)

    def lossy(readings: list[float]) -> list[float | None]:
        return [None if 0 < n < 479 and drawn.random() < 0.02 else r for n, r in enumerate(readings)]

    assert judged(lossy([900 + drawn.gauss(0, 5) for _ in range(480)])).result == "proved"
    leaking = [900 - max(0, n - 200) * 0.5 + drawn.gauss(0, 5) for n in range(480)]
    assert judged(lossy(leaking)).result == "violated"


@pytest.mark.parametrize(
    ("facts", "argument"),
    [
        ({"measure": "suction"}, "measure"),
        ({"low_mbar": None}, "low_mbar"),
        ({"low_mbar": -1}, "low_mbar"),
        ({"high_mbar": 850}, "high_mbar"),
        ({"high_mbar": 100_001}, "high_mbar"),
    ],
)
def test_a_band_that_contradicts_itself_is_refused(facts: dict[str, Any], argument: str) -> None:
    with pytest.raises(OutOfRange) as wrong:
        PressureBand(**{"measure": "vacuum", "low_mbar": 850, "high_mbar": None, **facts})
    assert wrong.value.argument == argument


@pytest.mark.parametrize(
    ("change", "named"),
    [
        ({"times_min": [0, 0]}, "times_min"),
        ({"gauges": {"bag": [900]}}, r"gauges\[bag\]"),
        ({"gauges": {"bag": [900, -1101]}}, r"gauges\[bag\]"),
        ({"gauges": {"bag": [900, "900"]}}, r"gauges\[bag\]"),
        ({"until_min": -1}, "until_min"),
        ({"longest_interval_min": 0}, "longest_interval_min"),
    ],
)
def test_readings_that_are_not_in_order_are_refused_by_name(change: dict[str, Any], named: str) -> None:
    good = {"times_min": [0, 10], "gauges": {"bag": [900, 900]}, "longest_interval_min": 10, "from_min": 0}
    with pytest.raises(OutOfRange, match=named):
        pressure_verdict(**{"band": VACUUM, "until_min": 10, **good, **change})  # type: ignore[arg-type]
