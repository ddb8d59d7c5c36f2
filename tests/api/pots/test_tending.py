"""While a pot lives: its clock, stirring, fillers, the tray, the film."""

from datetime import timedelta
from typing import Any

import pytest

from tests import makers


@pytest.fixture
def bench(api: Any) -> makers.Mixing:
    return makers.mixing(api)


def _kinds(mix: Any) -> list[str]:
    return [f["kind"] for f in mix["flags"]]


def _text(at: Any) -> str:
    return str(at.isoformat()).replace("+00:00", "Z")


def _in_contact(bench: makers.Mixing, total_g: float = 130, **more: Any) -> Any:
    mix = bench.start(total_g, **more)["code"]
    bench.pour(mix, bench.resin_can, round(total_g / 1.3, 1))
    return bench.pour(mix, bench.slow_can, round(total_g / 1.3 * 0.3, 1))


def test_the_clock_runs_from_the_first_hardener_by_mass_and_temperature(bench: makers.Mixing) -> None:
    seen = _in_contact(bench, 1000)
    assert seen["clock"]["contact_at"] == _text(bench.api.shop.clock.now)
    # The table gives 40 min for 1000 g at 20 °C; 769.2 g and 230.8 g were poured.
    assert seen["clock"]["life_min"] == pytest.approx(40, abs=0.01)
    assert seen["clock"]["over"] is False
    bench.api.shop.clock.forward(minutes=41)
    assert bench.api.get(f"/v1/mixes/{seen['code']}")["clock"]["over"] is True


def test_hotter_than_the_table_there_is_no_figure(bench: makers.Mixing) -> None:
    clock = _in_contact(bench, 130, temperature_c=35)["clock"]
    assert (clock["life_min"], clock["use_before"]) == (None, None)
    assert clock["note"].startswith("Shorter than 32.8 min: 35 °C is hotter than the table (30 °C)")
    assert clock["over_after"] is not None


def test_the_air_s_temperature_is_marked(bench: makers.Mixing) -> None:
    assert "temperature of the air" in _in_contact(bench, temperature_of_air=True)["clock"]["note"]


def test_contact_may_be_earlier_by_anyone_and_later_only_with_a_reason(bench: makers.Mixing) -> None:
    seen = _in_contact(bench)
    path, contact = f"/v1/mixes/{seen['code']}/contact", bench.api.shop.clock.now
    earlier = bench.api.post(path, {"contact_at": _text(contact - timedelta(minutes=4))})
    assert earlier["clock"]["contact_at"] == _text(contact - timedelta(minutes=4))
    assert earlier["clock"]["use_before"] < seen["clock"]["use_before"]
    later = {"contact_at": _text(contact - timedelta(minutes=2))}
    assert bench.api.post(path, later, expect=422)["errors"][0]["pointer"] == "/why"
    assert (
        bench.api.post(path, {**later, "why": "stopwatch on the bench"})["clock"]["contact_at"] == later["contact_at"]
    )
    ahead = {"contact_at": _text(contact + timedelta(minutes=9))}
    assert bench.api.post(path, ahead, expect=422)["errors"][0]["pointer"] == "/contact_at"


def test_the_temperature_may_follow_with_the_contact(bench: makers.Mixing) -> None:
    mix = _in_contact(bench, temperature_c=None)["code"]
    seen = bench.api.post(f"/v1/mixes/{mix}/contact", {"temperature_c": 30})
    # 130 g at 30 °C: between 35 min (100 g) and 20 min (1000 g), linear in ln(mass): 32.8 min.
    assert seen["clock"]["life_min"] == pytest.approx(32.8, abs=0.05)


def test_a_tapped_contact_is_not_moved_by_the_pour(bench: makers.Mixing) -> None:
    mix = bench.start(130)["code"]
    bench.pour(mix, bench.resin_can, 100)
    tapped = bench.api.post(f"/v1/mixes/{mix}/contact", {})["clock"]["contact_at"]
    bench.api.shop.clock.forward(minutes=2)
    assert bench.pour(mix, bench.slow_can, 30)["clock"]["contact_at"] == tapped


def test_stirring_is_counted_since_the_last_pour(bench: makers.Mixing) -> None:
    mix = _in_contact(bench)["code"]
    once = bench.stir(mix, 1.5)["stirring"]
    assert (once["done_min"], once["needed_min"], once["enough"]) == (1.5, 2, False)
    twice = bench.stir(mix, 1)["stirring"]
    assert (twice["done_min"], twice["enough"], twice["times"]) == (2.5, True, 2)


def test_short_or_unscraped_stirring_is_looked_at_when_the_pot_is_used(bench: makers.Mixing) -> None:
    mix = _in_contact(bench)["code"]
    assert _kinds(bench.stir(mix, 1, scraped=False)) == []
    used = bench.apply(mix, makers.started_part(bench.api))
    assert [(f["kind"], f["stops"]) for f in used["flags"]] == [("stirred-short", False), ("not-scraped", False)]


def test_stirring_backwards_or_ahead_is_refused(bench: makers.Mixing) -> None:
    mix = _in_contact(bench)["code"]
    now = bench.api.shop.clock.now
    body = {"started_at": _text(now), "ended_at": _text(now - timedelta(minutes=1)), "scraped": True}
    assert bench.api.post(f"/v1/mixes/{mix}/stirrings", body, expect=422)["errors"][0]["pointer"] == "/ended_at"
    body["ended_at"] = _text(now + timedelta(minutes=9))
    assert "lies ahead" in bench.api.post(f"/v1/mixes/{mix}/stirrings", body, expect=422)["detail"]


def test_filler_is_weighed_with_its_lot_and_judged_apart(bench: makers.Mixing) -> None:
    filler = makers.material(bench.api, "Microspheres", "filler")
    can = makers.cans(bench.api, filler, bench.place, "M-1", no_expiry=True)[0]
    mix = bench.mixed(130)["code"]
    seen = bench.api.post(f"/v1/mixes/{mix}/fillers", {"container": can, "mass_g": 6.5, "scale": bench.scale})
    assert (seen["fillers_g"], seen["left_g"]) == (6.5, 136.5)
    assert seen["fillers"][0]["percent_of_mix"] == pytest.approx(5)
    assert seen["judgement"]["deviation_pct"] == pytest.approx(0)
    assert seen["flags"] == []


def test_filler_before_stirring_is_looked_at_and_a_solvent_stops_the_pot(bench: makers.Mixing) -> None:
    filler = makers.material(bench.api, "Microspheres", "filler")
    solvent = makers.material(bench.api, "Acetone", "cleaner")
    can = makers.cans(bench.api, filler, bench.place, "M-1", no_expiry=True)[0]
    bottle = makers.cans(bench.api, solvent, bench.place, "A-1", no_expiry=True)[0]
    mix = _in_contact(bench)["code"]
    early = bench.api.post(f"/v1/mixes/{mix}/fillers", {"container": can, "mass_g": 5})
    assert [(f["kind"], f["stops"]) for f in early["flags"]] == [("filler-before-stirring", False)]
    thinned = bench.api.post(f"/v1/mixes/{mix}/fillers", {"container": bottle, "mass_g": 5})
    assert "wrong-kind" in _kinds(thinned)
    assert len(thinned["holds"]) == 1


def test_pigment_may_go_in_before_the_hardener_and_its_stirring_is_not_that_of_the_mix(bench: makers.Mixing) -> None:
    white = makers.material(bench.api, "White paste", "pigment")
    bubbles = makers.material(bench.api, "Microspheres", "filler")
    paste = makers.cans(bench.api, white, bench.place, "W-1", no_expiry=True)[0]
    spheres = makers.cans(bench.api, bubbles, bench.place, "M-1", no_expiry=True)[0]
    mix = bench.start(130)["code"]
    bench.pour(mix, bench.resin_can, 100)
    tinted = bench.api.post(f"/v1/mixes/{mix}/fillers", {"container": paste, "mass_g": 4})
    assert tinted["flags"] == []
    assert bench.stir(mix)["stirring"]["times"] == 0
    poured = bench.pour(mix, bench.slow_can, 30)
    assert (poured["stirring"]["done_min"], poured["stirring"]["enough"]) == (0, False)
    early = bench.api.post(f"/v1/mixes/{mix}/fillers", {"container": spheres, "mass_g": 4})
    assert _kinds(early) == ["filler-before-stirring"]
    assert "not-stirred" in _kinds(bench.apply(mix, makers.started_part(bench.api)))


def test_one_of_separate_cups_that_was_stirred_has_met_nothing(bench: makers.Mixing) -> None:
    mix = bench.start(130, separate_cups=True)["code"]
    bench.pour(mix, bench.resin_can, 100)
    bench.pour(mix, bench.slow_can, 30)
    now = bench.api.shop.clock.now
    times = {"started_at": _text(now), "ended_at": _text(now + timedelta(minutes=1)), "scraped": True}
    bench.api.shop.clock.forward(minutes=5)
    alone = bench.api.post(f"/v1/mixes/{mix}/stirrings", {**times, "before_contact": True})
    assert alone["clock"]["contact_at"] is None
    met = bench.stir(mix)
    assert (met["clock"]["contact_at"], met["stirring"]["done_min"]) == (_text(now + timedelta(minutes=5)), 3)


def test_a_tray_has_a_table_of_its_own_and_the_cup_s_share_stays_spent(bench: makers.Mixing) -> None:
    mix = _in_contact(bench, 1000, temperature_c=30)
    assert mix["clock"]["life_min"] == pytest.approx(20, abs=0.01)
    bench.api.shop.clock.forward(minutes=5)
    spread = bench.api.post(f"/v1/mixes/{mix['code']}/tray", {})
    # A quarter of the cup's 20 min is spent; three quarters of the tray's 60 min are left: 5 + 45.
    assert spread["clock"]["life_min"] == pytest.approx(50, abs=0.05)
    bench.api.refused(f"/v1/mixes/{mix['code']}/tray", {}, "wrong-state")


def test_the_film_has_the_mould_s_clock(bench: makers.Mixing) -> None:
    mix = _in_contact(bench)
    film = bench.api.get(f"/v1/mixes/{mix['code']}/film-clock?temperature_c=20")
    assert film["life_min"] == pytest.approx(120)
    # ln(life) is linear in temperature: 120·(60/120)^0.5 = 84.9 min at 25 °C.
    warmer = bench.api.get(f"/v1/mixes/{mix['code']}/film-clock?temperature_c=25")
    assert warmer["life_min"] == pytest.approx(84.85, abs=0.01)
    hot = bench.api.get(f"/v1/mixes/{mix['code']}/film-clock?temperature_c=40")
    assert (hot["life_min"], hot["bound"]) == (None, "shorter than")
    assert bench.api.call("GET", f"/v1/mixes/{mix['code']}/film-clock?temperature_c=warm").status_code == 422
