"""A prepreg shop: delivered frozen with its transport time, thawed, cut, laid, bagged, cured, released, on paper."""

import io
from datetime import timedelta
from typing import Any

import pypdfium2
import pytest

from tests import makers
from tests.journeys.floor import CURVES, SCHEDULE, Floor
from tests.logger_files import every, semicolons

OUT_TIME = {
    "tack": [{"temperature_c": 21, "hours": 240}, {"temperature_c": 27, "hours": 120}],
    "out": [{"temperature_c": 21, "hours": 480}, {"temperature_c": 27, "hours": 240}],
}
BAG = {"least_vacuum_mbar": 850, "drop_limit_mbar": 30, "drop_minutes": 5}


@pytest.fixture
def shop(floor: Floor) -> Floor:
    """The floor with a freezer at −20 °C, a clean room at 20 °C, and a roll that was 24 h out on its way."""
    api = floor.api
    api.freezer, api.room = makers.place(api, "Freezer"), makers.place(api, "Clean room")
    api.post(f"/v1/places/{api.freezer}/readings", {"temperature_c": -20})
    api.post(f"/v1/places/{api.room}/readings", {"temperature_c": 20})
    api.prepreg = makers.fabric(
        api, "Prepreg 12", storage_low_c=-25, storage_high_c=-15, warm_up_hours=6, out_time=OUT_TIME
    )
    asked = {"containers": [{"length_mm": 20_000}], "transport_out": {"hours": 24, "temperature_c": 20}}
    api.rolls = makers.lot(api, api.prepreg, api.freezer, makers_lot="PP-1", **asked)["containers"]
    return floor


def _notes(api: Any, can: str) -> str:
    return " ".join(api.get(f"/v1/containers/{can}")["fitness"]["notes"])


def _measured(floor: Floor, hours: float, temperature_c: float = 20) -> None:
    floor.clock.forward(hours=hours)
    floor.api.post(f"/v1/places/{floor.api.room}/readings", {"temperature_c": temperature_c})


def _words(pdf: bytes) -> str:
    document = pypdfium2.PdfDocument(io.BytesIO(pdf))
    return " ".join(" ".join(page.get_textpage().get_text_bounded().split()) for page in document)


def test_a_prepreg_part_from_the_frozen_delivery_to_its_record(shop: Floor) -> None:
    api, roll = shop.api, shop.api.rolls[0]
    # 24 of 240 h of tack and of 480 h of out life went in transport; in the freezer nothing runs.
    assert "Tack life 216 h; out life 456 h once it is out of the cold." in _notes(api, roll)
    shop.clock.forward(days=30)
    api.post(f"/v1/places/{api.freezer}/readings", {"temperature_c": -20})
    assert "Tack life 216 h; out life 456 h" in _notes(api, roll)
    api.post(f"/v1/items/{roll}/moves", {"place": api.room})
    out_at = shop.clock.now
    cold = api.get(f"/v1/containers/{roll}")
    assert [r["kind"] for r in cold["fitness"]["reasons"]] == ["too-cold"]
    _measured(shop, 6)
    ready = api.get(f"/v1/containers/{roll}")
    assert ready["fitness"]["answer"] == "fit"
    ends = out_at + timedelta(hours=216)
    assert f"Tack life until {ends.day} {ends:%b}" in " ".join(ready["fitness"]["notes"])
    design = int(makers.design(api, "PP-204", plies=makers.plies(api.prepreg, 0, 45), schedule=SCHEDULE, bag=BAG)["id"])
    part = shop.part(design)
    cut = {"roll": roll, "length_mm": 1000, "offcut_mm": 500}
    kit = api.post("/v1/kits", {"design": design, "cuts": [cut]})
    api.post(f"/v1/items/{roll}/moves", {"place": api.freezer})
    offcut = kit["cuts"][0]["offcut"]
    # 24 h in transport and 6 h in the room are 12.5 % of the tack life and 6.25 % of the out life.
    used = "tack life 240 h at 21 °C, 12 % used before; out life 480 h at 21 °C, 6 % used before, less if warmer"
    for code, said in ((roll, used.replace("12 %", "10 %").replace("6 %", "5 %")), (kit["code"], used), (offcut, used)):
        for size, way in (("62", "labels"), ("100x50", "labels/replacement")):
            sheet = api.post(f"/v1/items/{code}/{way}", {"size": size, "why": "a larger one"})
            assert said in _words(api.call("GET", sheet["pdf"]).data), (code, size)
    _measured(shop, 18)
    api.post(f"/v1/parts/{part}/kits", {"kit": kit["code"], "backers_counted": 2})
    # The roll went back after 6 h; kit and offcut stayed out for 18 h more: 48 h in all.
    assert "Tack life 210 h; out life 450 h once" in _notes(api, roll)
    assert "Tack life until" in _notes(api, offcut)
    laid = [s for s in api.get(f"/v1/parts/{part}")["steps"] if s["kind"] == "out time"]
    assert [(s["passed"], s["facts"]["tack_used_pct"], s["facts"]["out_used_pct"]) for s in laid] == [(True, 20, 10)]
    steps = f"/v1/parts/{part}/steps"
    api.post(steps, {"kind": "drop test", "start_mbar": 910, "end_mbar": 900, "minutes": 5, "gauge": "G2"})
    shop.close_lay_up(part)
    shop.clock.forward(hours=2.4)
    begins = shop.clock.now
    cure = api.post("/v1/cures", {"schedule": SCHEDULE, "parts": [part], "place": shop.oven})["code"]
    started = [s for s in api.get(f"/v1/parts/{part}")["steps"] if s["kind"] == "out time"][-1]
    assert (started["passed"], started["facts"]["out_used_pct"]) == (True, 10.5)
    shop.clock.forward(minutes=650)
    shop.send_log(cure, semicolons(begins, every(5, until_min=650), CURVES), part)
    assert api.post(f"/v1/cures/{cure}/end")["state"] == "passed"
    api.post(steps, {"kind": "vacuum", "least_mbar": 900, "until_gel": True})
    shop.finish(part)
    assert shop.open_points(part) == []
    shop.release(part)
    record = api.get(f"/v1/parts/{part}/record")
    assert roll in [m["container"] for m in record["materials"]]
    for name in ("record", "investigation"):
        paper = _words(api.call("GET", f"/v1/parts/{part}/{name}.pdf", who="quality").data)
        assert "10 % of its out life used" in paper or name == "investigation"


def test_a_life_that_is_over_is_asked_about_or_left_and_laid_nevertheless_it_holds(shop: Floor) -> None:
    api, roll = shop.api, shop.api.rolls[0]
    design = int(makers.design(api, "PP-204", plies=makers.plies(api.prepreg, 0))["id"])
    part = shop.part(design)
    api.post(f"/v1/items/{roll}/moves", {"place": api.room})
    for _ in range(9):
        _measured(shop, 24)
    _measured(shop, 1)
    kit = {"design": design, "cuts": [{"roll": roll, "length_mm": 500}]}
    refused = api.refused("/v1/kits", kit, "not-fit")
    assert [r["kind"] for r in refused["reasons"]] == ["tack-life-over"]
    asked = {"kind": "deviation permit", "item": roll, "reasons": ["tack-life-over"], "why": "warmed, it sticks"}
    permit = api.post("/v1/permissions", asked)["id"]
    api.post(f"/v1/permissions/{permit}/signature", {"permitted": True}, who="quality")
    code = api.post("/v1/kits", kit)["code"]
    for _ in range(11):
        _measured(shop, 24)
    view = api.post(f"/v1/parts/{part}/kits", {"kit": code})
    kinds = [f["kind"] for f in view["flags"] if f["item"] == part]
    assert kinds == ["tack-life-over", "out-life-over"]
    assert view["holds"]
    leave = api.get(f"/v1/containers/{roll}")["fitness"]
    assert (leave["answer"], {r["kind"] for r in leave["reasons"]}) == ("leave", {"tack-life-over", "out-life-over"})


def test_warmer_than_its_table_is_not_known_and_unmeasured_counts_as_the_warmest(shop: Floor) -> None:
    api, roll = shop.api, shop.api.rolls[0]
    loft = makers.place(api, "Loft")
    api.post(f"/v1/items/{roll}/moves", {"place": loft})
    shop.clock.forward(hours=12)
    # 24/240 + 12/120 of tack: a fifth used, 96 h left at the warmest row.
    assert "The air is not measured: the warmest row counts." in _notes(api, roll)
    api.post(f"/v1/places/{loft}/readings", {"temperature_c": 31})
    hot = api.get(f"/v1/containers/{roll}")["fitness"]
    assert [r["kind"] for r in hot["reasons"]] == ["tack-life-not-known", "out-life-not-known"]


def test_transport_time_is_for_what_has_a_life_out_of_the_cold(shop: Floor) -> None:
    api = shop.api
    body = {"material": shop.cloth, "supplier": 1, "delivery_note": "LN 9", "place": api.room, "makers_lot": "X-1",
            "no_expiry": True, "containers": [{"length_mm": 1000}], "transport_out": {"hours": 3}}  # fmt: skip
    problem = api.refused("/v1/deliveries", body, "invalid", status=422)
    assert problem["errors"][0]["pointer"] == "/transport_out"
