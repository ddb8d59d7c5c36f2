"""What stands on a label, gathered from the account: plain facts that a label can be drawn from again, the same."""

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import fields
from datetime import date, datetime
from typing import Any, get_args
from zoneinfo import ZoneInfo

from peewee import JOIN

from labels import facts as label
from labels.codes import grouped
from schemas.words import FabricForm, Kind, MaterialKind, Purpose, State, Unit
from service.operations.door.shop import day_in_shop
from service.operations.ledger.flags import stands
from service.records.base import known
from service.records.cures import Cure
from service.records.items import Item, Movement
from service.records.journal import Deed
from service.records.lookups import another, rows_among
from service.records.materials import Container, Lot, Material, Receipt, ResinSystem, Scale, SystemHardener
from service.records.mixes import Mix, Pour
from service.records.parts import Cut, Design, Kit, Mould, MouldTreatment, Part
from service.records.people import Site
from service.records.storage import OutTimeStart

CLASSES: dict[Kind, type[label.Facts]] = {
    Kind.LOT: label.LotLabel,
    Kind.CONTAINER: label.ContainerLabel,
    Kind.KIT: label.KitLabel,
    Kind.MIX: label.PotLabel,
    Kind.PART: label.PartLabel,
    Kind.MOULD: label.MouldLabel,
    Kind.SCALE: label.ScaleLabel,
    Kind.CURE: label.CureLabel,
    Kind.PLACE: label.PlaceLabel,
    Kind.BADGE: label.BadgeLabel,
}


def gather(items: Sequence[Item], site: Site) -> dict[int, dict[str, Any]]:
    """The facts of each item's label as JSON can keep them, without origin and issue; cans are read all at once."""
    cans = [item for item in items if item.kind == Kind.CONTAINER]
    found = _containers(cans, site) if cans else {}
    gatherers: dict[Kind, Callable[[Item, Site], dict[str, Any]]] = {
        Kind.LOT: _lot,
        Kind.KIT: _kit,
        Kind.MIX: _mix,
        Kind.PART: _part,
        Kind.MOULD: _mould,
        Kind.SCALE: _scale,
        Kind.CURE: _cure,
        Kind.PLACE: lambda i, s: {"name": i.name},
        Kind.BADGE: lambda i, s: {"name": i.name},
    }
    for item in items:
        if item.id not in found:
            found[item.id] = gatherers[Kind(item.kind)](item, site)
    return {number: {name: _kept(value) for name, value in facts.items()} for number, facts in found.items()}


def restore(kind: Kind, code: str, kept: dict[str, Any], *, origin: str, issue: int) -> label.Facts:
    """The label's facts again, from what was kept."""
    cls = CLASSES[kind]
    types = {f.name: get_args(f.type) or (f.type,) for f in fields(cls)}
    return cls(
        code=code, origin=origin, issue=issue, **{name: _given(value, types[name]) for name, value in kept.items()}
    )


def _kept(value: Any) -> Any:
    return value.isoformat() if isinstance(value, date | datetime) else value


def _given(value: Any, types: tuple[Any, ...]) -> Any:
    if isinstance(value, str) and datetime in types:
        return datetime.fromisoformat(value)
    if isinstance(value, str) and date in types:
        return date.fromisoformat(value)
    return tuple(value) if isinstance(value, list) else value


def amount_text(amount: int, unit: str) -> str:
    if unit == Unit.MILLIMETRE:
        return f"{amount / 1000:g} m"
    if unit == Unit.PIECE:
        return f"{amount} pcs"
    return f"{amount / 1_000_000:g} kg" if amount >= 1_000_000 else f"{amount / 1000:g} g"


def _storage(material: Material) -> str:
    kept = [] if material.storage_low_c is None else [f"{material.storage_low_c:g} to {material.storage_high_c:g} °C"]
    if material.organic_peroxide or material.kind == MaterialKind.CATALYST:
        kept.append("vented, never near promoter or acetone")
    elif material.kind == MaterialKind.PROMOTER:
        kept.append("never near peroxide")
    return " · ".join(kept)


def _lot_name(lot: Lot) -> str:
    return lot.makers_lot or "not known"


def _lot(item: Item, site: Site) -> dict[str, Any]:
    lot = Lot.get_by_id(item.id)
    material = Material.get_by_id(lot.material_id)
    first = Receipt.select().where(Receipt.lot == item.id).order_by(Receipt.id).get()
    return {
        "name": material.name,
        "lot": _lot_name(lot),
        "received_on": day_in_shop(first.received_at, site),
        "expires_on": lot.retest_on or lot.expires_on,
        "net": amount_text(first.amount, known(item.unit)),
        "h_codes": tuple(material.h_codes),
        "storage": _storage(material),
        "quarantine": item.state == State.QUARANTINE,
    }


def _containers(items: Sequence[Item], site: Site) -> dict[int, dict[str, Any]]:
    query = (
        Container.select(Container, Lot, Material, Receipt.id, Receipt.released_in)
        .join(Lot)
        .switch(Container)
        .join(Material)
        .switch(Container)
        .join(Receipt, JOIN.LEFT_OUTER, on=(Container.receipt == Receipt.id))
    )
    rows = {row.item_id: row for row in query.where(Container.item.in_([item.id for item in items]))}
    ratios = _ratio_texts({row.material_id for row in rows.values()})
    parents = {row.parent_id for row in rows.values() if row.parent_id is not None}
    codes = {parent.id: parent.code for parent in rows_among(Item, Item.id, parents)} if parents else {}
    frozen = {number: row.material for number, row in rows.items() if row.material.out_time}
    lives = _out_times(frozen) if frozen else {}
    return {
        item.id: _container(item, rows[item.id], ratios, codes, site) | {"out_time": lives.get(item.id, "")}
        for item in items
    }


def _out_times(materials: Mapping[int, Material]) -> dict[int, str]:
    """Tack life and out life as the data sheet gives them at its coolest, and what was used before its own account."""
    started = {row.item_id: row for row in rows_among(OutTimeStart, OutTimeStart.item, materials)}
    return {number: _out_time(material.out_time, started.get(number)) for number, material in materials.items()}


def _out_time(sheet: Mapping[str, Any], start: OutTimeStart | None) -> str:
    lives = []
    for name, used in (("tack", start and start.tack_used), ("out", start and start.out_used)):
        if not sheet.get(name):
            continue
        row = min(sheet[name], key=lambda one: one["temperature_c"])
        less = "" if not used else ", used up" if used >= 1 else f", {used * 100:.0f} % used before"
        lives.append(f"{name} life {row['hours']:g} h at {row['temperature_c']:g} °C{less}")
    shorter = any(len(sheet.get(name) or ()) > 1 for name in ("tack", "out"))
    return "; ".join(lives) + (", less if warmer" if shorter else "")


def _container(
    item: Item, container: Container, ratios: Mapping[int, str], codes: Mapping[int, str], site: Site
) -> dict[str, Any]:
    lot, material = container.lot, container.material
    roll = material.kind == MaterialKind.FABRIC
    noun = "roll" if roll else ("can" if item.unit == Unit.MILLIGRAM else "container")
    return {
        "name": material.name,
        "lot": _lot_name(lot),
        "noun": noun,
        "sequence": f"{noun} {container.number} of {container.of}" if container.parent_id is None else "",
        "source": grouped(codes[container.parent_id]).replace(" ", "\u202f") if container.parent_id is not None else "",
        "net": amount_text(container.net, known(item.unit)),
        "expires_on": lot.retest_on or container.expires_on,
        "opened_on": day_in_shop(container.opened_at, site) if container.opened_at else None,
        "opened_life_days": material.opened_life_days,
        "h_codes": tuple(material.h_codes),
        "storage": _storage(material),
        "ratio": _fabric_text(material) if roll else ratios[material.id],
        "quarantine": known(container.receipt).released_in_id is None,
    }


def _fabric_text(material: Material) -> str:
    form = "UD" if material.form == FabricForm.UNIDIRECTIONAL else material.form
    return " · ".join(
        t for t in (f"{material.areal_weight_g_m2:g} g/m²", material.fibre, form, f"{material.width_mm} mm") if t
    )


def _ratio_texts(materials: Collection[int]) -> dict[int, str]:
    """With what and how much, if there is one approved answer; with several the label says none."""
    found: dict[int, set[str]] = {material: set() for material in materials}
    resins = another(Material, "resins")
    query = (
        SystemHardener.select(
            SystemHardener.material,
            SystemHardener.parts_by_weight,
            resins.name.alias("resin"),
            SystemHardener.catalyst,
        )
        .join(ResinSystem)
        .join(resins, on=(ResinSystem.resin == resins.id))
        .where(
            ResinSystem.approved_at.is_null(False)
            & ResinSystem.replaced_by.is_null()
            & SystemHardener.material.in_(list(materials))
        )
    )
    for material, parts, resin, catalyst in query.tuples():
        text = f"{resin} 100 : {parts:g} by weight"
        if catalyst is not None:
            doses = catalyst["doses"]
            low, high = min(row["lowest_pct"] for row in doses), max(row["highest_pct"] for row in doses)
            text = f"{resin}: {low:g} to {high:g} %, by its temperature"
        found[material].add(text)
    return {material: texts.pop() if len(texts) == 1 else "" for material, texts in found.items()}


def _kit(item: Item, site: Site) -> dict[str, Any]:
    kit = Kit.get_by_id(item.id)
    cuts = list(Cut.select().where(Cut.kit == item.id).order_by(Cut.id))
    rolls = {c.roll_id: Container.get_by_id(c.roll_id) for c in cuts}
    plies = sum(len(c.plies) for c in cuts)
    made_of = "; ".join(
        f"{Material.get_by_id(r.material_id).name}, lot {_lot_name(Lot.get_by_id(r.lot_id))}" for r in rolls.values()
    )
    design = Design.get_by_id(kit.design_id) if kit.design_id else None
    # Of several cloths the label warns of the one that ends first.
    frozen = [m for m in (Material.get_by_id(r.material_id) for r in rolls.values()) if m.out_time]
    first = min(frozen, key=lambda m: min(row["hours"] for row in m.out_time["out"]), default=None)
    return {
        "out_time": "" if first is None else _out_times({item.id: first})[item.id],
        "sequence": f"kit {kit.number} of {kit.of}" if kit.number is not None else "",
        "name": f"Kit {design.part_number} rev {design.revision}" if design else item.name,
        "plies": f"{plies} plies" if plies else "",
        "made_of": made_of[:120],
        "purpose": design.name[:80] if design else "",
        "cut_on": day_in_shop(kit.cut_at, site),
        "cut_by": Deed.get_by_id(item.deed_id).person.name[:40],
    }


def _mix(item: Item, site: Site) -> dict[str, Any]:
    mix = Mix.get_by_id(item.id)
    system, hardener = ResinSystem.get_by_id(mix.system_id), SystemHardener.get_by_id(mix.hardener_id)
    products = [Material.get_by_id(system.resin_id), Material.get_by_id(hardener.material_id)]
    promoter = (hardener.catalyst or {}).get("promoter")
    if promoter is not None:
        products.append(Material.get_by_id(promoter["material"]))
    zone = ZoneInfo(site.zone)
    poured = [Movement.get_by_id(p.movement_id) for p in Pour.select().where(Pour.mix == item.id).order_by(Pour.id)]
    mass = sum(known(m.amount) for m in poured if m.cancelled_by_id is None)
    begun = mix.contact_at or mix.started_at
    return {
        "system": system.name,
        "hardener": products[1].name,
        "mixed_at": begun.astimezone(zone),
        "use_before": mix.use_before.astimezone(zone) if mix.use_before else None,
        "life_note": (mix.life_note or "")[:160] if mix.use_before is None else "",
        # As the scale shows it: nobody reads milligrams off a cup.
        "mass": amount_text(round(mass or mix.planned_mg, -2), Unit.MILLIGRAM),
        "purpose": mix.purpose,
        "parts": _parts(mix),
        "maker": Deed.get_by_id(item.deed_id).person.name[:40],
        "ratio": _pot_ratio(mix, hardener) if mix.purpose == Purpose.GEL_COAT else "",
        "h_codes": tuple(dict.fromkeys(code for p in products for code in p.h_codes)),
    }


def _parts(mix: Mix) -> str:
    """The parts that a pot is for, as many as stand on a label; the group of a code does not break."""
    codes = [grouped(code).replace(" ", "\u202f") for code in (mix.plan or {}).get("parts", ())]
    return ", ".join(codes[:4])


def _pot_ratio(mix: Mix, hardener: SystemHardener) -> str:
    """A gel coat is catalysed by per cent, and is read from the cup when the next coat is mixed."""
    if hardener.catalyst is not None:
        return f"{100 * mix.ratio:.3g} % of the resin"
    return f"100 : {100 * mix.ratio:.4g} by weight"


def _part(item: Item, site: Site) -> dict[str, Any]:
    part = Part.get_by_id(item.id)
    design = Design.get_by_id(part.design_id)
    return {
        "name": design.name,
        "part_number": design.part_number,
        "revision": design.revision,
        "laid_on": day_in_shop(part.started_at, site) if part.started_at is not None else None,
        "final": item.state in (State.TRIMMED, State.RELEASED, State.SHIPPED, State.FITTED),
        "serial": part.serial or "",
    }


def _mould(item: Item, site: Site) -> dict[str, Any]:
    mould = Mould.get_by_id(item.id)
    last = (
        MouldTreatment.select()
        .where(
            (MouldTreatment.mould == item.id) & MouldTreatment.container.is_null(False) & stands(MouldTreatment.deed)
        )
        .order_by(MouldTreatment.id.desc())
        .first()
    )
    release = Material.get_by_id(Container.get_by_id(last.container_id).material_id).name if last else ""
    return {"name": item.name, "release": release, "note": f"for {mould.part_number}" if mould.part_number else ""}


def _scale(item: Item, site: Site) -> dict[str, Any]:
    scale = Scale.get_by_id(item.id)
    return {
        "name": item.name,
        "capacity": f"{amount_text(scale.maximum_mg, Unit.MILLIGRAM)} × {scale.interval_mg / 1000:g} g",
    }


def _cure(item: Item, site: Site) -> dict[str, Any]:
    cure = Cure.get_by_id(item.id)
    return {
        "name": item.name,
        "schedule": cure.schedule.name,
        "started_at": cure.started_at.astimezone(ZoneInfo(site.zone)),
    }
