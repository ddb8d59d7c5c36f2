"""Suspects: everything that parts share ranked and weighed, grouped, split at a limit day."""

from collections.abc import Iterable
from datetime import date
from functools import cache
from math import comb

import pytest

from service.reports.finding.given import AgedUse, Factor, Number, Outcomes, Times
from service.reports.finding.suspected import Suspects
from service.reports.finding.suspects import find_suspects
from service.reports.finding.weighing import Suspicion


def named(prefix: str, count: int) -> list[str]:
    return [f"{prefix}{n}" for n in range(count)]


def outcomes_of(failed: Iterable[str], good: Iterable[str], **more: Iterable[str]) -> Outcomes:
    return Outcomes(
        word="soft",
        failed=frozenset(failed),
        good=frozenset(good),
        undecided=frozenset(more.get("undecided", ())),
        otherwise=frozenset(more.get("otherwise", ())),
        since=date(2025, 11, 3),
        until=date(2026, 11, 25),
        gone=frozenset(more.get("gone", ())),
    )


LATE, EARLY, OTHERS = named("late", 7), named("early", 31), named("other", 112)
YARD = outcomes_of([*LATE[:6], OTHERS[0]], [LATE[6], *EARLY, *OTHERS[1:]])
OLD_CAN = AgedUse(
    code="C002543",
    noun="hardener can",
    material="Alder 32 slow hardener",
    because="opened",
    limit_days=180,
    days={**{p: 181 + 5 * n for n, p in enumerate(LATE)}, **{p: 5 * n for n, p in enumerate(EARLY)}},
    others=frozenset(OTHERS),
    measured={},
)
CAN = Factor("container", "hardener can C00254 3", "C002543", frozenset([*LATE, *EARLY]))
LOT = Factor("lot", "lot L00071 2", "L000712", frozenset([*LATE, *EARLY]))


# The sisters from other cans were made all the while.
TIMES = Times({part: place for place, part in enumerate([*EARLY, *LATE])} | {p: n / 3 for n, p in enumerate(OTHERS)})


@cache
def whole_yard(*factors: Factor) -> Suspects:
    return find_suspects(LATE[0], outcomes=YARD, factors=[CAN, LOT, *factors], aged=[OLD_CAN], times=TIMES)


def test_a_can_open_too_long_is_told_in_one_sentence_with_its_three_groups() -> None:
    """The counts are those of the demo's hidden finding; p by hand from the hypergeometric distribution."""
    split = whole_yard().splits[0]
    assert split.sentence == (
        "Of 7 parts made from it after day 180, 6 are soft; of 31 made from it before, none; "
        "of 112 sisters from other cans, one (p < 0.0001)."
    )
    by_hand = sum(comb(7, k) * comb(143, 7 - k) for k in (6, 7)) / comb(150, 7)
    assert split.p == pytest.approx(by_hand)


def test_the_split_can_ranks_before_the_whole_can() -> None:
    ranked = whole_yard().ranked
    assert (ranked[0].kind, ranked[0].code) == ("age", "C002543")
    assert ranked[0].suspicious
    assert ranked[0].p < ranked[1].p


def test_factors_that_always_occur_together_are_named_together() -> None:
    whole = next(s for s in whole_yard().ranked if s.kind == "container")
    assert whole.cannot_separate == ("lot L00071 2",)
    assert len(whole_yard().ranked) == 2, "a group is compared once"


def test_what_has_the_very_same_parts_as_the_aged_can_cannot_be_told_from_it() -> None:
    weeks = Factor("week", "a start in week 45 of 2026", None, frozenset(LATE))
    assert whole_yard(weeks).ranked[0].cannot_separate == ("a start in week 45 of 2026",)


def test_p_values_are_adjusted_for_all_that_was_tried() -> None:
    """What was tried beside it can only make the smallest of all chances likelier (min-P)."""
    chance = Factor("mould", "Tricycle body (T00002 6)", "T000026", frozenset([LATE[0], *EARLY[:9], *OTHERS[:30]]))
    found = whole_yard(chance)
    assert found.tried == 3
    assert all(s.p_within <= s.p_adjusted for s in found.ranked)
    assert found.ranked[-1].p_within < found.ranked[-1].p_adjusted
    assert found.rearrangements == 2000
    assert found.smallest_p_within == 1 / 2000


def test_the_old_can_stands_out_and_the_whole_can_cannot_be_told_from_it() -> None:
    found = whole_yard()
    assert found.ranked[0].verdict == Suspicion.ACCUSED
    assert (found.ranked[1].verdict, found.ranked[1].rival) == (Suspicion.RIVAL, "hardener can C00254 3 after day 180")
    assert found.sentence.startswith(
        "Of 2 comparisons, one stands out from chance, from its period and from all others"
    )


def test_people_are_no_suspects_and_stand_apart_by_task() -> None:
    """Whoever laid all the soft parts is no row of the ranked table, and moves nothing in its order."""
    laid = Factor("person", "laid plies, Ane", None, frozenset(LATE))
    mixed = Factor("person", "mixed, Bo", None, frozenset([*LATE, *EARLY[:5]]))
    found = whole_yard(mixed, laid)
    assert [s.name for s in found.people] == ["laid plies, Ane", "mixed, Bo"]
    assert [(s.name, s.p) for s in found.ranked] == [(s.name, s.p) for s in whole_yard().ranked]
    assert not any(s.stands_alone for s in found.people)
    assert all("Ane" not in name for s in found.ranked for name in (s.name, *s.cannot_separate))


def test_a_factor_that_the_part_does_not_have_cannot_speak_for_its_failure() -> None:
    elsewhere = Factor("roll", "roll C00187 5", "C001875", frozenset(OTHERS[:3]))
    assert whole_yard(elsewhere).tried == whole_yard().tried


def test_what_nobody_or_everybody_shares_is_counted_and_not_compared() -> None:
    alone = Factor("kit", "kit K00012 8", "K000128", frozenset(LATE[:1]))
    everyone = Factor("mould", "the only mould", "T000026", frozenset([*LATE, *EARLY, *OTHERS]))
    found = whole_yard(alone, everyone)
    assert (found.not_shared, found.shared_by_all, found.tried) == (1, 1, whole_yard().tried)


def test_parts_that_failed_otherwise_or_are_not_judged_stay_out_of_the_tables() -> None:
    outcomes = outcomes_of(LATE[:6], [*EARLY, *OTHERS[1:]], undecided=LATE[6:], otherwise=OTHERS[:1])
    found = find_suspects(LATE[0], outcomes=outcomes, factors=[CAN], aged=[OLD_CAN])
    assert (found.compared, found.undecided, found.left_out) == (148, 1, 1)
    assert (found.splits[0].after.parts, found.splits[0].undecided) == (6, 1)
    ring = next(p for p in found.splits[0].points if p.part == LATE[6])
    assert ring.failed is None


def test_failures_rise_with_the_days_open() -> None:
    split = whole_yard().splits[0]
    assert (split.median_failed, split.median_good) == (193.5, 77.5)
    assert split.p_ages is not None
    assert split.p_ages < 0.001


def test_a_hardness_that_falls_with_age_is_a_trend() -> None:
    """Kendall's tau is -1 for a strictly falling series (definition)."""
    measured = {p: (84 - d / 5, "hardness Shore D") for p, d in OLD_CAN.days.items()}
    aged = AgedUse(**{**{n: getattr(OLD_CAN, n) for n in OLD_CAN.__slots__}, "measured": measured})
    split = find_suspects(LATE[0], outcomes=YARD, factors=[CAN], aged=[aged]).splits[0]
    assert split.tau == pytest.approx(-1)
    assert split.measured == "hardness Shore D"


def test_nothing_failed_is_nothing_to_compare() -> None:
    found = find_suspects("late0", outcomes=outcomes_of([], [*LATE, *EARLY]), factors=[CAN])
    assert found.ranked == ()
    assert found.sentence.startswith("No part failed in this time, so there is nothing to compare.")


def test_chance_is_called_chance_and_clears_nothing() -> None:
    week = Factor("week", "a start in week 45 of 2026", None, frozenset([LATE[0], *OTHERS[:20]]))
    outcomes = outcomes_of([LATE[0], OTHERS[40], OTHERS[90]], [*EARLY, *OTHERS[:40], *OTHERS[41:90], *OTHERS[91:]])
    found = find_suspects(LATE[0], outcomes=outcomes, factors=[week], times=TIMES)
    assert found.ranked[0].verdict == Suspicion.CHANCE
    assert "none is stronger than chance" in found.sentence
    assert "clears nothing" in found.sentence


def test_where_nothing_can_be_told_it_says_why_and_what_would_tell() -> None:
    lot = Factor("lot", "lot L00071 2", "L000712", frozenset([*LATE[:3], *EARLY]))

    def said(failed: list[str], good: list[str], **more: list[str]) -> str:
        return find_suspects(LATE[0], outcomes=outcomes_of(failed, good, **more), factors=[lot], times=TIMES).sentence

    assert said(LATE, []).startswith("All 7 parts that are judged failed, so nothing tells them apart")
    assert said(LATE[:1], [], undecided=EARLY).endswith("31 parts of this time are not judged.")
    assert said(LATE[:1], [*EARLY[:4], *OTHERS[:5]]).startswith(
        "One part failed: anything that it shares with few others, chance would bring in one of 10."
    )
    # What failed in another way is no part that was never made, and is told beside those that failed in this one.
    assert said(LATE[:1], [], otherwise=EARLY[:1]) == (
        "No part of this time is known to have held, and no other failed in this way: 1 part failed otherwise, so "
        "there is nothing to compare with. Needed is a part that held."
    )
    assert said(LATE[:1], [], otherwise=EARLY[:2], undecided=EARLY[2:4]).endswith(
        "2 parts failed otherwise, so there is nothing to compare with. Inspect its sisters: 2 parts of this time are "
        "not judged."
    )
    assert said(LATE[:1], [*EARLY[:4], *OTHERS[:5]], otherwise=OTHERS[6:7]).startswith(
        "One part failed in this way, 1 otherwise: anything that it shares with few others, chance would bring in one "
        "of 10."
    )
    assert said(LATE, [], otherwise=OTHERS[:3]).startswith("All 7 parts that are judged failed, 3 otherwise, so")
    assert "Too few parts are judged to accuse anything" in said(LATE[2:4], [EARLY[0], OTHERS[0]])
    nothing_shared = find_suspects(LATE[0], outcomes=outcomes_of(LATE, EARLY), factors=[], times=TIMES).sentence
    assert nothing_shared.startswith("This part shares nothing with others that could be compared")


def test_the_smallest_p_is_that_of_the_ways_in_which_failures_could_have_fallen() -> None:
    """Six of twelve perfectly apart: 1 of 924; of six two-part pots three failed: 1 of 20. By hand: C(12,6), C(6,3)."""
    parts = named("p", 12)
    half = Factor("lot", "lot L00071 2", "L000712", frozenset(parts[::2]))
    started = {part: float(place) for place, part in enumerate(parts)}
    single = find_suspects("p0", outcomes=outcomes_of(parts[::2], parts[1::2]), factors=[half], times=Times(started))
    assert (single.smallest_p, single.ranked[0].p) == (1 / 924, 1 / 924)
    pots = {part: f"pot{place // 2}" for place, part in enumerate(parts)}
    failed = [part for part in parts if pots[part] in ("pot0", "pot2", "pot4")]
    outcomes = outcomes_of(failed, [p for p in parts if p not in failed])
    shared = Factor("lot", "lot L00071 2", "L000712", frozenset(failed))
    in_pots = find_suspects("p0", outcomes=outcomes, factors=[shared], times=Times(started, pots))
    assert in_pots.smallest_p == 1 / 20
    assert in_pots.ranked[0].verdict != Suspicion.ACCUSED, "twelve parts from six pots are six, not twelve"


def test_equal_chances_share_a_rank_and_a_group_is_identical_parts_only() -> None:
    one = Factor("roll", "roll C00001 1", "C000011", frozenset([LATE[0], LATE[1], EARLY[0]]))
    other = Factor("roll", "roll C00002 2", "C000022", frozenset([LATE[0], LATE[2], EARLY[1]]))
    found = whole_yard(one, other)
    rolls = [s for s in found.ranked if s.kind == "roll"]
    assert len({s.rank for s in rolls}) == 1
    assert [s.cannot_separate for s in rolls] == [(), ()]


def test_a_report_is_the_same_each_time() -> None:
    again = find_suspects(LATE[0], outcomes=YARD, factors=[CAN, LOT], aged=[OLD_CAN], times=TIMES)
    assert again == whole_yard()


def test_failures_like_this_one_and_of_any_kind_stand_side_by_side() -> None:
    outcomes = outcomes_of(LATE[:6], [*EARLY, *OTHERS[2:]], otherwise=OTHERS[:2])
    roll = Factor("roll", "roll C00001 1", "C000011", frozenset([*LATE[:2], *OTHERS[:4]]))
    found = find_suspects(LATE[0], outcomes=outcomes, factors=[roll], times=TIMES).ranked[0]
    assert (found.exposed.parts, found.exposed.failed) == (4, 2)
    assert (found.any_exposed.parts, found.any_exposed.failed) == (6, 4)
    assert (found.any_others.parts, found.any_others.failed) == (143, 4)


def test_what_was_shipped_and_never_heard_of_again_has_a_column_of_its_own() -> None:
    outcomes = outcomes_of(
        LATE[:6], [*EARLY, *OTHERS[:50]], undecided=OTHERS[50:60], gone=[*OTHERS[10:50], *OTHERS[50:54]]
    )
    became = find_suspects(LATE[0], outcomes=outcomes, factors=[CAN], times=TIMES).became
    assert (became.failed, became.good, became.gone, became.unheard, became.not_judged) == (6, 41, 40, 4, 6)


def test_a_number_is_ranked_with_what_is_shared_and_held_against_hardness() -> None:
    warm = Number("temperature of the coldest pot", "°C", {p: 12.0 + n / 10 for n, p in enumerate(LATE)}
                  | {p: 20 + n / 50 for n, p in enumerate([*EARLY, *OTHERS])})  # fmt: skip
    hardness = {p: 40 + v for p, v in warm.values.items()}
    found = find_suspects(LATE[0], outcomes=YARD, factors=[CAN], numbers=[warm], times=TIMES, hardness=hardness)
    number = found.numbers[0]
    assert number.rank == 1
    assert number.tau == pytest.approx(1)
    assert (number.own, number.parts) == (12.0, 150)
    assert number.sentence.startswith(
        "Temperature of the coldest pot: the median of the failed parts is 12.3 °C, that of"
    )
    assert number.sentence.endswith(" This part has 12 °C: of 143 parts that held, none has less.")


def test_the_next_part_to_look_at_is_the_one_that_tells_the_first_suspects_apart() -> None:
    waiting = ["P00001A", "P00002B"]
    outcomes = outcomes_of(LATE[:6], [*EARLY, *OTHERS[1:]], undecided=waiting)
    roll = Factor("roll", "roll C00001 1", "C000011", frozenset([*LATE[:5], "P00001A"]))
    can = Factor("container", "hardener can C00254 3", "C002543", frozenset([*LATE, *waiting]))
    found = find_suspects(LATE[0], outcomes=outcomes, factors=[roll, can], times=TIMES)
    assert found.next_part is not None
    assert found.next_part.startswith(
        "Section or test P00002 B next: it has hardener can C00254 3 and not roll C00001 1"
    )


def test_it_says_suspects_and_never_cause() -> None:
    """Shop rule 43."""
    found = whole_yard()
    said = " ".join([found.sentence, *(s.sentence for s in found.ranked), *(s.sentence for s in found.splits)])
    assert "suspects, not causes" in said
    assert "because" not in said
    assert "caused" not in said
