"""Fit for use: one pure function, three answers. The scan, the start of a weighing, the pick list and the answer about
stock all ask it, and nothing else decides.
"""

from dataclasses import dataclass, replace
from datetime import date, datetime

from schemas.words import Decision, Fitness, MaterialKind, Role, State
from service.formulas.shelf_life import days_left, is_good
from service.operations.door.shop import time_in_shop
from service.operations.ledger.graph import StandingHold
from service.operations.ledger.permitting import _SIGNERS
from service.operations.stock.out_time import NOT_KNOWN, Clocks
from service.operations.stock.storage import Range, Span, Stored, span_sentence


@dataclass(frozen=True, slots=True)
class Reason:
    """One thing that speaks against using a container, and who may permit it nevertheless."""

    kind: str
    sentence: str
    answer: Fitness
    may_permit: tuple[Role, ...] = ()
    permission: int | None = None
    decision: Decision | None = None


@dataclass(frozen=True, slots=True)
class Answer:
    """Fit, ask or leave, with every reason that applies and what was merely noted.

    Attributes
    ----------
    answer
        fit, ask or leave.
    """

    answer: Fitness
    reasons: tuple[Reason, ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Permitted:
    """A permission that was asked for, and the reasons that it answers; ``ended_at`` is when it was withdrawn, or
    refused. When it was asked for and signed counts where a use is told later."""

    id: int
    reasons: frozenset[str]
    decision: Decision
    until: datetime | None
    ended_at: datetime | None = None
    asked_at: datetime | None = None
    signed_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class Facts:
    """What there is to know of a container at one instant; filled by the loader for any number at once.

    `alarm` is what was said when a peroxide was over its emergency temperature; nobody reviews that away.
    `keeps` is what the material keeps at, if that is known; `storage` what was outside of it.
    """

    code: str
    state: State
    lot_state: State
    lot_known: bool
    material: str
    material_kind: MaterialKind
    balance: int
    reserved: int
    good_until: date | None
    good_because: str
    zone: str
    opened_on: date | None
    opened_life_days: int | None
    not_before: datetime | None
    keeps: Range | None
    storage: Stored
    holds: tuple[StandingHold, ...]
    permitted: tuple[Permitted, ...] = ()
    alarm: str | None = None
    clocks: Clocks | None = None


def judge(facts: Facts, *, at: datetime, today: date, wanted: frozenset[MaterialKind] | None = None) -> Answer:
    """Is this container fit for use at ``at``, on the shop's day ``today``?

    A reason that was permitted no longer stops; one whose permission is only asked for stays at "ask".
    """
    reasons = [
        *([Reason("peroxide-hot", facts.alarm, Fitness.LEAVE)] if facts.alarm else []),
        *_state_reasons(facts),
        *_date_reasons(facts, at, today),
        *_condition_reasons(facts, at),
    ]
    if wanted is not None and facts.material_kind not in wanted:
        names = " or ".join(sorted(wanted))
        reasons.append(Reason("wrong-kind", f"This is {facts.material_kind}; {names} is wanted.", Fitness.LEAVE))
    answered = tuple(_with_permission(reason, facts.permitted, at) for reason in reasons)
    open_answers = {_effective(reason) for reason in answered}
    answer = next((a for a in (Fitness.LEAVE, Fitness.ASK) if a in open_answers), Fitness.FIT)
    return Answer(answer=answer, reasons=answered, notes=(*_notes(facts, at), *_permits(answered, facts.permitted)))


def _state_reasons(facts: Facts) -> list[Reason]:
    reasons = []
    if facts.lot_state == State.REJECTED:
        reasons.append(Reason("rejected", "Its lot was rejected.", Fitness.LEAVE))
    elif facts.lot_state == State.QUARANTINE:
        reasons.append(
            Reason("not-released", "Its lot is still in quarantine; the lead or quality releases it.", Fitness.LEAVE)
        )
    if facts.state == State.SCRAPPED:
        reasons.append(Reason("scrapped", "It was scrapped.", Fitness.LEAVE))
    elif facts.state == State.EMPTY or facts.balance == 0:
        reasons.append(Reason("empty", "It is empty.", Fitness.LEAVE))
    elif facts.balance - facts.reserved <= 0:
        reasons.append(Reason("reserved", "All that is left is reserved for pots under way.", Fitness.LEAVE))
    reasons += [
        Reason(
            "on-hold", f"On hold{'' if hold.own else f' through {hold.on}'}: {hold.reason.rstrip('.')}.", Fitness.LEAVE
        )
        for hold in facts.holds
    ]
    return reasons


def _date_reasons(facts: Facts, at: datetime, today: date) -> list[Reason]:
    """Up to midnight at the end of the last good day, in the shop's zone (shop rule 9)."""
    if facts.good_until is None or is_good(expires_on=facts.good_until, at=at, zone=facts.zone):
        return []
    if facts.good_because == "opened" and facts.opened_on is not None:
        open_days = (today - facts.opened_on).days
        sentence = f"It has been open for {open_days} days and may be open for {facts.opened_life_days}."
        return [Reason("open-too-long", sentence, Fitness.LEAVE, _SIGNERS)]
    what = "Its retest date" if facts.good_because == "retest" else "Its date"
    gone = -days_left(on=facts.good_until, today=today)
    sentence = f"{what} passed on {facts.good_until:%-d %b %Y}, {gone} day{'' if gone == 1 else 's'} ago."
    return [Reason("expired", sentence, Fitness.LEAVE, _SIGNERS)]


def _condition_reasons(facts: Facts, at: datetime) -> list[Reason]:
    reasons = []
    if facts.not_before is not None and at < facts.not_before:
        reasons.append(
            Reason(
                "too-cold",
                f"Still cold from the store; keep it closed until "
                f"{time_in_shop(facts.not_before, now=at, zone=facts.zone)}, or water gets in.",
                Fitness.ASK,
                _SIGNERS,
            )
        )
    if facts.keeps is not None and facts.storage.beyond:
        sentence = outside_sentence(facts.storage.beyond, facts.keeps, now=at, zone=facts.zone)
        reasons.append(Reason("stored-outside", sentence, Fitness.ASK, _SIGNERS))
    return [*reasons, *out_time_reasons(facts.clocks)]


def out_time_reasons(clocks: Clocks | None) -> list[Reason]:
    """A prepreg whose lives out of the cold are over, or of which nobody can tell."""
    if clocks is None:
        return []
    reasons = []
    for kind, name, used, answer in (
        ("tack-life", "tack life", clocks.tack_used, Fitness.ASK),
        ("out-life", "out life", clocks.out_used, Fitness.LEAVE),
    ):
        if used is not None and used >= NOT_KNOWN:
            sentence = f"How much of its {name} is used is not known: it stood warmer than its table goes."
            reasons.append(Reason(f"{kind}-not-known", sentence, Fitness.ASK, _SIGNERS))
        elif used is not None and used > 1:
            reasons.append(Reason(f"{kind}-over", f"Its {name} is over; {used:.0%} is used.", answer, _SIGNERS))
    return [replace(r, sentence=r.sentence.replace("%", " %")) for r in reasons]


def outside_sentence(spans: tuple[Span, ...], keeps: Range, *, now: datetime, zone: str) -> str:
    """The last time that it was outside its range, and how often it was before."""
    *before, last = spans
    sentence = span_sentence(last, keeps, now=now, zone=zone)
    if before:
        hours = sum(span.hours for span in before)
        sentence += f" Before that {len(before)} time{'' if len(before) == 1 else 's'}, {hours:.0f} h in all."
    return f"{sentence} Quality has not reviewed it."


def _with_permission(reason: Reason, permitted: tuple[Permitted, ...], at: datetime) -> Reason:
    if not reason.may_permit:
        return reason
    about = [one for one in permitted if reason.kind in one.reasons]
    refused = max((p.id for p in about if p.decision == Decision.REFUSED and _over(p, at)), default=0)
    for decision in (Decision.PERMITTED, Decision.ASKED):
        for one in about:
            if one.id > refused and _decided(one, at) == decision and (one.until is None or at <= one.until):
                return replace(reason, permission=one.id, decision=decision)
    return reason


def _over(one: Permitted, at: datetime) -> bool:
    return one.ended_at is not None and one.ended_at <= at


def _decided(one: Permitted, at: datetime) -> Decision:
    """As it stood at ``at``: a permit that was withdrawn later was a signed one until then."""
    if one.decision == Decision.WITHDRAWN:
        return Decision.WITHDRAWN if _over(one, at) else Decision.PERMITTED
    return one.decision


def _effective(reason: Reason) -> Fitness:
    if reason.decision == Decision.PERMITTED:
        return Fitness.FIT
    if reason.decision == Decision.ASKED:
        return Fitness.ASK
    return reason.answer


def _permits(reasons: tuple[Reason, ...], permitted: tuple[Permitted, ...]) -> list[str]:
    """An asked permit reads as asked, a signed one as signed, a withdrawn one as withdrawn."""
    named: dict[int, Decision | None] = {r.permission: r.decision for r in reasons if r.permission is not None}
    said = {
        number: f"Deviation permit {number} is asked for and not signed yet."
        if decision == Decision.ASKED
        else f"Deviation permit {number} is signed."
        for number, decision in named.items()
    }
    open_kinds = {r.kind for r in reasons if r.permission is None}
    for one in permitted:
        if one.id not in said and one.decision == Decision.WITHDRAWN and one.reasons & open_kinds:
            said[one.id] = f"Deviation permit {one.id} was withdrawn."
    return [said[number] for number in sorted(said)]


def _notes(facts: Facts, at: datetime) -> tuple[str, ...]:
    notes = []
    if facts.clocks is not None:
        notes.append(facts.clocks.sentence(now=at, zone=facts.zone))
    if not facts.storage.monitored:
        notes.append("Storage not monitored.")
    if facts.keeps is not None and facts.storage.borne:
        hours = sum(span.hours for span in facts.storage.borne)
        said = span_sentence(facts.storage.borne[-1], facts.keeps, now=at, zone=facts.zone)
        notes.append(f"{said} It bears that; {hours:.0f} h are used up in all.")
    if not facts.lot_known:
        notes.append("The maker's lot is not known; not for parts that must be traceable.")
    if facts.state == State.OPEN and facts.opened_on is None:
        notes.append("Opened, the day is not known.")
    return tuple(notes)


def stops_a_start(answer: Answer) -> bool:
    """A start goes on when every reason is permitted or at least asked for: the job need not wait for a signature."""
    return any(_effective(reason) != Fitness.FIT and reason.decision is None for reason in answer.reasons)
