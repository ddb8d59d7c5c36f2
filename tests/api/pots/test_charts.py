"""Run charts of the weighed ratio: what the last pots say together."""

from collections.abc import Sequence
from typing import Any

import pytest

from labels.codes import make
from tests import makers


@pytest.fixture
def bench(api: Any) -> makers.Mixing:
    return makers.mixing(api)


def _weigh(bench: makers.Mixing, hardeners_g: Sequence[float], *, who: str = "laminator", scale: str = "") -> list[str]:
    """Pots of 100 g of resin, one after the other, at 100:30."""
    codes = []
    on = scale or bench.scale
    for hardener_g in hardeners_g:
        mix = bench.start(130, scale=on, who=who)["code"]
        for can, reading_g in ((bench.resin_can, 100), (bench.slow_can, hardener_g)):
            body = {"container": can, "scale": on, "reading_g": reading_g, "source": "typed"}
            bench.api.post(f"/v1/mixes/{mix}/pours", body, who=who)
        bench.api.shop.clock.forward(minutes=5)
        codes.append(mix)
    return codes


def test_a_chart_of_single_pots_and_their_limits(bench: makers.Mixing) -> None:
    # Deviations 0, +1, −1, +1, 0 %; moving ranges 1, 2, 2, 1 with mean 1.5.
    codes = _weigh(bench, [30.0, 30.3, 29.7, 30.3, 30.0])
    chart = bench.api.get("/v1/charts/ratio")
    assert [point["mix"] for point in chart["points"]] == codes
    assert [point["deviation_pct"] for point in chart["points"]] == pytest.approx([0, 1, -1, 1, 0], abs=1e-9)
    limits = chart["limits"]
    assert limits["mean_pct"] == pytest.approx(0.2)
    # NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2: mean ± 3·MR/1.128; moving range up to 3.267·MR.
    assert (limits["lower_pct"], limits["upper_pct"]) == pytest.approx((0.2 - 4.5 / 1.128, 0.2 + 4.5 / 1.128))
    assert limits["moving_range_upper_pct"] == pytest.approx(3.267 * 1.5)
    assert (limits["stand_out"], limits["jumps"], chart["drift"]["outside"]) == ([], [], [])
    # 6.3.2.4: the average starts at the target: 0, 0.3, −0.09, …
    assert [point["average_pct"] for point in chart["points"]][:3] == pytest.approx([0, 0.3, -0.09], abs=1e-9)
    # Over all s is √0.7; from pot to pot the moving range gives 1.5/1.128. Pp = 4/(6·s), Ppk = (2 − 0.2)/(3·s).
    ability = chart["capability"]
    assert (ability["pp"], ability["ppk"]) == pytest.approx((4 / 6 / 0.7**0.5, 1.8 / 3 / 0.7**0.5))
    assert (ability["cp"], ability["cpk"]) == pytest.approx((4 / 6 / (1.5 / 1.128), 1.8 / 3 / (1.5 / 1.128)))
    assert chart["sentences"] == [
        "Nothing stands out.",
        "Against ± 2 %: Cpk 0.45 from pot to pot, Ppk 0.72 over all.",
        "Limits from fewer than 20 pots are a first guess.",
    ]


def test_a_lasting_shift_within_the_tolerance_is_seen(bench: makers.Mixing) -> None:
    _weigh(bench, [30.0, 30.1, 29.9, 30.0, 30.1, 30.4, 30.5, 30.4, 30.5])
    chart = bench.api.get("/v1/charts/ratio")
    assert {point["verdict"] for point in chart["points"]} <= {"within", "near the limit"}
    drifting = [point["mix"] for point in chart["points"] if point["drifts"]]
    assert drifting
    assert chart["drift"]["outside"] == drifting
    assert f"towards too much hardener, first seen at {drifting[0]}" in " ".join(chart["sentences"])


def test_a_pot_that_stands_out_is_named_and_drawn(bench: makers.Mixing) -> None:
    codes = _weigh(bench, [30.0, 30.1, 30.0, 29.9, 30.0, 30.1, 30.0, 33.0, 30.0, 30.1, 29.9])
    chart = bench.api.get("/v1/charts/ratio")
    assert chart["limits"]["stand_out"] == [codes[7]]
    assert [point["stands_out"] for point in chart["points"]].index(True) == 7
    drawn = bench.api.call("GET", "/v1/charts/ratio.svg?last=11")
    assert (drawn.status_code, drawn.mimetype) == (200, "image/svg+xml")
    assert "One value stands out." in drawn.get_data(as_text=True)


def test_what_cannot_be_charted_is_said_in_words(bench: makers.Mixing) -> None:
    codes: list[str] = []
    for more, said in (
        (0, "There is no pot with a ratio to chart; a chart needs at least 5."),
        (1, "There is one pot with a ratio to chart; a chart needs at least 5."),
        (3, "There are 4 pots with a ratio to chart; a chart needs at least 5."),
        (1, "All 5 pots have the same deviation, +1.0 %; there is nothing to chart."),
    ):
        codes += _weigh(bench, [30.3] * more)
        chart = bench.api.get("/v1/charts/ratio")
        assert chart["sentences"] == [said]
        assert [point["mix"] for point in chart["points"]] == codes
        assert (chart["limits"], chart["drift"], chart["capability"]) == (None, None, None)
        problem = bench.api.call("GET", "/v1/charts/ratio.svg")
        assert (problem.status_code, problem.get_json()["detail"]) == (409, said)


def test_pots_are_found_by_scale_by_person_and_by_system(bench: makers.Mixing) -> None:
    fine = makers.scale(bench.api, "Fine scale", interval_g=0.01, maximum_g=600)
    own = _weigh(bench, [30.0])
    on_fine = _weigh(bench, [30.1], scale=fine)
    by_other = _weigh(bench, [30.2], who="second laminator")
    other = bench.api.shop.people["second laminator"]

    def found(asked: str) -> list[str]:
        return [point["mix"] for point in bench.api.get(f"/v1/charts/ratio?{asked}")["points"]]

    assert found("") == own + on_fine + by_other
    assert found(f"scale={fine}") == on_fine
    assert found(f"scale={bench.scale}") == own + by_other
    assert found(f"person={other}") == by_other
    assert found(f"person={other}&scale={fine}") == []
    assert found(f"system={bench.system}") == own + on_fine + by_other
    assert bench.api.get(f"/v1/charts/ratio?scale={fine}")["title"] == "Ratio of the last pot, weighed on Fine scale"


def test_only_the_latest_pots_are_charted(bench: makers.Mixing) -> None:
    codes = _weigh(bench, [30.0, 30.1, 29.9, 30.0, 30.1, 30.2])
    assert [point["mix"] for point in bench.api.get("/v1/charts/ratio?last=5")["points"]] == codes[1:]


def test_a_pot_without_hardener_or_weighed_by_mishap_is_no_weighing(bench: makers.Mixing) -> None:
    counted = _weigh(bench, [30.0])
    bench.pour(bench.start(130)["code"], bench.resin_can, 100)
    slip = bench.start(130)["code"]
    bench.pour(slip, bench.resin_can, 0.1)
    bench.pour(slip, bench.slow_can, 30)
    assert [point["mix"] for point in bench.api.get("/v1/charts/ratio")["points"]] == counted


def test_pots_of_different_tolerances_have_no_one_capability(bench: makers.Mixing) -> None:
    _weigh(bench, [30.0, 30.1, 29.9, 30.0])
    tolerance = {"kind": "percent of ratio", "value": 5, "source": "data sheet revision 1"}
    wide = makers.resin_system(bench.api, bench.resin, {bench.slow: 30}, name="Alder 12", tolerance=tolerance)
    mix = bench.start(130, system=wide["id"])["code"]
    bench.pour(mix, bench.resin_can, 100)
    bench.pour(mix, bench.slow_can, 30.2)
    chart = bench.api.get("/v1/charts/ratio")
    assert chart["limits"] is not None
    assert chart["capability"] is None
    assert "different tolerances" in chart["sentences"][1]


def test_a_question_that_leads_nowhere_is_answered_in_a_sentence(bench: makers.Mixing) -> None:
    questions = {"person=999": 404, "system=999": 404, f"scale={make('S', 999)}": 404, "scale=nonsense": 422,
                 "last=4": 422, "last=501": 422, "colour=red": 422}  # fmt: skip
    for asked, status in questions.items():
        for path in ("ratio", "ratio.svg"):
            problem = bench.api.call("GET", f"/v1/charts/{path}?{asked}")
            assert problem.status_code == status, problem.get_data(as_text=True)
            assert problem.get_json()["detail"].endswith(".")
