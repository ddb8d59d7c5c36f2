"""A stocked shop in a few lines: suppliers, materials, released cans. Everything goes in over HTTP."""

from dataclasses import dataclass
from typing import Any

from peewee import fn

from service.database import connected
from service.records.items import Movement
from tests.fresh import made_once


def supplier(api: Any, name: str = "Fenwick Resins") -> int:
    return int(api.post("/v1/suppliers", {"name": name, "approved": True}, who="lead")["id"])


def place(api: Any, name: str = "Shelf B2") -> str:
    return str(api.post("/v1/places", {"name": name}, who="lead")["code"])


def material(api: Any, name: str, kind: str, **facts: Any) -> int:
    return int(api.post("/v1/materials", {"name": name, "kind": kind, **facts}, who="lead")["id"])


def lot(
    api: Any,
    material: int,
    where: str,
    *,
    supplier: int = 1,
    makers_lot: str | None,
    released: bool = True,
    **facts: Any,
) -> dict[str, Any]:
    """A delivery of one lot, released unless told otherwise; `containers` as in the API. No maker's lot: not known."""
    body = {
        "material": material,
        "supplier": supplier,
        "delivery_note": f"LN {makers_lot}",
        "place": where,
        **({"unknown_because": "label lost"} if makers_lot is None else {"makers_lot": makers_lot}),
        **facts,
    }
    if not {"expires_on", "expires_month", "made_on", "no_expiry"} & facts.keys():
        body["expires_on"] = "2027-09-30"
    received: dict[str, Any] = api.post("/v1/deliveries", body)
    if released:
        received = api.post(f"/v1/lots/{received['code']}/release", who="lead")
    return received


def cans(
    api: Any, material: int, where: str, makers_lot: str, *, net_g: float = 5000, count: int = 1, **facts: Any
) -> list[str]:
    """Codes of released cans of one lot."""
    return list(
        lot(api, material, where, makers_lot=makers_lot, containers=[{"net_g": net_g, "count": count}], **facts)[
            "containers"
        ]
    )


def reached(api: Any, hold: dict[str, Any]) -> set[str]:
    """The codes of all that a hold reaches: it counts them, and names the trace that lists them."""
    reaches = hold["reaches"]
    listed = {i["code"] for i in api.get(reaches["trace"])["items"]} - {hold["item"]}
    assert sum(reaches["counts"].values()) == reaches["items"] == len(listed)
    return listed


def laid_up_part(api: Any, part_number: str = "HY-204") -> str:
    """Code of a part whose lay-up is closed, of an approved design without plies."""
    if not api.get(f"/v1/designs?part_number={part_number}"):
        design(api, part_number)
    code = str(api.post("/v1/parts", {"part_number": part_number})["code"])
    api.post(f"/v1/parts/{code}/closing")
    return code


def schedule(api: Any, name: str = "Alder 10 with post-cure", *, approved: bool = True, **facts: Any) -> dict[str, Any]:
    """A schedule of one stage at 60 °C, to be proved by probes on the part, unless told otherwise."""
    stage = {
        "name": "post-cure", "low_c": 55, "high_c": 65, "minimum_min": 480, "over_c": 70, "air_over_c": None,
    }  # fmt: skip
    body = {
        "name": name,
        "source": "Alder 10 data sheet 4",
        "stages": [stage],
        "longest_interval_min": 5,
        "evidence": "part probe",
        **facts,
    }
    made: dict[str, Any] = api.post("/v1/schedules", body, who="lead")
    if approved:
        made = api.post(f"/v1/schedules/{made['id']}/approval", who="quality")
    return made


def roll(api: Any, material: int, where: str, makers_lot: str | None, *, length_mm: int = 50_000, **facts: Any) -> str:
    """Code of a released roll of fabric."""
    facts = {"containers": [{"length_mm": length_mm}], "no_expiry": True, **facts}
    return str(lot(api, material, where, makers_lot=makers_lot, **facts)["containers"][0])


def fabric(api: Any, name: str = "Glass twill 280", **facts: Any) -> int:
    return material(
        api, name, "fabric", **{"form": "woven", "areal_weight_g_m2": 280, "width_mm": 1000, "fibre": "glass", **facts}
    )


def plies(material: int, *angles_deg: float, **facts: Any) -> list[dict[str, Any]]:
    """One ply of 0.5 m² for each angle, numbered from 1."""
    return [
        {"number": n, "material": material, "angle_deg": angle, "area_m2": 0.5, "length_mm": 500, **facts}
        for n, angle in enumerate(angles_deg, 1)
    ]


def design(api: Any, part_number: str = "HY-204", *, approved: bool = True, **facts: Any) -> dict[str, Any]:
    body = {"part_number": part_number, "revision": "A", "name": "Rudder half", **facts}
    made: dict[str, Any] = api.post("/v1/designs", body, who="lead")
    if approved:
        made = api.post(f"/v1/designs/{made['id']}/approval", who="quality")
    return made


def released_mould(api: Any, where: str, *, wait_min: int = 30, name: str = "Rudder half mould") -> dict[str, Any]:
    """A mould with a release coat whose wait is over, and the code of the agent as `agent`."""
    wax = material(api, f"Wax for {name}", "release agent", release_wait_min=wait_min)
    agent = cans(api, wax, where, f"wax {name}", net_g=500, no_expiry=True)[0]
    mould = api.post("/v1/moulds", {"name": name}, who="lead")["code"]
    api.post(f"/v1/moulds/{mould}/treatments", {"kind": "release coat", "container": agent, "coats": 2})
    api.shop.clock.forward(minutes=wait_min)
    return {"code": mould, "agent": agent}


def cured(api: Any, part: str, name: str = "Room overnight") -> str:
    """Declare an overnight cure of a part whose lay-up is closed; the code of the cure."""
    if not api.get(f"/v1/schedules?name={name.replace(' ', '+')}"):
        schedule(api, name, evidence="declared", demould_below_c=40)
    cure = api.post("/v1/cures", {"schedule": name, "parts": [part]})["code"]
    api.shop.clock.forward(hours=16)
    api.post(f"/v1/cures/{cure}/declaration", {"remark": "in the warm room overnight"})
    api.post(f"/v1/cures/{cure}/end")
    return str(cure)


def scale(
    api: Any, name: str = "Bench scale", *, interval_g: float = 0.1, maximum_g: float = 6000, **facts: Any
) -> str:
    """Code of a scale; nobody asks for checks of it unless told otherwise."""
    body = {"name": name, "interval_g": interval_g, "repeatability_g": 0, "maximum_g": maximum_g, **facts}
    return str(api.post("/v1/scales", body, who="lead")["code"])


CUP_LIFE = [
    {"mass_g": 100, "temperature_c": 20, "life_min": 70},
    {"mass_g": 100, "temperature_c": 30, "life_min": 35},
    {"mass_g": 1000, "temperature_c": 20, "life_min": 40},
    {"mass_g": 1000, "temperature_c": 30, "life_min": 20},
]


def resin_system(
    api: Any, resin: int, hardeners: dict[int, float], *, name: str = "Alder 10", approved: bool = True, **facts: Any
) -> dict[str, Any]:
    """A resin system of 2 % of the ratio, pots up to 1000 g; `hardeners` are materials with their parts by weight."""
    body = {
        "name": name,
        "data_sheet": f"{name}, revision 4",
        "resin": resin,
        "hardeners": [
            {
                "material": material,
                "speed": "slow" if not number else "fast",
                "parts_by_weight": parts,
                "cup_life": CUP_LIFE,
                "tray_life": [{"mass_g": 1000, "temperature_c": 30, "life_min": 60}],
                "film_life": [{"temperature_c": 20, "life_min": 120}, {"temperature_c": 30, "life_min": 60}],
            }
            for number, (material, parts) in enumerate(hardeners.items())
        ],
        "tolerance": {"kind": "percent of ratio", "value": 2, "source": "data sheet revision 4, section 3"},
        "largest_pot_g": 1000,
        "stir_min": 2,
        **facts,
    }
    made: dict[str, Any] = api.post("/v1/resin-systems", body, who="lead")
    if approved:
        made = api.post(f"/v1/resin-systems/{made['id']}/approval", who="quality")
    return made


def system_of(api: Any, resin: int, hardeners: list[dict[str, Any]], name: str, **facts: Any) -> dict[str, Any]:
    """An approved resin system of 2 % of the ratio, its hardeners as they are sent."""
    body = {
        "name": name,
        "data_sheet": f"{name}, revision 1",
        "resin": resin,
        "hardeners": hardeners,
        "tolerance": {"kind": "percent of ratio", "value": 2, "source": "data sheet, section 3"},
        "largest_pot_g": 1000,
        "stir_min": 2,
        **facts,
    }
    made = api.post("/v1/resin-systems", body, who="lead")
    approved: dict[str, Any] = api.post(f"/v1/resin-systems/{made['id']}/approval", who="quality")
    return approved


def reading(reading_g: float | None, more: dict[str, Any]) -> dict[str, Any]:
    """What a scale showed, typed by somebody who has read it twice, so that nothing far from its target is asked."""
    typed = {"source": "typed", "read_back_g": reading_g} if "source" not in more else {}
    return {"reading_g": reading_g, **{k: v for k, v in typed.items() if v is not None}, **more}


@dataclass
class Mixing:
    """A shop that can mix: one approved system of 100:30, its cans, and a scale of 0.1 g."""

    api: Any
    place: str
    resin: int
    slow: int
    fast: int
    system: int
    scale: str
    resin_can: str
    slow_can: str
    fast_can: str

    def start(self, total_g: float = 500, *, expect: int = 201, who: str = "laminator", **more: Any) -> Any:
        body = {
            "system": self.system,
            "hardener": self.slow,
            "purpose": "wet-out",
            "total_g": total_g,
            "containers": [{"container": self.resin_can}, {"container": self.slow_can}],
            "scale": self.scale,
            "temperature_c": 20,
            **more,
        }
        body = {name: value for name, value in body.items() if value is not None}
        return self.api.post("/v1/mixes", body, expect=expect, who=who)

    def refused(self, kind: str, total_g: float = 500, **more: Any) -> Any:
        problem = self.start(total_g, expect=409, **more)
        assert problem["type"] == f"/problems/{kind}", problem
        return problem

    def pour(self, mix: str, can: str, reading_g: float, *, expect: int = 201, **more: Any) -> Any:
        body = {"container": can, "scale": self.scale, **reading(reading_g, more)}
        return self.api.post(f"/v1/mixes/{mix}/pours", body, expect=expect)

    def mixed(self, total_g: float = 500, *, resin_g: float | None = None, hardener_g: float | None = None) -> Any:
        """A pot with both components in and stirred; its resin and hardener as planned, to a tenth of a gram."""
        mix = self.start(total_g)["code"]
        resin = resin_g if resin_g is not None else round(total_g / 1.3, 1)
        self.pour(mix, self.resin_can, resin)
        self.pour(mix, self.slow_can, hardener_g if hardener_g is not None else round(resin * 0.3, 1))
        return self.stir(mix)

    def stir(self, mix: str, minutes: float = 3, *, scraped: bool = True) -> Any:
        begins = self.api.shop.clock.now
        ends = self.api.shop.clock.forward(minutes=minutes)
        times = {"started_at": begins.isoformat(), "ended_at": ends.isoformat(), "scraped": scraped}
        return self.api.post(f"/v1/mixes/{mix}/stirrings", times)

    def apply(self, mix: str, *parts: Any, **more: Any) -> Any:
        lines = [{"part": p} if isinstance(p, str) else {"part": p[0], "mass_g": p[1]} for p in parts]
        return self.api.post(f"/v1/mixes/{mix}/applications", {"parts": lines, **more})


@made_once
def mixing(api: Any, **system_facts: Any) -> Mixing:
    """A shop that can mix."""
    supplier(api)
    where = place(api)
    resin = material(api, "Alder 10 resin", "resin", density_g_ml=1.15)
    slow = material(api, "Alder 32 slow hardener", "hardener", density_g_ml=0.95)
    fast = material(api, "Alder 31 fast hardener", "hardener", density_g_ml=0.96)
    system = resin_system(api, resin, {slow: 30, fast: 28}, **system_facts)
    return Mixing(
        api=api,
        place=where,
        resin=resin,
        slow=slow,
        fast=fast,
        system=system["id"],
        scale=scale(api),
        resin_can=cans(api, resin, where, "R-1")[0],
        slow_can=cans(api, slow, where, "H-1", net_g=2000)[0],
        fast_can=cans(api, fast, where, "F-1", net_g=2000)[0],
    )


def started_part(api: Any, part_number: str = "HY-100", need_g: float | None = 300, **facts: Any) -> str:
    """Code of a part under way, of a design that needs so much of Alder 10 for its wet-out."""
    from service.operations.parts import designs, starting
    from service.records.parts import Design

    need = [] if need_g is None else [{"purpose": "wet-out", "system": "Alder 10", "mass_g": need_g}]
    with connected():
        if not Design.select().where(Design.part_number == part_number).exists():
            lead = api.shop.act("lead")
            design = designs.add_design(
                lead, part_number=part_number, revision="A", name="Fairing", resin_need=need, **facts
            )
            designs.approve_design(api.shop.act("quality"), design=design.id)
        return str(starting.start_part(api.shop.act(), part_number=part_number).code)


def balance_by_movements(item: Any) -> int:
    """What the movements that stand say is left of an item."""
    stands = Movement.cancelled_by.is_null() & (Movement.unit == item.unit)
    into = Movement.select(fn.SUM(Movement.amount)).where(stands & (Movement.target == item.id)).scalar()
    out = Movement.select(fn.SUM(Movement.amount)).where(stands & (Movement.source == item.id)).scalar()
    return int(into or 0) - int(out or 0)
