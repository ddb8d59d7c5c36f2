"""Hardener past its date: asked about before it is used, permitted by a second person, and printed ever after."""

import io
from typing import Any

import pypdfium2
import pytest

from tests import makers
from tests.journeys.floor import Floor


@pytest.fixture
def old(floor: Floor) -> str:
    """A can of hardener that is past its date by 33 days; the other cans are put aside."""
    can = makers.cans(floor.api, floor.bench.slow, floor.bench.place, "25-0320", net_g=1000, expires_on="2026-10-01")[0]
    floor.api.post(f"/v1/containers/{floor.bench.slow_can}/scrapping", {"method": "cured out in thin layers"})
    return can


def _asked(floor: Floor, can: str, **more: Any) -> int:
    body = {"kind": "deviation permit", "item": can, "reasons": ["expired"],
            "why": "test pot of 100 g gelled after 41 min at 23 °C", **more}  # fmt: skip
    return int(floor.api.post("/v1/permissions", body)["id"])


def _words(pdf: bytes) -> str:
    document = pypdfium2.PdfDocument(io.BytesIO(pdf))
    return " ".join(" ".join(page.get_textpage().get_text_bounded().split()) for page in document)


def test_it_is_asked_permitted_by_a_second_person_and_printed_ever_after(floor: Floor, old: str) -> None:
    api, bench = floor.api, floor.bench
    design = floor.design()
    part = floor.part(design)
    cans = bench.resin_can, old
    asked = [{"container": c} for c in cans]
    refused = bench.refused("not-fit", containers=asked)
    assert [(r["kind"], r["may_permit"]) for r in refused["reasons"]] == [("expired", ["lead", "quality"])]
    assert "deviation permit" in refused["way_out"]
    permit = _asked(floor, old)
    # The job in hand need not wait for the signature; the start says that it is used under a permit.
    pot = floor.pot((part, 480), cans=cans, parts=[part])
    mix = pot["code"]
    assert any(f"deviation permit {permit} (asked)" in notice for notice in pot["notices"])
    assert [(f["kind"], f["stops"], f["answered"]) for f in pot["flags"]] == [("expired", True, "asked")]
    assert pot["holds"] == []
    floor.kit(design, part)
    floor.close_lay_up(part)
    floor.cure(part)
    floor.cups_hard(mix)
    floor.finish(part)
    assert floor.open_points(part) == [(mix, "expired")]
    sign = f"/v1/permissions/{permit}/signature"
    api.post(sign, {"permitted": True}, who="second laminator", expect=403)
    api.post(sign, {"permitted": True, "remark": "for the inner skin only"}, who="quality")
    assert floor.open_points(part) == []
    assert f"deviation permit {permit}" in floor.to_read(part)["expired"]
    floor.release(part)

    assert [(f["kind"], f["answered"]) for f in api.get(f"/v1/mixes/{mix}")["flags"]] == [("expired", "permitted")]
    record = api.get(f"/v1/parts/{part}/record")
    assert [(p["id"], p["item"], p["why"], p["signed_by"]) for p in record["permits"]] == [
        (permit, old, "test pot of 100 g gelled after 41 min at 23 °C", "Quality")
    ]
    used = {m["container"]: m for m in record["materials"]}[old]
    assert (used["good_until"], used["margin_days"]) == ("2026-10-01", -33)
    found = api.get(f"/v1/parts/{part}/investigation", who="quality")
    for document in (record, found):
        assert permit in [f["permit"] for f in document["standing_out"]]
    for name in ("record", "investigation"):
        paper = _words(api.call("GET", f"/v1/parts/{part}/{name}.pdf", who="quality").data)
        assert f"permit {permit}" in paper.casefold()
        assert "test pot of 100 g gelled after 41 min" in paper


def test_a_permit_that_is_refused_afterwards_stops_what_was_made_under_it(floor: Floor, old: str) -> None:
    api = floor.api
    part = floor.part(floor.design())
    permit = _asked(floor, old)
    pot = floor.pot((part, 480), cans=(floor.bench.resin_can, old))
    assert api.get(f"/v1/parts/{part}")["holds"] == []
    api.post(f"/v1/permissions/{permit}/signature", {"permitted": False, "remark": "cloudy"}, who="quality")
    held = api.get(f"/v1/parts/{part}")["holds"]
    assert [h["on"] for h in held] == [pot["code"]]
    assert f"permit {permit} was refused" in held[0]["reason"]
    asked = [{"container": floor.bench.resin_can}, {"container": old}]
    floor.bench.refused("not-fit", containers=asked)


def test_a_permit_ends_at_its_day_and_poured_without_one_it_is_recorded_and_held(floor: Floor, old: str) -> None:
    api, bench = floor.api, floor.bench
    until = floor.clock.now.replace(hour=23)
    permit = _asked(floor, old, until=until.isoformat())
    api.post(f"/v1/permissions/{permit}/signature", {"permitted": True}, who="quality")
    asked = [{"container": bench.resin_can}, {"container": old}]
    early = bench.start(130, containers=asked)["code"]
    floor.clock.forward(days=1)
    bench.refused("not-fit", 130, containers=asked)
    bench.pour(early, bench.resin_can, 100)
    poured = bench.pour(early, old, 30)
    assert [(f["kind"], f["answered"]) for f in poured["flags"]] == [("expired", None)]
    assert (len(poured["holds"]), poured["hardener_g"]) == (1, 30), "what happened is recorded"
