"""The rule of fitness as a table: what speaks against a container, how much it weighs, and who may permit it."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from schemas.words import Decision, Fitness, MaterialKind, Role, State
from service.operations.ledger.graph import StandingHold
from service.operations.ledger.permitting import PERMITTABLE
from service.operations.stock.fitness import Answer, Facts, Permitted, judge, stops_a_start
from service.operations.stock.out_time import NOT_KNOWN, Clocks
from service.operations.stock.storage import Range, Span, Stored

NOW = datetime(2026, 11, 3, 9, 0, tzinfo=UTC)
TODAY = date(2026, 11, 3)
SIGNERS = (Role.LEAD, Role.QUALITY)

GOOD = Facts(
    code="C000018",
    state=State.OPEN,
    lot_state=State.RELEASED,
    lot_known=True,
    material="Alder 10 resin",
    material_kind=MaterialKind.RESIN,
    balance=5_000_000,
    reserved=0,
    good_until=date(2027, 9, 30),
    good_because="expiry",
    zone="Europe/Copenhagen",
    opened_on=date(2026, 10, 4),
    opened_life_days=180,
    not_before=None,
    keeps=Range(5, 25),
    storage=Stored(True),
    holds=(),
)  # fmt: skip

WARM = Span("Shelf B2", NOW - timedelta(hours=20), NOW - timedelta(hours=12), 31)

HOLD = StandingHold(id=1, on="L000016", reason="a letter from the maker.", own=False)


def clocks(*, tack: float = 0.5, out: float = 0.5) -> Clocks:
    """A prepreg in a room at 20 °C that has used so much of its lives."""
    return Clocks(
        out_used=out, tack_used=tack, cold=False, here_c=20, out_left_h=100, tack_left_h=50,
        out_until=NOW + timedelta(hours=100), tack_until=NOW + timedelta(hours=50), out_life_h=480,
    )  # fmt: skip


# kind: (what is so, the answer, the sentence)
REASONS: dict[str, tuple[dict[str, Any], Fitness, str]] = {
    "rejected": ({"lot_state": State.REJECTED}, Fitness.LEAVE, "Its lot was rejected."),
    "not-released": (
        {"lot_state": State.QUARANTINE},
        Fitness.LEAVE,
        "Its lot is still in quarantine; the lead or quality releases it.",
    ),
    "scrapped": ({"state": State.SCRAPPED}, Fitness.LEAVE, "It was scrapped."),
    "empty": ({"state": State.EMPTY, "balance": 0}, Fitness.LEAVE, "It is empty."),
    "reserved": ({"reserved": 5_000_000}, Fitness.LEAVE, "All that is left is reserved for pots under way."),
    "on-hold": ({"holds": (HOLD,)}, Fitness.LEAVE, "On hold through L000016: a letter from the maker."),
    "wrong-kind": ({}, Fitness.LEAVE, "This is resin; gel coat or hardener is wanted."),
    "expired": (
        {"good_until": date(2026, 11, 1)},
        Fitness.LEAVE,
        "Its date passed on 1 Nov 2026, 2 days ago.",
    ),
    "open-too-long": (
        {"good_until": date(2026, 11, 2), "good_because": "opened", "opened_on": date(2026, 5, 6)},
        Fitness.LEAVE,
        "It has been open for 181 days and may be open for 180.",
    ),
    "too-cold": (
        {"not_before": NOW + timedelta(hours=1)},
        Fitness.ASK,
        "Still cold from the store; keep it closed until 11:00, or water gets in.",
    ),
    "stored-outside": (
        {"storage": Stored(True, (), (WARM,))},
        Fitness.ASK,
        "It stood at up to 31 °C in Shelf B2 from 2 Nov 14:00 to 2 Nov 22:00, 8.0 h; it keeps at 5 to 25 °C. "
        "Quality has not reviewed it.",
    ),
    "tack-life-over": ({"clocks": clocks(tack=1.12)}, Fitness.ASK, "Its tack life is over; 112 % is used."),
    "out-life-over": ({"clocks": clocks(out=1.05)}, Fitness.LEAVE, "Its out life is over; 105 % is used."),
    "tack-life-not-known": (
        {"clocks": clocks(tack=NOT_KNOWN)},
        Fitness.ASK,
        "How much of its tack life is used is not known: it stood warmer than its table goes.",
    ),
    "out-life-not-known": (
        {"clocks": clocks(out=NOT_KNOWN)},
        Fitness.ASK,
        "How much of its out life is used is not known: it stood warmer than its table goes.",
    ),
}  # fmt: skip


def facts(**changed: Any) -> Facts:
    return Facts(**{name: getattr(GOOD, name) for name in Facts.__slots__} | changed)


def judged(*permitted: Permitted, **changed: Any) -> Answer:
    return judge(facts(permitted=permitted, **changed), at=NOW, today=TODAY)


def permit(*reasons: str, decision: Decision = Decision.PERMITTED, until: datetime | None = None) -> Permitted:
    return Permitted(id=7, reasons=frozenset(reasons), decision=decision, until=until)


def test_nothing_speaks_against_a_good_can() -> None:
    assert judged() == Answer(Fitness.FIT)


@pytest.mark.parametrize("kind", REASONS)
def test_each_reason_by_itself(kind: str) -> None:
    changed, answer, sentence = REASONS[kind]
    wanted = frozenset({MaterialKind.HARDENER, MaterialKind.GEL_COAT}) if kind == "wrong-kind" else None
    found = judge(facts(**changed), at=NOW, today=TODAY, wanted=wanted)
    assert [(r.kind, r.sentence, r.answer) for r in found.reasons] == [(kind, sentence, answer)]
    assert found.answer == answer


@pytest.mark.parametrize("kind", REASONS)
def test_who_may_permit_it_or_that_nobody_may(kind: str) -> None:
    changed, _, _ = REASONS[kind]
    wanted = frozenset({MaterialKind.HARDENER}) if kind == "wrong-kind" else None
    (reason,) = judge(facts(**changed), at=NOW, today=TODAY, wanted=wanted).reasons
    assert reason.may_permit == (SIGNERS if kind in PERMITTABLE else ())


def test_a_permit_can_be_asked_for_just_what_can_be_permitted() -> None:
    assert set(REASONS) >= PERMITTABLE


@pytest.mark.parametrize("kind", sorted(PERMITTABLE))
def test_what_was_permitted_no_longer_speaks_against_it_and_stays_told(kind: str) -> None:
    found = judged(permit(kind), **REASONS[kind][0])
    assert found.answer == Fitness.FIT
    assert [(r.kind, r.permission, r.decision) for r in found.reasons] == [(kind, 7, Decision.PERMITTED)]


@pytest.mark.parametrize("kind", sorted(set(REASONS) - PERMITTABLE - {"wrong-kind"}))
def test_no_permit_answers_what_nobody_may_permit(kind: str) -> None:
    found = judged(permit(kind), **REASONS[kind][0])
    assert found.answer == Fitness.LEAVE
    assert [(r.permission, r.decision) for r in found.reasons] == [(None, None)]


@pytest.mark.parametrize("kind", sorted(PERMITTABLE))
def test_what_is_only_asked_for_stays_at_ask(kind: str) -> None:
    assert judged(permit(kind, decision=Decision.ASKED), **REASONS[kind][0]).answer == Fitness.ASK


@pytest.mark.parametrize("kind", sorted(PERMITTABLE))
def test_a_refused_permit_or_one_for_something_else_changes_nothing(kind: str) -> None:
    changed, answer, _ = REASONS[kind]
    other = next(k for k in sorted(PERMITTABLE) if k != kind)
    for useless in (permit(kind, decision=Decision.REFUSED), permit(other)):
        assert judged(useless, **changed).answer == answer


def test_a_permit_holds_to_the_very_instant_and_not_a_moment_longer() -> None:
    gone = {"good_until": date(2026, 11, 1)}
    assert judged(permit("expired", until=NOW), **gone).answer == Fitness.FIT
    assert judged(permit("expired", until=NOW - timedelta(microseconds=1)), **gone).answer == Fitness.LEAVE


def test_a_permit_that_was_withdrawn_holds_up_to_that_instant_and_not_at_it() -> None:
    for ended_at, answer in ((NOW, Fitness.LEAVE), (NOW + timedelta(microseconds=1), Fitness.FIT)):
        withdrawn = replace(permit("expired", decision=Decision.WITHDRAWN), ended_at=ended_at)
        assert judged(withdrawn, good_until=date(2026, 11, 1)).answer == answer


def test_a_later_permit_answers_where_an_earlier_one_was_refused() -> None:
    refused = permit("expired", decision=Decision.REFUSED)
    assert judged(refused, permit("expired"), good_until=date(2026, 11, 1)).answer == Fitness.FIT


def test_leave_outweighs_ask_and_every_reason_is_told() -> None:
    found = judged(storage=Stored(True, (), (WARM,)), holds=(HOLD,), good_until=date(2026, 11, 1))
    assert found.answer == Fitness.LEAVE
    assert [r.kind for r in found.reasons] == ["on-hold", "expired", "stored-outside"]


def test_one_permit_for_one_of_two_reasons_leaves_the_other() -> None:
    both = {"storage": Stored(True, (), (WARM,)), "good_until": date(2026, 11, 1)}
    assert judged(permit("expired"), **both).answer == Fitness.ASK
    assert judged(permit("stored-outside"), **both).answer == Fitness.LEAVE
    assert judged(permit("expired", "stored-outside"), **both).answer == Fitness.FIT


@pytest.mark.parametrize(("utc_hour", "expected"), [(22, Fitness.FIT), (23, Fitness.LEAVE)])
def test_the_last_day_ends_at_midnight_of_the_shop_and_not_of_greenwich(utc_hour: int, expected: Fitness) -> None:
    """In Copenhagen it is an hour later in winter: the third of November ends at 23:00 UTC."""
    at = datetime(2026, 11, 3, utc_hour, 30, tzinfo=UTC)
    today = TODAY if utc_hour == 22 else date(2026, 11, 4)
    assert judge(facts(good_until=TODAY), at=at, today=today).answer == expected


def test_a_retest_date_is_called_one() -> None:
    (reason,) = judged(good_until=date(2026, 11, 2), good_because="retest").reasons
    assert reason.sentence == "Its retest date passed on 2 Nov 2026, 1 day ago."


def test_what_has_no_date_does_not_expire() -> None:
    assert judged(good_until=None).answer == Fitness.FIT


def test_the_cold_is_over_at_the_minute() -> None:
    assert judged(not_before=NOW).answer == Fitness.FIT


def test_an_own_hold_does_not_name_a_way_that_it_came() -> None:
    (reason,) = judged(holds=(StandingHold(id=2, on="C000018", reason="dented", own=True),)).reasons
    assert reason.sentence == "On hold: dented."


def test_each_hold_is_a_reason_of_its_own() -> None:
    other = StandingHold(id=2, on="C000018", reason="dented", own=True)
    assert [r.kind for r in judged(holds=(other, HOLD)).reasons] == ["on-hold", "on-hold"]


def test_a_book_at_nothing_is_empty_whatever_the_state_and_less_than_nothing_free_is_reserved() -> None:
    assert [r.kind for r in judged(balance=0).reasons] == ["empty"]
    assert [r.kind for r in judged(balance=100, reserved=101).reasons] == ["reserved"]
    assert judged(balance=100, reserved=99).answer == Fitness.FIT


def test_a_rejected_lot_is_not_told_to_wait_for_its_release() -> None:
    assert [r.kind for r in judged(lot_state=State.REJECTED).reasons] == ["rejected"]


def test_notes_are_told_and_decide_nothing() -> None:
    found = judged(storage=Stored(False), lot_known=False, opened_on=None)
    assert found.answer == Fitness.FIT
    assert found.notes == (
        "Storage not monitored.",
        "The maker's lot is not known; not for parts that must be traceable.",
        "Opened, the day is not known.",
    )
    assert judged(state=State.SEALED, opened_on=None).notes == ()


def test_a_job_need_not_wait_for_a_signature_but_it_waits_for_the_question() -> None:
    gone = {"good_until": date(2026, 11, 1)}
    assert stops_a_start(judged(**gone))
    assert stops_a_start(judged(permit("expired", decision=Decision.REFUSED), **gone))
    assert not stops_a_start(judged(permit("expired", decision=Decision.ASKED), **gone))
    assert not stops_a_start(judged(permit("expired"), **gone))
    assert stops_a_start(judged(permit("expired"), holds=(HOLD,), **gone))
    assert not stops_a_start(judged())
