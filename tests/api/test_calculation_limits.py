"""What no one should ask of a calculation: it is answered or refused in seconds, whatever its size."""

import math
import time
from collections.abc import Iterator
from typing import Any

import pytest

from service.api.calculations import LARGEST_BODY
from tests.calculation_door import Door, opened


@pytest.fixture(scope="module")
def door(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Door]:
    yield from opened(tmp_path_factory)


def test_a_body_larger_than_numbers_need_is_refused_unread(door: Door) -> None:
    text = '{"values": [' + "1.0," * (LARGEST_BODY // 4) + "1]}"
    assert door.ask_text("individuals_chart", text).status_code == 413


def test_a_list_longer_than_can_be_answered_in_seconds_is_refused(door: Door) -> None:
    problem = door.ask("individuals_chart", {"values": [1, 2] * 5_001})
    assert problem.status_code == 422
    assert problem.get_json()["errors"][0]["pointer"] == "/values"


def _zigzag(count: int, low: float, high: float) -> list[float]:
    return [low if index % 2 else high for index in range(count)]


def _cans(letter: str, left_g: float) -> list[dict[str, Any]]:
    return [{"code": f"{letter}{i}", "lot": f"{letter}{i // 2}", "left_g": left_g + i} for i in range(40)]


def _comb(teeth: int) -> list[list[float]]:
    corners = [[[20 * i, 0], [20 * i, 90_000], [20 * i + 10, 90_000], [20 * i + 10, 0]] for i in range(teeth)]
    return [corner for tooth in corners for corner in tooth] + [[20 * teeth, -10], [0, -10]]


def _runaway() -> dict[str, Any]:
    """Constants within their ranges that no resin has: the integrator can only crawl along such a log."""
    return {
        "model": {
            "kind": "two_regime",
            "pre_exponentials_per_min": [1.97196e29, -5.92225e28, 2.57365e28],
            "activation_energies_kj_mol": [198.13, 183.86, 58.25],
            "end_of_first": 0.5,
            "switch_degree": 0.3,
        },
        "times_min": [0.003 * i for i in range(300)],
        "temperatures_c": [189 + 101 * math.sin(0.7 * i) for i in range(300)],
        "initial": 0.001,
    }


def _slow() -> dict[str, Any]:
    return {
        "model": {"kind": "nth_order", "pre_exponential_per_min": 1e10, "activation_energy_kj_mol": 100, "order": 10},
        "times_min": [1e4 * i for i in range(3000)],
        "temperatures_c": _zigzag(3000, 20, 60),
        "initial": 0.01,
    }


def _pots() -> dict[str, Any]:
    return {
        "need_g": 5000,
        "wet_out_rate_g_min": 1e5,
        "points": [{"mass_g": 100, "temperature_c": 20, "life_min": 40}],
        "temperature_c": 20,
        "largest_pot_g": 26,
        "smallest_honest_pot_g": 0,
        "ratio": 0.3,
        "resin_cans": _cans("C", 80),
        "hardener_cans": _cans("H", 11),
        "working_share": 1,
    }


def _long_cure(stages: int = 50) -> dict[str, Any]:
    stage = {
        "name": "hold", "low_c": 50, "high_c": 60, "minimum_min": 60, "over_c": 70, "air_over_c": None,
        "may_be_split": True,
    }  # fmt: skip
    probes = {f"p{number}": [round(55 + 20 * math.sin(i / 3 + number)) for i in range(5000)] for number in range(12)}
    return {
        "stages": [stage] * stages,
        "times_min": list(range(5000)),
        "probes": probes,
        "required": list(probes),
        "longest_interval_min": 1,
    }


def _many_pieces() -> dict[str, Any]:
    pieces = [
        {"name": f"p{i}", "length_mm": 100 + 37 * i % 1900, "width_mm": 100 + 53 * i % 800, "count": 1, "grain": "any"}
        for i in range(200)
    ]
    return {"pieces": pieces, "roll_width_mm": 1000, "gap_mm": 10}


@pytest.mark.parametrize(
    ("name", "body"),
    [
        ("degree_of_cure", _slow()),
        ("equivalent_age_min", {"times_min": list(range(10_000)), "temperatures_c": _zigzag(10_000, -60, 400),
                                "reference_c": 23, "activation_energy_kj_mol": 500}),
        ("plan_pots", _pots()),
        ("outline_area", {"outline": _comb(249), "allowance_mm": 1000}),
        ("roll_length_mm", _many_pieces()),
        ("cure_verdict", _long_cure()),
        ("fisher_exact", {"exposed_failed": 2000, "exposed_good": 100_000, "other_failed": 1999, "other_good": 99_999}),
        ("individuals_chart", {"values": _zigzag(10_000, -1e9, 1e9)}),
    ],
)  # fmt: skip
def test_an_absurd_request_is_answered_or_refused_in_seconds(door: Door, name: str, body: Any) -> None:
    before = time.process_time()
    answer = door.ask(name, body)
    spent_s = time.process_time() - before
    assert answer.status_code in (200, 422), answer.get_data(as_text=True)[:500]
    assert spent_s < 15


@pytest.mark.parametrize(
    ("name", "body", "argument"),
    [
        ("cure_verdict", _long_cure(), "probes"),
        ("degree_of_cure", _runaway(), "model"),
        ("outline_area", {"outline": _comb(250), "allowance_mm": 1000}, "outline"),
        ("plan_pots", {**_pots(), "need_g": 1_000_000, "largest_pot_g": 1}, "need_g"),
    ],
)
def test_what_would_keep_the_service_busy_is_refused_by_name(door: Door, name: str, body: Any, argument: str) -> None:
    before = time.process_time()
    problem = door.ask(name, body)
    assert (problem.status_code, problem.get_json()["argument"]) == (422, argument)
    assert time.process_time() - before < 15


def test_a_log_that_goes_up_and_down_all_day_is_told_by_its_first_and_hottest_times(door: Door) -> None:
    """1 MB of readings had an answer of 40 MB; each probe says five times, the hottest one, and how many more."""
    answer = door.ask("cure_verdict", _long_cure(stages=10))
    assert len(answer.data) < 1_500_000
    stage = answer.get_json()["result"]["stages"][0]
    assert len([one for one in stage["over"] if one["probe"] == "p0"]) in (5, 6)
    more = [said for said in stage["sentences"] if said.startswith("p0 was over") and "times more" in said]
    assert len(more) == 1
    assert more[0].endswith("never hotter than that.")


def test_a_day_of_twelve_probes_each_ten_seconds_is_judged_in_two_seconds(door: Door) -> None:
    """An autoclave's whole day is no absurd request, not even with probes that flicker at the edge of two bands."""
    count = 24 * 360 + 1
    at_edge = [55.0 if index % 2 else 54.9 for index in range(count)]
    stage = {"low_c": 55, "high_c": 65, "minimum_min": 480, "over_c": 70, "air_over_c": None, "may_be_split": True}
    body = {
        "stages": [{**stage, "name": "cure"}, {**stage, "name": "post-cure"}],
        "times_min": [round(index / 6, 3) for index in range(count)],
        "probes": {f"p{number}": at_edge for number in range(12)},
        "required": [f"p{number}" for number in range(12)],
        "longest_interval_min": 1,
    }
    before = time.process_time()
    answer = door.ask("cure_verdict", body)
    spent_s = time.process_time() - before
    assert answer.status_code == 200, answer.get_data(as_text=True)[:500]
    assert spent_s < 4, "2 s, and as much again for a busy machine"
