"""Permits over HTTP: asked is not permitted, a signed one may be withdrawn, a refusal ends the earlier one."""

import io
from typing import Any

import pypdfium2
import pytest

from tests import makers
from tests.journeys import floor as floors
from tests.journeys.floor import Floor


@pytest.fixture
def floor(api: Any) -> Floor:
    return floors.founded(api)


@pytest.fixture
def old(floor: Floor) -> str:
    """A can of hardener that is past its date; the other cans are put aside."""
    can = makers.cans(floor.api, floor.bench.slow, floor.bench.place, "25-0320", net_g=1000, expires_on="2026-10-01")[0]
    floor.api.post(f"/v1/containers/{floor.bench.slow_can}/scrapping", {"method": "cured out in thin layers"})
    return can


def _asked(floor: Floor, item: str, kind: str = "deviation permit", *reasons: str) -> int:
    body = {"kind": kind, "item": item, "reasons": list(reasons or ("expired",)), "why": "test pot gelled after 41 min"}
    return int(floor.api.post("/v1/permissions", body)["id"])


def _sign(floor: Floor, permit: int, permitted: bool, remark: str = "looked at") -> Any:
    body = {"permitted": permitted, "remark": remark}
    return floor.api.post(f"/v1/permissions/{permit}/signature", body, who="quality")


def _withdraw(floor: Floor, permit: int) -> Any:
    body = {"why": "the next test pot stayed soft"}
    return floor.api.post(f"/v1/permissions/{permit}/withdrawal", body, who="quality")


def _words(pdf: bytes) -> str:
    document = pypdfium2.PdfDocument(io.BytesIO(pdf))
    return " ".join(" ".join(page.get_textpage().get_text_bounded().split()) for page in document)


def _cans(floor: Floor, old: str) -> list[dict[str, str]]:
    return [{"container": floor.bench.resin_can}, {"container": old}]


def test_a_permit_that_is_only_asked_for_reads_so_everywhere(floor: Floor, old: str) -> None:
    api = floor.api
    part = floor.part(floor.design())
    permit = _asked(floor, old)
    scanned = api.get(f"/v1/containers/{old}")["fitness"]
    assert scanned["answer"] == "ask"
    assert f"Deviation permit {permit} is asked for and not signed yet." in scanned["notes"]
    pot = floor.pot((part, 480), cans=(floor.bench.resin_can, old))
    assert [n for n in pot["notices"] if f"permit {permit} (asked)" in n and "Nobody has signed it yet" in n]
    said = [p["what"] for p in api.get(f"/v1/parts/{part}/release")["open"] if p["kind"] == "expired"]
    assert said[0].endswith(f"Deviation permit {permit} is asked for and not signed yet.")
    assert [f["decision"] for f in api.get(f"/v1/parts/{part}")["flags"] if f["permission"] == permit] == ["asked"]
    for name in ("record", "investigation"):
        document = api.get(f"/v1/parts/{part}/{name}", who="quality")
        found = [f for f in document["standing_out"] if f["permit"] == permit]
        assert {f["rank"] for f in found} == {"out of limit"}
        paper = _words(api.call("GET", f"/v1/parts/{part}/{name}.pdf", who="quality").data)
        assert "not signed yet" in paper
        assert "permitted, " not in paper
    _sign(floor, permit, True)
    assert f"Deviation permit {permit} is signed." in api.get(f"/v1/containers/{old}")["fitness"]["notes"]


def test_a_signed_permit_is_withdrawn_and_what_was_done_under_it_stays_covered(floor: Floor, old: str) -> None:
    api = floor.api
    part = floor.part(floor.design())
    permit = _asked(floor, old)
    path = f"/v1/permissions/{permit}/withdrawal"
    api.refused(path, {"why": "soft"}, "wrong-state", who="quality")
    _sign(floor, permit, True)
    pot = floor.pot((part, 480), cans=(floor.bench.resin_can, old))
    api.post(path, {"why": "soft"}, who="laminator", expect=403)
    assert api.refused(path, {}, "invalid", status=422, who="quality")["errors"]
    floor.clock.forward(minutes=5)
    ended = _withdraw(floor, permit)
    assert (ended["decision"], ended["signed_by"], ended["withdrawn_by"], ended["withdrawn_because"]) == (
        "withdrawn", "Quality", "Quality", "the next test pot stayed soft"
    )  # fmt: skip
    api.refused(path, {"why": "again"}, "wrong-state", who="quality")
    assert [p["id"] for p in api.get("/v1/permissions?decision=withdrawn")] == [permit]
    # From now on the can is as it was; what went into the part before is covered, and says so.
    scanned = api.get(f"/v1/containers/{old}")["fitness"]
    assert (scanned["answer"], scanned["reasons"][0]["permission"]) == ("leave", None)
    assert f"Deviation permit {permit} was withdrawn." in scanned["notes"]
    floor.bench.refused("not-fit", containers=_cans(floor, old))
    assert (pot["code"], "expired") not in floor.open_points(part)
    assert f"deviation permit {permit}, withdrawn since for later use" in floor.to_read(part)["expired"]
    record = api.get(f"/v1/parts/{part}/record")
    found = next(f for f in record["standing_out"] if f["permit"] == permit)
    assert (found["rank"], "withdrawn 3 Nov 2026, this was done before" in found["rest"]) == ("permitted", True)
    assert "withdrawn 3 Nov 2026, Quality: the next test pot stayed soft" in _words(
        api.call("GET", f"/v1/parts/{part}/record.pdf", who="quality").data
    )


def test_what_is_told_late_is_judged_by_the_permit_of_its_hour(floor: Floor, old: str) -> None:
    bench = floor.bench
    _sign(floor, permit := _asked(floor, old), True)
    mix = bench.start(130, containers=_cans(floor, old))["code"]
    other = bench.start(130, containers=_cans(floor, old))["code"]
    bench.pour(mix, bench.resin_can, 100)
    bench.pour(other, bench.resin_can, 100)
    before = floor.clock.forward(minutes=1)
    floor.clock.forward(minutes=1)
    _withdraw(floor, permit)
    floor.clock.forward(minutes=1)
    told = bench.pour(mix, old, 30, occurred_at=before.isoformat())
    assert ([f["answered"] for f in told["flags"]], told["holds"]) == (["withdrawn"], [])
    after = bench.pour(other, old, 30)
    assert ([f["answered"] for f in after["flags"]], len(after["holds"])) == ([None], 1)


def test_a_refusal_ends_the_earlier_permit_for_the_same_and_covers_what_was_done(floor: Floor, old: str) -> None:
    api = floor.api
    part = floor.part(floor.design())
    first = _asked(floor, old)
    _sign(floor, first, True)
    pot = floor.pot((part, 480), cans=(floor.bench.resin_can, old))
    floor.clock.forward(minutes=5)
    second, third = _asked(floor, old), _asked(floor, old)
    assert api.get(f"/v1/containers/{old}")["fitness"]["answer"] == "fit", "asking anew takes nothing away"
    _sign(floor, third, False)
    scanned = api.get(f"/v1/containers/{old}")["fitness"]
    assert (scanned["answer"], scanned["reasons"][0]["permission"]) == ("leave", None)
    problem = api.refused(f"/v1/permissions/{second}/signature", {"permitted": True}, "wrong-state", who="quality")
    assert f"Deviation permit {third}" in problem["detail"]
    assert (pot["code"], "expired") not in floor.open_points(part)
    _sign(floor, fourth := _asked(floor, old), True)
    assert api.get(f"/v1/containers/{old}")["fitness"]["reasons"][0]["permission"] == fourth


def test_a_refused_concession_ends_the_one_before_it_and_holds_again(floor: Floor) -> None:
    api = floor.api
    part = floor.part(floor.design())
    mix = floor.pot((part, 480), hardener_g=125)["code"]
    first, second = (_asked(floor, mix, "concession", "ratio-outside") for _ in range(2))
    _sign(floor, first, True)
    assert (mix, "ratio-outside") not in floor.open_points(part)
    assert api.get(f"/v1/parts/{part}")["holds"] == []
    api.refused(f"/v1/permissions/{first}/withdrawal", {"why": "soft"}, "wrong-state", who="quality")
    _sign(floor, second, False, "soft at 50 Shore D")
    assert (mix, "ratio-outside") in floor.open_points(part)
    held = api.get(f"/v1/parts/{part}")["holds"]
    assert [h["on"] for h in held] == [mix]
    assert f"Concession {second} was refused" in held[0]["reason"]
