"""Corrections: an entry that was wrong is answered by another that names it, says why, and sets the account right.

Nothing is rewritten. Movements of the wrong entry are taken back, and booked again with the right amount where only
the amount was wrong; what was worked out from them (balances, ratio, verdict of a cure) is worked out again.
Everything that the entry was about carries a flag that a release has to read.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from schemas.words import Declaration, Kind, State
from service.operations.cures.verdict import judge_again
from service.operations.door.acts import ACTS, called
from service.operations.door.operation import Work, operation
from service.operations.door.refusals import CannotUndo, UnknownThing, Unprocessable, WrongState
from service.operations.ledger import ledger
from service.operations.ledger.flags import raise_flag
from service.operations.pots.pot import update_mix
from service.operations.pots.pouring import settle_mix
from service.operations.stock.using import settle_empty
from service.records.items import Item, Movement, Touched
from service.records.journal import Deed, Entry
from service.records.materials import Container
from service.records.mixes import Pour


@dataclass(frozen=True, slots=True)
class Amended:
    """One movement that was taken back, and the one that stands in its place, if any."""

    movement: int
    kind: str
    source: str | None
    target: str | None
    before: int | None
    after: int | None
    unit: str | None


@dataclass(frozen=True, slots=True)
class CorrectionMade:
    """What a correction did."""

    corrects: int
    operation: str
    declaration: str
    why: str
    movements: tuple[Amended, ...]
    flagged: tuple[str, ...]


@operation
def correct_entry(
    work: Work, *, seq: int, declaration: Declaration, amounts: Sequence[Mapping[str, Any]] = ()
) -> CorrectionMade:
    """Correct an entry of the journal: it did not occur, or its data were incorrect. `why` says what happened."""
    wrong = _wrong_deed(seq)
    why = work.act.why
    if why is None:
        raise Unprocessable("Say in `why` what was wrong with the entry.", pointer="/why")
    right = {int(line["movement"]): int(line["amount"]) for line in amounts}
    if declaration == Declaration.DID_NOT_OCCUR and right:
        raise Unprocessable("What did not occur has no right amounts.", pointer="/amounts")
    booked = list(
        Movement.select().where((Movement.deed == wrong.id) & Movement.cancelled_by.is_null()).order_by(Movement.id)
    )
    strange = set(right) - {m.id for m in booked}
    if strange:
        raise Unprocessable(f"Movement {min(strange)} does not stand in that entry.", pointer="/amounts")
    items = _locked(work, wrong, booked)
    Deed.update(corrects=wrong.id).where(Deed.id == work.deed).execute()
    chosen = [m for m in booked if declaration == Declaration.DID_NOT_OCCUR or m.id in right]
    amended = tuple(_amend(work, m, right.get(m.id)) for m in reversed(chosen))
    _refuse_closed(wrong, items)
    _work_out_again(work, wrong, declaration, items)
    flagged = _flag(work, wrong, declaration, items, why)
    work.note(corrects=seq, declaration=declaration, movements=amended)
    return CorrectionMade(
        corrects=seq,
        operation=wrong.operation,
        declaration=declaration,
        why=why,
        movements=amended,
        flagged=flagged,
    )


def _wrong_deed(seq: int) -> Deed:
    entry = Entry.get_or_none(Entry.seq == seq)
    if entry is None:
        raise UnknownThing(f"There is no entry {seq} in the journal.", way_out="Look it up in the journal.")
    deed = Deed.get_by_id(entry.deed_id)
    if deed.refused is not None:
        raise WrongState(f"Entry {seq} was refused when it was tried; there is nothing to correct.")
    if Deed.select().where(Deed.corrects == deed.id).exists():
        raise WrongState(
            f"Entry {seq} was corrected already.", way_out="Correct the correction's own figures by a new act."
        )
    if ACTS[deed.operation].decides:
        raise WrongState(
            f"Entry {seq} is a decision ({called(deed.operation)}).",
            way_out="It is answered by a new decision: a hold, a nonconformance, a new revision.",
        )
    return deed


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
    if wrong.operation == "close_mix":
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
    return Amended(
        movement=movement.id,
        kind=movement.kind,
        source=work.item(movement.source_id).code if movement.source_id else None,
        target=work.item(movement.target_id).code if movement.target_id else None,
        before=movement.amount,
        after=amount,
        unit=movement.unit,
    )


def _pour_again(work: Work, before: Movement, after: Movement) -> None:
    """A pour keeps its scale and how it was read; its reading moves by as much as its mass."""
    pour = Pour.get_or_none(Pour.movement == before.id)
    if pour is None:
        return
    copied = ("mix", "container", "component", "scale", "zeroed", "before_mg", "source", "target_mg", "correction")
    Pour.create(
        **{name: getattr(pour, name) for name in copied},
        movement=after,
        reading_mg=pour.reading_mg + after.amount - before.amount,
        emptied_cup_mg=pour.emptied_cup_mg,
        occurred_at=pour.occurred_at,
        deed=work.deed,
    )


def _work_out_again(work: Work, wrong: Deed, declaration: Declaration, items: dict[int, Item]) -> None:
    undone = declaration == Declaration.DID_NOT_OCCUR
    for item in (items[i] for i in sorted(items)):
        if item.kind == Kind.CONTAINER:
            if undone and wrong.operation == "open_container" and not _was_drawn(item):
                Container.update(opened_at=None).where(Container.item == item.id).execute()
                ledger.set_state(work, item, State.SEALED)
            settle_empty(work, item)
        elif item.kind == Kind.MIX:
            if undone and wrong.operation == "close_mix":
                update_mix(work, item, closed_at=None)
                ledger.set_state(work, item, State.RUNNING)
            settle_mix(work, item)
        elif item.kind == Kind.CURE:
            parts = [p for p in items.values() if p.kind == Kind.PART]
            judge_again(work, item, parts)


def _was_drawn(item: Item) -> bool:
    return Movement.select().where((Movement.source == item.id) & Movement.cancelled_by.is_null()).exists()


def _flag(work: Work, wrong: Deed, declaration: Declaration, items: dict[int, Item], why: str) -> tuple[str, ...]:
    flagged = []
    done = called(wrong.operation)
    when = f"{wrong.occurred_at.astimezone(ZoneInfo(work.site.zone)):%-d %b %H:%M}"
    why = why.rstrip(".")
    for item in (items[i] for i in sorted(items)):
        if item.kind in (Kind.MIX, Kind.PART, Kind.CURE, Kind.KIT, Kind.CONTAINER):
            sentence = f"Corrected: {done} on {when} ({declaration}): {why}."
            raise_flag(work, item, "corrected", sentence, stops=False, declaration=declaration)
            flagged.append(item.code)
    return tuple(flagged)
