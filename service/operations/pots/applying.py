"""A pot goes into parts. It is recorded in any case; here the pot is judged, since until now it could be set right."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from schemas.words import Kind, MovementKind, Purpose, State, Unit, Verdict
from service.operations.door.operation import Work, operation
from service.operations.door.refusals import ReadItBack, SaidTwice, Unprocessable
from service.operations.door.shop import span, time_in_shop
from service.operations.ledger import ledger
from service.operations.ledger.amounts import grams
from service.operations.ledger.graph import closure
from service.operations.parts.as_designed import mark_other_system
from service.operations.parts.part import load_parts, mark_if_late_in_life, mark_unknown_lots
from service.operations.pots.blending import judge_blend_at_use
from service.operations.pots.catalysing import judge_dose_at_use
from service.operations.pots.clock import clock_of
from service.operations.pots.pot import SMALL_POT, Named, Pot, flag_once, load_pot, require_open, settle_plans
from service.operations.pots.pouring import SECOND_TAP
from service.operations.pots.verdict import judge
from service.operations.pots.view import MixView, answered, stirring_faults
from service.operations.stock.reserved import WHOLE_SHARE, went_into
from service.records.base import known
from service.records.items import Hold, Item
from service.records.journal import Deed

# Poured and applied may be apart by this much, or this share, before someone has to look at it (shop rule 33).
_CLOSES_MG, _CLOSES_SHARE = 2000, 0.02


@operation
def apply_mix(
    work: Work,
    *,
    mix: str,
    parts: Sequence[Mapping[str, Any]],
    purpose: Purpose | None = None,
    read_back_mg: int | None = None,
    again: bool = False,
) -> MixView:
    """Record what the pot went into. A mass that is not known is shared out by need when the pot is closed.

    With the first application the pot is judged: an unsuitable ratio, short stirring or a pot life that is over flags
    the pot, and a stop on the pot is a stop on its parts.
    """
    codes = [line["part"] for line in parts]
    locked = ledger.lock(work, mix, *codes, kinds=[Kind.MIX, Kind.PART])
    item = locked[mix]
    require_open(item)
    pot = load_pot(item)
    if not pot.pours:
        raise Unprocessable(f"Nothing has been poured into {item.code} yet.")
    if not again:
        _ask_if_twice(work, pot, [_said(locked[line["part"]], line, purpose or pot.mix.purpose) for line in parts])
    applied = sum(line.get("mass_mg") or 0 for line in parts)
    _read_back(pot, applied, read_back_mg)
    for code in dict.fromkeys(codes):
        mark_if_late_in_life(work, locked[code], f"{item.code} was applied")
    _judge_pot(work, pot)
    _cover(work, pot, applied)
    total, went = pot.total_mg, {}
    for line in parts:
        mass = line.get("mass_mg")
        part = locked[line["part"]]
        pot.named[part.id] = Named(part.code, part.name)
        movement = ledger.move(
            work,
            kind=MovementKind.APPLICATION,
            source=item,
            target=part,
            amount=mass,
            unit=Unit.MILLIGRAM,
            purpose=purpose or pot.mix.purpose,
            zone=line.get("zone"),
        )
        pot.movements.append(movement)
        share = WHOLE_SHARE // len(parts) if mass is None else WHOLE_SHARE * mass // max(mass, total)
        went[part.id] = (max(1, share), movement)
    held = load_parts(locked[code] for code in dict.fromkeys(codes))
    went_into(work, item, {one.item.id: went[one.item.id] for one in held if one.row.line_id is not None})
    mark_unknown_lots(work, *held)
    for part_in_hand in held:
        mark_other_system(
            work, part_in_hand, mix=item.code, system=pot.system["name"], purpose=purpose or pot.mix.purpose
        )
    settle_plans(work, pot)
    if item.state == State.WEIGHING and pot.both_in:
        ledger.set_state(work, item, State.RUNNING)
    work.note(mix=item.code, applied=parts)
    return answered(work, pot)


_Said = tuple[int, int | None, str | None, str | None]


def _said(part: Item, line: Mapping[str, Any], purpose: str | None) -> _Said:
    return (part.id, line.get("mass_mg"), purpose, line.get("zone"))


def _ask_if_twice(work: Work, pot: Pot, said: Sequence[_Said]) -> None:
    """The same masses on the same parts by the same person within seconds are more likely a second tap."""
    if not pot.applications or abs(work.act.occurred_at - pot.applications[-1].occurred_at) > SECOND_TAP:
        return
    deed = pot.applications[-1].deed_id
    last = [(known(m.target_id), m.amount, m.purpose, m.zone) for m in pot.applications if m.deed_id == deed]
    if sorted(last, key=repr) == sorted(said, key=repr) and Deed.get_by_id(deed).person_id == work.act.person:
        raise SaidTwice(
            f"The same was applied from {pot.item.code} and recorded just now. Was it applied twice?",
            way_out="If it was, say so; if not, it is recorded already.",
            answer_with={"again": True},
        )


def _read_back(pot: Pot, applied: int, again: int | None) -> None:
    """More than is in the pot is asked for once more before it counts; then it is recorded, as found in the pot."""
    if applied <= pot.item.balance or again == applied:
        return
    if again is not None:
        raise ReadItBack(
            f"{grams(applied)} applied and {grams(again)} are two figures.",
            way_out="Weigh or read it once more; nothing was stored.",
            answer_with={"read_back_g": None},
        )
    raise ReadItBack(
        f"{grams(applied)} applied, but {grams(pot.item.balance)} is in {pot.item.code}. Read it once more.",
        way_out="Give all that was applied once more; nothing was stored yet.",
        answer_with={"read_back_g": None},
        applied_g=applied / 1000,
        left_g=pot.item.balance / 1000,
    )


def _judge_pot(work: Work, pot: Pot) -> None:
    at = work.act.occurred_at
    judge_dose_at_use(work, pot)
    judge_blend_at_use(work, pot)
    judged = judge(pot)
    if judged is None and pot.catalyst is not None and pot.both_in:
        pass
    elif judged is None:
        sentence = "It was applied with one component missing."
        if pot.both_in:
            strange = pot.named[pot.strange[0].container_id]
            sentence = f"It was applied with {strange.code} {strange.name} in it, for which there is no ratio."
        flag_once(work, pot, "ratio-not-known", sentence, stops=True, hold=True)
    elif judged.verdict == Verdict.OUTSIDE:
        flag_once(
            work, pot, "ratio-outside", judged.sentence, stops=True, hold=True,
            deviation_pct=judged.deviation_pct, uncertainty_pct=judged.uncertainty_pct,
        )  # fmt: skip
    elif judged.verdict == Verdict.NEAR:
        # A small pot is near the limit since its scale knows no better; one permit answers for both.
        permit = next((flag.permission for flag in pot.flags if flag.kind == SMALL_POT), None)
        flag_once(
            work, pot, "near-the-limit", judged.sentence, stops=False, permission=permit,
            deviation_pct=judged.deviation_pct, uncertainty_pct=judged.uncertainty_pct,
        )  # fmt: skip
    _judge_stirring(work, pot)
    _judge_life(work, pot, at)
    _judge_temperature(work, pot)
    _judge_holds(work, pot)


def _judge_stirring(work: Work, pot: Pot) -> None:
    """Short stirring can be made good until the pot is used, as a ratio can; then it is a fact."""
    for kind, sentence in stirring_faults(pot):
        flag_once(work, pot, kind, sentence, stops=False)


def _judge_life(work: Work, pot: Pot, at: datetime) -> None:
    clock = clock_of(pot)
    limit = clock.use_before or clock.over_after
    if limit is not None and at > limit:
        minutes = (at - limit).total_seconds() / 60
        how_late = span(minutes) if minutes >= 1 else "less than a minute"
        over = time_in_shop(limit, now=at, zone=work.site.zone)
        sentence = f"Applied {how_late} after its pot life was over ({over})"
        if clock.held_after is not None and at <= clock.held_after:
            sentence += f", by less than a life is known to (± {pot.life_uncertainty_pct:g} %)."
            flag_once(work, pot, "pot-life-just-over", sentence, stops=False, use_before=limit.isoformat())
        else:
            flag_once(work, pot, "pot-life-over", f"{sentence}.", stops=True, hold=True, use_before=limit.isoformat())
    elif clock.use_before is None:
        sentence = f"Whether its pot life was kept is not known. {clock.note or 'First contact was not recorded.'}"
        flag_once(work, pot, "pot-life-not-known", sentence, stops=False)


def _judge_temperature(work: Work, pot: Pot) -> None:
    temperature = pot.mix.temperature_c
    low, high = pot.system["work_low_c"], pot.system["work_high_c"]
    if temperature is None:
        return
    if (low is not None and temperature < low) or (high is not None and temperature > high):
        limits = " to ".join(f"{limit:g}" for limit in (low, high) if limit is not None)
        sentence = f"Mixed at {temperature:g} °C; the data sheet gives {limits} °C for work."
        flag_once(work, pot, "outside-work-limits", sentence, stops=False)


def _judge_holds(work: Work, pot: Pot) -> None:
    """It was on hold by someone's decision, not by what this pot's own flags did by themselves."""
    made_of = closure([pot.item.id], back=True)[pot.item.id] | {pot.item.id}
    own = {flag.id for flag in pot.flags}
    for hold in Hold.select().where(Hold.item.in_(made_of) & Hold.lifted_at.is_null()).order_by(Hold.id):
        if hold.flag in own or (hold.since is not None and work.act.occurred_at < hold.since):
            continue
        sentence = f"Applied while {work.item(known(hold.item_id)).code} was on hold: {hold.reason}"
        flag_once(work, pot, "on-hold", sentence, stops=True, about=f"hold {hold.id}")


def _cover(work: Work, pot: Pot, amount: int) -> None:
    """More was applied than the pot has by the book: it is booked as found, and looked at if it is much."""
    excess = amount - pot.item.balance
    if excess <= 0:
        return
    ledger.move(work, kind=MovementKind.FOUND_MORE, target=pot.item, amount=excess, unit=Unit.MILLIGRAM, estimated=True)
    if excess > closing_limit(pot):
        does_not_close(work, pot, f"{grams(excess)} more was applied than was in the pot.")


def closing_limit(pot: Pot) -> int:
    return max(_CLOSES_MG, round((pot.total_mg + sum(known(m.amount) for m in pot.fillers)) * _CLOSES_SHARE))


def does_not_close(work: Work, pot: Pot, sentence: str) -> None:
    # Each excess is one of its own, with its own sentence.
    flag_once(work, pot, "mass-does-not-close", sentence, stops=False, about=f"act {work.deed}")
