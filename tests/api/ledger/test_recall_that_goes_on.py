"""A recall that stands: what it reaches since it was opened is shown, held, taken in and followed before it closes."""

from typing import Any

import pypdfium2
import pytest

from tests.journeys.floor import Floor, founded
from tests.pages.hand import hand_of


@pytest.fixture
def floor(api: Any) -> Floor:
    return founded(api)


def _open(floor: Floor, **asked: Any) -> Any:
    return floor.api.post("/v1/recalls", {"reason": "soft parts", "papers": False, **asked}, who="lead")


def _weighed(floor: Floor) -> str:
    bench = floor.bench
    mix = str(bench.start(500, containers=[{"container": bench.resin_can}, {"container": bench.slow_can}])["code"])
    bench.pour(mix, bench.resin_can, 384.6)
    bench.pour(mix, bench.slow_can, 115.4)
    bench.stir(mix)
    return mix


def _text(pdf: bytes) -> str:
    return " ".join(" ".join(page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(pdf)).split())


def test_a_pot_that_was_running_goes_into_a_part_and_the_recall_is_not_closed_without_it(floor: Floor) -> None:
    api, bench = floor.api, floor.bench
    part = floor.part(floor.design(plies=[]))
    mix = _weighed(floor)
    recall = _open(floor, item=bench.slow_can)
    path = f"/v1/recalls/{recall['id']}"
    assert (recall["reached_since"], recall["reached_since_count"]) == ([], 0)
    refused = api.refused(f"{path}/reach", {}, "wrong-state", who="lead")
    assert refused["detail"] == f"Recall {recall['id']} reaches nothing that is not among its pieces already."
    bench.apply(mix, (part, 486))
    for code in (bench.slow_can, mix):
        api.post(f"{path}/steps", {"item": code, "found": "found"})
    seen = api.get(path)
    assert (seen["left"], seen["reached_since"], seen["reached_since_count"]) == (0, [part], 1)
    assert [h["on"] for h in api.get(f"/v1/parts/{part}")["holds"]] == [bench.slow_can]
    refused = api.refused(f"{path}/closing", {"effectiveness": "all here"}, "wrong-state", who="quality")
    assert refused["detail"] == f"Since it was opened, recall {recall['id']} has reached {part}."
    listed = _text(api.call("GET", f"{path}/pick-up-list.pdf").data)
    assert f"Reached since it was opened 1 thing that is not among the pieces yet: {part[:6]} {part[6:]}." in listed
    hand = hand_of(api, "lead")
    hand.open(f"/recalls/{recall['id']}")
    hand.tap("Take it in")
    seen = api.get(path)
    assert {p["code"]: p["mass_g"] for p in seen["pieces"]}[part] == round(486 * 115.4 / 500, 3)
    assert (seen["left"], seen["reached_since"]) == (1, [])
    # Its list is issued with what was taken in.
    assert {one["document"] for one in seen["papers"]} == {"RC-1", "RT-1", "RW-1"}
    api.post(f"{path}/steps", {"item": part, "found": "scrapped"})
    assert api.post(f"{path}/closing", {"effectiveness": "all here"}, who="quality")["closed_by"] == "Quality"
    api.refused(f"{path}/reach", {}, "wrong-state", who="lead")


def test_what_is_scanned_and_was_reached_since_is_a_piece_and_what_is_not_reached_is_refused(floor: Floor) -> None:
    api, bench = floor.api, floor.bench
    design = floor.design(plies=[])
    part, other = floor.part(design), floor.part(design)
    mix = _weighed(floor)
    path = f"/v1/recalls/{_open(floor, item=mix)['id']}"
    bench.apply(mix, (part, 486))
    told = api.post(f"{path}/steps", {"item": part, "found": "found"})
    assert {p["code"]: p["found"] for p in told["pieces"]} == {mix: None, part: "found"}
    assert told == api.get(path)
    refused = api.post(f"{path}/steps", {"item": other, "found": "found"}, expect=422)
    assert refused["detail"] == f"{other} is none of the pieces of recall 1."


def test_what_is_entered_late_is_reached_by_a_recall_of_a_scale_and_held_and_what_is_done_after_it_is_not(
    floor: Floor,
) -> None:
    """The scale goes on: what it weighs after it was put right is no concern of the recall."""
    api, bench = floor.api, floor.bench
    first = _weighed(floor)
    late = bench.start(500, containers=[{"container": bench.resin_can}, {"container": bench.slow_can}])["code"]
    before = floor.clock.forward(minutes=1).isoformat()
    floor.clock.forward(minutes=5)
    path = f"/v1/recalls/{_open(floor, item=bench.scale)['id']}"
    floor.clock.forward(minutes=5)
    _weighed(floor)
    assert api.get(path)["reached_since"] == []
    bench.pour(late, bench.resin_can, 384.6, occurred_at=before)
    assert api.get(path)["reached_since"] == [late]
    assert api.get(f"/v1/mixes/{late}")["holds"] == []
    widened = api.post(f"{path}/reach", {}, who="lead")
    assert {p["code"]: p["on_hold"] for p in widened["pieces"]} == {first: True, late: True}


def test_a_recall_that_is_entered_late_reaches_what_was_weighed_until_it_was_entered(floor: Floor) -> None:
    bench = floor.bench
    _weighed(floor)
    between = bench.start(500, containers=[{"container": bench.resin_can}, {"container": bench.slow_can}])["code"]
    told = floor.clock.forward(minutes=1).isoformat()
    floor.clock.forward(minutes=5)
    bench.pour(between, bench.resin_can, 384.6)
    recall = _open(floor, item=bench.scale, occurred_at=told)
    assert between in {p["code"] for p in recall["pieces"]}
    assert (recall["taken_back"], recall["reached_since"]) == ([], [])


def test_what_a_correction_took_back_is_named_as_that(floor: Floor) -> None:
    api, bench = floor.api, floor.bench
    part = floor.part(floor.design(plies=[]))
    mix = _weighed(floor)
    bench.apply(mix, (part, 486))
    path = f"/v1/recalls/{_open(floor, item=bench.slow_can)['id']}"
    seq = next(
        e["seq"] for e in api.get(f"/v1/journal?item={mix}&limit=200", who="lead") if e["operation"] == "apply_mix"
    )
    wrong = {"declaration": "did not occur", "why": "another part"}
    api.post(f"/v1/journal/{seq}/corrections", wrong, who="lead")
    seen = api.get(path)
    assert (seen["taken_back"], seen["taken_back_count"]) == ([part], 1)
    listed = _text(api.call("GET", f"{path}/pick-up-list.pdf").data)
    assert f"since then corrections took back what led to {part[:6]} {part[6:]}." in listed


def test_a_can_that_arrives_of_a_lot_that_is_called_back_is_taken_in(floor: Floor) -> None:
    api, bench = floor.api, floor.bench
    lot = api.get(f"/v1/lots/{api.get(f'/v1/containers/{bench.slow_can}')['lot']}")
    path = f"/v1/recalls/{_open(floor, item=lot['code'])['id']}"
    more = {"material": bench.slow, "supplier": 1, "delivery_note": "LN 2", "place": bench.place,
            "makers_lot": lot["makers_lot"], "expires_on": lot["expires_on"],
            "containers": [{"net_g": 2000, "count": 1}]}  # fmt: skip
    api.post("/v1/deliveries", more)
    (arrived,) = api.get(path)["reached_since"]
    widened = api.post(f"{path}/reach", {}, who="lead")
    assert {p["code"]: (p["where"], p["mass_g"], p["on_hold"]) for p in widened["pieces"]} == {
        bench.slow_can: ("stock", 2000, True),
        arrived: ("stock", 2000, True),
    }


def test_the_same_is_not_called_back_twice_while_it_stands_and_another_time_is_another_recall(floor: Floor) -> None:
    api, bench = floor.api, floor.bench
    part = floor.part(floor.design(plies=[]))
    since = floor.clock.forward(minutes=1).isoformat()
    floor.pot(part)
    person = {"person": api.shop.people["laminator"], "task": "weighed by"}
    for what in ({"item": bench.slow_can}, {"item": bench.slow_can, "since": since}, person):
        first = _open(floor, **what)
        refused = api.refused("/v1/recalls", {"reason": "heard of it too", **what}, "wrong-state", who="quality")
        assert refused["detail"] == f"Recall {first['id']} of {first['of']} stands open already: soft parts"
        assert refused["recall"] == first["id"]
    assert len(api.get("/v1/recalls")) == 3
    assert len(api.get("/v1/holds?standing=true")) == 3
    for piece in (p for p in first["pieces"] if p["to_fetch"]):
        api.post(f"/v1/recalls/{first['id']}/steps", {"item": piece["code"], "found": "found"})
    api.post(f"/v1/recalls/{first['id']}/closing", {"effectiveness": "all here"}, who="quality")
    assert _open(floor, **person)["id"] == 4
