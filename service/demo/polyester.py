"""Reed Quay: an invented workshop of three that lays up hatch covers in polyester, built through the operations.

Three days, one cover a day. The first is made as it should be. On the second the resin is too cold for any line of its
data sheet, so no figure is given until it is warm. On the third the catalyst is measured by an old rule of thumb,
20 ml to the kilogram, which is 2.3 % and not 2: it gets hard all the same, and stays badly cured.
"""

from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any

from schemas.defects import DefectKind
from schemas.words import (
    Evidence,
    LabelSize,
    MaterialKind,
    Purpose,
    ReadingSource,
    Role,
    SystemKind,
    Unit,
)
from service.demo.cast import SECRETS
from service.demo.yard import Yard
from service.operations.cures.curing import declare_cure, end_cure, start_cure
from service.operations.cures.schedules import add_schedule, approve_schedule
from service.operations.door import founding
from service.operations.door.people import add_key, add_person
from service.operations.door.refusals import PeroxideBarred
from service.operations.ledger.badges import issue_badge
from service.operations.ledger.labelling import issue_label
from service.operations.parts.designs import add_design, approve_design
from service.operations.parts.inspecting import inspect_part, open_nonconformance
from service.operations.parts.laying import close_lay_up
from service.operations.parts.releasing import release_part
from service.operations.parts.starting import start_part
from service.operations.parts.steps import demould
from service.operations.pots.applying import apply_mix
from service.operations.pots.catalysing import scan_catalyst
from service.operations.pots.closing import check_cup, close_mix
from service.operations.pots.measuring import add_measure
from service.operations.pots.pouring import pour
from service.operations.pots.scales import add_scale
from service.operations.pots.starting import start_mix
from service.operations.pots.systems import add_resin_system, approve_resin_system
from service.operations.pots.tending import stir
from service.operations.stock.lots import release_lot
from service.operations.stock.places import add_place
from service.operations.stock.receiving import receive_delivery
from service.operations.stock.registers import add_material, add_supplier

DAYS = 3
_ORIGIN = "https://reed-quay.example"
_ZONE = "Europe/Copenhagen"
_PEOPLE: dict[str, tuple[str, tuple[Role, ...]]] = {
    "tove": ("Tove Lund", (Role.LEAD, Role.LAMINATOR)),
    "emil": ("Emil Rask", (Role.LAMINATOR,)),
    "runa": ("Runa Holt", (Role.QUALITY,)),
}
_LINES = [
    {"temperature_from_c": 15.0, "temperature_to_c": 20.0, "lowest_pct": 1.5, "target_pct": 2.0, "highest_pct": 2.5},
    {"temperature_from_c": 20.0, "temperature_to_c": 25.0, "lowest_pct": 1.0, "target_pct": 1.5, "highest_pct": 2.0},
]
_LIFE = [
    {"percent": 1.0, "temperature_c": 18.0, "life_min": 50.0},
    {"percent": 2.5, "temperature_c": 18.0, "life_min": 22.0},
    {"percent": 1.0, "temperature_c": 25.0, "life_min": 32.0},
    {"percent": 2.5, "temperature_c": 25.0, "life_min": 13.0},
]
_DENSITY = 1.15
_VENTED = "1 l bottle with the supplier's vented cap"


@dataclass
class Quay:
    """The workshop, and where its things stand."""

    yard: Yard
    cans: dict[str, str] = field(default_factory=dict)
    materials: dict[str, int] = field(default_factory=dict)
    system: int = 0
    scale: str = ""
    fine: str = ""
    measure: str = ""


def tell(days: list[date]) -> tuple[dict[str, str], dict[str, str], dict[str, str], str]:
    """Build it; gives back keys and badges by role, links worth opening, and the part that failed."""
    quay, keys = _found(days[0])
    yard = quay.yard
    _know_how(quay, days[0])
    covers, pots = [], []
    for number, day in enumerate(days):
        if number == 1:
            _too_cold(quay, day)
        part, pot = _cover(quay, day, (22.0, 18.0, 22.0)[number], ml_per_kg=20.0 if number == 2 else None)
        covers.append(part)
        pots.append(pot)
    failed = covers[-1]
    after = yard.at(days[-1], "12:00", 24 * 60)
    open_nonconformance(
        yard.act("runa", after),
        item=failed,
        found="hard, yet Barcol 22 where the design asks for 35: over-catalysed",
        in_service=False,
        failed=True,
        defects=[
            {"kind": DefectKind.SOFT, "zone": "top", "size_mm": None, "limit_mm": None, "accepted": False,
             "remark": "Barcol 22 after a day"}
        ],
    )  # fmt: skip
    bottle = quay.cans["peroxide"]
    for code in (bottle, pots[-1]):
        issue_label(yard.act("tove", after), code=code, size=LabelSize.LARGE, origin=_ORIGIN)
    links = {
        "container_page": f"/I/{bottle}",
        "board_page": "/board",
        "container_label": f"/v1/items/{bottle}/labels/1.pdf",
        "pot_label": f"/v1/items/{pots[-1]}/labels/1.pdf",
        "failed_part_trace": f"/v1/items/{failed}/trace",
        "failed_part_report": f"/v1/parts/{failed}/investigation.pdf",
        "failed_part_record": f"/v1/parts/{failed}/record.pdf",
        "api_documentation": "/docs",
    }
    return keys, yard.badges, links, failed


def _found(first: date) -> tuple[Quay, dict[str, str]]:
    dawn = Yard(0, {}, {}).at(first - timedelta(days=3), "06:00")
    founded = founding.found(site="Reed Quay", zone=_ZONE, administrator="Knud Moe", at=dawn)
    yard = Yard(founded.site, {"knud": founded.administrator}, {"knud": frozenset({Role.ADMINISTRATOR})})
    keys: dict[str, str] = {Role.ADMINISTRATOR: yard.sign_on("knud", dawn, SECRETS[Role.ADMINISTRATOR])}
    for short, (name, roles) in _PEOPLE.items():
        person = add_person(yard.act("knud", dawn), name=name, roles=roles)
        yard.people[short], yard.roles[short] = person.id, frozenset(roles)
        add_key(yard.act("knud", dawn), person=person.id)
        keys[roles[0]] = yard.sign_on(short, dawn, SECRETS[roles[0]])
        yard.badges[roles[0]] = issue_badge(yard.act("knud", dawn), person=person.id).code
    keys["integrator"] = str(add_key(yard.act("knud", dawn), system="order system").secret)
    return Quay(yard), {r: keys[r] for r in ("laminator", "lead", "quality", "integrator", "administrator")}


def _know_how(quay: Quay, first: date) -> None:
    yard = quay.yard
    eve = yard.at(first - timedelta(days=2), "08:00")
    lead = yard.act("tove", eve)
    supplier = add_supplier(lead, name="Rowan Resins", approved=True).id
    places = {
        key: add_place(lead, name=name).code
        for key, name in (("resin", "Resin store"), ("promoter", "Promoter shelf"), ("peroxide", "Peroxide cabinet"))
    }
    facts: dict[str, tuple[str, MaterialKind, dict[str, Any]]] = {
        "resin": ("Sorrel 4 resin", MaterialKind.RESIN, {"density_g_ml": 1.1, "h_codes": ["H226", "H315", "H361d"]}),
        "promoter": ("Sorrel cobalt 1", MaterialKind.PROMOTER, {"density_g_ml": 0.9, "h_codes": ["H304", "H317"]}),
        "peroxide": (
            "Sorrel K50",
            MaterialKind.CATALYST,
            {"density_g_ml": _DENSITY, "h_codes": ["H242", "H302", "H314"], "emergency_c": 60.0,
             "vented_container": _VENTED, "storage_low_c": 5.0, "storage_high_c": 25.0},
        ),
    }  # fmt: skip
    packs = {"resin": 25_000_000, "promoter": 500_000, "peroxide": 1_000_000}
    for key, (name, kind, more) in facts.items():
        quay.materials[key] = add_material(lead, name=name, kind=kind, supplier=supplier, **more).id
        lot = receive_delivery(
            lead,
            material=quay.materials[key],
            supplier=supplier,
            makers_lot=f"{key[:1].upper()}-{first:%y%m}",
            delivery_note="DN 812",
            place=places[key],
            containers=[{"amount": packs[key], "unit": Unit.MILLIGRAM, "count": 1}],
            dates={"expires_on": first + timedelta(days=180)},
        )
        release_lot(yard.act("runa", eve), lot=lot.code)
        quay.cans[key] = lot.containers[0]
    quay.scale = add_scale(lead, name="Bench scale", interval_mg=100, repeatability_mg=0, maximum_mg=10_000_000).code
    quay.fine = add_scale(lead, name="Fine scale", interval_mg=10, repeatability_mg=0, maximum_mg=300_000).code
    quay.measure = add_measure(lead, name="Catalyst measure 50 ml", step_ml=0.5, capacity_ml=50.0).code
    promoter = {"material": quay.materials["promoter"], "lowest_pct": 0.2, "target_pct": 0.4, "highest_pct": 0.6}
    system = add_resin_system(
        lead,
        name="Sorrel 4",
        kind=SystemKind.PEROXIDE_CURED,
        data_sheet="Sorrel 4, revision 2",
        resin=quay.materials["resin"],
        catalysts=[{"material": quay.materials["peroxide"], "promoter": promoter, "doses": _LINES, "life": _LIFE}],
        largest_pot_mg=3_000_000,
        stir_min=2.0,
    )
    quay.system = approve_resin_system(yard.act("runa", eve), system=system.id).id
    schedule = add_schedule(
        lead,
        name="Room overnight",
        source="Sorrel 4, revision 2",
        evidence=Evidence.DECLARED,
        longest_interval_min=60.0,
        stages=[{"name": "overnight", "low_c": 18.0, "high_c": 30.0, "minimum_min": 720.0, "over_c": 60.0,
                 "air_over_c": None}],
    )  # fmt: skip
    approve_schedule(yard.act("runa", eve), schedule=schedule.id)
    design = add_design(
        lead,
        part_number="RQ-7",
        revision="A",
        name="Hatch cover",
        resin_need=[{"purpose": Purpose.WET_OUT, "system": "Sorrel 4", "mass_g": 950.0, "spread_pct": 25.0}],
        schedule="Room overnight",
    )
    approve_design(yard.act("runa", eve), design=design.id)


def _start(quay: Quay, at: datetime, temperature_c: float, part: str) -> str:
    started = start_mix(
        quay.yard.act("emil", at),
        system=quay.system,
        purpose=Purpose.WET_OUT,
        resin_mg=1_000_000,
        containers=[{"container": quay.cans["resin"]}, {"container": quay.cans["promoter"]}],
        scale=quay.scale,
        hardener_scale=quay.measure,
        promoter_scale=quay.fine,
        temperature_c=temperature_c,
        parts=[part],
    )
    return started.code


def _too_cold(quay: Quay, day: date) -> None:
    """A cold morning: the data sheet has no line for it, so nobody is given a figure."""
    part = start_part(quay.yard.act("tove", quay.yard.at(day, "07:40")), part_number="RQ-7").code
    try:
        _start(quay, quay.yard.at(day, "07:45"), 12.0, part)
    except PeroxideBarred:
        return
    raise RuntimeError("a resin of 12 °C was given a figure")


def _cover(quay: Quay, day: date, temperature_c: float, *, ml_per_kg: float | None) -> tuple[str, str]:
    """One cover: promoter, stirring, a second scan, catalyst; cured overnight, and out of the mould the next day."""
    yard = quay.yard
    part = start_part(yard.act("tove", yard.at(day, "08:50")), part_number="RQ-7").code
    begins = yard.at(day, "09:00")
    mix = _start(quay, begins, temperature_c, part)
    at = begins
    for can, scale, mass in (("resin", quay.scale, 1_000_000), ("promoter", quay.fine, 4_000)):
        at += timedelta(minutes=2)
        pour(
            yard.act("emil", at), mix=mix, container=quay.cans[can], scale=scale, reading_mg=mass,
            source=ReadingSource.TYPED,
        )  # fmt: skip
    at = _stirred(quay, mix, at)
    scan_catalyst(yard.act("emil", at), mix=mix, container=quay.cans["peroxide"], promoter_away=True)
    wanted = 2.0 if temperature_c < 20 else 1.5
    ml = ml_per_kg if ml_per_kg is not None else round(2 * wanted * 10 / _DENSITY) / 2
    at += timedelta(minutes=1)
    pour(
        yard.act("emil", at), mix=mix, container=quay.cans["peroxide"], scale=quay.measure, reading_ml=ml,
        read_back_ml=ml, source=ReadingSource.TYPED,
    )  # fmt: skip
    at = _stirred(quay, mix, at)
    at += timedelta(minutes=5)
    apply_mix(yard.act("emil", at), mix=mix, parts=[{"part": part}])
    close_mix(yard.act("emil", at), mix=mix, left_mg=20_000, cup_kept=True)
    close_lay_up(yard.act("emil", at), part=part, remark="three layers of mat")
    cure = start_cure(yard.act("emil", at), schedule="Room overnight", parts=[part]).code
    morning = yard.at(day + timedelta(days=1), "08:00")
    declare_cure(yard.act("emil", morning), cure=cure, remark="20 °C in the room all night")
    end_cure(yard.act("emil", morning), cure=cure)
    check_cup(
        yard.act("emil", morning), mix=mix, hard=True, hardness=22.0 if ml_per_kg else 38.0, hardness_scale="Barcol"
    )
    demould(yard.act("emil", morning), part=part, temperature_c=20.0)
    if ml_per_kg is None:
        inspect_part(yard.act("runa", morning), part=part, accepted=True)
        release_part(yard.act("runa", morning), part=part, reviewed=True)
    return part, mix


def _stirred(quay: Quay, mix: str, at: datetime) -> datetime:
    ends = at + timedelta(minutes=3)
    stir(quay.yard.act("emil", ends), mix=mix, started_at=at, ended_at=ends, scraped=True)
    return ends
