"""The yard before its first day: people, keys, materials, systems, designs, moulds, and what stood on the shelf."""

from datetime import date, timedelta
from typing import Any

from schemas.words import Face, Purpose, Role, TreatmentKind, Unit
from service.demo.cast import (
    BODIES,
    GEL,
    GEL_HARDENER,
    LAMINATING,
    LAMINATING_HARDENER,
    OWNER,
    PEOPLE,
    PLY_M2,
    PLY_MM,
    PRODUCTS,
    SCHEDULE,
    SECOND,
    SECOND_NAME,
    SECOND_SECRET,
    SECRETS,
    SITE,
    SUPPLIERS,
    ZONE,
)
from service.demo.days import oven_log
from service.demo.yard import Can, Yard
from service.operations.cures.loggers import add_logger
from service.operations.cures.schedules import add_schedule, approve_schedule
from service.operations.door import founding
from service.operations.door.people import add_key, add_person, change_person
from service.operations.ledger.badges import issue_badge
from service.operations.parts.designs import add_design, approve_design
from service.operations.parts.moulds import add_mould, treat_mould
from service.operations.pots.scales import add_scale
from service.operations.pots.systems import add_resin_system, approve_resin_system
from service.operations.stock.lots import release_lot
from service.operations.stock.places import add_place, record_storage_reading
from service.operations.stock.receiving import record_opening_stock
from service.operations.stock.registers import add_material, add_supplier
from service.readings.profile import ReadingProfile
from service.readings.propose import propose

_OPENED_LIFE_DAYS = 180
_FIRST_DELIVERIES = ("resin", "gel", "gelhard", "twill", "biax", "wax", "cleaner", "flock", "white", "peel")


def found_yard(first: date, limit: date) -> tuple[Yard, dict[str, str]]:
    """The yard on the eve of its first working day; ``limit`` is the last day on which the old can is good."""
    eve = first - timedelta(days=4)
    dawn = Yard(0, {}, {}).at(eve, "06:00")
    founded = founding.found(site=SITE, zone=ZONE, administrator=OWNER, at=dawn)
    yard = Yard(
        site=founded.site,
        people={"henrik": founded.administrator},
        roles={"henrik": frozenset({Role.ADMINISTRATOR})},
    )
    keys: dict[str, str] = {Role.ADMINISTRATOR: yard.sign_on("henrik", dawn, SECRETS[Role.ADMINISTRATOR])}
    for short, (name, roles) in PEOPLE.items():
        person = add_person(yard.act("henrik", dawn), name=name, roles=roles)
        yard.people[short], yard.roles[short] = person.id, frozenset(roles)
        add_key(yard.act("henrik", dawn), person=person.id)
        keys[roles[0]] = yard.sign_on(short, dawn, SECRETS[roles[0]])
        yard.badges[roles[0]] = issue_badge(yard.act("henrik", dawn), person=person.id).code
    keys["integrator"] = str(add_key(yard.act("henrik", dawn), system="order system").secret)
    both = (Role.ADMINISTRATOR, Role.LAMINATOR)
    change_person(yard.act("henrik", dawn), person=founded.administrator, version=1, roles=both)
    yard.roles["henrik"] = frozenset(both)
    second = add_person(yard.act("henrik", dawn), name=SECOND_NAME, roles=(Role.QUALITY,))
    yard.people["tove"], yard.roles["tove"] = second.id, frozenset({Role.QUALITY})
    add_key(yard.act("henrik", dawn), person=second.id)
    keys[SECOND] = yard.sign_on("tove", dawn, SECOND_SECRET)
    yard.badges[SECOND] = issue_badge(yard.act("henrik", dawn), person=second.id).code
    _furnish(yard, eve)
    _stock(yard, eve, limit)
    _know_how(yard, eve)
    order = ("laminator", "lead", "quality", SECOND, "integrator", "administrator")
    return yard, {role: keys[role] for role in order}


def _furnish(yard: Yard, eve: date) -> None:
    lead = yard.act("marit", yard.at(eve, "08:00"))
    for name in SUPPLIERS:
        yard.suppliers.append(add_supplier(lead, name=name, approved=True).id)
    for key, product in PRODUCTS.items():
        facts = {"supplier": yard.suppliers[product.supplier], **product.facts}
        yard.materials[key] = add_material(lead, name=product.name, kind=product.kind, **facts).id
    for key, name in (
        ("store", "Resin store"),
        ("rolls", "Cloth rack"),
        ("bench", "Scales bench"),
        ("oven", "Oven 1"),
    ):
        yard.places[key] = add_place(lead, name=name).code
    record_storage_reading(lead, place=yard.places["store"], temperature_c=18.5, humidity_pct=48.0)
    scale = add_scale(
        lead, name="Bench scale", interval_mg=100, repeatability_mg=10, maximum_mg=6_000_000, check_every_days=14
    )
    yard.scale = scale.code


def _stock(yard: Yard, eve: date, limit: date) -> None:
    """Day one: a drum of hardener that has been open for months, then the first deliveries."""
    opened = limit - timedelta(days=_OPENED_LIFE_DAYS)
    lead = yard.act("marit", yard.at(eve, "09:00"))
    drum = record_opening_stock(
        lead,
        material=yard.materials["slow"],
        supplier=yard.suppliers[0],
        makers_lot="A32-26018",
        place=yard.places["store"],
        containers=[
            {
                "amount": 18_240_000,
                "unit": Unit.MILLIGRAM,
                "count": 1,
                "gross_mg": 19_540_000,
                "tare_mg": 1_300_000,
                "net": 25_000_000,
                "opened_at": yard.at(opened, "08:10"),
            }
        ],
        dates={"expires_on": limit + timedelta(days=420), "estimated": True},
        remark="drum with a tap, weighed",
    )
    release_lot(lead, lot=drum.code)
    yard.old_can, yard.old_can_good_until = drum.containers[0], limit
    yard.shelf["slow"] = [Can(code=yard.old_can, left=18_240_000, good_until=limit)]
    for key in _FIRST_DELIVERIES:
        yard.receive(key, eve + timedelta(days=1), "07:10", packs=2 if key in ("resin", "gel") else 1)


def _know_how(yard: Yard, eve: date) -> None:
    """Systems, schedule, designs, moulds, logger: written by the lead, approved by quality."""
    lead, quality = yard.act("marit", yard.at(eve, "10:00")), yard.act("sunniva", yard.at(eve, "11:00"))
    for short, facts, hardener, resin_key, hardener_key in (
        ("laminating", LAMINATING, LAMINATING_HARDENER, "resin", "slow"),
        ("gel", GEL, GEL_HARDENER, "gel", "gelhard"),
    ):
        line: dict[str, Any] = {
            "material": yard.materials[hardener_key],
            "parts_by_volume": None,
            "tray_life": [],
            "film_life": [],
        }
        system = add_resin_system(lead, resin=yard.materials[resin_key], hardeners=[{**line, **hardener}], **facts)
        approve_resin_system(quality, system=system.id)
        yard.systems[short] = system.id
    schedule = add_schedule(lead, **SCHEDULE)
    approve_schedule(quality, schedule=schedule.id)
    for body in BODIES:
        design = add_design(lead, **_design(yard, body.part_number, body.name, body.size))
        approve_design(quality, design=design.id)
        yard.designs.append(design.id)
        mould = add_mould(lead, name=f"Mould {body.name.lower()}", part_number=body.part_number, pulls=12).code
        treat_mould(
            yard.act("henrik", yard.at(eve + timedelta(days=2), "15:00")),
            mould=mould,
            kind=TreatmentKind.RELEASE_COAT,
            container=yard.shelf["wax"][0].code,
            coats=2,
        )
        yard.moulds.append(mould)
    yard.logger = add_logger(lead, name="Oven logger", profile=_profile(yard, eve)).id


def _design(yard: Yard, part_number: str, name: str, size: float) -> dict[str, Any]:
    area, length = round(PLY_M2 * size, 3), round(PLY_MM * size)
    twill, biax = yard.materials["twill"], yard.materials["biax"]

    def ply(number: int, material: int, angle: float, face: Face | None) -> dict[str, Any]:
        return {"number": number, "material": material, "angle_deg": angle, "face": face, "area_m2": area,
                "length_mm": length, "zone": None}  # fmt: skip

    return {
        "part_number": part_number,
        "revision": "C",
        "name": name,
        "resin_need": [
            {"purpose": Purpose.GEL_COAT, "system": "Alder G5", "mass_g": 300 * size, "spread_pct": 15.0},
            {"purpose": Purpose.RESIN_COAT, "system": "Alder 10", "mass_g": 95 * size + 12, "spread_pct": 15.0},
            {"purpose": Purpose.WET_OUT, "system": "Alder 10", "mass_g": 461 * size, "spread_pct": 15.0},
        ],
        "plies": [
            ply(1, twill, 0.0, None),
            ply(2, biax, 45.0, Face.UP),
            ply(3, biax, 45.0, Face.DOWN),
            ply(4, twill, 0.0, None),
        ],
        "zones": ["floor", "side", "rim"],
        "schedule": SCHEDULE["name"],
        "piece_spread_pct": 2.0,
        "densities": {"fibre_g_cm3": 1.78, "matrix_g_cm3": 1.15},
        "laminate": {
            "process": "hand lay-up, then vacuum",
            "fibre_mass_fraction": 0.52,
            "loss_fraction": 0.03,
            "uptakes": [{"name": "peel ply", "uptake_g_m2": 40}],
            "gel_coat": {"thickness_mm": 0.4, "density_g_cm3": 1.15, "loss_fraction": 0.05},
        },
    }


def _profile(yard: Yard, eve: date) -> dict[str, Any]:
    """The logger's profile as its first file tells it, with what the file leaves open answered."""
    first = oven_log(Yard(0, {}, {}), yard.at(eve, "12:00"), yard.at(eve, "23:00"), 0)
    told = propose(first).profile.to_dict()
    told |= {"zone": ZONE, "date_order": "dmy"}
    return ReadingProfile.from_dict(told).to_dict()
