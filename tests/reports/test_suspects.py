"""Suspects: two by two tables over everything that parts share, adjusted, grouped, split at a limit day."""

from collections.abc import Iterable
from datetime import date
from math import comb

import pytest

from service.reports.finding.suspected import Suspects
from service.reports.finding.suspects import AgedUse, Factor, Outcomes, find_suspects


def _named(prefix: str, count: int) -> list[str]:
    return [f"{prefix}{n}" for n in range(count)]


def _outcomes(failed: Iterable[str], good: Iterable[str], **more: Iterable[str]) -> Outcomes:
    return Outcomes(
        word="soft",
        failed=frozenset(failed),
        good=frozenset(good),
        undecided=frozenset(more.get("undecided", ())),
        otherwise=frozenset(more.get("otherwise", ())),
        since=date(2025, 11, 3),
        until=date(2026, 11, 25),
    )


LATE, EARLY, OTHERS = _named("late", 7), _named("early", 31), _named("other", 112)
YARD = _outcomes([*LATE[:6], OTHERS[0]], [LATE[6], *EARLY, *OTHERS[1:]])
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


def _yard(*factors: Factor) -> Suspects:
    return find_suspects(LATE[0], outcomes=YARD, factors=[CAN, LOT, *factors], aged=[OLD_CAN])


def test_a_can_open_too_long_is_told_in_one_sentence_with_its_three_groups() -> None:
    """The counts are those of the demo's hidden finding; p by hand from the hypergeometric distribution."""
    split = _yard().splits[0]
    assert split.sentence == (
        "Of 7 parts made from it after day 180, 6 are soft; of 31 made from it before, none; "
        "of 112 sisters from other cans, one (p < 0.0001)."
    )
    by_hand = sum(comb(7, k) * comb(143, 7 - k) for k in (6, 7)) / comb(150, 7)
    assert split.p == pytest.approx(by_hand)


def test_the_split_can_ranks_before_the_whole_can() -> None:
    ranked = _yard().ranked
    assert (ranked[0].kind, ranked[0].code) == ("age", "C002543")
    assert ranked[0].suspicious
    assert ranked[0].p < ranked[1].p


def test_factors_that_always_occur_together_are_named_together() -> None:
    whole = next(s for s in _yard().ranked if s.kind == "container")
    assert whole.cannot_separate == ("lot L00071 2",)
    assert len(_yard().ranked) == 2, "a group is compared once"


def test_what_has_the_very_same_parts_as_the_aged_can_cannot_be_told_from_it() -> None:
    weeks = Factor("week", "a start in week 45 of 2026", None, frozenset(LATE))
    assert _yard(weeks).ranked[0].cannot_separate == ("a start in week 45 of 2026",)


def test_p_values_are_adjusted_for_all_that_was_tried() -> None:
    """By hand: three comparisons, the smallest p times 3 (Benjamini and Hochberg 1995, section 3)."""
    chance = Factor("mould", "Tricycle body (T00002 6)", "T000026", frozenset([LATE[0], *EARLY[:9], *OTHERS[:30]]))
    found = _yard(chance)
    assert found.tried == 3
    assert found.ranked[0].p_adjusted == pytest.approx(3 * found.ranked[0].p)


def test_people_are_no_suspects_and_stand_apart_by_task() -> None:
    """Whoever laid all the soft parts is no row of the ranked table, and changes no figure in it."""
    laid = Factor("person", "laid plies, Ane", None, frozenset(LATE))
    mixed = Factor("person", "mixed, Bo", None, frozenset([*LATE, *EARLY[:5]]))
    found = _yard(mixed, laid)
    assert [s.name for s in found.people] == ["laid plies, Ane", "mixed, Bo"]
    assert found.ranked == _yard().ranked
    assert found.tried == _yard().tried
    assert not any(s.stands_alone for s in found.people)
    assert all("Ane" not in name for s in found.ranked for name in (s.name, *s.cannot_separate))


def test_a_factor_that_the_part_does_not_have_cannot_speak_for_its_failure() -> None:
    elsewhere = Factor("roll", "roll C00187 5", "C001875", frozenset(OTHERS[:3]))
    assert _yard(elsewhere).tried == _yard().tried


def test_what_nobody_or_everybody_shares_is_counted_and_not_compared() -> None:
    alone = Factor("kit", "kit K00012 8", "K000128", frozenset(LATE[:1]))
    everyone = Factor("mould", "the only mould", "T000026", frozenset([*LATE, *EARLY, *OTHERS]))
    found = _yard(alone, everyone)
    assert (found.not_shared, found.shared_by_all, found.tried) == (1, 1, _yard().tried)


def test_parts_that_failed_otherwise_or_are_not_judged_stay_out_of_the_tables() -> None:
    outcomes = _outcomes(LATE[:6], [*EARLY, *OTHERS[1:]], undecided=LATE[6:], otherwise=OTHERS[:1])
    found = find_suspects(LATE[0], outcomes=outcomes, factors=[CAN], aged=[OLD_CAN])
    assert (found.compared, found.undecided, found.left_out) == (148, 1, 1)
    assert (found.splits[0].after.parts, found.splits[0].undecided) == (6, 1)
    ring = next(p for p in found.splits[0].points if p.part == LATE[6])
    assert ring.failed is None


def test_failures_rise_with_the_days_open() -> None:
    split = _yard().splits[0]
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
    found = find_suspects("late0", outcomes=_outcomes([], [*LATE, *EARLY]), factors=[CAN])
    assert found.ranked == ()
    assert found.sentence == "No part failed in this time, so there is nothing to compare."


def test_chance_is_called_chance_and_clears_nothing() -> None:
    week = Factor("week", "a start in week 45 of 2026", None, frozenset([LATE[0], *OTHERS[:20]]))
    outcomes = _outcomes(LATE[:1], [*EARLY, *OTHERS])
    found = find_suspects(LATE[0], outcomes=outcomes, factors=[week])
    assert "none is stronger than chance" in found.sentence
    assert "clears nothing" in found.sentence


def test_it_says_suspects_and_never_cause() -> None:
    """Shop rule 43."""
    found = _yard()
    said = " ".join([found.sentence, *(s.sentence for s in found.ranked), *(s.sentence for s in found.splits)])
    assert "suspects, not causes" in said
    assert "because" not in said
    assert "caused" not in said
