"""Two halves bonded into one: the trace goes through the joint to what each half was made of, and a hold does too."""

from typing import Any

import pytest

from tests import makers
from tests.journeys.floor import Floor, mg


@pytest.fixture
def halves(floor: Floor) -> dict[str, Any]:
    """Two trimmed halves of pots of their own, and the assembly under way; with the pots."""
    design = floor.design(need_g=480)
    whole = floor.design("HY-300", plies=[], resin_need=[{"purpose": "bonding", "system": "Alder 10", "mass_g": 131}],
                         schedule=None)  # fmt: skip
    found: dict[str, Any] = {"kits": [], "halves": [], "pots": []}
    for _ in range(2):
        half = floor.part(design)
        found["pots"].append(floor.pot((half, 480))["code"])
        found["kits"].append(floor.kit(design, half))
        floor.close_lay_up(half)
        found["halves"].append(half)
    floor.cure(*found["halves"])
    floor.cups_hard(*found["pots"])
    for half in found["halves"]:
        floor.finish(half)
        floor.release(half)
    found["whole"] = floor.part(whole, order="4471", customer="Rowing club")
    return found


def _bonded(floor: Floor, halves: dict[str, Any]) -> Any:
    """An adhesive pot, thickened, on both halves; then closed and cured."""
    api, bench, whole = floor.api, floor.bench, halves["whole"]
    fibres = makers.cans(api, makers.material(api, "Cotton flock", "filler"), bench.place, "CF-1", net_g=500,
                         no_expiry=True)[0]  # fmt: skip
    mix = bench.start(130, purpose="bonding", parts=[whole])["code"]
    bench.pour(mix, bench.resin_can, 100)
    bench.pour(mix, bench.slow_can, 30)
    bench.stir(mix)
    api.post(f"/v1/mixes/{mix}/fillers", {"container": fibres, "mass_g": 12.5, "scale": bench.scale})
    for half in halves["halves"]:
        api.post(f"/v1/parts/{whole}/components", {"component": half})
    bench.apply(mix, (whole, 131), purpose="bonding")
    closed = api.post(f"/v1/mixes/{mix}/closing", {"left_g": 11, "loss_g": 0.5, "cup_kept": True})
    floor.close_lay_up(whole)
    makers.cured(api, whole)
    floor.cups_hard(mix)
    floor.finish(whole, mass_g=2230)
    return closed


def test_the_trace_goes_through_the_joint(floor: Floor, halves: dict[str, Any]) -> None:
    api, whole = floor.api, halves["whole"]
    pot = _bonded(floor, halves)
    assert (pot["flags"], pot["fillers_g"]) == ([], 12.5)
    back = api.get(f"/v1/items/{whole}/trace")
    assert back["counts"] == {"container": 4, "cure": 2, "kit": 2, "lot": 4, "mix": 3, "part": 2}
    there = {i["code"]: i for i in back["items"]}
    assert {*halves["halves"], *halves["pots"], *halves["kits"], pot["code"]} <= there.keys()
    assert {there[half]["state"] for half in halves["halves"]} == {"fitted"}
    into = {(m["source"], m["target"]): m.get("amount_g") for m in back["movements"]}
    assert into[pot["code"], whole] == 131
    assert [into[half, whole] for half in halves["halves"]] == [None, None], "traced; a part is no mass of another"
    # All that left the can of resin: two pots of halves and the adhesive.
    drawn = sum(mg(m["amount_g"]) for m in back["movements"] if m["source"] == floor.bench.resin_can)
    assert drawn == 5_000_000 - floor.left_mg(floor.bench.resin_can) == 2 * 384_600 + 100_000
    forward = api.get(f"/v1/items/{halves['pots'][0]}/trace?direction=forward")
    assert {i["code"] for i in forward["items"]} == {halves["pots"][0], halves["halves"][0], whole}

    assert floor.open_points(whole) == []
    floor.release(whole)
    record = api.get(f"/v1/parts/{whole}/record")
    assert sorted(c["code"] for c in record["components"]) == sorted(halves["halves"])
    for half in record["components"]:
        assert (half["plies"], half["missing_plies"]) == ([1, 2, 3], [])
        assert [closing["by"] for closing in half["closings"]] == ["Laminator"]
        assert [(i["accepted"], i["by"]) for i in half["inspections"]] == [(True, "Quality")]
        assert half["released_by"] == "Lead"
    applied = {pot["code"]: [a["part"] for a in pot["applied"]] for pot in record["pots"]}
    assert [applied[pot] for pot in halves["pots"]] == [[half] for half in halves["halves"]], (
        "each half has its own pot"
    )
    signed = {(s["meaning"], s["item"]): s["entry"] for s in record["signatures"]}
    assert {("lay-up complete", half) for half in halves["halves"]} <= signed.keys()
    entry = api.get(f"/v1/journal?item={whole}&operation=release_part", who="quality")[-1]["seq"]
    assert (signed["released", whole], None in signed.values()) == (entry, False)
    assert len(set(signed.values())) == len(signed), "each signature is an entry of its own"
    scale = record["scale_checks"][0]
    assert (scale["scale"], scale["occurred_at"]) == (floor.bench.scale, None), "nobody had checked it"
    assert {p["code"] for p in record["pots"]} == {*halves["pots"], pot["code"]}
    assert floor.ship(whole)["state"] == "shipped"


def test_a_half_that_nobody_released_stops_the_whole(floor: Floor, halves: dict[str, Any]) -> None:
    api, whole, spare = floor.api, halves["whole"], floor.part(floor.design("HY-301", plies=[]))
    api.post(f"/v1/parts/{spare}/closing")
    makers.cured(api, spare)
    said = api.post(f"/v1/parts/{whole}/components", {"component": spare})["flags"]
    assert ("component-not-released", True) in [(f["kind"], f["stops"]) for f in said]
    assert (whole, "component-not-released") in floor.open_points(whole)
    asked = {"kind": "concession", "item": whole, "reasons": ["component-not-released"], "why": "looked at since"}
    number = api.post("/v1/permissions", asked, who="lead")["id"]
    api.post(f"/v1/permissions/{number}/signature", {"permitted": True}, who="quality")
    assert (whole, "component-not-released") not in floor.open_points(whole)


def test_a_hold_on_what_one_half_was_made_of_stops_the_whole(floor: Floor, halves: dict[str, Any]) -> None:
    api, whole = floor.api, halves["whole"]
    _bonded(floor, halves)
    first, second = halves["halves"]
    hold = api.post("/v1/holds", {"item": halves["pots"][0], "reason": "cup soft after a week"}, who="lead")
    assert makers.reached(api, hold) == {first, whole}
    assert api.get(f"/v1/parts/{second}")["holds"] == []
    assert floor.open_points(whole) == [(halves["pots"][0], "on-hold")]
    api.refused(f"/v1/parts/{whole}/release", {"reviewed": True}, "not-releasable", who="lead")
    # A half that is fitted is not taken for another assembly.
    spare = floor.part(floor.design("HY-301", plies=[]))
    api.refused(f"/v1/parts/{spare}/components", {"component": first}, "wrong-state")


def test_a_recall_counts_what_is_in_a_part_with_what_it_was_fitted_into(floor: Floor, halves: dict[str, Any]) -> None:
    """By hand: 480 g of a pot of 500 g with 115.4 g of hardener on each half, 131 g of one of 142.5 g with 30 g."""
    api, whole = floor.api, halves["whole"]
    _bonded(floor, halves)
    lot = api.get(f"/v1/containers/{floor.bench.slow_can}")["lot"]
    recall = api.post("/v1/recalls", {"item": lot, "reason": "soft", "papers": False}, who="lead")
    grams = {p["code"]: p["mass_g"] for p in recall["pieces"]}
    assert grams[whole] == pytest.approx(2 * 480 * 115.4 / 500 + 131 * 30 / 142.5, abs=0.001)
    assert [grams[half] for half in halves["halves"]] == [0, 0]
    # Of a cure nothing is weighed.
    cure = api.get(f"/v1/parts/{halves['halves'][0]}")["cures"][0]["code"]
    recall = api.post("/v1/recalls", {"item": cure, "reason": "cold", "papers": False}, who="lead")
    assert {p["mass_g"] for p in recall["pieces"]} == {None}
    assert whole in {p["code"] for p in recall["pieces"]}
