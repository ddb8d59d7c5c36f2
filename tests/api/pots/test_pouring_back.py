"""Pouring back, over HTTP (shop rule 11): before first contact, in part, into the same can; else never."""

from typing import Any

import pytest

from tests import makers, polyester


@pytest.fixture
def bench(api: Any) -> makers.Mixing:
    return makers.mixing(api)


def _back(bench: Any, mix: str, can: str, mass_g: float, **more: Any) -> Any:
    return bench.api.post(f"/v1/mixes/{mix}/pour-backs", {"container": can, "mass_g": mass_g, **more})


def _refused(bench: Any, mix: str, can: str, mass_g: float, kind: str = "cannot-correct", **more: Any) -> Any:
    return bench.api.refused(f"/v1/mixes/{mix}/pour-backs", {"container": can, "mass_g": mass_g, **more}, kind)


def _left(bench: Any, can: str) -> float:
    return bench.api.get(f"/v1/containers/{can}")["left_g"]


def test_before_contact_resin_goes_back_into_its_own_can(bench: makers.Mixing) -> None:
    mix = bench.start(130)["code"]
    bench.pour(mix, bench.resin_can, 112.4)
    back = _back(bench, mix, bench.resin_can, 12.4)
    assert (back["resin_g"], back["next"]["target_g"]) == (100, 30)
    assert [(p["net_g"], p["taken_back"]) for p in back["pours"]] == [(112.4, True), (100, False)]
    assert back["next"]["scale_reading_if_not_zeroed_g"] == 130
    assert _left(bench, bench.resin_can) == 4900
    all_of_it = _back(bench, mix, bench.resin_can, 100)
    assert (all_of_it["resin_g"], all_of_it["next"]["component"]) == (0, "resin")


def test_what_came_in_two_pours_of_one_can_goes_back_as_one(bench: makers.Mixing) -> None:
    mix = bench.start(130)["code"]
    bench.pour(mix, bench.resin_can, 80)
    bench.pour(mix, bench.resin_can, 50)
    body = {"container": bench.resin_can, "mass_g": 131}
    assert bench.api.post(f"/v1/mixes/{mix}/pour-backs", body, expect=422)["detail"].startswith("Only 130 g came from ")
    back = _back(bench, mix, bench.resin_can, 60)
    assert [(p["net_g"], p["taken_back"]) for p in back["pours"]] == [(80, True), (50, True), (70, False)]
    assert (back["resin_g"], _left(bench, bench.resin_can)) == (70, 4930)


def test_what_went_back_after_contact_is_recorded_and_both_are_held(bench: makers.Mixing) -> None:
    mix = bench.mixed(130)["code"]
    refusal = _refused(bench, mix, bench.resin_can, 5)
    assert refusal["detail"] == "Resin and hardener have met; nothing goes back into a can."
    assert "discard" in refusal["way_out"]
    assert refusal["answer_with"] == {"happened": True}
    pot = _back(bench, mix, bench.resin_can, 5, happened=True)
    (flag,) = pot["flags"]
    assert (flag["kind"], flag["stops"]) == ("poured-back-after-contact", True)
    assert flag["sentence"].startswith(f"5 g of {mix} went back into {bench.resin_can} ")
    can = bench.api.get(f"/v1/containers/{bench.resin_can}")
    assert (can["left_g"], can["fitness"]["answer"]) == (4900, "leave")
    # Hardener meets hardener in its can as little.
    assert "have met" in _refused(bench, mix, bench.slow_can, 1)["detail"]


def test_nothing_goes_back_that_has_another_lot_or_pigment_in_it(bench: makers.Mixing) -> None:
    other = makers.cans(bench.api, bench.resin, bench.place, "R-2")[0]
    cans = [{"container": bench.resin_can, "mass_g": 60}, {"container": other}, {"container": bench.slow_can}]
    mix = bench.start(130, containers=cans)["code"]
    bench.pour(mix, bench.resin_can, 60)
    bench.pour(mix, other, 45)
    assert "Two lots" in _refused(bench, mix, other, 5)["detail"]
    pigment = makers.material(bench.api, "White paste", "pigment")
    white = makers.cans(bench.api, pigment, bench.place, "P-1", no_expiry=True)[0]
    for apart in (False, True):
        mix = bench.start(130, separate_cups=apart)["code"]
        bench.pour(mix, bench.resin_can, 60)
        if apart:
            bench.pour(mix, bench.slow_can, 19)
        bench.api.post(f"/v1/mixes/{mix}/fillers", {"container": white, "mass_g": 2})
        said = _refused(bench, mix, bench.resin_can, 5)["detail"]
        assert said.startswith(f"{white} White paste is in the cup, too;")
    # The hardener waits in a cup of its own, without pigment.
    assert _back(bench, mix, bench.slow_can, 1)["hardener_g"] == 18
    assert "not alone in the cup" in _refused(bench, mix, white, 1)["detail"]
    held = _back(bench, mix, bench.resin_can, 5, happened=True)
    assert {flag["kind"]: flag["stops"] for flag in held["flags"]} == {"poured-back-mixed": True}
    assert bench.api.get(f"/v1/containers/{bench.resin_can}")["fitness"]["answer"] == "leave"


def test_promoted_resin_does_not_go_back_though_its_catalyst_waits_in_another_cup(api: Any) -> None:
    bench = polyester.polyester(api)
    mix = bench.promoted(separate_cups=True)["code"]
    bench.pour(mix, bench.plain_can, 1000)
    bench.pour(mix, bench.promoter_can, 4, scale=bench.fine)
    said = _refused(bench, mix, bench.plain_can, 100)["detail"]
    assert said.startswith(f"{bench.promoter_can} ")
    assert said.endswith(f" is in the cup, too; what is poured back would bring it into {bench.plain_can}.")


def test_what_went_back_before_contact_may_be_entered_after_it(bench: makers.Mixing) -> None:
    clock = bench.api.shop.clock
    mix = bench.start(130)["code"]
    early = clock.forward(minutes=1).isoformat()
    clock.forward(minutes=1)
    bench.pour(mix, bench.resin_can, 112.4)
    then = clock.forward(minutes=1)
    clock.forward(minutes=1)
    bench.pour(mix, bench.slow_can, 30, read_back_g=30)
    late = {"occurred_at": then.isoformat()}
    body = {"container": bench.resin_can, "mass_g": 12.4}
    said = bench.api.post(f"/v1/mixes/{mix}/pour-backs", {**body, "occurred_at": early}, expect=422)
    assert said["detail"] == f"Nothing in this pot came from {bench.resin_can}."
    back = _back(bench, mix, bench.resin_can, 12.4, **late)
    assert (back["resin_g"], back["hardener_g"], back["judgement"]["verdict"]) == (100, 30, "within")
    assert back["clock"]["contact_at"] == clock.now.isoformat().replace("+00:00", "Z")
    # A running total that had counted what went back says less than it seems to; nobody guesses it.
    mix = bench.start(130)["code"]
    bench.pour(mix, bench.resin_can, 100)
    late = {"occurred_at": clock.forward(minutes=1).isoformat()}
    clock.forward(minutes=1)
    bench.pour(mix, bench.slow_can, 130, zeroed=False)
    assert "lead corrects" in _refused(bench, mix, bench.resin_can, 12.4, **late)["way_out"]
