"""A pot that is too small for its scale is asked about; one permit before the pour settles its flag at the release."""

import re
from typing import Any

import pytest

from tests import makers


@pytest.fixture
def bench(api: Any) -> makers.Mixing:
    return makers.mixing(api)


def _started(bench: makers.Mixing) -> Any:
    """20 g on 0.1 g: a repair."""
    return bench.start(20, confirmed=True, why="repair of the trailing edge, no finer scale here")


def test_a_small_pot_is_a_question_with_three_ways_on(bench: makers.Mixing) -> None:
    problem = bench.refused("scale-too-coarse", 20)
    assert "Mix at least 56 g on it." in problem["way_out"]
    assert "that asks for a permit" in problem["way_out"]
    assert problem["answer_with"] == {"confirmed": True, "why": None}
    assert bench.api.get("/v1/mixes") == []
    unsaid = bench.start(20, confirmed=True, expect=422)
    assert unsaid["errors"][0]["pointer"] == "/why"
    coarse = makers.scale(bench.api, "Parcel scale", interval_g=5, repeatability_g=2, maximum_g=30_000)
    way_out = bench.refused("scale-too-coarse", 500, scale=coarse)["way_out"]
    assert "Mix at least" not in way_out, "the data sheet allows no pot so large"
    assert re.search(r"No pot can be proved on it: that takes \d+ g, the largest is \d+ g\.", way_out)


def test_a_small_pot_that_is_meant_is_poured_to_its_target_which_no_reading_proves(bench: makers.Mixing) -> None:
    mix = _started(bench)
    assert [(f["kind"], f["stops"], f["answered"]) for f in mix["flags"]] == [("scale-too-coarse", True, "asked")]
    assert mix["holds"] == []
    following = bench.pour(mix["code"], bench.resin_can, 15.4)["next"]
    assert (following["target_g"], following["provable"], following["accepted_from_g"]) == (4.6, False, None)
    assert "In tolerance from 4.528 g to 4.712 g; this scale cannot prove it." in following["sentence"]


def test_one_signed_permit_settles_both_flags_of_a_small_pot(bench: makers.Mixing) -> None:
    mix = _started(bench)["code"]
    permit = bench.api.get("/v1/permissions", who="lead")[0]
    assert (permit["item"], permit["reasons"], permit["decision"]) == (mix, ["scale-too-coarse"], "asked")
    path = f"/v1/permissions/{permit['id']}/signature"
    bench.api.post(path, {"permitted": True}, who="lead")
    bench.pour(mix, bench.resin_can, 15.4)
    bench.pour(mix, bench.slow_can, 4.6)
    bench.stir(mix)
    used = bench.apply(mix, makers.started_part(bench.api))
    assert [(f["kind"], f["answered"]) for f in used["flags"]] == [
        ("scale-too-coarse", "permitted"),
        ("near-the-limit", "permitted"),
    ]


def test_a_refused_permit_stops_the_small_pot(bench: makers.Mixing) -> None:
    mix = _started(bench)["code"]
    permit = bench.api.get("/v1/permissions", who="lead")[0]["id"]
    bench.api.post(f"/v1/permissions/{permit}/signature", {"permitted": False}, who="lead")
    assert len(bench.api.get(f"/v1/mixes/{mix}")["holds"]) == 1


def test_a_pot_that_is_large_enough_asks_for_no_permit(bench: makers.Mixing) -> None:
    assert bench.start(60, confirmed=True)["flags"] == []
    assert bench.api.get("/v1/permissions", who="lead") == []
