"""Inspection, nonconformance, release and shipment over HTTP: who may, what is open, and what stops it."""

from typing import Any

import pytest

from service.database import connected
from service.records.items import Item
from tests import makers
from tests.api.parts.finished import made, released


def _open(yard: Any, part: str) -> list[str]:
    return [point["kind"] for point in yard.get(f"/v1/parts/{part}/release")["open"]]


def test_a_sample_tells_fibre_resin_and_voids_by_volume_and_its_limit_decides(yard: Any) -> None:
    """W_f 0.65, 1.78, 1.20 and 1.50 g/cm³: 54.78 % fibre, 43.75 % resin, 1.47 % voids (ASTM D3171, from memory)."""
    part = made(yard, densities={"fibre_g_cm3": 1.78, "matrix_g_cm3": 1.20})
    sample = {"zone": "flange", "density_g_cm3": 1.5, "fibre_mass_fraction": 0.65, "most_voids_pct": 1.0}
    view = yard.post(f"/v1/parts/{part}/inspections", {"accepted": True, "samples": [sample]})
    measured = {m["name"]: (m["value"], m["within"]) for m in view["inspections"][0]["measurements"]}
    assert measured == {
        "laminate density, flange": (1.5, None),
        "fibre by volume, flange": (54.78, None),
        "resin by volume, flange": (43.75, None),
        "voids, flange": (1.47, False),
    }
    flag = next(f for f in view["flags"] if f["kind"] == "out-of-limit")
    assert (flag["stops"], "Voids, flange is 1.47 %; at most 1 is asked for" in flag["sentence"]) == (True, True)


@pytest.mark.parametrize(
    ("facts", "sample", "says"),
    [
        ({}, {"fibre_mass_fraction": 0.65}, "the design gives no densities"),
        ({"densities": {"fibre_g_cm3": 1.78, "matrix_g_cm3": 1.2}}, {}, "nobody measured the fibre by mass"),
        ({"densities": {"fibre_g_cm3": 1.1, "matrix_g_cm3": 1.2}}, {"fibre_mass_fraction": 0.6}, "at most 2 % above"),
    ],
)
def test_a_density_is_kept_even_where_nothing_follows_from_it(
    yard: Any, facts: dict[str, Any], sample: dict[str, Any], says: str
) -> None:
    part = made(yard, **facts)
    body = {"accepted": True, "samples": [{"zone": "flange", "density_g_cm3": 1.5, **sample}]}
    found = yard.post(f"/v1/parts/{part}/inspections", body)["inspections"][0]["measurements"]
    assert [(m["name"], m["value"]) for m in found] == [("laminate density, flange", 1.5)]
    assert says in found[0]["sentence"]


def test_a_finished_part_is_inspected_released_and_shipped(yard: Any) -> None:
    part = made(yard)
    path = f"/v1/parts/{part}"
    assert _open(yard, part) == ["no-inspection"]
    measured = [{"name": "thickness, root", "value": 3.1, "unit": "mm", "low": 2.9, "high": 3.4}]
    pinhole = {"kind": "pinhole", "zone": "tip", "size_mm": 0.5, "limit_mm": 1, "accepted": True}
    view = yard.post(f"{path}/inspections", {"accepted": True, "measurements": measured, "defects": [pinhole]})
    assert (view["inspections"][0]["measurements"][0]["within"], view["nonconformances"]) == (True, [])
    yard.refused(f"{path}/shipment", {"document": "LN 1", "customer": "Club"}, "wrong-state", who="lead")
    problem = yard.refused(f"{path}/release", {}, "not-releasable", who="lead")
    assert (problem["open"], [r["kind"] for r in problem["review"]]) == ([], ["cure-declared"])
    view = yard.post(f"{path}/release", {"reviewed": True}, who="lead")
    assert (view["state"], view["released_by"]) == ("released", "Lead")
    yard.refused(f"{path}/release", {"reviewed": True}, "wrong-state", who="quality")
    yard.refused(f"{path}/shipment", {"document": "LN 1"}, "invalid", status=422, who="lead")
    shipped = yard.post(f"{path}/shipment", {"document": "LN 1", "customer": "Rowing club"}, who="integrator")
    assert shipped["shipment"] == {"customer": "Rowing club", "document": "LN 1", "shipped_on": "2026-11-04",
                                   "by": "orders"}  # fmt: skip
    with connected():
        item = Item.get(Item.code == part)
        assert (item.balance, makers.balance_by_movements(item)) == (0, 0)
    yard.refused(f"{path}/shipment", {"document": "LN 2", "customer": "Club"}, "wrong-state", who="lead")


def test_everything_that_is_open_is_listed_at_once(yard: Any) -> None:
    makers.design(yard, plies=makers.plies(yard.glass, 0, 45), schedule=makers.schedule(yard)["name"])
    part = yard.post("/v1/parts", {"part_number": "HY-204"})["code"]
    yard.post(f"/v1/parts/{part}/plies", {"number": 1, "source": yard.roll, "angle_deg": 0, "length_mm": 500})
    yard.post("/v1/holds", {"item": yard.roll, "reason": "flaw at 14 m"})
    yard.post("/v1/nonconformances", {"item": part, "found": "dry patch at the root"})
    problem = yard.refused(f"/v1/parts/{part}/release", {}, "not-releasable", who="lead")
    found = [(p["item"], p["kind"], p["who"]) for p in problem["open"]]
    assert found == [
        (part, "lay-up", "laminator"),
        (part, "in-mould", "laminator"),
        (part, "on-hold", "quality"),
        (yard.roll, "on-hold", "quality"),
        (part, "no-cure", "laminator"),
        (part, "no-inspection", "laminator"),
        (part, "nonconformance", "quality"),
    ]
    yard.post(f"/v1/parts/{part}/closing")
    assert "ply-missing" in _open(yard, part)


def _stays_alone(yard: Any) -> None:
    """All others who could release become laminators."""
    for who in ("quality", "second lead"):
        person = yard.get(f"/v1/people/{yard.shop.people[who]}", who="administrator")
        body = {"roles": ["laminator"], "why": "on the boats this month"}
        tag = f'"{person["version"]}"'
        answer = yard.call("PATCH", f"/v1/people/{person['id']}", body, who="administrator", If_Match=tag)
        assert answer.status_code == 200, answer.get_data(as_text=True)


def test_whoever_had_a_hand_in_making_it_does_not_release_it_unless_the_shop_has_nobody_else(yard: Any) -> None:
    part = made(yard)
    yard.post(f"/v1/parts/{part}/inspections", {"accepted": True})
    release = f"/v1/parts/{part}/release"
    yard.post(release, {"reviewed": True}, who="laminator", expect=403)
    yard.post(release, {"reviewed": True}, who="integrator", expect=403)
    own = yard.post("/v1/parts", {"part_number": "HY-204"}, who="lead")["code"]
    yard.post(f"/v1/parts/{own}/steps", {"kind": "bag"})
    yard.refused(f"/v1/parts/{own}/release", {}, "second-person-required", who="lead")
    ordered = yard.post("/v1/parts", {"part_number": "HY-204"}, who="integrator")["code"]
    yard.post(f"/v1/parts/{ordered}/closing", who="lead")
    yard.refused(f"/v1/parts/{ordered}/release", {}, "second-person-required", who="lead")
    yard.post(f"/v1/parts/{ordered}/demoulding", {"temperature_c": 20}, who="laminator")
    problem = yard.refused(f"/v1/parts/{ordered}/release", {}, "second-person-required", who="lead")
    assert problem["way_out"] == "A second person with the role lead or quality does it."
    yard.refused(f"/v1/parts/{ordered}/release", {}, "not-releasable", who="quality")
    _stays_alone(yard)
    problem = yard.refused(f"/v1/parts/{ordered}/release", {}, "second-person-required", who="lead")
    assert "Nobody else has the role lead or quality: an administrator can give it to Ada or " in problem["way_out"]
    version = yard.get("/v1/site")["version"]
    alone = {"alone_in": ["release"], "why": "four people, one lead"}
    site = yard.call("PATCH", "/v1/site", alone, who="administrator", If_Match=f'"{version}"').get_json()
    assert (site["alone_in"], site["alone_because"]) == (["release"], "four people, one lead")
    yard.refused(f"/v1/parts/{ordered}/release", {}, "not-releasable", who="lead")
    other = yard.post("/v1/parts", {"part_number": "HY-204"}, who="lead")["code"]
    assert yard.get(f"/v1/parts/{other}/release", who="lead")["open"][0]["kind"] != "second-person"
    assert yard.post(release, {"reviewed": True}, who="lead")["state"] == "released"


def test_a_stop_needs_a_concession_that_a_second_person_signs(yard: Any) -> None:
    part = made(yard)
    measured = [{"name": "mass", "value": 512, "unit": "g", "high": 505}]
    view = yard.post(f"/v1/parts/{part}/inspections", {"accepted": True, "measurements": measured})
    assert "512 g; at most 505 is asked for" in view["flags"][-1]["sentence"]
    assert _open(yard, part) == ["on-hold", "out-of-limit"]
    asked = {"kind": "concession", "item": part, "reasons": ["out-of-limit"], "why": "7 g over, customer agrees"}
    permission = yard.post("/v1/permissions", asked)["id"]
    waiting = yard.get(f"/v1/parts/{part}/release")["open"][-1]
    assert f"Concession {permission} is asked for and not signed yet" in waiting["what"]
    yard.post(f"/v1/permissions/{permission}/signature", {"permitted": True}, who="quality")
    check = yard.get(f"/v1/parts/{part}/release")
    assert check["open"] == []
    assert "7 g over, customer agrees" in check["review"][-1]["what"]
    assert yard.post(f"/v1/parts/{part}/release", {"reviewed": True}, who="lead")["state"] == "released"


def test_what_is_not_accepted_is_a_nonconformance_on_hold_at_once(yard: Any) -> None:
    part = made(yard, zones=["root", "tip"])
    path = f"/v1/parts/{part}/inspections"
    defect = {"kind": "delamination", "zone": "root", "size_mm": 12, "limit_mm": 5, "accepted": False}
    yard.refused(path, {"accepted": True, "defects": [defect]}, "invalid", status=422)
    odd = yard.refused(path, {"accepted": False, "defects": [{**defect, "zone": "keel"}]}, "invalid", status=422)
    assert odd["errors"][0]["pointer"] == "/defects/0/zone"
    view = yard.post(path, {"accepted": False, "defects": [defect]}, who="quality")
    opened = view["nonconformances"][0]
    assert (opened["found"], opened["defects"][0]["size_mm"]) == ("delamination in root, 12 mm", 12)
    assert view["holds"][0]["reason"] == f"Nonconformance {opened['id']}: delamination in root, 12 mm"
    decision = f"/v1/nonconformances/{opened['id']}/decision"
    body = {"disposition": "use as is", "because": "away from the bolt, below the load line"}
    yard.post(decision, body, who="lead", expect=403)
    yard.refused(decision, body, "second-person-required", who="quality")


@pytest.fixture
def rejected(yard: Any) -> Any:
    """A trimmed part that the laminator did not accept."""
    yard.part = made(yard)
    view = yard.post(f"/v1/parts/{yard.part}/inspections", {"accepted": False, "remark": "blister at the tip"})
    yard.decision = f"/v1/nonconformances/{view['nonconformances'][0]['id']}/decision"
    return yard


def test_used_as_is_it_is_released_without_another_inspection(rejected: Any) -> None:
    body = {"disposition": "use as is", "because": "cosmetic"}
    decided = rejected.post(rejected.decision, body, who="quality")
    assert (decided["disposition"], decided["decided_by"]) == ("use as is", "Quality")
    rejected.refused(rejected.decision, body, "wrong-state", who="quality")
    check = rejected.get(f"/v1/parts/{rejected.part}/release")
    assert (check["open"], "use-as-is" in [r["kind"] for r in check["review"]]) == ([], True)
    assert rejected.get(f"/v1/parts/{rejected.part}")["holds"] == []


def test_reworked_it_goes_back_and_is_inspected_again(rejected: Any) -> None:
    rejected.post(rejected.decision, {"disposition": "rework", "because": "grind and refill"}, who="quality")
    view = rejected.get(f"/v1/parts/{rejected.part}")
    assert (view["state"], view["holds"]) == ("demoulded", [])
    assert _open(rejected, rejected.part) == ["no-inspection"]
    path = f"/v1/parts/{rejected.part}"
    ply = {"number": 1, "source": rejected.roll, "angle_deg": 0, "length_mm": 100, "confirmed": True}
    again = rejected.post(f"{path}/plies", ply)
    assert "out-of-order" not in [f["kind"] for f in again["flags"]], "rework was decided"
    _concede(rejected, rejected.part, "ply-repeated")
    assert released(rejected, rejected.part)["state"] == "released"


def _concede(yard: Any, item: str, kind: str) -> None:
    asked = {"kind": "concession", "item": item, "reasons": [kind], "why": "patch over the sanded tip"}
    number = yard.post("/v1/permissions", asked)["id"]
    yard.post(f"/v1/permissions/{number}/signature", {"permitted": True}, who="quality")


def _scrap(yard: Any, opened: dict[str, Any]) -> None:
    body = {"disposition": "scrap", "because": "beyond repair"}
    yard.post(f"/v1/nonconformances/{opened['id']}/decision", body, who="quality")


def test_scrapped_it_stays_in_the_record_and_on_hold(rejected: Any) -> None:
    rejected.post(rejected.decision, {"disposition": "scrap", "because": "too large"}, who="quality")
    view = rejected.get(f"/v1/parts/{rejected.part}")
    assert (view["state"], len(view["holds"])) == ("scrapped", 1)
    rejected.refused(f"/v1/parts/{rejected.part}/inspections", {"accepted": True}, "wrong-state")


def test_a_part_that_failed_at_the_customers_stays_shipped(yard: Any) -> None:
    part = made(yard)
    released(yard, part)
    yard.post(f"/v1/parts/{part}/shipment", {"document": "LN 1", "customer": "Club"}, who="lead")
    found = {"item": part, "found": "cracked at the root", "in_service": True, "failed": True,
             "defects": [{"kind": "crack", "zone": "root", "size_mm": 80}]}  # fmt: skip
    opened = yard.post("/v1/nonconformances", found, who="integrator")
    view = yard.get(f"/v1/parts/{part}")
    assert (view["state"], view["holds"][0]["on"], view["defects"][0]["accepted"]) == ("shipped", part, False)
    yard.post(
        f"/v1/nonconformances/{opened['id']}/decision", {"disposition": "scrap", "because": "broken"}, who="quality"
    )
    assert yard.get(f"/v1/parts/{part}")["state"] == "shipped"
    assert [n["id"] for n in yard.get("/v1/nonconformances?failed=true&decided=true")] == [opened["id"]]
    assert yard.get("/v1/nonconformances?decided=false") == []


def test_anything_with_a_code_can_be_nonconforming(yard: Any) -> None:
    opened = yard.post("/v1/nonconformances", {"item": yard.roll, "found": "wet through"})
    yard.refused("/v1/kits", {"cuts": [{"roll": yard.roll, "length_mm": 500}]}, "not-fit")
    body = {"item": yard.roll, "found": "x", "defects": [{"kind": "crack", "zone": "root"}]}
    yard.refused("/v1/nonconformances", body, "invalid", status=422)
    yard.post(
        f"/v1/nonconformances/{opened['id']}/decision", {"disposition": "scrap", "because": "mould"}, who="quality"
    )
    roll = yard.get(f"/v1/containers/{yard.roll}")
    assert (roll["state"], roll["left_mm"]) == ("scrapped", 0)


def test_a_released_part_is_not_shipped_while_something_in_it_is_on_hold(yard: Any) -> None:
    part = made(yard)
    released(yard, part)
    hold = yard.post("/v1/holds", {"item": yard.get(f"/v1/containers/{yard.roll}")["lot"], "reason": "recalled"})
    ship = {"document": "LN 1", "customer": "Club"}
    assert "recalled" in yard.refused(f"/v1/parts/{part}/shipment", ship, "on-hold", who="lead")["detail"]
    yard.post(f"/v1/holds/{hold['id']}/lifting", {"why": "other colour only"}, who="quality")
    yard.post(f"/v1/parts/{part}/shipment", ship, who="lead")


def test_a_release_whose_inspection_was_corrected_away_ships_nothing(yard: Any) -> None:
    part = made(yard)
    released(yard, part)
    entry = yard.get(f"/v1/journal?item={part}&operation=inspect_part", who="quality")[-1]["seq"]
    wrong = {"declaration": "did not occur", "why": "it was the other part"}
    yard.post(f"/v1/journal/{entry}/corrections", wrong, who="quality")
    ship = {"document": "LN 1", "customer": "Club"}
    problem = yard.refused(f"/v1/parts/{part}/shipment", ship, "not-releasable", who="integrator")
    assert problem["detail"].startswith(f"The release of {part} does not stand any more: It was not inspected.")
    assert [point["kind"] for point in problem["open"]] == ["no-inspection"]
    yard.post(f"/v1/parts/{part}/inspections", {"accepted": True})
    opened = yard.post("/v1/nonconformances", {"item": part, "found": "dry patch"})["id"]
    hold = yard.get(f"/v1/parts/{part}")["holds"][0]["id"]
    yard.post(f"/v1/holds/{hold}/lifting", {"why": "looked at"}, who="quality")
    problem = yard.refused(f"/v1/parts/{part}/shipment", ship, "not-releasable", who="lead")
    assert f"Nonconformance {opened} is not decided: dry patch" in problem["detail"]
    decided = {"disposition": "use as is", "because": "within the limit"}
    yard.post(f"/v1/nonconformances/{opened}/decision", decided, who="quality")
    assert yard.post(f"/v1/parts/{part}/shipment", ship, who="lead")["state"] == "shipped"


def test_work_on_a_released_part_stops_it(yard: Any) -> None:
    part = made(yard)
    released(yard, part)
    view = yard.post(f"/v1/parts/{part}/trimming", {"mass_g": 480})
    assert (view["flags"][-1]["kind"], view["flags"][-1]["stops"]) == ("out-of-order", True)
    ship = {"document": "LN 1", "customer": "Club"}
    yard.refused(f"/v1/parts/{part}/shipment", ship, "on-hold", who="lead")


def test_a_lot_that_nobody_knows_stops_a_part_that_must_be_traceable(yard: Any) -> None:
    makers.design(yard, plies=makers.plies(yard.glass, 0))
    part = yard.post("/v1/parts", {"part_number": "HY-204"})["code"]
    roll = makers.roll(yard, yard.glass, yard.place, None)
    yard.post(f"/v1/parts/{part}/plies", {"number": 1, "source": roll, "angle_deg": 0, "length_mm": 500})
    assert "lot-not-known" in _open(yard, part)
    view = yard.post(f"/v1/parts/{part}/closing")
    lot = yard.get(f"/v1/containers/{roll}")["lot"]
    assert [f["kind"] for f in view["flags"]] == ["lot-not-known"]
    assert lot in view["flags"][0]["sentence"]
    again = yard.post(f"/v1/parts/{part}/inspections", {"accepted": True})
    assert len(again["flags"]) == 1, "each lot is told once"
    _concede(yard, part, "lot-not-known")
    assert "lot-not-known" not in _open(yard, part)


def test_a_cure_that_failed_counts_only_with_its_concession(yard: Any) -> None:
    makers.design(yard)
    makers.schedule(yard, "Probe wanted")
    part = yard.post("/v1/parts", {"part_number": "HY-204"})["code"]
    yard.post(f"/v1/parts/{part}/closing")
    cure = yard.post("/v1/cures", {"schedule": "Probe wanted", "parts": [part]})["code"]
    assert "no-cure" in _open(yard, part)
    yard.shop.clock.forward(hours=9)
    yard.post(f"/v1/cures/{cure}/end")
    demoulded = yard.post(f"/v1/parts/{part}/demoulding", {"temperature_c": 20})
    assert "not-cured" not in [f["kind"] for f in demoulded["flags"]], "the cure's own flag says it"
    yard.post(f"/v1/parts/{part}/inspections", {"accepted": True})
    assert _open(yard, part) == ["on-hold", "cure-not-proved", "no-cure"]
    _concede(yard, cure, "cure-not-proved")
    assert _open(yard, part) == []


def test_what_was_late_or_cured_otherwise_is_read_before_release(yard: Any) -> None:
    makers.schedule(yard, "Warm room", evidence="declared")
    part = made(yard, schedule="Warm room")
    late = (yard.shop.clock.now).isoformat()
    yard.shop.clock.forward(minutes=45)
    yard.post(f"/v1/parts/{part}/steps", {"kind": "note", "remark": "sanded", "occurred_at": late})
    yard.post(f"/v1/parts/{part}/inspections", {"accepted": True})
    review = {r["kind"]: r["what"] for r in yard.get(f"/v1/parts/{part}/release")["review"]}
    assert review["late"] == "A step on the part was recorded 45 min after it happened."
    assert "the design asks for Warm room" in review["other-schedule"]


def test_pots_are_closed_and_kept_cups_checked_before_release(api: Any) -> None:
    shop = makers.mixing(api)
    part = makers.started_part(api, "HY-204")
    path = f"/v1/parts/{part}"
    assert "No mix for wet-out" in {r["kind"]: r["what"] for r in api.get(f"{path}/release")["open"]}["no-resin"]
    mix = shop.mixed(400)["code"]
    shop.apply(mix, (part, 380))
    view = api.get(path)
    assert [(m["code"], m["purpose"], m["mass_g"]) for m in view["mixes"]] == [(mix, "wet-out", 380)]
    assert (mix, "mix-open") in [(p["item"], p["kind"]) for p in api.get(f"{path}/release")["open"]]
    api.post(f"/v1/mixes/{mix}/closing", {"left_g": 15, "cup_kept": True})
    check = api.get(f"{path}/release")
    assert "mix-open" not in [p["kind"] for p in check["open"]]
    assert (mix, "cup-not-checked") in [(r["item"], r["kind"]) for r in check["review"]]
    api.post(f"/v1/mixes/{mix}/cup-checks", {"hard": True})
    assert "cup-not-checked" not in [r["kind"] for r in api.get(f"{path}/release")["review"]]


def test_what_stops_a_pot_stops_the_assembly_that_its_part_went_into(api: Any) -> None:
    shop = makers.mixing(api)
    half, whole = makers.started_part(api, "HY-204"), makers.started_part(api, "HY-300")
    mix = shop.mixed(400, hardener_g=100)["code"]
    shop.apply(mix, (half, 380))
    api.post(f"/v1/mixes/{mix}/closing", {"all_used": True})
    api.post(f"/v1/parts/{half}/closing")
    makers.cured(api, half)
    api.post(f"/v1/parts/{half}/demoulding", {"temperature_c": 20})
    api.refused(f"/v1/parts/{whole}/components", {"component": half}, "on-hold")
    _concede(api, mix, "ratio-outside")
    api.post(f"/v1/parts/{whole}/components", {"component": half})
    check = api.get(f"/v1/parts/{whole}/release")
    assert (half, "no-cure") not in [(p["item"], p["kind"]) for p in check["open"]]
    assert (whole, "no-cure") in [(p["item"], p["kind"]) for p in check["open"]]
    assert (mix, "ratio-outside") in [(r["item"], r["kind"]) for r in check["review"]]
