"""Ragged tables of life: what their points prove, and nothing that they do not (shop rule 26)."""

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.formulas.clocks import LifePoint, life_min
from service.formulas.planner import largest_workable_pot_g
from service.formulas.ranges import OutOfRange

# 100 g at 20 °C and 500 g at 25 °C, and nothing else: what a short data sheet gives.
RAGGED = [LifePoint(100, 20, 40), LifePoint(500, 25, 20)]
quick = settings(deadline=None, max_examples=150)


@st.composite
def tables(draw: st.DrawFn) -> list[LifePoint]:
    """One to eight points of any masses and temperatures that do not contradict each other."""
    places = st.tuples(st.sampled_from([50, 100, 200, 400, 1000]), st.sampled_from([10, 15, 20, 25, 30]))
    chosen = draw(st.lists(places, min_size=1, max_size=8, unique=True))
    # Lives that fall with mass and temperature by some amount a point: longest first, each below all that it follows.
    points: list[LifePoint] = []
    for mass, temperature in sorted(chosen):
        above = min((p.life_min for p in points if p.temperature_c <= temperature), default=240.0)
        points.append(LifePoint(mass, temperature, above * draw(st.floats(0.3, 1))))
    return points


anywhere = {"mass_g": st.floats(20, 1500), "temperature_c": st.floats(5, 35)}


def _at_least(points: list[LifePoint], mass_g: float, temperature_c: float) -> float | None:
    proved = [p.life_min for p in points if p.mass_g >= mass_g and p.temperature_c >= temperature_c]
    return max(proved, default=None)


def _at_most(points: list[LifePoint], mass_g: float, temperature_c: float) -> float | None:
    proved = [p.life_min for p in points if p.mass_g <= mass_g and p.temperature_c <= temperature_c]
    return min(proved, default=None)


def test_a_heavier_pot_than_a_hot_one_of_the_table_is_not_called_shorter_than_that_one() -> None:
    # 600 g at 20 °C: the 20 min of 500 g are those of 25 °C and prove nothing here; the 40 min of 100 g do.
    life = life_min(points=RAGGED, mass_g=600, temperature_c=20)
    assert (life.minutes, life.shorter_than_min) == (None, pytest.approx(40))
    assert life.sentence == "Shorter than 40.0 min: 600 g is heavier than the table (500 g)."


def test_a_pot_hotter_than_a_table_that_ends_at_a_minute_lives_shorter_than_a_minute() -> None:
    # ln 1 is 0, which is a figure and not the want of one.
    life = life_min(points=[LifePoint(100, 20, 5), LifePoint(100, 60, 1)], mass_g=100, temperature_c=61)
    assert (life.minutes, life.shorter_than_min) == (None, 1)


@pytest.mark.parametrize(("mass_g", "temperature_c"), [(100, 25), (500, 20), (300, 24), (500, 25)])
def test_a_heavy_and_hot_point_proves_all_that_is_lighter_and_cooler(mass_g: float, temperature_c: float) -> None:
    life = life_min(points=RAGGED, mass_g=mass_g, temperature_c=temperature_c)
    assert life.minutes is not None
    assert life.minutes >= 20 * (1 - 1e-12)


def test_what_is_only_proved_says_that_it_is_at_least() -> None:
    assert life_min(points=RAGGED, mass_g=100, temperature_c=25).bound == "at least, held at the edge"
    assert life_min(points=RAGGED, mass_g=500, temperature_c=25).bound == "exact"


def test_the_largest_workable_pot_of_a_ragged_table_is_not_nothing() -> None:
    for temperature_c in (20, 22, 25):
        found = largest_workable_pot_g(
            points=RAGGED, temperature_c=temperature_c, wet_out_rate_g_min=20, working_share=0.5, largest_pot_g=1000
        )
        # 20 min are proved up to 500 g; half of them at 20 g/min are 200 g.
        assert found >= 199.99


def test_a_row_between_two_others_does_not_cut_them_apart() -> None:
    # 300 g is given at 20 °C alone; at 30 °C it lies between 100 g and 1000 g.
    points = [LifePoint(100, 20, 70), LifePoint(100, 30, 35), LifePoint(300, 20, 50), LifePoint(1000, 20, 40),
              LifePoint(1000, 30, 20)]  # fmt: skip
    life = life_min(points=points, mass_g=300, temperature_c=30)
    assert (life.bound, life.minutes) == ("exact", pytest.approx(35 * (20 / 35) ** 0.4771, rel=1e-4))


def test_where_nothing_is_lighter_and_cooler_nor_heavier_and_hotter_nothing_is_said() -> None:
    points = [LifePoint(100, 25, 30), LifePoint(500, 20, 28)]
    life = life_min(points=points, mass_g=200, temperature_c=22)
    assert (life.minutes, life.shorter_than_min) == (None, None)
    assert life.sentence == "No figure: the table has nothing as heavy as 200 g at 22 °C or hotter."


def test_a_table_of_which_no_two_points_share_anything_is_not_filled_without_end() -> None:
    apart = [LifePoint(10 + n, n / 4, 500 - n) for n in range(101)]
    assert life_min(points=apart[:100], mass_g=20, temperature_c=1).minutes is not None
    with pytest.raises(OutOfRange, match="101 masses and 101 temperatures"):
        life_min(points=apart, mass_g=20, temperature_c=1)


@quick
@given(points=tables())
def test_every_point_has_its_own_life(points: list[LifePoint]) -> None:
    for point in points:
        life = life_min(points=points, mass_g=point.mass_g, temperature_c=point.temperature_c)
        assert (life.bound, life.minutes) == ("exact", pytest.approx(point.life_min))


@quick
@given(points=tables(), **anywhere)
def test_a_figure_lies_between_what_the_points_prove(
    points: list[LifePoint], mass_g: float, temperature_c: float
) -> None:
    life = life_min(points=points, mass_g=mass_g, temperature_c=temperature_c)
    least, most = _at_least(points, mass_g, temperature_c), _at_most(points, mass_g, temperature_c)
    assert (life.minutes is None) == (least is None), "whoever is proved has a figure, and nobody else"
    if life.minutes is not None and least is not None:
        assert life.minutes >= least * (1 - 1e-9)
        assert life.minutes <= (most or 240) * (1 + 1e-9)
    if life.shorter_than_min is not None and most is not None:
        assert life.shorter_than_min <= most * (1 + 1e-9)


@quick
@given(points=tables(), heavier=st.floats(1, 3), hotter=st.floats(0, 10), **anywhere)
def test_heavier_or_hotter_never_lives_longer(
    points: list[LifePoint], mass_g: float, temperature_c: float, heavier: float, hotter: float
) -> None:
    here = life_min(points=points, mass_g=mass_g, temperature_c=temperature_c)
    there = life_min(points=points, mass_g=mass_g * heavier, temperature_c=temperature_c + hotter)
    if there.minutes is not None:
        assert here.minutes is not None
        assert there.minutes <= here.minutes * (1 + 1e-9)


@quick
@given(points=tables(), rate=st.floats(0.01, 3), factor=st.floats(0.85, 1), **anywhere)
def test_it_is_never_called_shorter_than_a_resin_that_fits_every_point(
    points: list[LifePoint], rate: float, factor: float, mass_g: float, temperature_c: float
) -> None:
    """Points of one smooth resin, any of them: what is proved of it has to be true of it."""

    def true_life(mass: float, temperature: float) -> float:
        return float(200 * factor**temperature * (mass / 50) ** -(rate / 3))

    told = [LifePoint(p.mass_g, p.temperature_c, true_life(p.mass_g, p.temperature_c)) for p in points]
    life = life_min(points=told, mass_g=mass_g, temperature_c=temperature_c)
    truth = true_life(mass_g, temperature_c)
    lightest, coolest = min(p.mass_g for p in told), min(p.temperature_c for p in told)
    if life.minutes is not None:
        assert life.minutes <= truth * (1 + 1e-9)
    elif life.shorter_than_min is not None and mass_g >= lightest and temperature_c >= coolest:
        assert life.shorter_than_min >= truth * (1 - 1e-9)


@quick
@given(points=tables(), **anywhere)
def test_the_order_of_the_points_does_not_matter(points: list[LifePoint], mass_g: float, temperature_c: float) -> None:
    first = life_min(points=points, mass_g=mass_g, temperature_c=temperature_c)
    for order in itertools.islice(itertools.permutations(points), 3):
        assert life_min(points=list(order), mass_g=mass_g, temperature_c=temperature_c) == first
