"""The next number follows from what is in the cup, whatever can it came from, hardener first as well as resin first."""

from typing import Any

import pytest

from service.database import connected
from service.operations.ledger.checking import check_account
from tests import makers


@pytest.fixture
def bench(api: Any) -> makers.Mixing:
    return makers.mixing(api)


def _next(mix: Any) -> tuple[str, str, float]:
    following = mix["next"]
    return following["component"], following["container"], following["target_g"]


def test_resin_from_another_right_can_counts_and_frees_the_one_that_was_planned(bench: makers.Mixing) -> None:
    other = makers.cans(bench.api, bench.resin, bench.place, "R-2")[0]
    mix = bench.start(650)["code"]
    poured = bench.pour(mix, other, 500)
    assert _next(poured) == ("hardener", bench.slow_can, 150)
    assert bench.api.get(f"/v1/containers/{bench.resin_can}")["reserved_g"] == 0
    assert bench.pour(mix, bench.slow_can, 150)["judgement"]["verdict"] == "within"


def test_what_another_can_gave_in_part_is_missing_from_the_planned_one(bench: makers.Mixing) -> None:
    other = makers.cans(bench.api, bench.resin, bench.place, "R-2")[0]
    mix = bench.start(650)["code"]
    assert _next(bench.pour(mix, other, 350)) == ("resin", bench.resin_can, 150)
    assert _next(bench.pour(mix, bench.resin_can, 149.8)) == ("hardener", bench.slow_can, 149.9)


def test_two_planned_cans_poured_from_the_first_are_both_in(bench: makers.Mixing) -> None:
    second = makers.cans(bench.api, bench.resin, bench.place, "R-2")[0]
    cans = [{"container": bench.resin_can, "mass_g": 300}, {"container": second}, {"container": bench.slow_can}]
    mix = bench.start(650, containers=cans)["code"]
    poured = bench.pour(mix, bench.resin_can, 500, source="typed", read_back_g=500)
    assert _next(poured) == ("hardener", bench.slow_can, 150)
    assert bench.api.get(f"/v1/containers/{second}")["reserved_g"] == 0
    few = bench.start(650, containers=cans)["code"]
    assert _next(bench.pour(few, bench.resin_can, 310)) == ("resin", second, 190)


def test_hardener_first_is_answered_with_the_resin_that_belongs_to_it(bench: makers.Mixing) -> None:
    # Shop rule 22: 13.8 g of hardener at 100:30 want 46.0 g of resin.
    mix = bench.start(60)["code"]
    first = bench.pour(mix, bench.slow_can, 13.8)
    assert _next(first) == ("resin", bench.resin_can, 46)
    following = first["next"]
    assert following["scale_reading_if_not_zeroed_g"] == 59.8
    # 13.8 / 0.3 / 1.02 and / 0.98, and of that what a scale of 0.1 g can prove.
    assert (following["tolerance_from_g"], following["tolerance_to_g"]) == (45.099, 46.938)
    assert (following["accepted_from_g"], following["accepted_to_g"]) == (45.4, 46.6)
    done = bench.pour(mix, bench.resin_can, 46, source="typed")
    assert (done["state"], done["judgement"]["verdict"], done["next"]) == ("running", "within", None)


def test_hardener_alone_has_met_nothing(bench: makers.Mixing) -> None:
    mix = bench.start(130)["code"]
    first = bench.pour(mix, bench.slow_can, 30)
    assert (first["clock"]["contact_at"], first["clock"]["use_before"]) == (None, None)
    contact = bench.api.shop.clock.forward(minutes=9)
    done = bench.pour(mix, bench.resin_can, 100)
    assert done["clock"]["contact_at"] == contact.isoformat().replace("+00:00", "Z")
    # 130 g at 20 °C between 70 min of 100 g and 40 min of 1000 g: 70·(40/70)^lg 1.3.
    assert done["clock"]["life_min"] == pytest.approx(65.68, abs=0.01)


def test_hardener_alone_may_still_be_poured_back_or_given_up(bench: makers.Mixing) -> None:
    mix = bench.start(130)["code"]
    bench.pour(mix, bench.slow_can, 31)
    back = bench.api.post(f"/v1/mixes/{mix}/pour-backs", {"container": bench.slow_can, "mass_g": 1})
    assert _next(back) == ("resin", bench.resin_can, 100)
    assert bench.api.post(f"/v1/mixes/{mix}/abandonment")["state"] == "abandoned"


def test_resin_of_a_hardener_first_pot_comes_from_two_cans(bench: makers.Mixing) -> None:
    second = makers.cans(bench.api, bench.resin, bench.place, "R-2")[0]
    cans = [{"container": bench.resin_can, "mass_g": 300}, {"container": second}, {"container": bench.slow_can}]
    mix = bench.start(650, containers=cans)["code"]
    assert _next(bench.pour(mix, bench.slow_can, 156)) == ("resin", bench.resin_can, 300)
    half = bench.pour(mix, bench.resin_can, 300)
    assert _next(half) == ("resin", second, 220)
    # The pot will weigh 676 g, and its deadline does not shrink while the rest of the resin is poured.
    done = bench.pour(mix, second, 220)
    assert half["clock"]["use_before"] == done["clock"]["use_before"]
    assert done["judgement"]["deviation_pct"] == pytest.approx(0)


def test_a_wrong_hardener_has_neither_a_ratio_nor_a_pot_life_nor_a_next_number(bench: makers.Mixing) -> None:
    mix = bench.start(130)["code"]
    bench.pour(mix, bench.resin_can, 100)
    wrong = bench.pour(mix, bench.fast_can, 30)
    assert (wrong["judgement"], wrong["correction"], wrong["next"]) == (None, None, None)
    clock = wrong["clock"]
    assert (clock["life_min"], clock["use_before"], clock["over_after"]) == (None, None, None)
    assert clock["contact_at"] is not None
    assert clock["note"] == f"{bench.fast_can} Alder 31 fast hardener is in it; no table gives its pot life."
    bench.stir(mix)
    used = bench.apply(mix, makers.started_part(bench.api))
    said = [f["sentence"] for f in used["flags"] if f["kind"] == "ratio-not-known"]
    assert said == [f"It was applied with {bench.fast_can} Alder 31 fast hardener in it, for which there is no ratio."]


def test_the_right_hardener_on_top_of_a_wrong_one_puts_nothing_right(bench: makers.Mixing) -> None:
    mix = bench.start(130)["code"]
    bench.pour(mix, bench.fast_can, 15)
    bench.pour(mix, bench.resin_can, 100)
    both = bench.pour(mix, bench.slow_can, 15, correction=True)
    assert (both["judgement"], both["clock"]["use_before"]) == (None, None)
    assert [m["verdict"] for m in bench.api.get("/v1/mixes")] == [None]
    with connected():
        assert check_account().differences == 0


def test_limits_are_told_of_the_number_that_is_asked(bench: makers.Mixing) -> None:
    # Zeroed the number is 13.8 g of hardener; in a running total it is 59.8 g on the display.
    zeroed = bench.start(60)["code"]
    added = bench.pour(zeroed, bench.resin_can, 46)["next"]
    assert added["sentence"] == (
        f"Add 13.8 g of hardener from {bench.slow_can}. Accepted from 13.7 g to 13.9 g. "
        "The scale will read 59.8 g if you did not zero, accepted from 59.7 g to 59.9 g."
    )
    assert added["if_not_zeroed"] == {
        "tolerance_from_g": 59.524, "tolerance_to_g": 60.076, "accepted_from_g": 59.7, "accepted_to_g": 59.9
    }  # fmt: skip
    running = bench.start(130, zeroed=False)["code"]
    shown = bench.pour(running, bench.resin_can, 100)["next"]
    assert shown["sentence"] == (
        f"Add hardener from {bench.slow_can} until the scale reads 130 g: 30 g more. Accepted from 129.5 g to 130.5 g."
    )


def test_pigment_in_the_cup_is_counted_where_the_scale_was_not_zeroed(bench: makers.Mixing) -> None:
    white = makers.material(bench.api, "White paste", "pigment")
    paste = makers.cans(bench.api, white, bench.place, "W-1", no_expiry=True)[0]
    mix = bench.start(130)["code"]
    bench.pour(mix, bench.resin_can, 100)
    tinted = bench.api.post(f"/v1/mixes/{mix}/fillers", {"container": paste, "mass_g": 4})
    assert tinted["next"]["scale_reading_if_not_zeroed_g"] == 134
    done = bench.pour(mix, bench.slow_can, 134, zeroed=False)
    assert (done["hardener_g"], done["judgement"]["verdict"]) == (30, "within")


def test_a_scale_that_can_prove_no_reading_says_so_and_keeps_the_target(bench: makers.Mixing) -> None:
    mix = bench.start(60)["code"]
    # Half of the planned resin only: 20 g on 0.1 g.
    following = bench.pour(mix, bench.resin_can, 15.4)["next"]
    assert (following["target_g"], following["provable"]) == (4.6, False)
    assert (following["tolerance_from_g"], following["tolerance_to_g"]) == (4.528, 4.712)
    assert following["accepted_from_g"] is None
    assert "In tolerance from 4.528 g to 4.712 g; this scale cannot prove it." in following["sentence"]
