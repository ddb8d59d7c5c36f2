"""From an empty shop to a first released part: what it takes, counted."""

from typing import Any

import pytest

MOST_WRITES = 25


class Counting:
    """Calls of one shop, the writing ones counted."""

    def __init__(self, api: Any) -> None:
        self.api, self.writes = api, 0

    def post(self, path: str, body: Any = None, **more: Any) -> Any:
        self.writes += 1
        return self.api.post(path, body, **more)


@pytest.fixture
def shop(shop: Any) -> Any:
    """Only whoever founded the shop is known here; everybody else is added by the calls themselves."""
    for who in list(shop.keys):
        if who != "administrator":
            shop.keys.pop(who), shop.people.pop(who, None), shop.tokens.pop(who, None)
    return shop


def _person(door: Counting, name: str, *roles: str) -> None:
    made = door.post("/v1/people", {"name": name, "roles": list(roles), "with_key": True}, who="administrator")
    door.api.shop.keys[name], door.api.shop.people[name] = made["secret"], made["id"]


def test_a_first_part_is_released_after_at_most_25_writes(api: Any) -> None:
    """Cloth, release agent, resin and hardener, two people, every rule as strict as on any other day."""
    door, forward = Counting(api), api.shop.clock.forward
    _person(door, "marit", "lead", "laminator")
    _person(door, "jonas", "quality", "laminator")
    own = door.post("/v1/secret", {"secret": "kelp and 40 rivets"}, who="jonas")
    api.shop.keys["jonas"], api.shop.tokens["jonas"] = own["secret"], own["token"]

    registers = {
        "suppliers": [{"name": "Fenwick Resins", "approved": True}],
        "places": [{"name": "Shelf B2"}],
        "materials": [
            {"name": "Alder 10 resin", "kind": "resin"},
            {"name": "Alder 32 slow hardener", "kind": "hardener"},
            {"name": "Glass twill 280", "kind": "fabric", "form": "woven", "areal_weight_g_m2": 280, "width_mm": 1000,
             "fibre": "glass"},
            {"name": "Wax", "kind": "release agent", "release_wait_min": 30},
        ],
        "scales": [{"name": "Bench scale", "interval_g": 0.1, "repeatability_g": 0.05, "maximum_g": 6000}],
        "moulds": [{"name": "Rudder half mould"}],
    }  # fmt: skip
    made = door.post("/v1/registers", registers, who="marit")
    resin, hardener, cloth, wax = (m["id"] for m in made["materials"])
    mould, scale = made["moulds"][0]["code"], made["scales"][0]["code"]

    note = {
        "supplier": made["suppliers"][0]["id"],
        "delivery_note": "LN 4471",
        "place": made["places"][0]["code"],
        "lots": [
            {"material": resin, "makers_lot": "26-1", "expires_on": "2027-09-30", "containers": [{"net_g": 5000}]},
            {"material": hardener, "makers_lot": "26-2", "expires_on": "2027-09-30", "containers": [{"net_g": 1500}]},
            {"material": cloth, "makers_lot": "T-1", "containers": [{"length_mm": 50_000}]},
            {"material": wax, "makers_lot": "W-1", "no_expiry": True, "containers": [{"net_g": 500}]},
        ],
    }
    lots = door.post("/v1/delivery-notes", note, who="marit")
    can, bottle, roll, agent = (lot["containers"][0] for lot in lots)
    door.post("/v1/lot-releases", {"lots": [lot["code"] for lot in lots]}, who="jonas")

    life = [{"mass_g": mass, "temperature_c": t, "life_min": m} for mass, t, m in
            ((100, 20, 70), (100, 30, 35), (1000, 20, 40), (1000, 30, 20))]  # fmt: skip
    system = door.post("/v1/resin-systems", {
        "name": "Alder 10", "data_sheet": "Alder 10 data sheet 4", "resin": resin,
        "tolerance": {"kind": "percent of ratio", "value": 2, "source": "data sheet 4"},
        "largest_pot_g": 1000,
        "hardeners": [{"material": hardener, "speed": "slow", "parts_by_weight": 30, "cup_life": life}],
    }, who="marit")["id"]  # fmt: skip
    schedule = door.post("/v1/schedules", {
        "name": "Room overnight", "source": "Alder 10 data sheet 4", "evidence": "declared", "longest_interval_min": 10,
        "stages": [{"name": "room", "low_c": 18, "high_c": 30, "minimum_min": 480, "over_c": 60, "air_over_c": None}],
    }, who="marit")["id"]  # fmt: skip
    plies = [{"number": n, "material": cloth, "angle_deg": 0, "area_m2": 0.2, "length_mm": 500} for n in (1, 2)]
    design = door.post("/v1/designs", {"part_number": "HY-204", "revision": "A", "name": "Rudder half",
                                       "plies": plies}, who="marit")["id"]  # fmt: skip
    approvals = {"systems": [system], "schedules": [schedule], "designs": [design]}
    door.post("/v1/approvals", approvals, who="jonas")

    door.post(f"/v1/moulds/{mould}/treatments", {"kind": "release coat", "container": agent, "coats": 2}, who="marit")
    forward(minutes=31)
    kit = door.post("/v1/kits", {"design": design, "cuts": [{"roll": roll, "length_mm": 1000, "plies": [1, 2]}]},
                    who="marit")["code"]  # fmt: skip
    part = door.post("/v1/parts", {"part_number": "HY-204", "mould": mould}, who="marit")["code"]
    pot = door.post("/v1/mixes", {
        "system": system, "purpose": "wet-out", "total_g": 260, "scale": scale, "temperature_c": 21,
        "containers": [{"container": can}, {"container": bottle}], "parts": [part],
    }, who="marit")["code"]  # fmt: skip
    for container, reading in ((can, 200), (bottle, 60)):
        body = {"container": container, "reading_g": reading, "scale": scale, "source": "typed"}
        door.post(f"/v1/mixes/{pot}/pours", body, who="marit")
    began = api.shop.clock.now.isoformat()
    ended = forward(minutes=3).isoformat()
    stirring = {"started_at": began, "ended_at": ended, "scraped": True}
    door.post(f"/v1/mixes/{pot}/stirrings", stirring, who="marit")
    door.post(f"/v1/parts/{part}/kits", {"kit": kit}, who="marit")
    door.post(f"/v1/mixes/{pot}/closing", {"parts": [{"part": part}], "all_used": True}, who="marit")
    door.post(f"/v1/parts/{part}/closing", who="marit")
    cure = door.post("/v1/cures", {"schedule": "Room overnight", "parts": [part]}, who="marit")["code"]
    forward(hours=16)
    door.post(f"/v1/cures/{cure}/declaration", {"remark": "21 °C in the morning", "ended": True}, who="marit")
    door.post(f"/v1/parts/{part}/demoulding", who="marit")
    door.post(f"/v1/parts/{part}/inspections", {"accepted": True}, who="jonas")
    # Giving the secret tells the account nothing of the job, so it is no write of it.
    api.shop.tokens["jonas"] = api.post("/v1/signing", {"secret": "kelp and 40 rivets"}, who="jonas")["token"]
    door.post(f"/v1/parts/{part}/release", {"reviewed": True}, who="jonas")

    assert api.get(f"/v1/parts/{part}", who="jonas")["state"] == "released"
    assert door.writes <= MOST_WRITES, door.writes
