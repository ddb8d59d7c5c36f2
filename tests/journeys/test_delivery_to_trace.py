"""From the van to the failed part and back: one call says what it was made of, and every milligram is accounted for."""

import io
import json
from collections import defaultdict
from typing import Any

import pypdfium2

from tests import makers
from tests.journeys.floor import Floor, mg


def _delivered(floor: Floor) -> tuple[str, str]:
    """A lot of resin with its certificate, from the van to an open, labelled can; the codes of lot and can."""
    api, place = floor.api, floor.bench.place
    resin = api.get(f"/v1/materials/{floor.bench.resin}")
    change = {"certificate_wanted": "3.1", "opened_life_days": 365, "h_codes": ["H315", "H317", "H319", "H411"],
              "why": "data sheet revision 6"}  # fmt: skip
    etag = f'"{resin["version"]}"'
    assert api.call("PATCH", f"/v1/materials/{resin['id']}", change, who="lead", If_Match=etag).status_code == 200
    body = {"material": resin["id"], "supplier": 1, "delivery_note": "LN 4471", "place": place, "makers_lot": "26-0914",
            "expires_on": "2026-12-31", "containers": [{"net_g": 5000, "count": 2}]}  # fmt: skip
    lot = api.post("/v1/deliveries", body)
    can = lot["containers"][0]
    assert lot["state"] == "quarantine"
    asked = [{"container": can}, {"container": floor.bench.slow_can}]
    assert "quarantine" in floor.bench.refused("not-fit", containers=asked)["detail"]
    release = f"/v1/lots/{lot['code']}/release"
    api.refused(release, {}, "certificate-missing", who="lead")
    kept = api.call("POST", "/v1/documents?name=certificate.pdf", b"%PDF-1.7 lot 26-0914", who="lead").get_json()
    paper = {"type": "3.1", "number": "AC-1881", "issued_on": "2026-09-14", "document": kept["id"]}
    wrong = api.refused(f"/v1/lots/{lot['code']}/certificates", {**paper, "makers_lot": "26-0194"}, "invalid",
                        status=422, who="lead")  # fmt: skip
    assert "26-0194" in wrong["detail"]
    api.post(f"/v1/lots/{lot['code']}/certificates", {**paper, "makers_lot": "26-0914"}, who="lead")
    api.post(release, {}, who="laminator", expect=403)
    assert api.post(release, {}, who="lead")["state"] == "released"
    label = api.post(f"/v1/items/{can}/labels", {"size": "100x50"})
    pdf = api.call("GET", label["pdf"])
    assert pdf.data.startswith(b"%PDF")
    scanned = api.client.get(f"/I/{can}/1", headers={"Accept": "application/json"}).get_json()
    assert (scanned["kind"], scanned["void"]) == ("container", False)
    assert api.post(f"/v1/containers/{can}/opening")["good_until"] == "2026-12-31"
    return lot["code"], can


def _gel_coat(floor: Floor) -> Any:
    """A gel coat system with cans of its own, as another bench."""
    api, place = floor.api, floor.bench.place
    gel = makers.material(api, "Alder 40 gel coat", "gel coat", density_g_ml=1.2)
    hard = makers.material(api, "Alder 41 gel coat hardener", "gel coat hardener", density_g_ml=1.0)
    system = makers.resin_system(api, gel, {hard: 20}, name="Alder 40", largest_pot_g=400)
    return makers.Mixing(
        api=api, place=place, resin=gel, slow=hard, fast=hard, system=system["id"], scale=floor.bench.scale,
        resin_can=makers.cans(api, gel, place, "G-1", net_g=1000)[0],
        slow_can=makers.cans(api, hard, place, "GH-1", net_g=500)[0], fast_can="",
    )  # fmt: skip


def _gel_pot(floor: Floor, gel: Any, part: str) -> Any:
    api = floor.api
    mix = gel.start(180, purpose="gel coat", parts=[part])["code"]
    gel.pour(mix, gel.resin_can, 150.0)
    gel.pour(mix, gel.slow_can, 30.1)
    gel.stir(mix)
    gel.apply(mix, (part, 165.25))
    closed = api.post(f"/v1/mixes/{mix}/closing", {"gross_g": 52.4, "cup_g": 41, "cup_kept": True})
    path = f"/v1/parts/{part}/steps"
    api.post(path, {"kind": "gel coat thickness", "thickness_mm": 0.52})
    floor.clock.forward(minutes=40)
    api.post(path, {"kind": "tack test", "result": "marks", "temperature_c": 20})
    return closed


def test_what_left_the_cans_is_in_parts_cups_and_loss_to_the_milligram(floor: Floor) -> None:
    api, bench = floor.api, floor.bench
    lot, can = _delivered(floor)
    gel = _gel_coat(floor)
    checked = api.post(f"/v1/scales/{bench.scale}/checks",
                       {"weight": "W-500-1", "nominal_g": 500, "reading_g": 500.1, "limit_g": 0.2})  # fmt: skip
    assert checked["check_state"] != "failed"
    floor.ready_mould()
    design = floor.design(need_g=300)
    part = floor.part(design, mould=floor.mould["code"], order="4471", customer="Rowing club")
    sister = floor.part(design)
    pots = [_gel_pot(floor, gel, part)]
    kits = [floor.kit(design, code) for code in (part, sister)]
    used = [can, bench.slow_can]
    pots.append(floor.pot(part, sister, total_g=521.3, cans=used, parts=[part, sister]))
    pots.append(floor.pot((part, 115.7), total_g=130, cans=used, parts=[part]))
    assert [p["judgement"]["verdict"] for p in pots] == ["within"] * 3
    assert [f["kind"] for p in pots for f in p["flags"]] == []
    for code in (part, sister):
        assert floor.close_lay_up(code)["flags"] == []
    cure = floor.cure(part, sister)
    assert (cure["passed"], cure["evidence"]) == (True, "part probe")
    floor.cups_hard(*(p["code"] for p in pots))
    for code in (part, sister):
        floor.finish(code)
    assert floor.open_points(part) == []
    floor.release(part)
    label = api.post(f"/v1/items/{part}/labels", {"size": "62"})
    assert api.call("GET", label["pdf"]).data.startswith(b"%PDF")
    assert floor.ship(part)["state"] == "shipped"

    _masses_close(floor, [can, bench.slow_can, gel.resin_can, gel.slow_can], pots)

    floor.clock.forward(days=60)
    failed = {"item": part, "found": "cracked at the root on the water", "in_service": True, "failed": True,
              "defects": [{"kind": "crack", "zone": "root", "size_mm": 80}]}  # fmt: skip
    api.post("/v1/nonconformances", failed)
    trace = api.get(f"/v1/items/{part}/trace")
    assert trace["counts"] == {"container": 6, "cure": 1, "kit": 1, "lot": 6, "mix": 3}
    there = {item["code"]: item for item in trace["items"]}
    assert {lot, can, bench.slow_can, gel.resin_can, kits[0], cure["code"], floor.mould["agent"]} <= there.keys()
    assert (there[can]["makers_lot"], there[part]["failed"]) == ("26-0914", True)
    assert kits[1] not in there
    assert sister not in there

    shared = {s["code"]: s for s in api.get(f"/v1/parts/{part}/sharing")["shared"]}
    assert [o["code"] for o in shared[pots[1]["code"]]["others"]] == [sister]
    assert shared[can]["parts"] == shared[cure["code"]]["in_work"] == 1
    assert shared[pots[2]["code"]]["parts"] == shared[gel.resin_can]["parts"] == shared[kits[0]]["parts"] == 0
    assert floor.mould["code"] in shared
    _reports_agree(floor, part, sister, pots)


def _masses_close(floor: Floor, cans: list[str], pots: list[Any]) -> None:
    api = floor.api
    gone = {can: mg(api.get(f"/v1/containers/{can}")["net_g"]) - floor.left_mg(can) for can in cans}
    poured: dict[str, int] = defaultdict(int)
    for pot in pots:
        inside = sum(mg(p["net_g"]) for p in pot["pours"])
        for pour in pot["pours"]:
            poured[pour["container"]] += mg(pour["net_g"])
        closing, applied = pot["closing"], sum(mg(a["mass_g"]) for a in pot["applications"])
        assert applied == mg(closing["applied_g"])
        assert inside == applied + mg(closing["left_g"]) + mg(closing["loss_g"])
        assert api.get(f"/v1/items/{pot['code']}")["balance_g"] == 0
    assert gone == dict(poured)
    # The same from the other end: what the parts' traces say went into them.
    into: dict[tuple[str, str], int] = {}
    for part in {a["part"] for pot in pots for a in pot["applications"]}:
        for movement in api.get(f"/v1/items/{part}/trace")["movements"]:
            if movement["kind"] == "application":
                into[movement["source"], movement["target"]] = mg(movement["amount_g"])
    assert sum(into.values()) == sum(mg(pot["closing"]["applied_g"]) for pot in pots)


def _reports_agree(floor: Floor, part: str, sister: str, pots: list[Any]) -> None:
    api = floor.api
    record = api.get(f"/v1/parts/{part}/record")
    assert [p["code"] for p in record["pots"]] == [p["code"] for p in pots]
    assert sum(mg(a["amount_g"]) for p in record["pots"] for a in p["applied"]) == sum(
        mg(a["mass_g"]) for p in pots for a in p["applications"] if a["part"] == part
    )
    assert sister not in json.dumps(record)
    assert {s["meaning"] for s in record["signatures"]} >= {"released", "lay-up complete", "inspected and accepted"}
    found = api.get(f"/v1/parts/{part}/investigation", who="quality")
    assert {s["code"]: s["others"] for s in found["shared"]}[pots[1]["code"]] == [sister]
    for name, who in (("investigation", "quality"), ("record", "integrator")):
        paper = api.call("GET", f"/v1/parts/{part}/{name}.pdf", who=who)
        assert paper.status_code == 200
        text = _words(paper.data).replace(" ", "")
        assert part in text
        assert name == "investigation" or sister not in text
    assert api.call("GET", f"/v1/parts/{part}/investigation", who="integrator").status_code == 403


def _words(pdf: bytes) -> str:
    document = pypdfium2.PdfDocument(io.BytesIO(pdf))
    return " ".join(page.get_textpage().get_text_bounded() for page in document)
