"""Day one: half-used cans stand on the shelf; what is known of them is taken down, and what is not is said."""

from datetime import timedelta
from typing import Any

import pytest

from tests import makers
from tests.journeys.floor import Floor, mg


def _found(floor: Floor, material: int, **facts: Any) -> Any:
    body = {"material": material, "place": floor.bench.place, **facts}
    return floor.api.post("/v1/opening-stock", body)


@pytest.fixture
def half_cans(floor: Floor) -> dict[str, str]:
    """Half a can of resin with an estimated date, half a can of hardener open for months, both weighed; by name."""
    api = floor.api
    hardener = api.get(f"/v1/materials/{floor.bench.slow}")
    etag = f'"{hardener["version"]}"'
    path = f"/v1/materials/{floor.bench.slow}"
    limit = {"opened_life_days": 180, "why": "data sheet"}
    assert api.call("PATCH", path, limit, who="lead", If_Match=etag).status_code == 200
    opened = (floor.clock.now - timedelta(days=150)).isoformat()
    resin = _found(
        floor, floor.bench.resin, makers_lot="25-0311", expires_on="2027-03-31", dates_estimated=True,
        remark="label half gone; the date is from the delivery book",
        containers=[{"net_g": 2150, "gross_g": 2400, "tare_g": 250, "labelled_net_g": 5000, "opened_at": opened}],
    )  # fmt: skip
    slow = _found(
        floor, floor.bench.slow, makers_lot="25-0320", expires_month="2027-05",
        containers=[{"net_g": 640, "gross_g": 725, "labelled_net_g": 1000, "opened_at": opened}],
    )  # fmt: skip
    return {"resin": resin["containers"][0], "resin lot": resin["code"], "slow": slow["containers"][0],
            "slow lot": slow["code"]}  # fmt: skip


def test_half_cans_found_on_day_one_are_weighed_dated_released_and_used(
    floor: Floor, half_cans: dict[str, str]
) -> None:
    api, bench = floor.api, floor.bench
    cans = half_cans["resin"], half_cans["slow"]
    waiting = bench.refused("not-fit", containers=[{"container": c} for c in cans])
    assert "quarantine" in waiting["detail"]
    for lot in (half_cans["resin lot"], half_cans["slow lot"]):
        api.post(f"/v1/lots/{lot}/release", expect=403)
        released = api.post(f"/v1/lots/{lot}/release", who="lead")
        receipt = released["receipts"][0]
        assert (receipt["kind"], receipt["delivery_note"], receipt["supplier_name"]) == ("opening stock", None, None)
    assert api.get(f"/v1/lots/{half_cans['resin lot']}")["date_basis"] == "estimated"
    resin, slow = (api.get(f"/v1/containers/{c}") for c in cans)
    assert (resin["state"], resin["left_g"], resin["net_g"], resin["tare_g"]) == ("open", 2150, 5000, 250)
    # Opened 150 days ago, 180 allowed: good until 30 days from now, before the month's end that the label gives.
    assert (slow["good_because"], slow["good_until"], slow["expires_on"]) == ("opened", "2026-12-03", "2027-05-31")
    assert (slow["tare_g"], slow["fitness"]["answer"]) == (85, "fit")

    closed = floor.pot(total_g=260, cans=cans, left_g=258.5)
    assert closed["judgement"]["verdict"] == "within"
    assert [floor.left_mg(c) for c in cans] == [2_150_000 - 200_000, 640_000 - 60_000]
    weighed = api.post(f"/v1/containers/{cans[0]}/weighings", {"gross_g": 2194.5})
    assert mg(weighed["left_g"]) == 2_194_500 - 250_000

    floor.clock.forward(days=31)
    late = bench.refused("not-fit", containers=[{"container": c} for c in cans])
    assert [r["kind"] for r in late["reasons"]] == ["open-too-long"]
    assert late["instead"] == [bench.slow_can]


def test_a_can_without_a_label_is_barred_from_what_must_be_traceable_and_free_for_the_rest(floor: Floor) -> None:
    api, bench = floor.api, floor.bench
    nameless = _found(floor, bench.resin, unknown_because="label dissolved", expires_on="2027-03-31",
                      dates_estimated=True, containers=[{"net_g": 900, "gross_g": 1000}])  # fmt: skip
    can = nameless["containers"][0]
    api.post(f"/v1/lots/{nameless['code']}/release", who="lead")
    asked = [{"container": can}, {"container": bench.slow_can}]
    traceable, free = floor.design(), floor.design("HY-900", traceable=False, plies=[], need_g=250)
    barred = bench.refused("lot-not-known", containers=asked, parts=[floor.part(traceable)])
    assert barred["container"] == can
    part = floor.part(free)
    pot = floor.pot(part, total_g=260, cans=(can, bench.slow_can), parts=[part])
    floor.close_lay_up(part)
    floor.cure(part)
    floor.cups_hard(pot["code"])
    floor.finish(part)
    assert floor.open_points(part) == []
    floor.release(part)
    used = {m["container"]: m for m in api.get(f"/v1/parts/{part}/record")["materials"]}[can]
    assert (used["makers_lot"], used["lot_unknown_because"]) == (None, "label dissolved")
    assert used["date_basis"] == "estimated"


def test_a_second_delivery_of_the_lot_on_the_shelf_waits_on_its_own(floor: Floor, half_cans: dict[str, str]) -> None:
    api, bench = floor.api, floor.bench
    api.post(f"/v1/lots/{half_cans['slow lot']}/release", who="lead")
    again = makers.lot(api, bench.slow, bench.place, makers_lot="25-0320", released=False, expires_on="2027-05-31",
                       containers=[{"net_g": 1000}])  # fmt: skip
    assert again["code"] != half_cans["slow lot"], "the shelf's own has no supplier that is known"
    fresh = again["containers"][0]
    assert api.get(f"/v1/containers/{fresh}")["fitness"]["answer"] == "leave"
    assert api.get(f"/v1/containers/{half_cans['slow']}")["fitness"]["answer"] == "fit"
