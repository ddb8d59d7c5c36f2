"""Two persons: who wrote a revision does not approve it, who asks for a longer life does not agree to it, and no
refusal is a dead end."""

import json
from typing import Any

from service.database import connected
from service.records.items import Flag
from service.records.journal import Entry
from tests import makers

ALONE = "alone: the shop has no second person for it, because one laminator and one boat"


def _alone_in(api: Any, *what: str) -> None:
    version = api.get("/v1/site")["version"]
    said = {"alone_in": list(what), "why": "one laminator and one boat"}
    answer = api.call("PATCH", "/v1/site", said, who="administrator", If_Match=f'"{version}"')
    assert answer.status_code == 200, answer.get_data(as_text=True)


def test_a_revision_is_approved_by_another_than_whoever_wrote_or_changed_it(api: Any) -> None:
    drafts = {
        "designs": makers.design(api, approved=False),
        "schedules": makers.schedule(api, approved=False),
        "resin-systems": makers.resin_system(
            api, makers.material(api, "Alder 10 resin", "resin"),
            {makers.material(api, "Alder 32 slow hardener", "hardener"): 30}, approved=False,
        ),
    }  # fmt: skip
    for kind, made in drafts.items():
        path, changed = f"/v1/{kind}/{made['id']}", {"longest_interval_min": 6}
        changed = {"name": "Other half"} if kind == "designs" else changed if kind == "schedules" else {"stir_min": 3}
        version = {"If_Match": f'"{made["version"]}"'}
        assert api.call("PATCH", path, changed, who="second lead", **version).status_code == 200
        for author in ("lead", "second lead"):
            problem = api.refused(f"{path}/approval", {}, "second-person-required", who=author)
            assert problem["detail"].startswith("Whoever wrote ")
            assert problem["way_out"] == "A second person with the role lead or quality does it."
        several = {"designs": "designs", "schedules": "schedules", "resin-systems": "systems"}[kind]
        api.refused("/v1/approvals", {several: [made["id"]]}, "second-person-required", who="lead")
        api.post(f"{path}/approval", who="quality")
    plies = makers.plies(makers.fabric(api), 0, 45)
    first = makers.design(api, "HY-9", approved=False, plies=plies)["id"]
    other_hand = {"part_number": "HY-9P", "revision": "A", "name": "Fin, port", "about": "centreline"}
    own = api.post(f"/v1/designs/{first}/mirror", other_hand, who="quality")
    api.refused(f"/v1/designs/{own['id']}/approval", {}, "second-person-required", who="quality")


def test_a_shop_without_a_second_person_approves_and_extends_alone_and_its_records_say_so(api: Any) -> None:
    made = makers.design(api, approved=False)
    makers.supplier(api)
    resin = makers.material(api, "Alder 10 resin", "resin")
    lot = makers.lot(
        api, resin, makers.place(api), makers_lot="26-1", expires_on="2027-01-31", containers=[{"net_g": 900}]
    )["code"]
    longer = {"until": "2027-06-30", "method": "gel time", "result": "41 min"}
    _alone_in(api, "approval", "extension")
    assert api.post(f"/v1/designs/{made['id']}/approval", who="lead")["approved_by"] == f"Lead ({ALONE})"
    assert api.get("/v1/designs")[0]["approved_by"] == f"Lead ({ALONE})"
    part = makers.laid_up_part(api)
    assert api.get(f"/v1/parts/{part}/record")["design"]["approved_by"] == f"Lead ({ALONE})"
    assert api.post(f"/v1/lots/{lot}/extension", longer, who="quality")["retest_on"] == "2027-06-30"
    with connected():
        (flag,) = Flag.select().where(Flag.kind == "done-alone")
    assert flag.sentence == (
        "Quality did this alone (extension): the shop has no second person for it, because one laminator and one boat"
    )


def test_a_longer_life_is_asked_for_by_one_and_holds_when_another_agreed(api: Any) -> None:
    makers.supplier(api)
    resin = makers.material(api, "Alder 10 resin", "resin")
    made = makers.lot(
        api, resin, makers.place(api), makers_lot="26-1", expires_on="2026-12-31", containers=[{"net_g": 900}]
    )
    path, can = f"/v1/lots/{made['code']}/extension", made["containers"][0]
    api.refused(f"{path}/agreement", {}, "wrong-state", who="lead")
    longer = {"until": "2027-06-30", "method": "gel time", "result": "41 min"}
    asked = api.post(path, longer, who="quality")
    assert (asked["retest_on"], asked["extension_until"]) == (None, "2027-06-30")
    assert asked["extension_asked_by_id"] == api.shop.people["quality"]
    assert api.get(f"/v1/containers/{can}")["good_until"] == "2026-12-31"
    problem = api.refused(f"{path}/agreement", {}, "second-person-required", who="quality")
    assert problem["detail"] == "Whoever asked for a longer life does not agree to it as well."
    agreed = api.post(f"{path}/agreement", who="lead")
    assert (agreed["retest_on"], agreed["extension_until"], agreed["extension_asked_by_id"]) == (
        "2027-06-30",
        None,
        None,
    )
    assert api.get(f"/v1/containers/{can}")["good_until"] == "2027-06-30"
    with connected():
        signed = [json.loads(e.body).get("signs", {}).get("meaning") for e in Entry.select().order_by(Entry.seq)]
    assert [meaning for meaning in signed if meaning in ("asked for", "extended")] == ["asked for", "extended"]
    api.refused(f"{path}/agreement", {}, "wrong-state", who="second lead")
    api.post(path, {**longer, "until": "2027-08-31"}, who="quality")
    api.shop.clock.forward(days=400)
    over = api.refused(f"{path}/agreement", {}, "wrong-state", who="lead")
    assert over["detail"] == f"Lot {made['code']} was to be good until 31 Aug 2027, which is over."


def test_where_nobody_else_has_the_role_the_refusal_names_who_could_be_given_it(api: Any) -> None:
    """One lead who wrote the design, nobody else with the role: the way out is a person, or the shop's settings."""
    made = makers.design(api, approved=False)
    for who in ("second lead", "quality"):
        person = api.shop.people[who]
        version = api.get(f"/v1/people/{person}")["version"]
        left = api.call("PATCH", f"/v1/people/{person}", {"roles": ["laminator"]}, who="administrator",
                        If_Match=f'"{version}"')  # fmt: skip
        assert left.status_code == 200
    problem = api.refused(f"/v1/designs/{made['id']}/approval", {}, "second-person-required", who="lead")
    assert problem["way_out"] == (
        "Nobody else has the role lead or quality: an administrator can give it to Ada or Laminator or Second "
        "Laminator, or say in the shop's settings that there is no second person."
    )
    given = api.shop.people["laminator"]
    version = api.get(f"/v1/people/{given}")["version"]
    api.call("PATCH", f"/v1/people/{given}", {"roles": ["laminator", "lead"]}, who="administrator",
             If_Match=f'"{version}"')  # fmt: skip
    api.post(f"/v1/designs/{made['id']}/approval")


def test_who_mixed_a_pot_of_a_part_decides_nothing_about_the_part(api: Any) -> None:
    """Neither on its nonconformance nor on a concession, though they never touched the part itself."""
    bench = makers.mixing(api)
    both = api.post("/v1/people", {"name": "Ida Holm", "roles": ["quality", "laminator"], "with_key": True},
                    who="administrator")  # fmt: skip
    api.shop.people["ida"], api.shop.keys["ida"] = both["id"], both["secret"]
    api.shop.settle_in("ida")
    makers.design(api)
    part = api.post("/v1/parts", {"part_number": "HY-204"})["code"]
    mix = bench.start(130, who="ida", parts=[part])["code"]
    for can, grams in ((bench.resin_can, 100), (bench.slow_can, 30)):
        body = {"container": can, "scale": bench.scale, "reading_g": grams, "source": "typed"}
        api.post(f"/v1/mixes/{mix}/pours", body, who="ida")
    bench.apply(mix, part)
    measured = [{"name": "mass", "value": 512, "unit": "g", "high": 505}]
    inspected = {"accepted": True, "measurements": measured}
    api.post(f"/v1/parts/{part}/closing")
    makers.cured(api, part)
    api.post(f"/v1/parts/{part}/demoulding", {"temperature_c": 20})
    api.post(f"/v1/parts/{part}/inspections", inspected, who="second lead")
    asked = {"kind": "concession", "item": part, "reasons": ["out-of-limit"], "why": "7 g over, customer agrees"}
    permission = api.post("/v1/permissions", asked, who="second lead")["id"]
    signature, permitted = f"/v1/permissions/{permission}/signature", {"permitted": True}
    problem = api.refused(signature, permitted, "second-person-required", who="ida")
    assert problem["way_out"] == "A second person with the role lead or quality does it."
    found = api.post("/v1/nonconformances", {"item": part, "found": "soft at the tip"}, who="second lead")["id"]
    decision, body = f"/v1/nonconformances/{found}/decision", {"disposition": "use as is", "because": "away from it"}
    problem = api.refused(decision, body, "second-person-required", who="ida")
    assert problem["detail"] == "Whoever opened a nonconformance, or made the part, does not decide it."
    api.post(signature, permitted, who="quality")
    api.post(decision, body, who="quality")
