"""When parts are begun: moulds, release waits, the shop's hours; against trying every order on small cases."""

import random
from datetime import date, datetime, time, timedelta
from itertools import permutations, product

from service.formulas._mould_days import Form, Hours, Job, plan_days


def _at(month: int, day: int, hour: int) -> datetime:
    return datetime.combine(date(2026, month, day), time(hour))


MONDAY = _at(11, 23, 8)
SHOP = Hours(frozenset(range(5)), time(7), time(16))


def test_a_mould_is_taken_over_the_weekend_and_free_when_the_shop_opens() -> None:
    friday = MONDAY + timedelta(days=4)
    form = Form("T1", free_at=friday, hours=16, pulls=5, lasts=5)
    first, second = plan_days([Job(1, friday), Job(2, friday)], [form], SHOP) or ()
    assert (first.begins, first.out) == (friday, _at(11, 30, 7))
    assert second.begins == _at(11, 30, 7)


def test_a_release_that_is_used_up_takes_its_wait_in_working_time() -> None:
    form = Form("T1", free_at=MONDAY, hours=24, pulls=1, lasts=2, wait_min=9 * 60)
    days = [one.begins for one in plan_days([Job(n, MONDAY) for n in range(3)], [form], SHOP) or ()]
    # Out on Tuesday at 8; coated then, its wait ends at 17, after hours; the third pull is of the same release.
    assert days == [MONDAY, _at(11, 25, 7), _at(11, 26, 7)]


def test_a_release_of_which_nothing_else_is_said_is_laid_on_for_every_pull() -> None:
    form = Form("T1", free_at=MONDAY, hours=2, wait_min=60)
    days = [one.begins for one in plan_days([Job(n, MONDAY) for n in range(3)], [form], SHOP) or ()]
    assert days == [MONDAY + timedelta(hours=hours) for hours in (1, 4, 7)]


def test_a_coat_that_is_still_drying_is_waited_for() -> None:
    form = Form("T1", free_at=MONDAY, hours=8, pulls=1, ready_at=MONDAY + timedelta(hours=3))
    assert [one.begins for one in plan_days([Job(1, MONDAY)], [form], SHOP) or ()] == [MONDAY + timedelta(hours=3)]


def test_without_a_mould_each_is_begun_on_its_first_day_of_work_and_a_shop_that_never_opens_begins_none() -> None:
    saturday = MONDAY + timedelta(days=5)
    closed = Hours(SHOP.weekdays, SHOP.opens, SHOP.closes, frozenset({date(2026, 11, 30)}))
    (one,) = plan_days([Job(1, saturday, date(2026, 11, 30))], [], closed) or ()
    assert one.begins == _at(12, 1, 7)
    assert one.late
    assert [it.late for it in plan_days([Job(1, saturday, date(2026, 12, 1)), Job(2, saturday)], [], closed) or ()] == [
        False,
        False,
    ]
    assert plan_days([Job(1, saturday)], [], Hours(frozenset())) is None


def test_no_plan_has_fewer_late_by_more_than_this_one_where_all_may_begin_at_once() -> None:
    rng = random.Random(1)
    for _ in range(60):
        forms = [Form(f"T{n}", MONDAY + timedelta(hours=rng.randint(0, 30)), rng.choice([6, 20, 40]), rng.randint(0, 2),
                      None, 2, rng.choice([0, 200])) for n in range(rng.randint(1, 2))]  # fmt: skip
        jobs = [Job(n, MONDAY, (MONDAY + timedelta(days=rng.randint(0, 5))).date()) for n in range(rng.randint(1, 4))]
        plan = plan_days(jobs, forms, SHOP) or ()
        worst = max((one.out.date() - known.due).days for one in plan for known in jobs
                    if known.key == one.key and known.due is not None and one.out is not None)  # fmt: skip
        assert worst <= min(_lateness(order, forms) for order in permutations(jobs))


def _lateness(order: tuple[Job, ...], forms: list[Form]) -> int:
    """The least worst lateness of jobs in this order, over all choices of moulds."""
    best = 10**6
    for chosen in product(forms, repeat=len(order)):
        worst = -(10**6)
        for form in forms:
            own = [job for job, taken in zip(order, chosen, strict=True) if taken is form]
            undated = [Job(number, job.earliest) for number, job in enumerate(own)]
            for begun in plan_days(undated, [form], SHOP) or ():
                due = own[begun.key].due
                assert due is not None
                assert begun.out is not None
                worst = max(worst, (begun.out.date() - due).days)
        best = min(best, worst)
    return best


def test_a_mould_of_unknown_hours_takes_one_part_and_nothing_is_said_of_the_next() -> None:
    jobs = [Job(1, MONDAY, MONDAY.date()), Job(2, MONDAY)]
    first, second = plan_days(jobs, [Form("T1", MONDAY, None, 3)], SHOP) or ()
    assert (first.begins, first.out, first.late) == (MONDAY, None, None)
    assert (second.mould, second.begins, second.late) == (None, None, None)


def test_a_part_is_late_when_it_leaves_its_mould_after_its_day_and_never_without_one() -> None:
    form = Form("T1", MONDAY, 24, 9)
    for due, late in ((date(2026, 11, 23), True), (date(2026, 11, 24), False), (None, False)):
        (one,) = plan_days([Job(1, MONDAY, due)], [form], SHOP) or ()
        assert (one.out, one.late) == (_at(11, 24, 8), late)
    (nobody_knows,) = plan_days([Job(1, MONDAY)], [Form("T1", MONDAY, None, 9)], SHOP) or ()
    assert nobody_knows.late is False


def test_a_mould_whose_hours_are_known_comes_first_and_of_the_others_the_one_that_is_free_first() -> None:
    later = MONDAY + timedelta(hours=2)
    known, unknown, soon = Form("T3", later, 8, 1), Form("T1", later, None, 1), Form("T2", MONDAY, None, 1)
    (first,) = plan_days([Job(1, MONDAY)], [known, unknown, soon], SHOP) or ()
    assert (first.mould, first.begins) == ("T3", later)
    begun = plan_days([Job(n, MONDAY) for n in range(2)], [unknown, soon], SHOP) or ()
    assert [(one.mould, one.begins) for one in begun] == [("T2", MONDAY), ("T1", later)]


def test_a_mould_of_which_only_its_hours_are_known_is_coated_at_once_and_takes_no_time_to_dry() -> None:
    assert [one.begins for one in plan_days([Job(1, MONDAY)], [Form("T1", MONDAY, 8)], SHOP) or ()] == [MONDAY]
