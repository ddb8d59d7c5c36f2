"""A part compared with its design: loaded once, said at the closing of the lay-up, marked there and where it is looked
at again, and read at its release."""

from collections.abc import Iterable, Sequence
from typing import Any

from peewee import JOIN, fn

from schemas.words import Kind, MovementKind
from service.operations.door.operation import Work
from service.operations.ledger.flags import raise_flag, stands
from service.operations.parts.asked import AsDesigned, NotAsDesigned, Went, compare, other_system
from service.operations.parts.laminate import planned_by_mass, planned_uptake_g
from service.operations.parts.part import PartInHand
from service.operations.parts.plies import expected_kit, materials_of
from service.records.items import Flag, Movement
from service.records.materials import ResinSystem
from service.records.mixes import Closing, Mix

KINDS = frozenset({"other-system", "no-resin", "coats-missing", "resin-mass"})


def as_designed(held: PartInHand) -> AsDesigned:
    """What the design asks for beside what the book says was applied; asked after something was put in, and kept."""
    if held.compared is None:
        held.compared = _compared(held)
    return held.compared


def _compared(held: PartInHand) -> AsDesigned:
    design = held.design
    went = list(_went(held)) if any(m.source.kind == Kind.MIX for m in held.inputs) else []
    planned = planned_by_mass(design) if went else None
    return compare(
        design.resin_need,
        went,
        fibre_g=_fibre_g(held) if planned is not None else None,
        planned_by_mass=planned,
        uptake_g=planned_uptake_g(design),
    )


def _went(held: PartInHand) -> Iterable[Went]:
    """Each application with its mass: what the pot lost is a part of what was used, and what is estimated a range."""
    lines = [m for m in held.inputs if m.source.kind == Kind.MIX]
    pots = _pots({m.source_id for m in lines})
    loss_fraction = (held.design.laminate or {}).get("loss_fraction") or 0.0
    for line in lines:
        system, sharing, closing = pots[line.source_id]
        if line.amount is None:
            yield Went(line.source.code, system, line.purpose)
            continue
        applied, used = line.amount / 1000, line.amount / 1000
        spread, untold, why = 0.0, False, []
        if closing is not None:
            if closing.applied_mg:
                used += applied * closing.loss_mg / closing.applied_mg
            untold = bool(line.estimated and closing.loss_estimated and not closing.loss_mg)
            if line.estimated and closing.left_estimated and closing.applied_mg:
                spread = closing.left_mg / 1000 * applied / (closing.applied_mg / 1000)
                why.append("the leftover is estimated")
        if line.estimated and sharing > 1:
            why.append(f"estimated, shared out by need among {sharing} applications")
        yield Went(
            mix=line.source.code,
            system=system,
            purpose=line.purpose,
            used_g=used,
            low_g=max(used - spread, 0.0),
            high_g=used + spread,
            # What nobody told of cup, brush and roller is still in the mass that counts as applied.
            applied_low_g=max(applied - spread, 0.0) / (1 + (loss_fraction if untold else 0.0)),
            applied_high_g=applied + spread,
            estimated=" and ".join(why) or None,
        )


def _pots(ids: set[int]) -> dict[int, tuple[str, int, Closing | None]]:
    """For each pot its system, among how many applications it was shared out, and how it was closed."""
    stand = (Movement.kind == MovementKind.APPLICATION) & Movement.cancelled_by.is_null()
    shared = Movement.select(fn.COUNT(Movement.id)).where(
        stand & (Movement.source == Mix.item) & (Movement.estimated == True)  # noqa: E712
    )
    rows: Any = (
        Mix.select(Mix.item, ResinSystem.name, shared.alias("sharing"), Closing)
        .join(ResinSystem)
        .switch(Mix)
        .join(Closing, JOIN.LEFT_OUTER, on=((Closing.mix == Mix.item) & stands(Closing.deed)), attr="closing")
        .where(Mix.item.in_(ids))
        .order_by(Closing.id)
    )
    return {row.item_id: (row.system.name, row.sharing, getattr(row, "closing", None)) for row in rows}


def _fibre_g(held: PartInHand) -> float | None:
    """The dry cloth: its kits as weighed, else what the design's plies should weigh."""
    weighed = [mass for mass in held.kit_mg if mass is not None]
    if weighed and len(weighed) == len(held.kit_mg):
        return sum(weighed) / 1000
    kit = expected_kit(held.design, materials_of(held.design.plies, at=held.design.approved_at))
    return kit.expected_g if kit is not None else None


def mark_as_designed(work: Work, held: PartInHand) -> None:
    """Flag what is not as designed, each in its own words once; a stop needs a concession before the release."""
    _mark(work, held, as_designed(held).found)


def _mark(work: Work, held: PartInHand, found: Sequence[NotAsDesigned]) -> None:
    if not found:
        return
    told = {f.sentence for f in Flag.select().where((Flag.item == held.item.id) & Flag.kind.in_(list(KINDS)))}
    for one in found:
        if one.sentence not in told:
            raise_flag(work, held.item, one.kind, one.sentence, stops=one.stops, hold=one.hold, purpose=one.purpose)


def mark_other_system(work: Work, held: PartInHand, *, mix: str, system: str, purpose: str | None) -> None:
    """A pot of another system than the design asks for here is told at once, while it can still be taken off."""
    asked = [need["system"] for need in held.design.resin_need if need["purpose"] == purpose]
    if purpose is None or not asked or system in asked:
        return
    sentence = other_system(mix, system, purpose, asked)
    _mark(work, held, [NotAsDesigned("other-system", purpose, sentence, stops=True, hold=True)])
