"""The catalyst of peroxide-cured resins."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.formulas import catalysts, peroxides
from service.formulas.catalysts import PercentPoint
from service.formulas.peroxides import DoseRow
from service.formulas.ranges import OutOfRange

TABLE = [DoseRow(15, 20, 1.5, 2.0, 2.5), DoseRow(20, 25, 1.0, 1.5, 2.0)]


@pytest.mark.parametrize(
    ("temperature_c", "target"), [(14.9, None), (15, 2.0), (19.9, 2.0), (20, 1.5), (25, 1.5), (25.1, None)]
)
def test_outside_the_lines_there_is_no_figure(temperature_c: float, target: float | None) -> None:
    found = peroxides.dose_at(rows=TABLE, temperature_c=temperature_c)
    assert (found.target_pct if found else None) == target


def test_lines_that_overlap_are_refused() -> None:
    with pytest.raises(OutOfRange, match=r"twice there for 19 °C"):
        peroxides.dose_at(rows=[DoseRow(15, 20, 1, 2, 3), DoseRow(19, 25, 1, 2, 3)], temperature_c=18)


@pytest.mark.parametrize("row", [(20, 15, 1, 2, 3), (15, 20, 2, 1, 3), (15, 20, 2, 2, 2), (15, 20, 0, 1, 2)])
def test_a_line_that_contradicts_itself_is_refused(row: tuple[float, float, float, float, float]) -> None:
    with pytest.raises(OutOfRange):
        DoseRow(*row)


def test_twenty_millilitres_to_the_kilogram_are_not_two_per_cent() -> None:
    # Shop rule 23: 20 ml/kg is 2.2 to 2.3 %.
    for density, percent in ((1.10, 2.2), (1.15, 2.3)):
        found = catalysts.percent_by_volume(volume_ml=20, density_g_ml=density, resin_g=1000)
        assert found == pytest.approx(percent)


def test_the_step_of_a_measure_is_its_uncertainty() -> None:
    # Hand calculation: 1 ml / sqrt(12) x 1.15 = 0.332 g; with 0.01 g/ml on 20 ml, sqrt(0.332² + 0.2²) = 0.388 g.
    assert catalysts.measured_u_g(step_ml=1, volume_ml=20, density_g_ml=1.15) == pytest.approx(0.332, abs=5e-4)
    found = catalysts.measured_u_g(step_ml=1, volume_ml=20, density_g_ml=1.15, density_u_g_ml=0.01)
    assert found == pytest.approx(0.3876, abs=5e-4)


def test_half_the_range_is_the_tolerance() -> None:
    found = peroxides.dose_tolerance_pct(lowest_pct=1, target_pct=1.5, highest_pct=2)
    assert found == pytest.approx(100 / 3)


@pytest.mark.parametrize(
    ("percent", "expected"),
    [(0.90, "outside"), (0.96, "near the limit"), (1.04, "near the limit"), (1.0525, "near the limit"),
     (1.0527, "within"), (1.9047, "within"), (1.9049, "near the limit"), (2.10, "near the limit"), (2.11, "outside")],
)  # fmt: skip
def test_the_verdict_keeps_a_band_at_both_ends(percent: float, expected: str) -> None:
    # Hand calculation at 5 %: p(1 - 0.05) >= 1 from 1.053, p(1 + 0.05) <= 2 to 1.905; < 1 below 0.952, > 2 over 2.105.
    found = peroxides.dose_verdict(percent=percent, uncertainty_pct=5, lowest_pct=1, highest_pct=2)
    assert found == expected


@settings(deadline=None, max_examples=40)
@given(base_g=st.floats(200, 5000), u=st.floats(0.02, 0.5), step=st.sampled_from([0.1, 0.5, 1.0]))
def test_every_accepted_reading_is_within_and_none_beside_them(base_g: float, u: float, step: float) -> None:
    found = catalysts.dose_limits(
        base_g=base_g, lowest_pct=1, target_pct=1.5, highest_pct=2, base_u_g=u, reading_u_g=u, step_g=step
    )
    assert found.lowest_g < found.target_g < found.highest_g
    if found.accepted_low_g is None or found.accepted_high_g is None:
        return
    for reading, inside in (
        (found.accepted_low_g, True), (found.accepted_high_g, True),
        (found.accepted_low_g - step, False), (found.accepted_high_g + step, False),
    ):  # fmt: skip
        uncertainty = 200 * ((u / base_g) ** 2 + (u / reading) ** 2) ** 0.5 if reading > 0 else 1e6
        verdict = peroxides.dose_verdict(
            percent=100 * max(reading, 0) / base_g, uncertainty_pct=uncertainty, lowest_pct=1, highest_pct=2
        )
        assert (verdict == "within") is inside


def test_a_measure_that_is_too_coarse_accepts_no_reading() -> None:
    found = catalysts.dose_limits(
        base_g=20, lowest_pct=1, target_pct=1.5, highest_pct=2, base_u_g=0.04, reading_u_g=0.4, step_g=0.1
    )
    assert (found.accepted_low_g, found.accepted_high_g) == (None, None)


def test_no_catalyst_at_all_is_no_reading_that_could_be_accepted() -> None:
    # From 0.05 to 0.2 g of 10 g: one step of the scale and two, neither of them proved.
    found = catalysts.dose_limits(
        base_g=10, lowest_pct=0.5, target_pct=1, highest_pct=2, base_u_g=0.04, reading_u_g=0.2, step_g=0.1
    )
    assert (found.accepted_low_g, found.accepted_high_g) == (None, None)


def test_too_little_takes_catalyst_and_too_much_takes_resin() -> None:
    range_pct = {"lowest_pct": 1.0, "target_pct": 1.5, "highest_pct": 2.0}
    below = peroxides.dose_correction(resin_g=1000, catalyst_g=8, **range_pct)
    assert (below.add, below.add_g, below.most_g) == ("catalyst", pytest.approx(7), pytest.approx(12))
    over = peroxides.dose_correction(resin_g=1000, catalyst_g=30, **range_pct)
    # 30 g are 1.5 % of 2000 g, and 1 % of 3000 g.
    assert (over.add, over.add_g, over.most_g) == ("resin", pytest.approx(1000), pytest.approx(2000))
    assert over.total_g == pytest.approx(2030)
    assert peroxides.dose_correction(resin_g=1000, catalyst_g=15, **range_pct).add == "nothing"


def test_fillers_count_only_where_the_sheet_counts_them() -> None:
    range_pct = {"lowest_pct": 1.0, "target_pct": 1.5, "highest_pct": 2.0}
    found = peroxides.dose_correction(resin_g=1000, catalyst_g=15, fillers_counted_g=1000, **range_pct)
    assert (found.add, found.add_g) == ("catalyst", pytest.approx(15))


def test_life_goes_by_temperature_and_per_cent_and_is_never_longer_than_the_table() -> None:
    table = [PercentPoint(1, 20, 40), PercentPoint(2, 20, 20), PercentPoint(1, 25, 28), PercentPoint(2, 25, 14)]
    # Half way between 1 and 2 % in ln: sqrt(2) %, sqrt(40·20) min.
    mid = catalysts.dose_life(points=table, percent=2**0.5, temperature_c=20)
    assert mid.minutes == pytest.approx(800**0.5)
    assert "at 20 °C with 1.41 % of catalyst" in mid.sentence
    assert catalysts.dose_life(points=table, percent=0.8, temperature_c=15).minutes == pytest.approx(40)
    more = catalysts.dose_life(points=table, percent=2.4, temperature_c=27)
    assert (more.minutes, more.shorter_than_min) == (None, pytest.approx(14))
    assert more.sentence == (
        "Shorter than 14.0 min: 27 °C is hotter than the table (25 °C) and 2.4 % is more than the table (2 %)."
    )
