"""What is said of suspects: of ties, of periods, of hands, of a part that held, and which part to look at next."""

from dataclasses import replace

from service.reports.finding.given import Factor, Number, Times
from service.reports.finding.suspects import find_suspects
from service.reports.finding.weighing import Suspicion
from tests.reports.test_suspects import CAN, EARLY, LATE, OTHERS, TIMES, YARD, named, outcomes_of, whole_yard


def test_medians_are_called_medians_and_what_is_as_much_is_counted() -> None:
    """Of numbers with many ties half of the parts lie nowhere: five of six failed were stirred for three minutes."""
    stirred = Number("stirring of the pot stirred least", "min", dict.fromkeys([*LATE, *EARLY], 3.0) | {LATE[1]: 2.0})
    number = find_suspects(LATE[0], outcomes=YARD, factors=[], numbers=[stirred], times=TIMES).numbers[0]
    assert "the median of the failed parts is 3 min, that of the good ones 3 min" in number.sentence
    assert number.sentence.endswith(" This part has 3 min: of 32 parts that held, none has less and 32 as much.")
    assert number.percentile == 50
    shorter = Number(stirred.name, "min", {**stirred.values, **dict.fromkeys([*EARLY, LATE[6]], 2.5)})
    number = find_suspects(LATE[0], outcomes=YARD, factors=[], numbers=[shorter], times=TIMES).numbers[0]
    assert number.sentence.endswith("of 32 parts that held, 32 have less (100 %).")


def test_a_number_that_goes_with_its_days_is_not_said_to_be_made_without() -> None:
    started = {p: float(place) for place, p in enumerate([*OTHERS[1:], *LATE[:6]])}
    days = Number("days open at use", "d", {p: at // 6 for p, at in started.items()})
    outcomes = outcomes_of(LATE[:6], OTHERS[1:])
    found = find_suspects(LATE[0], outcomes=outcomes, factors=[], numbers=[days], times=Times(started)).numbers[0]
    assert found.verdict == Suspicion.PERIOD
    assert "It cannot be told from that period: among parts of about the same days too little speaks" in found.sentence


def test_hands_that_worked_on_the_very_same_parts_are_told_with_the_thing() -> None:
    """No table tells the two apart, so that it is not said of the thing alone that it stands out from all others."""
    wrong = Factor("scale", "Second scale", "S000022", frozenset([*LATE[:6], OTHERS[0]]))
    by_one = Factor("person", "weighed, Bo", None, wrong.parts)
    alone = find_suspects(LATE[0], outcomes=YARD, factors=[wrong], times=TIMES)
    both = find_suspects(LATE[0], outcomes=YARD, factors=[wrong, by_one], times=TIMES)
    assert both.sentence.startswith(alone.sentence.partition(" These are suspects")[0])
    assert "The very same parts share a task by the same hands, told apart below" in both.sentence
    assert "Bo" not in both.sentence
    assert "hands" not in alone.sentence


def test_numbers_that_put_parts_in_one_order_are_one_comparison_and_told_together() -> None:
    """Days left are days open from their other end: no rank test tells them apart, and neither is the other's rival."""
    rest = [*LATE[6:], *EARLY, *OTHERS[1:]]
    opened = {p: 200.0 + n for n, p in enumerate(LATE[:6])} | {p: float(n % 90) for n, p in enumerate(rest)}
    numbers = [
        Number("days open at use", "d", opened),
        Number("days left", "d", {p: 180 - d for p, d in opened.items()}),
    ]
    outcomes = outcomes_of(LATE[:6], rest)
    found = find_suspects(LATE[0], outcomes=outcomes, factors=[], numbers=numbers, times=TIMES)
    assert (found.tried, [one.verdict for one in found.numbers]) == (1, [Suspicion.ACCUSED] * 2)
    assert "from all others: days left. The very same order of parts have days open at use: no table" in found.sentence


def test_a_part_that_did_not_fail_is_told_that_only_what_it_has_is_looked_at() -> None:
    found = find_suspects(EARLY[0], outcomes=YARD, factors=[CAN], times=TIMES)
    assert found.sentence.endswith(
        "This part is none of those that failed: what they share and it does not have is not looked at."
    )
    assert "none of those" not in whole_yard().sentence


def test_nobody_is_asked_to_make_a_piece_that_was_begun_last_week() -> None:
    week = Factor("week", "a start in week 45 of 2026", None, frozenset(LATE))
    found = find_suspects(LATE[0], outcomes=YARD, factors=[week], times=TIMES)
    assert found.next_part == (
        "Whether it was a start in week 45 of 2026 or chance, no part that is left can tell; and as that is over, no "
        "test piece can be made with it. Ask what was different then."
    )


def test_hands_that_cannot_be_told_from_their_days_are_no_suspects_either() -> None:
    started = {p: float(place) for place, p in enumerate([*OTHERS[1:], *LATE[:6]])}
    outcomes = outcomes_of(LATE[:6], OTHERS[1:])
    by_one = Factor("person", "weighed, Bo", None, frozenset(LATE[:6]))
    alone = find_suspects(LATE[0], outcomes=outcomes, factors=[by_one], times=Times(started)).sentence
    assert "cannot be told from the period" in alone
    assert "That is no suspect: whoever does a task" in alone
    assert "These are suspects" not in alone
    can = Factor("container", "hardener can C00254 3", "C002543", by_one.parts)
    both = find_suspects(LATE[0], outcomes=outcomes, factors=[can, by_one], times=Times(started)).sentence
    assert "Hardener can C00254 3 and weighed, Bo rank first of these. These are suspects, not causes" in both
    assert both.endswith("Whoever did a task is none: what was different about the work is the question.")


def test_where_pots_and_cures_leave_no_other_way_that_is_said() -> None:
    """Three failed in one cure and five held in another: whole, the two cannot change places."""
    failed, good = LATE[:3], EARLY[:5]
    oven = Factor("tool", "Oven 2", "A000022", frozenset(failed))
    started = {part: float(place) for place, part in enumerate([*failed, *good])}
    times = Times(started, {part: "first" if part in failed else "second" for part in started})
    said = find_suspects(LATE[0], outcomes=outcomes_of(failed, good), factors=[oven], times=times).sentence
    assert said.startswith(
        "Too few parts are judged to accuse anything: within their time, and with pots and cures whole, the failures "
        "could not have fallen in another way. Oven 2 ranks first"
    )


def test_one_failed_part_is_not_said_to_be_the_one_that_is_looked_at() -> None:
    """A part that is not judged itself beside one that failed: one of the two is judged."""
    outcomes = outcomes_of(LATE[1:2], [], undecided=LATE[:1])
    assert find_suspects(LATE[0], outcomes=outcomes, factors=[CAN], times=TIMES).sentence == (
        "One part of this time is judged, and it failed, so there is nothing to compare it with. Needed is a part that "
        "held: 1 part of this time is not judged."
    )


def test_more_failures_than_any_table_of_a_book_are_weighed() -> None:
    failed, good = named("f", 1400), named("g", 100)
    lot = Factor("lot", "lot L00071 2", "L000712", frozenset([*failed[:1300], *good[:10]]))
    started = {p: float(place % 97) for place, p in enumerate([*failed, *good])}
    found = find_suspects("f0", outcomes=outcomes_of(failed, good), factors=[lot], times=Times(started)).ranked[0]
    assert (found.exposed.failed, found.others.failed) == (1300, 100)
    assert found.verdict == Suspicion.ACCUSED


def test_what_leads_nowhere_is_no_lead() -> None:
    """Fewer of its parts failed than of the others: it is not said to rank first, and nobody sections a part for it."""
    lot = Factor("lot", "lot L00071 2", "L000712", frozenset([LATE[0], *OTHERS[1:90], "waiting"]))
    outcomes = outcomes_of([*LATE[:3], *EARLY[:2]], OTHERS[1:], undecided=["waiting"])
    found = find_suspects(LATE[0], outcomes=outcomes, factors=[lot], times=TIMES)
    assert "Nothing leads." in found.sentence
    assert found.next_part is None


def test_the_next_part_is_one_that_there_is_and_tells_what_the_judged_ones_do_not() -> None:
    """The lot and the roll went together until now; one that waits has the roll alone, another is still being laid."""
    roll = Factor("roll", "roll C00001 1", "C000011", frozenset([*LATE[:6], "P00001A", "P00003C"]))
    lot = Factor("lot", "lot L00071 2", "L000712", frozenset([*LATE[:6], "P00003C"]))
    outcomes = outcomes_of(LATE[:6], OTHERS[1:], undecided=["P00001A", "P00002B", "P00003C"])
    found = find_suspects(LATE[0], outcomes=outcomes, factors=[roll, lot], times=TIMES)
    assert found.ranked[0].cannot_separate == ("lot L00071 2",)
    assert found.next_part == (
        "Section or test P00001 A next: it has roll C00001 1 and not lot L00071 2; if it is sound, that speaks against "
        "the first, if not, against the others."
    )
    laying = replace(outcomes, not_there=frozenset({"P00001A"}))
    assert find_suspects(LATE[0], outcomes=laying, factors=[roll, lot], times=TIMES).next_part == (
        "No part that is left would tell roll C00001 1 from chance; make a test piece with it and one without. What "
        "always went together (roll C00001 1 and lot L00071 2) is told apart only by a test piece that has one of them."
    )
    alone = find_suspects(LATE[0], outcomes=laying, factors=[lot], times=TIMES).next_part
    assert alone == "Section or test P00003 C next: it has lot L00071 2; if it is sound, that speaks against it."
