"""Corrections: an entry that was wrong is answered by another that names it, says why, and sets the account right.

Nothing is rewritten. Movements of the wrong entry are taken back, and booked again with the right amount where only
the amount was wrong; what was worked out from them (balances, ratio, verdict of a cure) is worked out again.
Everything that was wrong in the entry carries a flag that a release has to read.
"""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from schemas.words import Declaration, Kind, MovementKind, State, Unit
from service.operations.cures.cure import load_cure
from service.operations.cures.verdict import judge_again
from service.operations.door.acts import ACTS, OF_THE_MACHINE, called
from service.operations.door.operation import Work, operation
from service.operations.door.refusals import CannotUndo, Unprocessable, WrongState
from service.operations.door.shop import time_in_shop
from service.operations.ledger import ledger
from service.operations.ledger.flags import raise_flag
from service.operations.ledger.journal import MOST_ITEMS, find_entry
from service.operations.parts.begun import unbegin
from service.operations.parts.part import cures_in
from service.operations.parts.taken_back import settle_mould
from service.operations.parts.unbegun import (
    STARTS,
    begun_with,
    refuse_to_begin_again,
    refuse_to_unmake,
    without_its_making,
    work_on,
)
from service.operations.pots.pot import load_pot
from service.operations.pots.pouring import settle_mix, weighed_again
from service.operations.stock.amending import packed_with, right_amounts
from service.operations.stock.using import settle_empty
from service.operations.taking_back import ANEW, REOPENED, refuse_what_stays, take_states_back
from service.records.base import as_word
from service.records.items import Item, Movement, StateChange, Touched
from service.records.journal import Deed, Entry
from service.records.lookups import another
from service.records.materials import Container
from service.records.mixes import Pour


@dataclass(frozen=True, slots=True)
class Amended:
    """One movement that was taken back, and the one in its place, if any; amounts in the unit named: mg, mm, pieces."""

    movement: int
    kind: MovementKind
    source: str | None
    target: str | None
    before: int | None
    after: int | None
    unit: Unit | None


@dataclass(frozen=True, slots=True)
class CorrectionMade:
    """What a correction did.

    Attributes
    ----------
    flagged
        What is marked, the first 200 of `flagged_count`; GET /v1/journal/{seq}/items of the entry corrected lists all.
    """

    corrects: int
    operation: str
    declaration: Declaration
    why: str
    movements: tuple[Amended, ...]
    flagged: tuple[str, ...]
    flagged_count: int


@dataclass(frozen=True, slots=True)
class _Wrong:
    """The entry that is wrong. ``root`` is the act itself, not ``deed`` where a correction is corrected."""

    seq: int
    deed: Deed
    root: Deed

    @property
    def is_correction(self) -> bool:
        return bool(self.deed.id != self.root.id)


@operation
def correct_entry(
    work: Work, *, seq: int, declaration: Declaration, amounts: Sequence[Mapping[str, Any]] = ()
) -> CorrectionMade:
    """Correct an entry of the journal: it did not occur, or its data were incorrect. `why` says what happened.

    A receipt carries its packing along: the right amount of a container is that of its receipt, too. A correction that
    was wrong is corrected like any other entry: by other amounts, or it did not occur and what it changed is put back.
    """
    wrong = _wrong_entry(seq)
    undone = declaration == Declaration.DID_NOT_OCCUR
    why = work.act.why
    if why is None:
        raise Unprocessable("Say what was wrong with the entry.", pointer="/why", answer_with={"why": None})
    ledger.refuse_before(work, wrong.deed.occurred_at, f"What entry {seq} tells happened")
    if undone and not wrong.is_correction:
        refuse_what_stays(seq, wrong.deed.operation)
    if undone and amounts:
        raise Unprocessable("What did not occur has no right amounts.", pointer="/amounts")
    if wrong.is_correction and not undone and not amounts:
        raise Unprocessable(
            "Give the right amounts; or say that the correction did not occur, and correct the entry itself anew.",
            pointer="/amounts",
        )
    booked = _booked(wrong)
    before = list(Movement.select().where(Movement.cancelled_by == wrong.deed.id)) if wrong.is_correction else []
    packed = packed_with(booked)
    right = right_amounts(booked, packed, amounts)
    items = _locked(work, wrong.deed, [*booked, *before, *packed])
    if undone and not wrong.is_correction:
        refuse_to_unmake(wrong.deed, items)
    elif undone:
        refuse_to_begin_again(seq, wrong.root, before, items)
    begun = begun_with(wrong.deed, booked, items) if undone and not wrong.is_correction else []
    still_begun = [part for part in begun if work_on(part, but=wrong.deed.id)]
    booked = without_its_making(booked, still_begun)
    Deed.update(corrects=(wrong.deed if undone else wrong.root).id).where(Deed.id == work.deed).execute()
    if undone and wrong.is_correction:
        amended = _put_back(work, booked, before)
    else:
        chosen = [m for m in (*booked, *packed) if undone or m.id in right]
        amended = tuple(_amend(work, m, right.get(m.id)) for m in sorted(chosen, key=lambda m: _order(m, right)))
    _refuse_closed(wrong.root, items)
    if undone and not wrong.is_correction:
        take_states_back(work, wrong.deed.operation, wrong.deed, items, but=still_begun)
    _work_out_again(work, wrong, declaration, items)
    for part in begun:
        if part not in still_begun:
            unbegin(work, part)
    # Of a note of several lots the others are as they were told.
    changed = {code for one in amended for code in (one.source, one.target)}
    about = items if undone or not changed else {i: item for i, item in items.items() if item.code in changed}
    flagged = _flag(work, wrong, declaration, about, why)
    work.note(corrects=seq, declaration=declaration, movements=amended)
    return CorrectionMade(
        corrects=seq,
        operation=wrong.deed.operation,
        declaration=declaration,
        why=why,
        movements=amended,
        flagged=tuple(flagged[:MOST_ITEMS]),
        flagged_count=len(flagged),
    )


def _wrong_entry(seq: int) -> _Wrong:
    entry = find_entry(seq)
    deed = Deed.get_by_id(entry.deed_id)
    if deed.refused is not None:
        raise WrongState(f"Entry {seq} was refused when it was tried; there is nothing to correct.")
    root = Deed.get_by_id(deed.corrects_id) if deed.corrects_id is not None else deed
    if root.corrects_id is not None:
        raise WrongState(
            f"Entry {seq} took a correction back.", way_out=_stands_again(Deed.get_by_id(root.corrects_id))
        )
    newest = _newest_correction(root)
    if newest is not None and newest.deed_id != deed.id:
        raise WrongState(
            f"Entry {seq} was corrected already, by entry {newest.seq}.",
            way_out=f"Correct entry {newest.seq}, if that is wrong, too.",
            corrected_by=newest.seq,
        )
    if newest is None and root.id != deed.id:
        raise WrongState(f"Entry {seq} was taken back.", way_out=_stands_again(root))
    if root.id != deed.id and _said(entry) == Declaration.DID_NOT_OCCUR:
        _refuse_to_redo(seq, root)
    if deed.operation in OF_THE_MACHINE:
        own = f"Entry {seq} is the service's own ({called(deed.operation)}); no one did it."
        raise WrongState(own, way_out="Nothing has to be corrected; what it set is changed where it is kept.")
    if ACTS[deed.operation].decides:
        raise WrongState(
            f"Entry {seq} is a decision ({called(deed.operation)}).",
            way_out="It is answered by a new decision: a hold, a nonconformance, a new revision.",
        )
    return _Wrong(seq=seq, deed=deed, root=root)


def _stands_again(root: Deed) -> str:
    """Which entry stands of an act of which a correction was taken back."""
    standing = _newest_correction(root) or Entry.get(Entry.deed == root.id)
    return f"Entry {standing.seq} stands again since then; correct that one anew."


def _booked(wrong: _Wrong) -> list[Movement]:
    """What stands of the entry: its own movements, and those that stand for them since a correction was taken back."""
    correction, taken_back = another(Deed, "correction"), another(Deed, "taken_back")
    corrections = correction.select(correction.id).where(correction.corrects == wrong.root.id)
    back = taken_back.select(taken_back.id).where(taken_back.corrects.in_(corrections))
    own = (Movement.deed == wrong.deed.id) | Movement.deed.in_(back)
    return list(Movement.select().where(own & Movement.cancelled_by.is_null()).order_by(Movement.id))


def _said(entry: Entry) -> str:
    """What a correction declared, the lead's or that of a slip at the scales."""
    return str(json.loads(entry.body)["asked"]["declaration"])


def _newest_correction(root: Deed) -> Entry | None:
    """The entry of the last correction of an act that was not itself taken back."""
    taken_back = another(Deed, "taken_back")
    query = (
        Entry.select(Entry)
        .join(Deed, on=(Entry.deed == Deed.id))
        .where(
            (Deed.corrects == root.id)
            & Deed.id.not_in(taken_back.select(taken_back.corrects).where(taken_back.corrects.is_null(False)))
        )
        .order_by(Entry.seq.desc())
    )
    return query.first()


def _refuse_to_redo(seq: int, root: Deed) -> None:
    anew = ANEW.get(root.operation)
    if anew is not None:
        raise WrongState(f"Entry {seq} says that {called(root.operation)} did not occur.", way_out=anew)


def _order(movement: Movement, right: Mapping[int, int]) -> tuple[int, int]:
    """What brings more in comes first, what takes it out again last, so that no balance falls below nothing between."""
    if movement.kind == MovementKind.RECEIPT:
        more = right.get(movement.id, 0) > (movement.amount or 0)
        return (0 if more else 2, -movement.id)
    return (1, -movement.id)


def _put_back(work: Work, booked: Sequence[Movement], before: Sequence[Movement]) -> tuple[Amended, ...]:
    """Take a correction back: what it booked gives way to what it had taken back."""
    done: list[Amended] = []
    left = list(booked)
    plan: list[tuple[Movement | None, Movement]] = []
    for old in before:
        same = next((m for m in left if _alike(m, old)), None)
        if same is not None:
            left.remove(same)
        plan.append((same, old))
    plan.sort(key=lambda pair: _order(pair[0] or pair[1], {(pair[0] or pair[1]).id: pair[1].amount or 0}))
    for now, old in plan:
        if now is not None and old.amount is not None:
            done.append(_amend(work, now, old.amount))
        else:
            done.append(_again(work, old))
    return tuple(done)


def _alike(one: Movement, other: Movement) -> bool:
    names = ("kind", "source_id", "target_id", "unit", "purpose", "zone")
    return all(getattr(one, name) == getattr(other, name) for name in names)


def _again(work: Work, old: Movement) -> Amended:
    """Book a movement again that was taken back, if its source can still bear it."""
    source = work.item(old.source_id) if old.source_id is not None else None
    target = work.item(old.target_id) if old.target_id is not None else None
    if source is not None and old.amount is not None and source.unit == old.unit and source.balance < old.amount:
        raise CannotUndo(
            f"Too little is left in {source.code} to put it back.", way_out="Correct what was taken from it since."
        )
    new = ledger.move(
        work,
        kind=MovementKind(old.kind),
        source=source,
        target=target,
        amount=old.amount,
        unit=Unit(old.unit) if old.unit is not None else None,
        estimated=old.estimated,
        purpose=old.purpose,
        zone=old.zone,
        occurred_at=old.occurred_at,
    )
    _pour_again(work, old, new)
    return _amended(work, old, before=None, after=old.amount)


def _locked(work: Work, wrong: Deed, booked: list[Movement]) -> dict[int, Item]:
    ids = {t.item_id for t in Touched.select().where(Touched.deed == wrong.id)}
    ids |= {i for m in booked for i in (m.source_id, m.target_id) if i is not None}
    # A cure is judged together with its parts, a pot's account with what it went into.
    kinds = {i.id: i.kind for i in Item.select(Item.id, Item.kind).where(Item.id.in_(ids))}
    cures = [i for i, kind in kinds.items() if kind == Kind.CURE]
    ids |= {m.target_id for m in Movement.select().where(Movement.source.in_(cures)) if m.target_id is not None}
    codes = [i.code for i in Item.select(Item.code).where(Item.id.in_(ids))]
    return {item.id: item for item in ledger.lock(work, *codes).values()} if codes else {}


def _refuse_closed(wrong: Deed, items: dict[int, Item]) -> None:
    """The account of a closed pot holds as it was closed: whoever changes it opens it first."""
    if wrong.operation in ("close_mix", "discard_mix", "abandon_mix"):
        return
    for item in items.values():
        if item.kind == Kind.MIX and item.balance != 0 and item.state == State.CLOSED:
            raise CannotUndo(
                f"The account of pot {item.code} is closed; with this it would not close any more.",
                way_out="Correct the entry that closed the pot (did not occur), then this one, and close it again.",
            )


def _amend(work: Work, movement: Movement, amount: int | None) -> Amended:
    if amount is None:
        ledger.cancel(work, movement)
    else:
        _pour_again(work, movement, ledger.rebook(work, movement, amount))
        if movement.kind == MovementKind.PACKING:
            # The label was read wrongly, not the can filled wrongly: what it holds when full goes along.
            Container.update(net=amount).where(
                (Container.item == movement.target_id) & (Container.net == movement.amount)
            ).execute()
    return _amended(work, movement, before=movement.amount, after=amount)


def _amended(work: Work, movement: Movement, *, before: int | None, after: int | None) -> Amended:
    return Amended(
        movement=movement.id,
        kind=as_word(MovementKind, movement.kind),
        source=work.item(movement.source_id).code if movement.source_id else None,
        target=work.item(movement.target_id).code if movement.target_id else None,
        before=before,
        after=after,
        unit=as_word(Unit, movement.unit),
    )


def _pour_again(work: Work, before: Movement, after: Movement) -> None:
    """A pour keeps its scale and how it was read; its reading moves by as much as its mass."""
    pour = Pour.get_or_none(Pour.movement == before.id)
    if pour is None:
        return
    pour.movement = before
    weighed_again(work, pour, after, at=pour.occurred_at)


def _work_out_again(work: Work, wrong: _Wrong, declaration: Declaration, items: dict[int, Item]) -> None:
    # What a correction undid beside movements is never done again by taking it back; that is refused before.
    undone = wrong.deed.operation if declaration == Declaration.DID_NOT_OCCUR else None
    unmade = {i for i, item in items.items() if undone in STARTS and item.deed_id == wrong.deed.id}
    for item in (items[i] for i in sorted(items)):
        if item.id in unmade:
            ledger.set_state(work, item, State.ABANDONED)
        elif item.kind == Kind.PART and undone == "start_cure" and item.state == State.CURING:
            _leave_cure(work, item, wrong.deed)
        elif item.kind == Kind.CONTAINER:
            if undone == "open_container" and not _was_drawn(item):
                Container.update(opened_at=None).where(Container.item == item.id).execute()
                ledger.set_state(work, item, State.SEALED)
            settle_empty(work, item)
        elif item.kind == Kind.MIX:
            reopened = REOPENED.get(undone or "", {})
            if undone == "close_mix":
                ledger.set_state(work, item, State.RUNNING)
            settle_mix(work, load_pot(item), **reopened)
        elif item.kind == Kind.MOULD and wrong.root.operation == "treat_mould":
            settle_mould(item)
            work.touch(item)
        elif item.kind == Kind.CURE:
            parts = [p for p in items.values() if p.kind == Kind.PART]
            judge_again(work, load_cure(item, parts=parts))


def _leave_cure(work: Work, part: Item, start: Deed) -> None:
    """A part whose cure was never started is where it was before, unless it is in another cure."""
    if cures_in([part.id])[part.id]:
        return
    before = (
        StateChange.select(StateChange.state)
        .where((StateChange.item == part.id) & (StateChange.deed < start.id))
        .order_by(StateChange.id.desc())
        .first()
    )
    if before is not None:
        ledger.set_state(work, part, State(before.state))


def _was_drawn(item: Item) -> bool:
    return Movement.select().where((Movement.source == item.id) & Movement.cancelled_by.is_null()).exists()


def _flag(work: Work, wrong: _Wrong, declaration: Declaration, items: dict[int, Item], why: str) -> list[str]:
    flagged = []
    done = ("the correction of " if wrong.is_correction else "") + called(wrong.root.operation)
    when = time_in_shop(wrong.root.occurred_at, now=work.act.occurred_at, zone=work.site.zone)
    sentence = f"Corrected: {done} of {when} ({declaration}): {why.rstrip('.')}."
    for item in (items[i] for i in sorted(items)):
        if item.kind in (Kind.MIX, Kind.PART, Kind.CURE, Kind.KIT, Kind.CONTAINER):
            raise_flag(work, item, "corrected", sentence, stops=False, declaration=declaration)
            flagged.append(item.code)
    return flagged
