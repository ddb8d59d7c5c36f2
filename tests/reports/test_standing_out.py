"""What stands out on a part, in sentences with numbers, the gravest first."""

from dataclasses import replace
from datetime import timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from labels.codes import grouped, make
from service.reports.finding.failed_cures import outcome
from service.reports.finding.given import Factor, Times
from service.reports.finding.standing_out import Finding, Rank, stand_out
from service.reports.finding.suspects import find_suspects
from service.reports.reading.account import CorrectedEntry, CupChecked, LateEntry
from service.reports.reading.cures import CureReason
from tests.reports import accounts
from tests.reports.accounts import DAY, HARDENER, PART, RESIN
from tests.reports.test_suspects import LATE, LOT, OLD_CAN, OTHERS, YARD


def _first(found: tuple[Finding, ...]) -> str:
    return found[0].sentence


def test_nothing_stands_out_on_a_part_in_good_order() -> None:
    assert stand_out(accounts.account()) == ()


def test_a_can_open_too_long_is_told_with_its_days_and_its_limit() -> None:
    found = stand_out(accounts.account(materials=(accounts.open_too_long(),)))
    assert _first(found) == "Its hardener can had been open 215 days; the limit is 180."
    assert (found[0].rank, found[0].numbers["days_open"], found[0].items[0]) == (Rank.OUT, 215, HARDENER)


def test_a_date_that_had_passed_is_told_with_the_date() -> None:
    used = accounts.material(margin_days=-12, good_until=accounts.DAY.date() - timedelta(days=12))
    found = stand_out(accounts.account(materials=(used,)))
    assert _first(found) == "Its hardener can was 12 days past its date; it was good until 22 Oct 2026."


def test_the_expiry_day_itself_still_counts_as_good() -> None:
    """Shop rule 9."""
    used = accounts.material(margin_days=0, good_until=accounts.DAY.date())
    assert stand_out(accounts.account(materials=(used,))) == ()


def test_a_lot_released_after_use_is_out_of_limit() -> None:
    used = accounts.material(released_before_use=False, released_at=DAY + timedelta(days=2))
    assert "before its lot was released; it was released 5 Nov 2026." in _first(
        stand_out(accounts.account(materials=(used,)))
    )


@pytest.mark.parametrize(("deviation_pct", "side"), [(-2.8, "under"), (2.8, "over")])
def test_a_pot_outside_its_ratio_names_pot_side_and_limit(deviation_pct: float, side: str) -> None:
    pots = (accounts.pot(1180), accounts.pot(1183, deviation_pct=deviation_pct))
    found = stand_out(accounts.account(pots=pots))
    assert _first(found) == f"The second wet-out pot ran 2.8 % {side} on hardener; the limit is ± 2 %."


def test_a_concession_moves_a_finding_down_and_is_named_with_its_day() -> None:
    off = accounts.pot(1183, deviation_pct=-2.8)
    account = accounts.account(
        pots=(off,),
        cures=(accounts.cure(proved_min=310, passed=False),),
        marks=(accounts.mark(off.code, "ratio-outside", permit=4), accounts.mark(make("R", 41), "cure-not-proved")),
        permits=(accounts.concession(4, item=off.code),),
    )
    found = stand_out(account)
    assert [f.rank for f in found] == [Rank.OUT, Rank.PERMITTED]
    assert found[0].sentence == "The cure proved 5 h 10 min in its band; the schedule asks 6 h."
    assert found[1].sentence.endswith("the limit is ± 2 %. Concession 4, accepted 4 Nov 2026.")
    assert found[1].permit == 4


def test_a_permission_that_is_only_asked_for_leaves_it_out_of_limit() -> None:
    off = accounts.pot(1183, deviation_pct=-2.8)
    account = accounts.account(
        pots=(off,),
        marks=(accounts.mark(off.code, "ratio-outside", permit=4),),
        permits=(accounts.concession(4, item=off.code, decision="asked"),),
    )
    found = stand_out(account)
    assert found[0].rank == Rank.OUT
    assert found[0].sentence.endswith("Concession 4 is asked for and not signed yet.")


def test_near_the_limit_is_read_and_not_called_outside() -> None:
    """Shop rule 18: the guard band has three answers."""
    found = stand_out(accounts.account(pots=(accounts.pot(deviation_pct=1.95),)))
    assert found[0].rank == Rank.REVIEW
    assert "too near to the limit of ± 2 % to tell" in found[0].sentence


def test_a_pot_applied_after_its_life_and_a_soft_cup_are_out_of_limit() -> None:
    pot = accounts.pot()
    late = replace(pot.applied[0], occurred_at=DAY + timedelta(minutes=52))
    soft = CupChecked(False, None, None, DAY + timedelta(days=1))
    found = stand_out(accounts.account(pots=(replace(pot, applied=(late,), cup_checks=(soft,)),)))
    assert [f.sentence for f in found] == [
        "The cup kept of the wet-out pot did not get hard.",
        "The wet-out pot was applied 12 min after its pot life; it was to be used before 3 Nov 2026 10:40.",
    ]


def test_ranks_come_in_the_order_of_the_job() -> None:
    """Out of limit, permitted, late, corrected, missing, to be read."""
    off = accounts.pot(1183, deviation_pct=-2.8)
    account = accounts.account(
        materials=(accounts.open_too_long(), accounts.material(RESIN, kind="resin", storage_monitored=False)),
        pots=(off,),
        cures=(accounts.cure(gaps=[(300, 330)]),),
        marks=(accounts.mark(off.code, "ratio-outside", permit=4),),
        permits=(accounts.concession(4, item=off.code),),
        late=(LateEntry("cup check", (off.code,), DAY, DAY + timedelta(hours=5), "Lin"),),
        corrected=(
            CorrectedEntry(
                "trimming", (PART,), DAY, "Lin", DAY, "Ida", "incorrect data", "misread", {"mass_g": 96}, {}
            ),
        ),
    )
    assert [f.rank for f in stand_out(account)] == [rank for rank in Rank if rank != Rank.SUSPECT]


def test_the_numbers_of_the_sisters_put_a_finding_first() -> None:
    suspects = find_suspects(LATE[0], outcomes=YARD, factors=[LOT], aged=[replace(OLD_CAN, code=HARDENER)])
    account = accounts.account(
        materials=(accounts.open_too_long(days=181),), pots=(accounts.pot(1183, deviation_pct=-9),)
    )
    assert "ran 9.0 % under" in _first(stand_out(account)), "without sisters the larger excess comes first"
    found = stand_out(account, suspects)
    assert _first(found) == (
        "Its hardener can had been open 181 days; the limit is 180. Of 7 parts made from it after day 180, 6 are soft; "
        "of 31 made from it before, none; of 112 sisters from other cans, one (p < 0.0001)."
    )
    assert found[0].suspicious
    assert found[0].numbers["after"] == {"parts": 7, "failed": 6}
    assert [f.kind for f in found].count("suspect") == 0, "the whole lot explains no failure that the can does not"


def test_a_suspect_without_any_limit_broken_is_told_too() -> None:
    roll = Factor("roll", "roll C00187 5", "C001875", frozenset([*LATE[:6], "early1"]))
    suspects = find_suspects(LATE[0], outcomes=YARD, factors=[roll])
    found = stand_out(accounts.account(), suspects)
    assert found[0].sentence.startswith("Of 7 parts with roll C00187 5, 6 are soft; of 143 others, one (p < 0.0001;")


def test_what_cannot_be_told_from_its_period_is_to_be_read_and_does_not_stand_out() -> None:
    """Nor is it said to be out of a limit; what is accused stands first, under its own name."""
    outcomes = replace(YARD, failed=frozenset(LATE[:6]), good=frozenset(OTHERS[1:]))
    roll = Factor("roll", "roll C00187 5", "C001875", frozenset(LATE[:6]))

    def told(times: dict[str, float]) -> Finding:
        suspects = find_suspects(LATE[0], outcomes=outcomes, factors=[roll], times=Times(times))
        (found,) = stand_out(accounts.account(), suspects)
        return found

    started = {part: float(place) for place, part in enumerate([*OTHERS[1:], *LATE[:6]])}
    in_its_days, beside_others = told(started), told({part: at % 30 for part, at in started.items()})
    assert (in_its_days.rank, in_its_days.kind, in_its_days.suspicious) == (Rank.REVIEW, "suspect", True)
    assert "It cannot be told from that period" in in_its_days.sentence
    assert (beside_others.rank, beside_others.suspicious) == (Rank.SUSPECT, True)


def test_what_a_flag_says_is_told_once() -> None:
    pot = accounts.pot(temperature_c=None, use_before=None)
    flag = accounts.mark(pot.code, "pot-life-not-known", stops=False, sentence="Whether its pot life was kept …")
    found = stand_out(accounts.account(pots=(pot,), marks=(flag,)))
    assert [f.sentence for f in found] == [
        "The temperature of the wet-out pot is not known; so neither is its pot life."
    ]


def test_other_flags_are_told_in_their_own_words_and_the_same_ones_once() -> None:
    pots = (accounts.pot(1180), accounts.pot(1181))
    flags = tuple(accounts.mark(p.code, "scale-overdue", sentence="Scale S000018 was due on 1 Oct 2026.") for p in pots)
    found = stand_out(accounts.account(pots=pots, marks=flags))
    assert [f.sentence for f in found] == [
        f"First wet-out pot: Scale S000018 was due on 1 Oct 2026. The same for {grouped(make('M', 1181))}."
    ]


def test_what_is_missing_is_said() -> None:
    account = accounts.account(
        pots=(
            accounts.pot(1180, cup_checks=(), stirrings=()),
            accounts.pot(1181, cup_kept=False, cup_checks=()),
        ),
        materials=(accounts.material(makers_lot=None, lot_unknown_because="label lost"),),
        cures=(accounts.cure(evidence="declared"),),
        demoulded_at=DAY + timedelta(days=1),
        missing_plies=(3,),
    )
    said = {f.sentence for f in stand_out(account) if f.rank == Rank.MISSING}
    assert said == {
        "No stirring is recorded for the first wet-out pot; a ratio within its limits says nothing of it.",
        "No cup check is recorded for the first wet-out pot.",
        "No cup was kept of the second wet-out pot.",
        "The maker's lot of its hardener can is not known: label lost.",
        "The cure was declared; nothing was measured.",
        "No inspection is recorded.",
        "Nobody recorded the laying of ply 3.",
    }


def test_many_late_entries_are_one_finding_with_the_worst() -> None:
    entries = tuple(LateEntry("pour", (make("M", 1180),), DAY, DAY + timedelta(hours=n), "Lin") for n in range(1, 6))
    found = stand_out(accounts.account(late=entries))
    assert [f.sentence for f in found] == ["5 entries were made late, at most 5 h after it happened: pour, by Lin."]


def test_two_cans_of_a_kind_are_told_apart_by_their_codes() -> None:
    other = make("C", 255)
    found = stand_out(accounts.account(materials=(accounts.open_too_long(), accounts.open_too_long(other, 190))))
    assert [f.lead for f in found] == [
        f"Its hardener can {grouped(HARDENER)} had been open 215 days",
        f"Its hardener can {grouped(other)} had been open 190 days",
    ]


def failed_cure(*reasons: Any, evidence: str = "part probe") -> Any:
    """A cure that had its time and failed for these reasons."""
    whole = accounts.cure(passed=False, evidence=evidence)
    stage = replace(whole.stages[0], passed=False, reasons=reasons)
    return replace(whole, stages=(stage,))


def test_a_cure_that_had_its_time_fails_for_what_it_failed_for_and_never_for_its_time() -> None:
    # DAY is 08:00 in the shop's zone; the hottest sample was read 380 minutes later.
    over = CureReason("over", "P2 was over 70 °C.", probe="P2", at_min=380.0, value=70.1, limit=70.0)
    steep = CureReason("heating", "Fastest heating was 3.10 K/min.", probe="P1", at_min=5.0, value=3.1, limit=2.0)
    cure = failed_cure(steep, over)
    said = stand_out(accounts.account(cures=(cure,)))[0].sentence
    then = (DAY + timedelta(minutes=380)).astimezone(ZoneInfo(accounts.account().zone))
    assert said == (
        f"The cure was over the maximum at 70.1 °C by P2 at {then:%H:%M} on {then.day} {then:%b %Y}; "
        "at most 70 °C is allowed. Also heated too fast."
    )
    assert "in its band" not in said
    alone = stand_out(accounts.account(cures=(failed_cure(steep),)))[0].sentence
    assert alone == "The cure heated too fast: Fastest heating was 3.10 K/min."
    assert outcome(cure, "UTC").startswith("Not proved: it was over the maximum at 70.1 °C by P2 at ")


def test_a_declared_cure_is_never_said_to_have_passed() -> None:
    declared = accounts.cure(evidence="declared", proved_min=0)
    assert outcome(declared, "UTC") == "Declared, not measured."
    assert outcome(accounts.cure(), "UTC") == "Passed."
    short = failed_cure(CureReason("time", "Declared.", value=900.0, limit=960.0), evidence="declared")
    assert outcome(short, "UTC") == "Not proved: it was declared for 15 h, and nothing was measured."
