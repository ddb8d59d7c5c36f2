"""Two hardeners in one cup, or put together in a can beforehand: the fraction is judged apart (shop rule 21)."""

from collections.abc import Mapping, Sequence
from typing import Any

from schemas.words import Component, DateBasis, Kind, MovementKind, ReceiptKind, State, Unit
from service.formulas.blends import blend_fraction_uncertainty_pct, second_hardener_g, second_hardener_limits
from service.formulas.ranges import OutOfRange
from service.formulas.shelf_life import decant_expiry
from service.operations.door.operation import Work, operation
from service.operations.door.refusals import ShortStock, Unprocessable, WrongPair
from service.operations.ledger import ledger
from service.operations.ledger.amounts import grams
from service.operations.ledger.flags import raise_flag
from service.operations.pots.dosing import weighings_of
from service.operations.pots.next_number import as_window
from service.operations.pots.pot import Pot, flag_once
from service.operations.pots.ratio_in_cup import blended_mg
from service.operations.pots.scale import reading_u_g
from service.operations.pots.system import hardeners_of
from service.operations.pots.systems import SYSTEMS
from service.operations.pots.told import PourWindow
from service.operations.stock import load
from service.operations.stock.containers import ContainerView, view_container
from service.operations.stock.load import Loaded
from service.operations.stock.reserved import Taken, ask_if_reserved
from service.operations.stock.using import note_opened, require_fit, settle_empty
from service.records.base import known
from service.records.items import Item
from service.records.materials import Container, Lot, Receipt, Scale, SystemHardener


def blended_target_mg(pot: Pot, container: int) -> int | None:
    """What one of two hardeners is to be: by the fraction first, then what the resin still asks for."""
    blend = known(pot.blend)
    material = pot.named[container].material
    own = next((part for part in blend["of"] if part["material"] == material), None)
    if own is None or not pot.resin_mg:
        return None
    other = next(part for part in blend["of"] if part["material"] != material)
    poured = blended_mg(pot)
    total = pot.resin_mg * pot.hardener["ratio"]
    if not poured[other["material"]]:
        wanted = total * own["fraction_pct"] / 100
    elif blend["own_ratio"]:
        wanted = total - poured[other["material"]]
    else:
        wanted = 1000 * second_hardener_g(
            resin_g=pot.resin_mg / 1000,
            first_hardener_g=poured[other["material"]] / 1000,
            first_ratio=other["ratio"],
            second_ratio=own["ratio"],
        )
    missing = round(wanted) - poured[own["material"]]
    return missing if missing > 0 else None


def blend_window(pot: Pot, component: Component, scale: Scale, *, zeroed: bool) -> PourWindow | None:
    """Limits of the hardener that completes a blend in the cup; before the other one is in there are none."""
    blend = known(pot.blend)
    poured = blended_mg(pot)
    first = next((part for part in blend["of"] if poured[part["material"]]), None)
    second = next((part for part in blend["of"] if not poured[part["material"]]), None)
    if component != Component.HARDENER or first is None or second is None:
        return None
    # Where the supplier states a ratio for the blend itself, either hardener counts by that.
    own = {part["material"]: pot.hardener["ratio"] if blend["own_ratio"] else part["ratio"] for part in blend["of"]}
    try:
        found = second_hardener_limits(
            resin_g=pot.resin_mg / 1000,
            first_hardener_g=poured[first["material"]] / 1000,
            first_ratio=own[first["material"]],
            second_ratio=own[second["material"]],
            tolerance_pct=pot.mix.tolerance_pct,
            weighings=weighings_of(pot),
            scale=f"{scale.item_id} {component}" if pot.mix.separate_cups else str(scale.item_id),
            zeroed=zeroed,
            interval_g=scale.interval_mg / 1000,
            repeatability_g=scale.repeatability_mg / 1000,
        )
    except OutOfRange:
        return None
    return as_window(found)


def judge_blend_at_use(work: Work, pot: Pot) -> None:
    """The fraction of two hardeners in one cup, at its first use; the ratio is judged by itself."""
    if pot.blend is None:
        return
    first, second = pot.blend["of"]
    poured = blended_mg(pot)
    b1, b2 = poured[first["material"]], poured[second["material"]]
    if not b1 and not b2:
        return
    whole = sum(known(p.movement.amount) for p in pot.pours if p.component == Component.HARDENER)
    if not b1 or not b2 or b1 + b2 != whole:
        sentence = f"Of {pot.hardener['name']} only part was blended in the cup: {grams(b1)} of {first['name']}, "
        sentence += f"{grams(b2)} of {second['name']} of {grams(whole)} of hardener."
        flag_once(work, pot, "blend-fraction", sentence, stops=True, hold=True)
        return
    u = {
        material: max(reading_u_g(pot.scale(p.scale_id)) for p in pot.pours
                      if pot.named[p.container_id].material == material)
        for material in poured
    }  # fmt: skip
    uncertainty = blend_fraction_uncertainty_pct(
        first_g=b1 / 1000,
        second_g=b2 / 1000,
        first_reading_u_g=u[first["material"]],
        second_reading_u_g=u[second["material"]],
    )
    share = 100 * b1 / (b1 + b2)
    off, tolerance = abs(share - first["fraction_pct"]), pot.blend["tolerance_pct"]
    if off + uncertainty <= tolerance:
        return
    outside = off - uncertainty > tolerance
    sentence = (
        f"{first['name']} is {share:.1f} % of the hardener, known to ± {uncertainty:.2g}; the blend has "
        f"{first['fraction_pct']:g} ± {tolerance:g} %. Its pot life is not that of the table."
    )
    flag_once(work, pot, "blend-fraction", sentence, stops=outside, hold=outside)


@operation
def blend_hardeners(
    work: Work,
    *,
    system: int,
    hardener: int,
    containers: Sequence[Mapping[str, Any]],
    place: str,
    tare_mg: int | None = None,
    despite_reservation: bool = False,
) -> ContainerView:
    """Blend two hardeners of a system in a can: a new lot of the blend, with the earlier date, released like any."""
    row = SYSTEMS.current(system, pointer="/system")
    one = _blend_of(row.name, hardeners_of([row.id])[row.id], hardener)
    where = ledger.find(place, Kind.PLACE)
    locked = ledger.lock(work, *(line["container"] for line in containers), kinds=[Kind.CONTAINER])
    at = work.act.occurred_at
    cans = {one.item.code: one for one in load.load(locked.values(), at=at, site=work.site)}
    sources = [(cans[line["container"]], int(line["mass_mg"])) for line in containers]
    for loaded, mass in sources:
        require_fit(work, loaded)
        if mass > loaded.item.balance:
            left = loaded.item.balance / 1000
            raise ShortStock(f"Only {left:g} g is left in {loaded.item.code}.", left_g=left)
    given = _given(one, sources)
    leaving = [Taken(loaded.item, loaded.material.id, mass) for loaded, mass in sources]
    ask_if_reserved(work, leaving, shares={}, despite=despite_reservation)
    lot, can = _new_can(work, one, sources, where, tare_mg)
    for loaded, mass in sources:
        note_opened(work, loaded.item, loaded.container)
        ledger.move(work, kind=MovementKind.MADE, source=loaded.item, target=lot, amount=mass, unit=Unit.MILLIGRAM)
        settle_empty(work, loaded.item)
    total = sum(given.values())
    ledger.move(work, kind=MovementKind.PACKING, source=lot, target=can, amount=total, unit=Unit.MILLIGRAM)
    _judge_can(work, one, can, given)
    work.note(container=can.code, blended={loaded.item.code: mass for loaded, mass in sources})
    made = load.load_one(can, at=at, site=work.site)
    return view_container(made, made.judged(at=at, site=work.site))


def _blend_of(name: str, own: Sequence[SystemHardener], material: int) -> SystemHardener:
    one = next((h for h in own if h.material_id == material), None)
    if one is None or one.blend is None:
        raise Unprocessable(f"Material {material} is no blend of {name}; its supplier's table has to be there first.",
                            pointer="/hardener")  # fmt: skip
    return one


def _given(one: SystemHardener, sources: Sequence[tuple[Loaded, int]]) -> dict[int, int]:
    given = {part["material"]: 0 for part in one.blend["of"]}
    for loaded, mass in sources:
        if loaded.material.id not in given:
            names = " and ".join(part["name"] for part in one.blend["of"])
            raise WrongPair(
                f"{loaded.item.code} is {loaded.material.name}; {one.material.name} is blended of {names}.",
                way_out=f"Scan {names}.",
                container=loaded.item.code,
            )
        given[loaded.material.id] += mass
    if not all(given.values()):
        raise Unprocessable("A blend takes both hardeners; scan the other one too.", pointer="/containers")
    return given


def _new_can(
    work: Work, one: SystemHardener, sources: Sequence[tuple[Loaded, int]], where: Item, tare_mg: int | None
) -> tuple[Item, Item]:
    name, total = one.material.name, sum(mass for _, mass in sources)
    lot_item = ledger.new_item(work, Kind.LOT, name=name, state=State.QUARANTINE, unit=Unit.MILLIGRAM)
    dates = [d for loaded, _ in sources for d in (loaded.facts.good_until,) if d is not None]
    expires = min(dates, default=None)
    lot = Lot.create(
        item=lot_item,
        material=one.material_id,
        makers_lot=lot_item.code,
        expires_on=expires,
        date_basis=DateBasis.NONE if expires is None else DateBasis.ESTIMATED,
    )
    receipt = Receipt.create(
        lot=lot,
        kind=ReceiptKind.MADE,
        place=where,
        amount=total,
        received_at=work.act.occurred_at,
        remark=f"blended here: {one.blend['source']}",
        deed=work.deed,
    )
    can = ledger.new_item(work, Kind.CONTAINER, name=name, state=State.OPEN, unit=Unit.MILLIGRAM, place=where)
    Container.create(
        item=can,
        lot=lot,
        material=one.material_id,
        receipt=receipt,
        number=1,
        of=1,
        net=total,
        tare_mg=tare_mg,
        expires_on=decant_expiry(own=expires, parents=dates),
        opened_at=work.act.occurred_at,
        blend=True,
    )
    return lot_item, can


def _judge_can(work: Work, one: SystemHardener, can: Item, given: Mapping[int, int]) -> None:
    first = one.blend["of"][0]
    share = 100 * given[first["material"]] / sum(given.values())
    if abs(share - first["fraction_pct"]) > one.blend["tolerance_pct"]:
        sentence = (
            f"{first['name']} is {share:.1f} % of {can.code}; the blend has {first['fraction_pct']:g} ± "
            f"{one.blend['tolerance_pct']:g} %."
        )
        raise_flag(work, can, "blend-fraction", sentence, stops=True, hold=True)
