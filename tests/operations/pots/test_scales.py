"""What scales can know of a ratio before anything is poured (shop rules 17 and 18)."""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from schemas.words import ScaleForm, State, ToleranceKind
from service.operations.door.refusals import ScaleOverdue, WrongState
from service.operations.pots.ability import ability
from service.operations.pots.scale import LoadedScale, check_state, reading_u_g, require_able
from service.operations.pots.scales import honest_pots, minimum_mass_mg
from service.operations.pots.system import ratio_and_tolerance
from service.records.items import Item
from service.records.materials import Material, ResinSystem, ScaleCheck, SystemHardener
from service.records.people import Site
from tests.operations.pots.pots import scale

SITE = Site(zone="Europe/Copenhagen")
CHECKED = datetime(2026, 11, 3, 9, 0, tzinfo=UTC)


def hardener(*, kind: ToleranceKind = ToleranceKind.PERCENT_OF_RATIO, value: float = 2) -> SystemHardener:
    system = ResinSystem(id=1, name="Alder 10", tolerance_kind=kind, tolerance_value=value, largest_pot_mg=1_000_000)
    return SystemHardener(system=system, material=Material(id=2, name="Slow"), parts_by_weight=30)


def able(**changed: Any) -> Any:
    one = scale()
    usual = {"resin_mg": 500_000, "hardener_mg": 150_000, "ratio": 0.3, "tolerance_pct": 2.0, "zeroed": True}
    return ability(**{**usual, "resin_on": one, "hardener_on": one, **changed})


def test_a_coarse_step_or_a_poor_repeatability_makes_a_reading_uncertain() -> None:
    assert reading_u_g(scale(interval_mg=1000)) > reading_u_g(scale()) > 0
    assert reading_u_g(scale(repeatability_mg=500)) > reading_u_g(scale())


def test_a_tenth_of_a_gram_is_honest_with_650_g_and_too_coarse_for_a_spoonful() -> None:
    assert able().honest
    assert not able(resin_mg=5000, hardener_mg=1500).honest


def test_the_smallest_honest_pot_is_honest_and_a_tenth_less_is_not() -> None:
    smallest_mg = able().smallest_g * 1000
    for share, honest in ((1.001, True), (0.9, False)):
        resin_mg = round(smallest_mg * share / 1.3)
        assert able(resin_mg=resin_mg, hardener_mg=round(resin_mg * 0.3)).honest == honest


def test_a_running_total_knows_less_than_a_scale_that_is_zeroed() -> None:
    assert able(zeroed=False).uncertainty_pct > able().uncertainty_pct
    assert able(zeroed=False).smallest_g > able().smallest_g


def test_two_scales_are_each_at_zero_whatever_was_said() -> None:
    two = able(zeroed=False, hardener_on=scale(12))
    assert two.zeroed
    assert two.uncertainty_pct == able().uncertainty_pct


def test_every_further_can_is_another_reading() -> None:
    assert able(hardener_pours=3).uncertainty_pct > able(hardener_pours=2).uncertainty_pct > able().uncertainty_pct


def test_the_least_mass_is_known_to_one_per_cent_with_two_standard_deviations() -> None:
    """Of a scale whose repeatability nobody knows, 0.41 of its step is taken: 2 × 0.41 × 0.1 g are 1 % of 8.2 g."""
    assert minimum_mass_mg(scale()) == 8200
    assert minimum_mass_mg(scale(repeatability_mg=100)) == 20_000


@pytest.mark.parametrize(
    ("kind", "value", "expected"),
    [(ToleranceKind.PERCENT_OF_RATIO, 2, 2.0), (ToleranceKind.PARTS, 1.5, 5.0)],
)
def test_a_tolerance_in_parts_is_per_cent_of_the_ratio(kind: ToleranceKind, value: float, expected: float) -> None:
    assert ratio_and_tolerance(hardener(kind=kind, value=value)) == (pytest.approx(0.3), pytest.approx(expected))


def test_a_scale_says_of_each_system_whether_its_smallest_pot_can_be_mixed_on_it_at_all() -> None:
    for weighing_mg, too_large in ((6_000_000, False), (1000, True)):
        (found,) = honest_pots(scale(maximum_mg=weighing_mg), hardeners=[hardener()])
        assert (found.system_name, found.hardener_name, found.too_large) == ("Alder 10", "Slow", too_large)
        assert found.smallest_pot_mg / 1000 == pytest.approx(able().smallest_g, abs=0.001)


def state(*, days: float, passed: bool = True, every: int | None = 7) -> str:
    """How a scale stands so many days after its only check."""
    row = scale()
    row.check_every_days = every
    check = ScaleCheck(passed=passed, occurred_at=CHECKED)
    return check_state(row, check, at=CHECKED + timedelta(days=days), site=SITE).state


def test_a_check_is_good_to_the_end_of_the_day_on_which_the_next_is_due() -> None:
    assert state(days=7) == "in order"
    assert state(days=7.58) == "in order", "22:55 in the shop"
    assert state(days=7.6) == "overdue", "after midnight in the shop"


def test_a_failed_check_stops_whatever_the_interval() -> None:
    assert state(days=0, passed=False) == "failed" == state(days=0, passed=False, every=None)


def test_a_scale_that_nobody_asks_checks_of_has_none_to_miss() -> None:
    assert state(days=900, every=None) == "not asked"


def test_a_scale_that_was_never_checked_is_overdue_where_checks_are_asked_for() -> None:
    row = scale()
    row.check_every_days = 7
    found = check_state(row, None, at=CHECKED, site=SITE)
    assert (found.state, found.stops, found.sentence) == ("overdue", True, "It has not been checked yet.")


@pytest.mark.parametrize("passed", [True, False])
def test_only_a_scale_in_use_and_in_order_is_weighed_on(passed: bool) -> None:
    row = scale()
    row.check_every_days = 7
    check = ScaleCheck(passed=passed, occurred_at=CHECKED)
    in_use = LoadedScale(Item(code="S000011", name="Bench scale", state=State.IN_USE), row, check, "Lead")
    withdrawn = LoadedScale(Item(code="S000011", name="Bench scale", state=State.WITHDRAWN), row, check, "Lead")
    with pytest.raises(WrongState, match="Bench scale is withdrawn"):
        require_able(withdrawn, at=CHECKED, site=SITE)
    if passed:
        assert require_able(in_use, at=CHECKED, site=SITE) is row
    else:
        with pytest.raises(ScaleOverdue, match="failed its check on 3 Nov 2026") as refused:
            require_able(in_use, at=CHECKED, site=SITE)
        assert refused.value.way_out == "Put the check weight on it and record the check, or take another scale."
        row.form = ScaleForm.PUMP
        with pytest.raises(ScaleOverdue, match=r"^Pump S000011 Bench scale: It failed") as refused:
            require_able(in_use, at=CHECKED, site=SITE)
        assert refused.value.way_out.startswith("Weigh at least six pairs of its shots and record the check, or take ")
