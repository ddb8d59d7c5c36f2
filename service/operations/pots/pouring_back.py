"""Pouring back into the can (shop rule 11): in part or whole, into the same can, before first contact; later never.

What went back although it never may is recorded: what is in that can, and what the pot still has of it, nobody knows,
so both are held.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from itertools import takewhile

from schemas.words import Component, Kind, MovementKind, Unit
from service.operations.door.operation import Work, operation
from service.operations.door.refusals import CannotCorrect, PeroxideBarred, ShopReason, Unprocessable
from service.operations.ledger import ledger
from service.operations.ledger.amounts import grams
from service.operations.ledger.flags import raise_flag
from service.operations.pots.pot import Named, Pot, load_pot, require_open
from service.operations.pots.pouring import add_pour, settle_mix, weighed_again
from service.operations.pots.view import MixView, answered
from service.operations.stock import load
from service.operations.stock.peroxides import is_organic_peroxide
from service.operations.stock.using import settle_empty
from service.records.base import known
from service.records.items import Item, Movement
from service.records.materials import Container
from service.records.mixes import Pour


@dataclass(frozen=True, slots=True)
class _Never:
    """Why nothing may go back into a can, and what is said once it has."""

    kind: str
    sentence: str
    way_out: str
    refused_as: type[ShopReason] = CannotCorrect


@operation
def pour_back(work: Work, *, mix: str, container: str, mass_mg: int, happened: bool = False) -> MixView:
    """Pour some back into the container that it came from. Only before resin and hardener have met; after it, never."""
    locked = ledger.lock(work, mix, container, kinds=[Kind.MIX, Kind.CONTAINER])
    item, can = locked[mix], locked[container]
    require_open(item)
    pot = load_pot(item)
    if (never := _never(pot, can, work.act.occurred_at)) is not None:
        return _refused_or_held(work, pot, can, mass_mg, never, happened=happened)
    undone = _to_take_back(pot, can, work.act.occurred_at)
    came = sum(known(pour.movement.amount) for pour in undone)
    if mass_mg > came:
        # Of cans that gave in turn only what came last.
        part = (
            " after the last other can" if any(p not in undone for p in pot.pours if p.container_id == can.id) else ""
        )
        raise Unprocessable(f"Only {grams(came)} came from {can.code}{part}.", pointer="/mass_g")
    rest = mass_mg
    for pour in undone:
        net = known(pour.movement.amount)
        ledger.cancel(work, pour.movement)
        rest -= net
        if rest < 0:
            movement = ledger.move(
                work, kind=MovementKind.POUR, source=can, target=item, amount=-rest, unit=Unit.MILLIGRAM
            )
            add_pour(work, pot, weighed_again(work, pour, movement, at=work.act.occurred_at))
        if rest <= 0:
            break
    settle_empty(work, can)
    settle_mix(work, pot)
    work.note(mix=item.code, poured_back=can.code, mass_mg=mass_mg)
    return answered(work, pot)


def _refused_or_held(work: Work, pot: Pot, can: Item, mass_mg: int, never: _Never, *, happened: bool) -> MixView:
    if not happened:
        raise never.refused_as(
            never.sentence,
            way_out=f"{never.way_out} If it has happened already, say so: it is recorded, and held.",
            answer_with={"happened": True},
        )
    sentence = f"{grams(mass_mg)} of {pot.item.code} went back into {can.code} {can.name}. {never.sentence}"
    for held in (pot.item, can):
        raise_flag(work, held, never.kind, sentence, stops=True, hold=True)
    work.note(mix=pot.item.code, poured_back=can.code, mass_mg=mass_mg, booked=False)
    return answered(work, load_pot(pot.item))


def _never(pot: Pot, can: Item, at: datetime) -> _Never | None:
    """What keeps a can from getting anything back, if anything does: what it is, contact, what else is in the cup."""
    then = [pour for pour in pot.pours if pour.occurred_at <= at]
    added = [movement for movement in pot.fillers if movement.occurred_at <= at]
    own = any(movement.source_id == can.id for movement in added)
    strange = own or can.id in {pour.container_id for pour in pot.strange}
    if (pot.catalyst is not None or strange) and is_organic_peroxide(load.container_of(can).material):
        return _Never(
            "peroxide-poured-back",
            f"{can.code} {can.name} is an organic peroxide: it is never poured back.",
            "Leave it in the cup: spread out, outdoors, by the safety data sheet.",
            PeroxideBarred,
        )
    came = [pour for pour in then if pour.container_id == can.id]
    if not came and not own:
        raise Unprocessable(f"Nothing in this pot came from {can.code}.", pointer="/container")
    contact = pot.mix.contact_at
    if contact is not None and at >= contact:
        return _Never(
            "poured-back-after-contact",
            f"Resin and {pot.told(Component.HARDENER)} have met; nothing goes back into a can.",
            "Correct the mix by adding the other component, or discard the pot.",
        )
    beside = None
    if not came:
        beside = f"What {can.code} {can.name} gave is not alone in the cup."
    elif (other := _other(pot, came[-1], then, added)) is not None:
        beside = f"{other.code} {other.name} is in the cup, too; what is poured back would bring it into {can.code}."
    elif len(_lots(pour for pour in then if _same_cup(pot, pour, came[-1]))) > 1:
        beside = "Two lots are in the cup; what is poured back would mix them in the can."
    return None if beside is None else _Never("poured-back-mixed", beside, "Keep it in the pot, or discard the pot.")


def _other(pot: Pot, came: Pour, then: list[Pour], added: list[Movement]) -> Named | None:
    """Another material in the same cup: of separate cups the resin's is the one that promoter and pigment go into."""
    own = pot.named[came.container_id].material
    poured = [pot.named[pour.container_id] for pour in then if _same_cup(pot, pour, came)]
    if not (pot.mix.separate_cups and came.component == Component.HARDENER):
        poured += [pot.named[known(movement.source_id)] for movement in added]
    return next((one for one in poured if one.material != own), None)


def _lots(pours: Iterable[Pour]) -> set[int]:
    cans = {pour.container_id for pour in pours}
    return {row.lot_id for row in Container.select(Container.lot).where(Container.item.in_(cans))}


def _same_cup(pot: Pot, one: Pour, other: Pour) -> bool:
    """Of separate cups the hardener's stands apart; a promoter is stirred into the resin."""
    apart = {one.component, other.component} & {Component.HARDENER}
    return not pot.mix.separate_cups or one.component == other.component or not apart


def _to_take_back(pot: Pot, can: Item, at: datetime) -> list[Pour]:
    """The pours that may be taken back, the last one first: those of this can after which no other was poured."""
    came = [pour for pour in pot.pours if pour.container_id == can.id and pour.occurred_at <= at]
    in_cup = [pour for pour in pot.pours if _same_cup(pot, pour, came[-1])]
    later = [pour for pour in in_cup if pour.occurred_at > at]
    if pot.applications or not all(pour.zeroed for pour in later):
        raise CannotCorrect(
            f"What was poured or applied after that was booked as if nothing had gone back into {can.code}.",
            way_out="The lead corrects in the journal what was poured.",
        )
    before = [pour for pour in in_cup if pour.occurred_at <= at]
    if before[-1].container_id != can.id:
        code = pot.named[before[-1].container_id].code
        raise CannotCorrect(
            f"Another can was poured after {can.code}.", way_out=f"Pour back into the last one, {code}."
        )
    return list(takewhile(lambda pour: pour.container_id == can.id, reversed(before)))
