"""Mixed resin ages: the cup that is left over, a table of one point, the film through a mould's temperatures."""

from datetime import timedelta
from typing import Any

import pytest

from tests import makers

ONE_POINT = [{"mass_g": 500, "temperature_c": 20, "life_min": 40}]


@pytest.fixture
def bench(api: Any) -> makers.Mixing:
    return makers.mixing(api)


def _one_point(api: Any) -> makers.Mixing:
    """A shop whose data sheet gives one point only."""
    bench = makers.mixing(api)
    body = {
        "name": "Alder 12",
        "data_sheet": "Alder 12, revision 1",
        "resin": bench.resin,
        "hardeners": [
            {
                "material": bench.slow,
                "speed": "slow",
                "parts_by_weight": 30,
                "cup_life": ONE_POINT,
                "film_life": [{"temperature_c": 20, "life_min": 120}],
            }
        ],
        "tolerance": {"kind": "percent of ratio", "value": 2, "source": "data sheet"},
        "largest_pot_g": 1000,
    }
    bench.system = api.post("/v1/resin-systems", body, who="lead")["id"]
    api.post(f"/v1/resin-systems/{bench.system}/approval", who="quality")
    return bench


def _text(at: Any) -> str:
    return str(at.isoformat()).replace("+00:00", "Z")


def _in_contact(bench: makers.Mixing, total_g: float = 130, **more: Any) -> Any:
    mix = bench.start(total_g, **more)["code"]
    bench.pour(mix, bench.resin_can, round(total_g / 1.3, 1))
    return bench.pour(mix, bench.slow_can, round(total_g / 1.3 * 0.3, 1))


def test_a_fresh_pot_is_to_be_used_then_to_be_spread_out_and_a_late_one_calls_for_an_act(bench: makers.Mixing) -> None:
    mix = bench.start(130)
    assert mix["watch"] is None
    fresh = _in_contact(bench)
    assert (fresh["watch"]["level"], fresh["watch"]["left_g"], fresh["watch"]["heat"]) == (None, 130, None)
    assert fresh["watch"]["sentence"].startswith("It is fresh: use it.")
    assert "the rest" not in fresh["watch"]["sentence"]
    began = bench.api.shop.clock.now
    bench.api.shop.clock.forward(minutes=0.51 * fresh["clock"]["life_min"])
    assert bench.api.get(f"/v1/mixes/{fresh['code']}")["watch"]["level"] == "spread out"
    bench.api.shop.clock.now = began
    # Three quarters of the life, 66.6 min at 130 g and 20 °C: common practice, no source.
    bench.api.shop.clock.forward(minutes=0.76 * fresh["clock"]["life_min"])
    late = bench.api.get(f"/v1/mixes/{fresh['code']}")["watch"]
    assert (late["level"], late["age_share"]) == ("act now", pytest.approx(0.76, abs=0.01))
    assert "safety data sheet" in late["sentence"]


def test_the_cups_left_are_listed_the_urgent_first(bench: makers.Mixing) -> None:
    assert bench.api.get("/v1/cups-left") == {
        "cups": [],
        "cups_count": 0,
        "sentence": "No open pot has anything in it.",
    }
    old = _in_contact(bench)["code"]
    bench.api.shop.clock.forward(minutes=60)
    young = _in_contact(bench, 260)["code"]
    resin_only = bench.start(130)["code"]
    bench.pour(resin_only, bench.resin_can, 100)
    left = bench.api.get("/v1/cups-left")
    assert [(c["mix"], c["watch"]["level"]) for c in left["cups"]] == [
        (old, "act now"),
        (young, None),
        (resin_only, None),
    ]
    assert left["sentence"] == f"3 open pots with 490 g in all. Act now: {old}."
    bench.api.post(f"/v1/mixes/{old}/discard", {"reason": "spread out in the tray, outside"})
    assert old not in {c["mix"] for c in bench.api.get("/v1/cups-left")["cups"]}


def test_a_warm_cup_calls_for_an_act_and_a_smoking_one_is_kept_away_from(bench: makers.Mixing) -> None:
    pot = _in_contact(bench)
    mix, path = pot["code"], f"/v1/mixes/{pot['code']}/cup-advice"
    bench.api.shop.clock.forward(minutes=0.6 * pot["clock"]["life_min"])
    found = {state: bench.api.get(f"{path}?state={state}")["watch"] for state in ("cool", "warm", "smoking")}
    assert [w["level"] for w in found.values()] == ["spread out", "act now", "keep away"]
    assert all("local rules come first" in w["sentence"] for w in found.values())
    assert bench.api.get(path)["cup"] == "cool"
    assert bench.api.call("GET", f"{path}?state=hot").status_code == 422
    bench.api.post(f"/v1/mixes/{mix}/closing", {"left_g": 130})
    closed = bench.api.get(f"{path}?state=smoking")
    assert (closed["watch"]["level"], closed["watch"]["left_g"]) == ("keep away", 130)


def test_a_pot_in_a_tray_is_spread_out_already(bench: makers.Mixing) -> None:
    mix = _in_contact(bench)["code"]
    assert bench.api.post(f"/v1/mixes/{mix}/tray")["watch"]["level"] == "in a tray"
    assert bench.api.get(f"/v1/mixes/{mix}/cup-advice?state=warm")["watch"]["level"] == "act now"


def test_an_age_of_unknown_temperature_counts_against_the_shortest_life(bench: makers.Mixing) -> None:
    mix = _in_contact(bench, temperature_c=None)["code"]
    bench.api.shop.clock.forward(minutes=16)
    watch = bench.api.get(f"/v1/mixes/{mix}")["watch"]
    # The shortest life of the table is 20 min.
    assert (watch["level"], watch["age_share"], watch["age_of_shortest"]) == ("act now", pytest.approx(0.8), True)


def test_the_heat_of_a_mix_is_bounded_only_by_the_system_s_own_constants(api: Any) -> None:
    # Lee, Loos and Springer, J. Composite Materials 16 (1982) 510 (from memory): 473.6 J/g.
    constants = {"heat_of_reaction_j_g": 473.6, "heat_capacity_j_g_k": 2.0, "source": "own calorimetry, report 7"}
    bench = makers.mixing(api, constants=constants)
    heat = _in_contact(bench)["watch"]["heat"]
    assert (heat["rise_k"], heat["source"]) == (pytest.approx(236.8), "own calorimetry, report 7")
    assert "upper bound" in heat["sentence"]


def test_constants_that_no_resin_has_give_no_bound(api: Any) -> None:
    constants = {"heat_of_reaction_j_g": "much", "heat_capacity_j_g_k": 2.0, "source": "report 7"}
    heat = _in_contact(makers.mixing(api, constants=constants))["watch"]["heat"]
    assert heat["rise_k"] is None
    assert heat["sentence"].startswith("Not known")


def test_one_point_is_moved_by_the_rule_of_thumb_and_marked(api: Any) -> None:
    bench = _one_point(api)
    clock = _in_contact(bench, temperature_c=30)["clock"]
    # Half the life for every 10 K: published support notes of resin makers.
    assert (clock["life_min"], clock["bound"]) == (pytest.approx(20), "rule of thumb")
    assert "rule of thumb" in clock["note"]
    cool = _in_contact(bench, temperature_c=10)["clock"]
    # Shop rule 26: never longer than the edge of the table.
    assert (cool["life_min"], cool["bound"]) == (40, "at least, held at the edge")


@pytest.mark.parametrize(("total_g", "temperature_c"), [(650, 30), (130, 41)])
def test_a_rule_of_thumb_has_no_figure_for_a_heavier_or_far_hotter_pot(
    api: Any, total_g: float, temperature_c: float
) -> None:
    clock = _in_contact(_one_point(api), total_g, temperature_c=temperature_c)["clock"]
    assert (clock["life_min"], clock["bound"]) == (None, "shorter than")


def test_a_correction_says_how_much_sooner_the_pot_is_over(bench: makers.Mixing) -> None:
    mix = bench.start(130)["code"]
    bench.pour(mix, bench.resin_can, 100)
    seen = bench.pour(mix, bench.slow_can, 36)
    fix = seen["correction"]
    # 36 g of hardener want 120 g of resin: 156 g. Shop rule 20: the clock stays with first contact.
    assert (fix["add"], fix["total_g"]) == ("resin", 156)
    assert fix["life_min"] < seen["clock"]["life_min"]
    assert f"It then lives {fix['life_min']:.1f} min from first contact." in fix["sentence"]
    after = bench.pour(mix, bench.resin_can, 20, correction=True)
    assert after["clock"]["life_min"] == pytest.approx(fix["life_min"])
    assert after["clock"]["use_before"] == fix["use_before"]


def _film(bench: makers.Mixing, mix: str, *readings: tuple[float, float], expect: int = 200) -> Any:
    """What the mould's temperatures say, each with its minutes from now."""
    now = bench.api.shop.clock.now
    told = [{"at": _text(now + timedelta(minutes=m)), "temperature_c": t} for m, t in readings]
    return bench.api.post(f"/v1/mixes/{mix}/film-clock", {"readings": told}, expect=expect)


def test_a_film_ages_through_the_temperatures_of_its_mould(bench: makers.Mixing) -> None:
    mix = _in_contact(bench)["code"]
    bench.api.shop.clock.forward(minutes=60)
    film = _film(bench, mix, (-60, 20), (-30, 20), (-30, 30), (0, 30))
    # The table: 120 min at 20 °C, 60 min at 30 °C. Half an hour at each is 30 + 30 * 2 = 90 min at 20 °C.
    assert film["age_min"] == pytest.approx(90)
    assert (film["reference_c"], film["life_min"], film["left_min"]) == (20, 120, pytest.approx(30))
    assert film["left_at_last_min"] == pytest.approx(15)
    # Arrhenius equation: R ln 2 / (1/293.15 - 1/303.15).
    assert film["activation_energy_kj_mol"] == pytest.approx(51.2, abs=0.05)
    assert film["use_before"] == _text(bench.api.shop.clock.now + timedelta(minutes=15))
    assert film["bound"] == "exact"


def test_a_film_is_held_at_the_cool_edge_and_only_bounded_beyond_the_hot_one(bench: makers.Mixing) -> None:
    mix = _in_contact(bench)["code"]
    bench.api.shop.clock.forward(minutes=30)
    cool = _film(bench, mix, (-30, 10))
    assert (cool["bound"], cool["age_min"]) == ("held at the edge", pytest.approx(30))
    hot = _film(bench, mix, (-30, 45))
    assert (hot["bound"], hot["age_min"], hot["use_before"]) == ("older than", pytest.approx(60), None)
    assert hot["sentence"].startswith("Older than 60 of 120 min")


def test_a_film_s_table_of_one_point_goes_by_the_rule_of_thumb(api: Any) -> None:
    bench = _one_point(api)
    mix = _in_contact(bench)["code"]
    bench.api.shop.clock.forward(minutes=30)
    film = _film(bench, mix, (-30, 30))
    assert (film["bound"], film["age_min"]) == ("rule of thumb", pytest.approx(60))
    assert "rule of thumb" in film["sentence"]
    asked = bench.api.get(f"/v1/mixes/{mix}/film-clock?temperature_c=30")
    assert (asked["life_min"], asked["bound"]) == (pytest.approx(60), "rule of thumb")
    assert "rule of thumb" in asked["sentence"]


def test_a_film_s_readings_go_forward_from_first_contact_to_now(bench: makers.Mixing) -> None:
    mix = bench.start(130)["code"]
    assert _film(bench, mix, (0, 20))["sentence"] == "Resin and hardener have not met yet."
    mix = _in_contact(bench)["code"]
    bench.api.shop.clock.forward(minutes=30)
    for readings, pointer in (
        (((-40, 20),), "/readings/0/at"),
        (((-10, 20), (-20, 20)), "/readings/1/at"),
        (((5, 20),), "/readings/0/at"),
    ):
        assert _film(bench, mix, *readings, expect=422)["errors"][0]["pointer"] == pointer
    deeds = len(bench.api.get("/v1/journal", who="lead"))
    _film(bench, mix, (-10, 20))
    assert len(bench.api.get("/v1/journal", who="lead")) == deeds
