"""A polyester shop takes a part from delivery to release: gel coat by per cent, promoter, peroxide, and the papers."""

import re
from typing import Any

from service.database import connected
from service.records.items import Item, Label
from tests import makers, polyester
from tests.journeys.floor import Floor


def _gel_coat(floor: Floor, bench: polyester.Polyester) -> tuple[int, str]:
    """A promoted gel coat with its own lines for the same peroxide."""
    api = floor.api
    gel = makers.material(api, "Sorrel gel coat white", "gel coat", density_g_ml=1.2, h_codes=["H226", "H315"])
    lines = [{"temperature_from_c": 18, "temperature_to_c": 25, "lowest_pct": 1.5, "target_pct": 2.0,
              "highest_pct": 2.5}]  # fmt: skip
    life = [{"percent": 2, "temperature_c": 20, "life_min": 15}]
    asked = [polyester.catalyst(bench.peroxide, doses=lines, life=life)]
    system = polyester.system(api, gel, asked, "Sorrel gel coat", stir_min=1)
    return system["id"], makers.cans(api, gel, bench.place, "G-1", net_g=10_000)[0]


def _close(floor: Floor, mix: str, part: str, left_g: float = 20) -> None:
    floor.api.post(f"/v1/mixes/{mix}/applications", {"parts": [{"part": part}]})
    floor.api.post(f"/v1/mixes/{mix}/closing", {"left_g": left_g, "cup_kept": True})


def test_a_polyester_part_from_delivery_to_record_and_investigation(floor: Floor) -> None:
    api, clock = floor.api, floor.clock
    bench = polyester.stocked(api)
    gel_system, gel_can = _gel_coat(floor, bench)
    need = [
        {"purpose": "gel coat", "system": "Sorrel gel coat", "mass_g": 380, "spread_pct": 25},
        {"purpose": "wet-out", "system": "Sorrel 4", "mass_g": 990, "spread_pct": 25},
    ]
    makers.schedule(api, "Room overnight", evidence="declared", demould_below_c=40)
    design = floor.design("HP-10", resin_need=need, schedule="Room overnight")
    floor.ready_mould()
    part = floor.part(design, mould=floor.mould["code"])

    # Gel coat: by per cent, the catalyst by the measure.
    measure = api.post("/v1/measures", {"name": "Catalyst measure", "step_ml": 0.5, "capacity_ml": 50}, who="lead")
    cans = [{"container": gel_can}, {"container": bench.bottle}]
    gel = bench.start(system=gel_system, purpose="gel coat", resin_g=400, containers=cans, parts=[part],
                      hardener_scale=measure["code"])["code"]  # fmt: skip
    bench.pour(gel, gel_can, 400)
    coated = bench.pour(gel, bench.bottle, reading_ml=7, scale=measure["code"])
    assert (coated["judgement"]["verdict"], coated["next"]) == ("within", None)
    bench.stir(gel, 2)
    _close(floor, gel, part)
    clock.forward(minutes=40)
    api.post(f"/v1/parts/{part}/steps", {"kind": "tack test", "result": "marks"})

    # Laminating resin: promoter first and stirred, a second scan, then the peroxide.
    pot = bench.promoted(parts=[part])["code"]
    bench.pour(pot, bench.plain_can, 1000)
    bench.pour(pot, bench.promoter_can, 4, scale=bench.fine)
    bench.stir(pot, 2)
    api.post(f"/v1/mixes/{pot}/catalyst", {"container": bench.bottle, "promoter_away": True})
    mixed = bench.pour(pot, bench.bottle, 15)
    assert mixed["judgement"]["verdict"] == "within"
    bench.stir(pot, 3)
    floor.kit(design, part)
    _close(floor, pot, part)
    floor.close_lay_up(part)
    cure = api.post("/v1/cures", {"schedule": "Room overnight", "parts": [part]})["code"]
    clock.forward(hours=16)
    api.post(f"/v1/cures/{cure}/declaration", {"remark": "21 °C overnight"})
    api.post(f"/v1/cures/{cure}/end")
    floor.cups_hard(gel, pot)
    floor.finish(part)
    assert floor.open_points(part) == []
    assert floor.release(part)["state"] == "released"

    record = api.get(f"/v1/parts/{part}/record", who="quality")
    told = {p["code"]: p for p in record["pots"]}
    said = "Sorrel K50 1.50 % of the resin, 1 to 2 % allowed at 20 to 25 °C, Sorrel cobalt 1 0.40 %."
    assert told[pot]["catalyst_line"] == said
    assert [w["component"] for w in told[pot]["weighings"]] == ["resin", "promoter", "catalyst"]
    assert any("explode" in line for line in told[gel]["cautions"])
    materials = {m["container"] for m in record["materials"]}
    assert {gel_can, bench.plain_can, bench.promoter_can, bench.bottle} <= materials
    report = api.get(f"/v1/parts/{part}/investigation", who="quality")
    assert {p["code"] for p in report["account"]["pots"]} == {gel, pot}
    for paper in ("record", "investigation"):
        answer = api.call("GET", f"/v1/parts/{part}/{paper}.pdf", who="quality")
        assert answer.data.startswith(b"%PDF-1.7"), answer.data[:200]
    # The label of the cup carries what is in it: the peroxide heated may burn.
    for code in (pot, bench.bottle):
        api.post(f"/v1/items/{code}/labels", {"size": "100x50"})
        with connected():
            facts = Label.get(Label.item == Item.get(Item.code == code).id).facts
        assert {"H242", "H314"} <= set(facts["h_codes"]), code
        assert api.call("GET", f"/v1/items/{code}/labels/1.pdf").data.startswith(b"%PDF-1.7")
    api.post(f"/v1/items/{gel}/labels", {"size": "100x50"})
    with connected():
        mass = Label.get(Label.item == Item.get(Item.code == gel).id).facts["mass"]
    assert re.fullmatch(r"40\d(\.\d)? g", mass), "as a scale shows it"


def test_a_wrong_order_holds_the_part_until_quality_accepts_it(floor: Floor) -> None:
    api = floor.api
    bench = polyester.stocked(api)
    part = makers.started_part(api, "HP-11", need_g=None)
    pot = bench.promoted(parts=[part])["code"]
    bench.pour(pot, bench.plain_can, 1000)
    held = bench.pour(pot, bench.bottle, 23)
    assert held["holds"]
    bench.stir(pot)
    used: Any = api.post(f"/v1/mixes/{pot}/applications", {"parts": [{"part": part, "mass_g": 900}]})
    assert {"promoter-missing", "no-second-scan"} <= {f["kind"] for f in used["flags"]}
    assert api.get(f"/v1/parts/{part}")["holds"]
    floor.concede(pot, "promoter-missing", why="cured hard all the same, Barcol 38 after a day")
    assert not [h for h in api.get(f"/v1/mixes/{pot}")["holds"] if "before Sorrel cobalt" in h["reason"]]
    told = api.get(f"/v1/parts/{part}/record", who="quality")["standing_out"]
    over = next(one for one in told if one["kind"] == "ratio")
    assert over["lead"] + over["rest"] == (
        "The wet-out pot ran 53.3 % over on catalyst: Sorrel K50 2.30 % of the resin, 1 to 2 % allowed at 20 to 25 °C, "
        "no Sorrel cobalt 1."
    )
