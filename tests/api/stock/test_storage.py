"""What a thermometer in a place says of the cans that stood there (shop rule 14)."""

from datetime import datetime, timedelta
from typing import Any

import pytest

from service.database import connected, listed, on_postgresql, rows_of
from service.operations.stock import storage
from service.records.base import microseconds
from service.records.items import Item
from tests import makers
from tests.benchmarks.grow import measure_a_place


@pytest.fixture
def can(api: Any) -> str:
    makers.supplier(api)
    api.place = makers.place(api)
    api.resin = makers.material(api, "Alder 10 resin", "resin", storage_low_c=15, storage_high_c=25)
    return makers.cans(api, api.resin, api.place, "26-1")[0]


def _read(api: Any, temperature_c: float) -> None:
    api.post(f"/v1/places/{api.place}/readings", {"temperature_c": temperature_c}, who="lead")


def _said(api: Any, can: str) -> list[str]:
    fitness = api.get(f"/v1/containers/{can}")["fitness"]
    return [r["sentence"] for r in fitness["reasons"] if r["kind"] == "stored-outside"]


def test_a_place_that_nobody_measures_is_noted_and_one_in_range_is_not(api: Any, can: str) -> None:
    assert "Storage not monitored." in api.get(f"/v1/containers/{can}")["fitness"]["notes"]
    _read(api, 18)
    assert "Storage not monitored." not in api.get(f"/v1/containers/{can}")["fitness"]["notes"]
    assert _said(api, can) == []


def test_a_span_out_of_range_is_told_with_its_peak_and_its_hours(api: Any, can: str) -> None:
    _read(api, 18)
    api.shop.clock.forward(hours=6)
    _read(api, 31.5)
    api.shop.clock.forward(hours=3)
    _read(api, 28)
    api.shop.clock.forward(hours=2)
    _read(api, 22)
    assert _said(api, can) == [
        "It stood at up to 31.5 °C in Shelf B2 from 10:00 to 19:00, 9.0 h; it keeps at 15 to 25 °C. "
        "Quality has not reviewed it."
    ]


def test_a_reading_speaks_for_what_stood_there_since_the_reading_before(api: Any, can: str) -> None:
    """A can that came an hour before a hot reading was an hour in the heat; one that left before it, until it left."""
    _read(api, 18)
    elsewhere = makers.place(api, "Cupboard C1")
    api.shop.clock.forward(hours=4)
    api.post(f"/v1/items/{can}/moves", {"place": elsewhere})
    api.shop.clock.forward(hours=1)
    later = makers.cans(api, api.resin, api.place, "26-2")[0]
    api.shop.clock.forward(hours=1)
    _read(api, 40)
    assert "1.0 h" in _said(api, later)[0]
    assert "from 10:00 to 14:00, 4.0 h" in _said(api, can)[0]


def test_moving_a_can_heals_and_harms_nothing(api: Any, can: str) -> None:
    freezer = makers.place(api, "Freezer")
    api.post(f"/v1/places/{freezer}/readings", {"temperature_c": -18})
    api.shop.clock.forward(hours=1)
    _read(api, 9.5)
    told = _said(api, can)
    assert len(told) == 1
    api.shop.clock.forward(hours=1)
    api.post(f"/v1/items/{can}/moves", {"place": freezer})
    api.shop.clock.forward(minutes=1)
    api.post(f"/v1/items/{can}/moves", {"place": makers.place(api, "Cupboard C1")})
    assert _said(api, can) == told


def test_a_reading_from_before_a_can_came_is_not_held_against_it(api: Any, can: str) -> None:
    _read(api, 40)
    api.shop.clock.forward(hours=1)
    later = makers.cans(api, api.resin, api.place, "26-2")[0]
    assert _said(api, later) == []
    assert "Storage not monitored." not in api.get(f"/v1/containers/{later}")["fitness"]["notes"]
    assert len(_said(api, can)) == 1


def test_a_place_that_is_read_no_more_is_not_monitored(api: Any, can: str) -> None:
    _read(api, 18)
    api.shop.clock.forward(days=6)
    assert "Storage not monitored." not in api.get(f"/v1/containers/{can}")["fitness"]["notes"]
    api.shop.clock.forward(days=2)
    assert "Storage not monitored." in api.get(f"/v1/containers/{can}")["fitness"]["notes"]
    api.post(f"/v1/places/{api.place}/settings", {"read_every_days": 30}, who="lead")
    assert "Storage not monitored." not in api.get(f"/v1/containers/{can}")["fitness"]["notes"]


def test_a_thermometer_that_keeps_lowest_and_highest_tells_what_nobody_saw(api: Any, can: str) -> None:
    _read(api, 18)
    api.shop.clock.forward(hours=12)
    body = {"temperature_c": 19, "lowest_c": 12.5, "highest_c": 21}
    api.post(f"/v1/places/{api.place}/readings", body, who="lead")
    assert "down to 12.5 °C" in _said(api, can)[0]
    wrong = api.post(f"/v1/places/{api.place}/readings", {"temperature_c": 19, "lowest_c": 20}, expect=422)
    assert wrong["errors"][0]["pointer"] == "/lowest_c"


def test_what_a_material_bears_is_added_up_over_its_life(api: Any) -> None:
    makers.supplier(api)
    api.place = makers.place(api)
    bears = [{"temperature_c": 35, "hours": 72}]
    resin = makers.material(api, "Alder 10 resin", "resin", storage_low_c=15, storage_high_c=25, bears=bears)
    can = makers.cans(api, resin, api.place, "26-1")[0]
    _read(api, 20)
    for _ in range(3):
        api.shop.clock.forward(hours=24)
        _read(api, 33)
        api.shop.clock.forward(hours=24)
        _read(api, 20)
    fitness = api.get(f"/v1/containers/{can}")["fitness"]
    assert _said(api, can) == []
    assert any("It bears that; 72 h are used up in all." in note for note in fitness["notes"])
    api.shop.clock.forward(hours=1)
    _read(api, 26)
    assert "up to 26 °C" in _said(api, can)[0]


def test_quality_reviews_a_span_once_for_all_cans_concerned(api: Any, can: str) -> None:
    other = makers.cans(api, api.resin, api.place, "26-2")[0]
    began = api.shop.clock.now
    _read(api, 18)
    api.shop.clock.forward(hours=5)
    ended = api.shop.clock.now
    _read(api, 9.5)
    later = makers.cans(api, api.resin, api.place, "26-3")[0]
    body = {"material": api.resin, "begins_at": began.isoformat(), "ends_at": ended.isoformat(), "decision": "use",
            "why": "the supplier allows it"}  # fmt: skip
    api.shop.clock.forward(hours=1)
    api.post(f"/v1/places/{api.place}/reviews", body, expect=403)
    said = api.post(f"/v1/places/{api.place}/reviews", body, who="quality")
    assert set(said["containers"]) >= {can, other}
    for one in (can, other, later):
        assert _said(api, one) == []
    api.shop.clock.forward(hours=1)
    _read(api, 8)
    assert len(_said(api, can)) == 1
    body |= {"ends_at": api.shop.clock.now.isoformat()}
    wrong = api.post(f"/v1/places/{api.place}/reviews", {**body, "decision": "shorten"}, expect=422, who="quality")
    assert wrong["errors"][0]["pointer"] == "/good_until"
    shorter = {**body, "decision": "shorten", "good_until": "2026-12-24"}
    api.post(f"/v1/places/{api.place}/reviews", shorter, who="quality")
    assert api.get(f"/v1/containers/{can}")["expires_on"] == "2026-12-24"
    assert _said(api, can) == []


def test_rejected_cans_are_held_and_what_was_made_of_them_says_so(api: Any) -> None:
    shop = makers.mixing(api)
    began = api.shop.clock.now
    resin = api.get(f"/v1/containers/{shop.resin_can}")
    change = {"storage_low_c": 15, "storage_high_c": 25, "why": "data sheet"}
    version = api.get(f"/v1/materials/{resin['material']}")["version"]
    api.call("PATCH", f"/v1/materials/{resin['material']}", change, who="lead", If_Match=f'"{version}"')
    reading = f"/v1/places/{resin['place']}/readings"
    api.post(reading, {"temperature_c": 20})
    api.shop.clock.forward(hours=1)
    mix = shop.mixed(200)["code"]
    api.shop.clock.forward(hours=1)
    api.post(reading, {"temperature_c": 41})
    body = {"material": resin["material"], "begins_at": began.isoformat(), "ends_at": api.shop.clock.now.isoformat(),
            "decision": "reject", "why": "41 °C"}  # fmt: skip
    said = api.post(f"/v1/places/{resin['place']}/reviews", body, who="quality")
    assert said["made"] == [mix]
    assert [f["kind"] for f in api.get(f"/v1/mixes/{mix}")["flags"]].count("stored-outside") == 1
    assert "rejected: 41 °C" in api.get(f"/v1/containers/{shop.resin_can}")["holds"][0]["reason"]


def test_a_review_of_a_time_in_which_nothing_was_outside_is_refused(api: Any, can: str) -> None:
    began = api.shop.clock.now
    _read(api, 18)
    body = {"material": api.resin, "begins_at": began.isoformat(), "ends_at": began.isoformat(), "decision": "use",
            "why": "to be sure"}  # fmt: skip
    assert api.post(f"/v1/places/{api.place}/reviews", body, expect=409, who="quality")["way_out"]


def test_a_decant_stood_where_its_content_stood(api: Any, can: str) -> None:
    _read(api, 18)
    api.shop.clock.forward(hours=3)
    _read(api, 40)
    api.shop.clock.forward(hours=1)
    with_permit = api.call("POST", f"/v1/containers/{can}/decants", {"mass_g": 100})
    assert with_permit.status_code == 409, "it is asked about first"
    permit = {"kind": "deviation permit", "item": can, "reasons": ["stored-outside"], "why": "the supplier was asked"}
    api.post("/v1/permissions", permit)
    child = api.post(f"/v1/containers/{can}/decants", {"mass_g": 100})["code"]
    assert _said(api, child) == _said(api, can)


def test_it_waits_from_leaving_the_cold_and_not_from_a_move_between_cold_or_warm_places(api: Any) -> None:
    makers.supplier(api)
    freezer, other, bench, shelf = (makers.place(api, name) for name in ("Freezer", "Freezer 2", "Bench", "Shelf B2"))
    for place, cold in ((freezer, True), (other, True), (bench, False)):
        api.post(f"/v1/places/{place}/settings", {"cold": cold}, who="lead")
    api.post(f"/v1/places/{shelf}/readings", {"temperature_c": 21})
    film = makers.material(api, "Film adhesive", "adhesive", warm_up_hours=12)
    can = makers.cans(api, film, freezer, "26-1")[0]

    def moved(place: str) -> Any:
        api.post(f"/v1/items/{can}/moves", {"place": place})
        return api.get(f"/v1/containers/{can}")["not_before"]

    assert moved(other) is None
    left = api.shop.clock.forward(hours=5)
    ready = moved(bench)
    assert ready is not None
    assert datetime.fromisoformat(ready) == left + timedelta(hours=12)
    api.shop.clock.forward(hours=2)
    assert moved(shelf) == ready
    sentence = api.get(f"/v1/containers/{can}")["fitness"]["reasons"][0]["sentence"]
    assert sentence == "Still cold from the store; keep it closed until 4 Nov 03:00, or water gets in."


def test_a_year_of_readings_is_not_gone_through(api: Any, can: str) -> None:
    """Those outside the range are looked up by place and temperature, and the last one by place and time."""
    _read(api, 18)
    with connected():
        measure_a_place("Shelf B2", until=api.shop.clock.now, readings=5000)
        item = Item.get(Item.code == can)
        explain = "EXPLAIN" if on_postgresql() else "EXPLAIN QUERY PLAN"
        until = microseconds(api.shop.clock.now)
        text = f"{explain} {storage._outside_text()}"
        plan = str(rows_of(text, until, listed([item.id]), until, until, until))
    assert "storage_reading_place_id_lowest_c_occurred_at" in plan
    assert "storage_reading_place_id_highest_c_occurred_at" in plan
    assert "storage_reading_place_id_occurred_at" in plan
    assert on_postgresql() or "stay_item_id_since" in plan
    assert "SCAN r" not in plan
    assert "Seq Scan on storage_reading" not in plan
