"""Laying up: kits and plies go into a part, and what else is used on it; the lay-up is signed before it is closed.

All of it has happened when it is told, so it is recorded in any case; only a ply that is not the one that comes next is
asked about first (shop rule 32), because a tap can be wrong and a wet ply cannot be taken out again.
"""

from dataclasses import dataclass

from peewee import JOIN

from schemas.words import Face, Kind, MaterialKind, MovementKind, OwnStep, State, StepKind, Unit
from service.operations.door.operation import Work, operation
from service.operations.door.refusals import OutOfOrder, Unprocessable, WrongState
from service.operations.ledger import ledger
from service.operations.ledger.flags import raise_flag
from service.operations.ledger.holding import holds_at_use
from service.operations.parts.as_designed import mark_as_designed
from service.operations.parts.begun import begin_if_planned
from service.operations.parts.kits import laid_into, plies_of
from service.operations.parts.out_time import laid_out_of_the_cold
from service.operations.parts.part import Laid, PartInHand, add_step, load_part, mark_if_late_in_life, mark_unknown_lots
from service.operations.parts.plies import turn_of
from service.operations.parts.view import PartView, answered
from service.operations.stock.load import Loaded
from service.operations.stock.out_time import clocks_of, kit_sheets
from service.operations.stock.reserved import WHOLE_SHARE, went_into
from service.operations.stock.using import draw, judge_use, load_used, note_opened
from service.records.base import known
from service.records.items import Item
from service.records.materials import Material
from service.records.parts import Design, Kit, PlyLaid

# What goes into a part through a mix or as a ply, never by itself.
_NOT_BY_ITSELF = {
    MaterialKind.RESIN: "goes in through a mix",
    MaterialKind.HARDENER: "goes in through a mix",
    MaterialKind.GEL_COAT: "goes in through a mix",
    MaterialKind.GEL_COAT_HARDENER: "goes in through a mix",
    MaterialKind.FABRIC: "goes in as a kit or as a ply",
}


_PLIES = (MaterialKind.FABRIC, MaterialKind.CORE)


_AMOUNTS = {Unit.MILLIGRAM: "mass_mg", Unit.MILLIMETRE: "length_mm", Unit.PIECE: "pieces"}


@dataclass(frozen=True, slots=True)
class Doubt:
    """One way in which a ply is not what the design wants; a grave one stops the part."""

    kind: str
    sentence: str
    grave: bool


@operation
def lay_kit(work: Work, *, part: str, kit: str, backers_counted: int | None = None) -> PartView:
    """Lay a kit into a part: all its plies in their order, its backers counted."""
    locked = ledger.lock(work, part, kit, kinds=[Kind.PART, Kind.KIT])
    item, cloth = locked[part], locked[kit]
    mark_if_late_in_life(work, item, f"Kit {cloth.code} was laid")
    if cloth.state != State.CUT:
        raise WrongState(
            f"Kit {cloth.code} is {cloth.state} already{_where(cloth)}.",
            way_out="Scan the kit that is in front of you.",
        )
    held, cut = load_part(item), _kit(cloth)
    numbers = plies_of(cut)
    _kit_into(work, held, cloth, cut)
    designed = {p["number"]: p for p in (cut.design.plies if cut.design is not None else [])}
    for number in numbers:
        asked = designed.get(number, {})
        _lay(work, held, cloth, number, asked.get("angle_deg"), asked.get("face"), asked.get("zone"), in_order=True)
    if backers_counted is not None:
        count_backers(work, item, backers_counted, len(numbers) or None)
    ledger.made_with(work, item, "laid by", person=work.act.person)
    return answered(work, held)


def _where(cloth: Item) -> str:
    part = laid_into(cloth)
    return f" in {part}" if part is not None else ""


def _kit(cloth: Item) -> Kit:
    """The row of a kit, with its design if it was cut for one."""
    query = Kit.select(Kit, Design).join(Design, JOIN.LEFT_OUTER)
    row: Kit = query.where(Kit.item == cloth.id).get()
    return row


def _kit_into(work: Work, held: PartInHand, cloth: Item, cut: Kit) -> None:
    """Book the whole kit into the part, with its first ply; a kit of another design or on hold stops the part."""
    item, row = held.item, held.row
    if cut.design_id != row.design_id:
        named = f"for {cut.design.part_number} revision {cut.design.revision}" if cut.design else "for no design"
        sentence = (
            f"Kit {cloth.code} was cut {named}; {item.code} is {row.design.part_number} revision {row.design.revision}."
        )
        raise_flag(work, item, "other-design", sentence, stops=True, hold=True)
    for hold in holds_at_use(work, cloth):
        sentence = f"Kit {cloth.code} is on hold through {hold.on}: {hold.reason}"
        raise_flag(work, item, "on-hold", sentence, stops=True, hold=True)
    clocks = clocks_of(kit_sheets([cloth.id]), at=work.act.occurred_at).get(cloth.id)
    if clocks is not None:
        laid_out_of_the_cold(work, item, cloth, clocks)
    length, unit = (cloth.balance, Unit.MILLIMETRE) if cloth.balance else (None, None)
    movement = ledger.move(work, kind=MovementKind.LAYING, source=cloth, target=item, amount=length, unit=unit)
    if row.line_id is not None:
        went_into(work, cloth, {item.id: (WHOLE_SHARE, movement)})
    ledger.set_state(work, cloth, State.LAID)


def _lay(
    work: Work,
    held: PartInHand,
    source: Item,
    number: int,
    angle_deg: float | None,
    face: str | None,
    zone: str | None,
    *,
    in_order: bool,
) -> None:
    before = held.plies
    row = PlyLaid.create(
        part=held.item.id,
        number=number,
        source=source,
        angle_deg=angle_deg,
        face=face,
        zone=zone,
        in_order=in_order,
        occurred_at=work.act.occurred_at,
        deed=work.deed,
    )
    before.append(Laid(row, source.code, work.who))


def count_backers(work: Work, item: Item, counted: int, expected: int | None) -> None:
    """Backing films are counted when they come off: one too few may lie in the laminate."""
    passed = None if expected is None else counted == expected
    add_step(work, item, StepKind.BACKERS, {"counted": counted, "expected": expected}, passed=passed)
    if passed is False:
        backers = "backer" if counted == 1 else "backers"
        sentence = f"{counted} {backers} counted, {expected} expected; one may lie in the laminate."
        raise_flag(work, item, "backers", sentence, stops=True, hold=True)


@operation
def lay_ply(
    work: Work,
    *,
    part: str,
    number: int,
    source: str,
    angle_deg: float,
    face: Face | None = None,
    zone: str | None = None,
    length_mm: int | None = None,
    mass_mg: int | None = None,
    pieces: int | None = None,
    confirmed: bool = False,
    despite_reservation: bool = False,
) -> PartView:
    """Lay one ply, from a kit or by length straight from a roll; one that is not the next is asked about first."""
    locked = ledger.lock(work, part, source, kinds=[Kind.PART, Kind.KIT, Kind.CONTAINER])
    item, cloth = locked[part], locked[source]
    kit = _kit(cloth) if cloth.kind == Kind.KIT else None
    loaded = load_used(work, cloth) if kit is None else None
    mark_if_late_in_life(work, item, f"Ply {number} was laid")
    held = load_part(item)
    doubts = _doubts(held, cloth, kit, loaded, number, angle_deg, face, zone)
    if doubts and not confirmed:
        raise OutOfOrder(
            " ".join(d.sentence for d in doubts),
            way_out="Scan or type it again; if it lies in the mould like this, say so.",
            answer_with={"confirmed": True},
            reasons=[d.kind for d in doubts],
            expected=_expected(held),
        )
    amount = _measured(cloth, mass_mg=mass_mg, pieces=pieces, length_mm=length_mm)
    if kit is not None:
        _from_kit(work, held, cloth, kit)
    if loaded is not None:
        _from_container(work, item, cloth, loaded, amount, confirmed, despite_reservation)
    _lay(work, held, cloth, number, angle_deg, face, zone, in_order=not doubts)
    for doubt in doubts:
        raise_flag(work, item, doubt.kind, doubt.sentence, stops=doubt.grave, hold=doubt.grave, ply=number)
    ledger.made_with(work, item, "laid by", person=work.act.person)
    return answered(work, held)


def _from_kit(work: Work, held: PartInHand, cloth: Item, kit: Kit) -> None:
    if cloth.state == State.CUT:
        _kit_into(work, held, cloth, kit)
    elif laid_into(cloth) != held.item.code:
        raise WrongState(f"Kit {cloth.code} is {cloth.state} already{_where(cloth)}.", way_out="Scan this part's kit.")


def _from_container(
    work: Work,
    item: Item,
    used: Item,
    loaded: Loaded,
    amount: int | None,
    confirmed: bool,
    despite_reservation: bool,
) -> None:
    if loaded.material.kind not in _PLIES:
        raise Unprocessable(f"{used.code} {used.name} is neither fabric nor core.", pointer="/source")
    if amount is None and used.unit == Unit.MILLIMETRE:
        raise Unprocessable("Say how much was cut off the roll.", pointer="/length_mm")
    _take(
        work,
        item,
        used,
        loaded,
        amount,
        kind=MovementKind.LAYING,
        confirmed=confirmed,
        despite_reservation=despite_reservation,
    )


def _take(
    work: Work,
    item: Item,
    used: Item,
    loaded: Loaded,
    amount: int | None,
    *,
    kind: MovementKind,
    confirmed: bool,
    despite_reservation: bool,
    purpose: str | None = None,
) -> None:
    """Out of a container into a part: measured, or traced without an amount."""
    judge_use(work, loaded, item)
    if kind == MovementKind.LAYING and loaded.facts.clocks is not None:
        laid_out_of_the_cold(work, item, used, loaded.facts.clocks, flagged=True)
    if amount is None:
        note_opened(work, used)
        ledger.move(work, kind=kind, source=used, target=item, purpose=purpose)
    else:
        draw(
            work,
            used,
            loaded.container,
            item,
            amount,
            kind=kind,
            confirmed=confirmed,
            despite_reservation=despite_reservation,
            purpose=purpose,
        )


def _doubts(
    held: PartInHand,
    cloth: Item,
    kit: Kit | None,
    loaded: Loaded | None,
    number: int,
    angle_deg: float,
    face: str | None,
    zone: str | None,
) -> list[Doubt]:
    """In which ways this ply is not what the design wants next."""
    design = held.design
    designed = {p["number"]: p for p in design.plies}
    asked = designed.get(number)
    if asked is None:
        return [Doubt("ply-unknown", f"{design.part_number} has no ply {number}.", True)]
    found = []
    missing = held.missing
    if number not in missing:
        found.append(Doubt("ply-repeated", f"Ply {number} was laid already.", True))
    elif missing[0] != number:
        found.append(Doubt("ply-order", f"Ply {missing[0]} comes next, not ply {number}.", False))
    material = Material.get_by_id(asked["material"])
    if _differs(angle_deg, asked["angle_deg"], turn_of(material)):
        sentence = f"Ply {number} lies at {asked['angle_deg']:g}° in the design, not at {angle_deg:g}°."
        found.append(Doubt("ply-turned", sentence, True))
    if asked.get("face") is not None and face != asked["face"]:
        found.append(Doubt("ply-face", f"The face of ply {number} looks {asked['face']} in the design.", True))
    if asked.get("zone") is not None and zone != asked["zone"]:
        found.append(Doubt("ply-zone", f"Ply {number} belongs into the zone {asked['zone']}.", True))
    wrong = _not_its_cloth(cloth, kit, loaded, number, material)
    return [*found, Doubt("ply-cloth", wrong, True)] if wrong is not None else found


def _differs(angle_deg: float, asked_deg: float, turn: int) -> bool:
    if turn == 0:
        return False
    off = (angle_deg - asked_deg) % turn
    return min(off, turn - off) > 1e-6


def _not_its_cloth(cloth: Item, kit: Kit | None, loaded: Loaded | None, number: int, material: Material) -> str | None:
    if kit is not None:
        if number in plies_of(kit):
            return None
        return f"Ply {number} is not in kit {cloth.code}."
    if loaded is not None and loaded.material.id == material.id:
        return None
    return f"Ply {number} is of {material.name}; {cloth.code} is {cloth.name}."


def _expected(held: PartInHand) -> dict[str, object] | None:
    """The ply that comes next, as the design has it."""
    missing = held.missing
    if not missing:
        return None
    ply = next(p for p in held.design.plies if p["number"] == missing[0])
    return {name: ply.get(name) for name in ("number", "angle_deg", "face", "zone")}


@operation
def use_on_part(
    work: Work,
    *,
    part: str,
    container: str,
    purpose: str,
    mass_mg: int | None = None,
    pieces: int | None = None,
    confirmed: bool = False,
    despite_reservation: bool = False,
) -> PartView:
    """Use core, a consumable, a release agent or a cleaner on a part: measured, or traced without an amount."""
    locked = ledger.lock(work, part, container, kinds=[Kind.PART, Kind.CONTAINER])
    item, used = locked[part], locked[container]
    mark_if_late_in_life(work, item, f"{used.code} was used")
    held, loaded = load_part(item), load_used(work, used)
    material = loaded.material
    if material.kind in _NOT_BY_ITSELF:
        raise Unprocessable(
            f"{material.name} is {material.kind}: it {_NOT_BY_ITSELF[MaterialKind(material.kind)]}.",
            pointer="/container",
        )
    amount = _measured(used, mass_mg=mass_mg, pieces=pieces)
    _take(
        work,
        item,
        used,
        loaded,
        amount,
        kind=MovementKind.TREATMENT,
        confirmed=confirmed,
        despite_reservation=despite_reservation,
        purpose=purpose,
    )
    return answered(work, held)


def _measured(used: Item, **given: int | None) -> int | None:
    """The one amount that was given, if it is in the unit in which the container is kept."""
    amounts = {name: amount for name, amount in given.items() if amount is not None}
    for name in amounts:
        field = "mass_g" if name == "mass_mg" else name
        if used.kind != Kind.CONTAINER:
            raise Unprocessable("A ply out of a kit was cut to its size already.", pointer=f"/{field}")
        if name != _AMOUNTS[Unit(known(used.unit))]:
            raise Unprocessable(f"{used.code} {used.name} is not kept in that measure.", pointer=f"/{field}")
    return next(iter(amounts.values()), None)


@operation
def close_lay_up(work: Work, *, part: str, remark: str | None = None) -> PartView:
    """Sign that the lay-up is complete. What is missing, or not as the design asks, is recorded with it.

    A ply that is missing or a mix of another system holds the part; a coat or a mix that is missing, or a mass outside
    the design's spread, needs a concession before the release.
    """
    item = ledger.lock_one(work, part, Kind.PART)
    begin_if_planned(work, item, "Its lay-up was closed")
    if item.state != State.LAYING:
        raise WrongState(f"{item.code} is {item.state}; its lay-up was closed before.")
    held = load_part(item)
    missing = held.missing
    if missing:
        named = ", ".join(str(n) for n in missing)
        sentence = f"Closed without {'ply' if len(missing) == 1 else 'plies'} {named}."
        raise_flag(work, item, "ply-missing", sentence, stops=True, hold=True, plies=missing)
    mark_unknown_lots(work, held)
    mark_as_designed(work, held)
    add_step(
        work, item, OwnStep.CLOSING, {"missing": missing, **({"remark": remark} if remark else {})}, passed=not missing
    )
    held.update(laid_up_at=work.act.occurred_at)
    ledger.made_with(work, item, "lay-up closed by", person=work.act.person)
    ledger.set_state(work, item, State.LAID_UP)
    return answered(work, held)
