"""How a pot ends: closed with what was left, discarded, or given up before contact; and the cup next morning."""

from collections.abc import Mapping, Sequence
from typing import Any

from schemas.words import Kind, MovementKind, State, Unit
from service.operations.door.operation import Work, operation, within
from service.operations.door.refusals import Unprocessable, WrongState
from service.operations.ledger import ledger
from service.operations.ledger.amounts import grams
from service.operations.pots.applying import apply_mix, closing_limit, does_not_close
from service.operations.pots.pot import Pot, flag_once, load_pot, require_open, settle_plans, update_mix
from service.operations.pots.view import MixView, answered
from service.records.base import known
from service.records.items import Item, Movement
from service.records.lookups import another
from service.records.mixes import Closing, CupCheck
from service.records.parts import Design, Part


@operation
def close_mix(
    work: Work,
    *,
    mix: str,
    left_mg: int | None = None,
    gross_mg: int | None = None,
    cup_mg: int | None = None,
    all_used: bool = False,
    left_estimated: bool = False,
    loss_mg: int | None = None,
    cup_kept: bool = False,
    parts: Sequence[Mapping[str, Any]] = (),
    read_back_mg: int | None = None,
    again: bool = False,
) -> MixView:
    """Close a pot: what was left is weighed, or it was all used. What went into parts unmeasured is shared by need.

    `parts` are those that it went into, where nobody told it before: applied and closed in one act.
    """
    if parts:
        within(work, apply_mix, mix=mix, parts=parts, read_back_mg=read_back_mg, again=again)
    left = _left(left_mg, gross_mg, cup_mg, all_used)
    item, pot = _lock_with_parts(work, mix)
    require_open(item)
    inside = item.balance
    unmeasured = [m for m in pot.applications if m.amount is None]
    rest = inside - left - (loss_mg or 0)
    if rest < 0:
        _find_more(work, pot, -rest)
        rest = 0
    if unmeasured and rest > 0:
        _share(work, item, pot, unmeasured, rest)
        rest = 0
    loss_estimated = loss_mg is None
    if rest > 0 and loss_mg is not None and rest > closing_limit(pot):
        does_not_close(work, pot, f"{grams(rest)} of the pot is neither applied nor left nor lost.")
    if rest > 0 and all_used and not pot.applications:
        flag_once(work, pot, "no-part", "Closed as all used, but no part is named that it went into.", stops=False)
    loss = (loss_mg or 0) + rest
    if left > 0:
        _out(work, item, MovementKind.LEFT, left, estimated=left_estimated)
    if loss_mg:
        _out(work, item, MovementKind.LOSS, loss_mg, estimated=False)
    if rest > 0:
        _out(work, item, MovementKind.LOSS, rest, estimated=True)
    applied = sum(m.amount for m in pot.applications if m.amount is not None)
    closing = Closing.create(
        mix=pot.mix,
        applied_mg=applied,
        left_mg=left,
        loss_mg=loss,
        left_estimated=left_estimated,
        loss_estimated=loss_estimated or rest > 0,
        cup_kept=cup_kept,
        deed=work.deed,
    )
    _end(work, item, pot, State.CLOSED)
    pot.closing = closing
    work.note(mix=item.code, applied_mg=applied, left_mg=left, loss_mg=loss)
    return answered(work, pot)


def _left(left_mg: int | None, gross_mg: int | None, cup_mg: int | None, all_used: bool) -> int:
    if (gross_mg is None) != (cup_mg is None):
        raise Unprocessable(
            "Weigh the cup with what is left in it, and the empty cup: what is left is the one less the other.",
            pointer="/cup_g",
        )
    ways = [left_mg is not None, gross_mg is not None, all_used]
    if sum(ways) != 1:
        raise Unprocessable(
            "Say one of three: all of it was used, what is left in the cup, or what the cup weighs full and empty.",
            pointer="/left_g",
        )
    if gross_mg is not None and cup_mg is not None:
        if gross_mg < cup_mg:
            raise Unprocessable("The cup alone weighs more than with what is left in it.", pointer="/gross_g")
        return gross_mg - cup_mg
    return left_mg or 0


def _lock_with_parts(work: Work, mix: str) -> tuple[Item, Pot]:
    """Lock the pot and the parts that it went into: closing writes movements into them."""
    pots = another(Item, "pots")
    into = (
        Item.select(Item.code)
        .join(Movement, on=(Movement.target == Item.id))
        .join(pots, on=(Movement.source == pots.id))
        .where((pots.code == mix) & (Movement.kind == MovementKind.APPLICATION) & Movement.cancelled_by.is_null())
        .distinct()
    )
    item = ledger.lock(work, mix, *(part.code for part in into), kinds=[Kind.MIX, Kind.PART])[mix]
    return item, load_pot(item)


def _find_more(work: Work, pot: Pot, missing: int) -> None:
    """More was applied, left and lost than poured: the difference is booked as found."""
    ledger.move(
        work, kind=MovementKind.FOUND_MORE, target=pot.item, amount=missing, unit=Unit.MILLIGRAM, estimated=True
    )
    if missing > closing_limit(pot):
        does_not_close(work, pot, f"Applied, left and lost are {grams(missing)} more than was poured.")


def _share(work: Work, item: Item, pot: Pot, unmeasured: Sequence[Movement], rest: int) -> None:
    """Replace applications of unknown mass by estimated ones, in the proportion of what each part needs."""
    needs = _needs(pot, unmeasured)
    for movement, amount in zip(unmeasured, shares(rest, needs), strict=True):
        if amount == 0:
            continue
        ledger.cancel(work, movement)
        pot.movements.append(
            ledger.move(
                work,
                kind=MovementKind.APPLICATION,
                source=item,
                target=work.item(known(movement.target_id)),
                amount=amount,
                unit=Unit.MILLIGRAM,
                estimated=True,
                purpose=movement.purpose,
                zone=movement.zone,
                occurred_at=movement.occurred_at,
            )
        )


def _needs(pot: Pot, applications: Sequence[Movement]) -> list[float | None]:
    """What each part's design says that it needs for its purpose of this resin system in mg, if it says so."""
    parts = {m.target_id for m in applications}
    rows = Part.select(Part, Design).join(Design).where(Part.item.in_(parts))
    designs = {row.item_id: row.design for row in rows}
    return [need_mg(pot.system["name"], designs[known(m.target_id)], m.purpose) for m in applications]


def need_mg(system: str, design: Design, purpose: str | None) -> float | None:
    """What a design says that it needs for a purpose of a resin system in mg, if it says so."""
    same = [n for n in design.resin_need if n["purpose"] == purpose and n.get("mass_g")]
    of_system = [n for n in same if n.get("system") in (None, system)]
    return sum(n["mass_g"] for n in of_system) * 1000 or None


def shares(total: int, needs: Sequence[float | None]) -> list[int]:
    """Whole milligrams in proportion to the needs; who has none stated counts as the mean of the others."""
    known = [need for need in needs if need]
    mean = sum(known) / len(known) if known else 1.0
    weights = [need or mean for need in needs]
    exact = [total * weight / sum(weights) for weight in weights]
    whole = [int(amount) for amount in exact]
    by_fraction = sorted(range(len(exact)), key=lambda i: (whole[i] - exact[i], i))
    for index in by_fraction[: total - sum(whole)]:
        whole[index] += 1
    return whole


def _out(work: Work, item: Item, kind: MovementKind, amount: int, *, estimated: bool) -> None:
    ledger.move(work, kind=kind, source=item, amount=amount, unit=Unit.MILLIGRAM, estimated=estimated)


def _end(work: Work, item: Item, pot: Pot, state: State) -> None:
    settle_plans(work, pot)
    ledger.set_state(work, item, state)
    update_mix(work, pot, closed_at=work.act.occurred_at)
    work.touch(item)


@operation
def discard_mix(work: Work, *, mix: str, reason: str) -> MixView:
    """Discard a pot with what is left in it. A hot pot is not carried about: outside, thin, by local rules."""
    item = ledger.lock_one(work, mix, Kind.MIX)
    require_open(item)
    pot = load_pot(item)
    if item.balance > 0:
        unmeasured = any(m.amount is None for m in pot.applications)
        _out(work, item, MovementKind.LOSS, item.balance, estimated=unmeasured)
    _end(work, item, pot, State.DISCARDED)
    work.note(mix=item.code, discarded=reason)
    return answered(work, pot)


@operation
def abandon_mix(work: Work, *, mix: str) -> MixView:
    """Give up a pot before resin and hardener have met: what it reserved is free again, what was poured is lost."""
    item = ledger.lock_one(work, mix, Kind.MIX)
    require_open(item)
    pot = load_pot(item)
    if pot.mix.contact_at is not None or pot.applications:
        raise WrongState(
            f"Resin and hardener have met in {item.code}; it is not given up any more.",
            way_out="Close it, or discard it.",
        )
    if item.balance > 0:
        _out(work, item, MovementKind.LOSS, item.balance, estimated=False)
    _end(work, item, pot, State.ABANDONED)
    return answered(work, pot)


@operation
def check_cup(
    work: Work, *, mix: str, hard: bool, hardness: float | None = None, hardness_scale: str | None = None
) -> MixView:
    """Check the cup that was kept, next morning: hard or not. A soft cup puts the parts of its pot on hold."""
    item = ledger.lock_one(work, mix, Kind.MIX)
    pot = load_pot(item)
    if (hardness is None) != (hardness_scale is None):
        raise Unprocessable("A hardness needs its scale, such as Barcol or Shore D.", pointer="/hardness_scale")
    if pot.mix.contact_at is None and not pot.both_in:
        raise WrongState(f"Resin and hardener never met in {item.code}; there is no cup to check.")
    if pot.mix.contact_at is not None:
        ledger.refuse_before(work, pot.mix.contact_at, f"Resin and hardener met in {item.code}")
    pot.cup_checks.append(
        CupCheck.create(
            mix=pot.mix,
            hard=hard,
            hardness=hardness,
            hardness_scale=hardness_scale,
            occurred_at=work.act.occurred_at,
            deed=work.deed,
        )
    )
    pot.doers[work.deed] = work.who
    work.touch(item)
    work.note(mix=item.code, cup_hard=hard, hardness=hardness, hardness_scale=hardness_scale)
    if not hard:
        flag_once(work, pot, "soft-cup", "The cup that was kept did not get hard.", stops=True, hold=True)
    return answered(work, pot)
