"""What a thermometer in a place says of the cans that stand there: the last reading outside the range."""

import random
from typing import Any

import pytest

from service.database import connected, listed, on_postgresql, rows_of
from service.operations.stock import load
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


def test_the_last_reading_outside_the_range_is_told_whatever_came_after_or_before(api: Any, can: str) -> None:
    chance, outside = random.Random(7), ""
    for _ in range(60):
        at = api.shop.clock.forward(hours=5)
        temperature_c = chance.choice([14.9, 15, 18, 25, 25.1, 31.5, 4])
        _read(api, temperature_c)
        if not 15 <= temperature_c <= 25:
            outside = f"Stored at {temperature_c:g} °C on {at:%-d %b %Y}; it keeps at 15 to 25 °C."
        assert _said(api, can) == ([outside] if outside else [])


def test_a_reading_from_before_a_can_came_is_not_held_against_it(api: Any, can: str) -> None:
    _read(api, 40)
    api.shop.clock.forward(hours=1)
    later = makers.cans(api, api.resin, api.place, "26-2")[0]
    assert _said(api, later) == []
    assert "Storage not monitored." not in api.get(f"/v1/containers/{later}")["fitness"]["notes"]
    assert len(_said(api, can)) == 1


def test_a_year_of_readings_is_not_gone_through(api: Any, can: str) -> None:
    """Those outside the range are looked up by place and temperature, and the last one by place and time."""
    _read(api, 18)
    with connected():
        measure_a_place("Shelf B2", until=api.shop.clock.now, readings=5000)
        item = Item.get(Item.code == can)
        explain = "EXPLAIN" if on_postgresql() else "EXPLAIN QUERY PLAN"
        until = microseconds(api.shop.clock.now)
        plan = str(rows_of(f"{explain} {load._stored_text()}", until, listed([item.id]), until, until))
    assert plan.count("storage_reading_place_id_temperature_c_occurred_at") == 2
    assert "storage_reading_place_id_occurred_at" in plan
    assert "SCAN r" not in plan
    assert "Seq Scan on storage_reading" not in plan
