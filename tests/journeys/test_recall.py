"""A maker recalls a lot: one hold reaches every jug, pot and part of it, wherever it is, and proves what it spares."""

from dataclasses import dataclass
from typing import Any

import pytest

from tests import makers
from tests.journeys.floor import Floor


@dataclass
class Recalled:
    """Two lots of hardener in use side by side."""

    floor: Floor
    lot: str
    cans: list[str]
    jug: str
    other_can: str
    pots: dict[str, str]
    parts: dict[str, str]


@pytest.fixture
def recalled(floor: Floor) -> Recalled:
    """Parts from the recalled lot: one shipped, one in work, one with a pot of each lot; and one of the other lot."""
    api, bench = floor.api, floor.bench
    bad = makers.cans(api, bench.slow, bench.place, "26-0731", net_g=2000, count=2)
    jug = api.post(f"/v1/containers/{bad[0]}/decants", {"mass_g": 800, "tare_g": 85})["code"]
    design = floor.design(plies=[], need_g=600)
    names = ("shipped", "in work", "of both", "spared")
    parts = {name: floor.part(design, customer="Rowing club") for name in names}
    good = bench.slow_can
    made = {
        "shipped": floor.pot(parts["shipped"], cans=(bench.resin_can, jug)),
        "both, good": floor.pot(parts["of both"], cans=(bench.resin_can, good)),
        "both, bad": floor.pot(parts["of both"], cans=(bench.resin_can, bad[0]), total_g=260),
        "spared": floor.pot(parts["spared"], cans=(bench.resin_can, good)),
    }
    done = [parts["shipped"], parts["of both"], parts["spared"]]
    for part in done:
        floor.close_lay_up(part)
    floor.cure(*done)
    floor.cups_hard(*(pot["code"] for pot in made.values()))
    for part in done:
        floor.finish(part)
        floor.release(part)
    floor.ship(parts["shipped"])
    made["in work"] = floor.pot(parts["in work"], cans=(bench.resin_can, jug))
    lot = api.get(f"/v1/containers/{bad[0]}")["lot"]
    return Recalled(floor, lot, bad, jug, good, {name: pot["code"] for name, pot in made.items()}, parts)


def test_one_hold_on_the_lot_reaches_all_that_was_made_of_it_and_nothing_else(recalled: Recalled) -> None:
    floor, api = recalled.floor, recalled.floor.api
    parts, pots = recalled.parts, recalled.pots
    forward = api.get(f"/v1/items/{recalled.lot}/trace?direction=forward")
    assert forward["counts"] == {"container": 3, "mix": 3, "part": 3}
    hold = api.post("/v1/holds", {"item": recalled.lot, "reason": "recalled by the maker"}, who="lead")
    reached = {*recalled.cans, recalled.jug, pots["shipped"], pots["both, bad"], pots["in work"],
               parts["shipped"], parts["of both"], parts["in work"]}  # fmt: skip
    assert makers.reached(api, hold) == reached
    assert {i["code"] for i in forward["items"]} == reached | {recalled.lot}
    where = {i["code"]: i["state"] for i in forward["items"] if i["kind"] == "P"}
    assert where == {parts["shipped"]: "shipped", parts["in work"]: "laying", parts["of both"]: "released"}
    for code in reached:
        assert [h["on"] for h in api.get(f"/v1/items/{code}")["holds"]] == [recalled.lot]
    # Nothing of it is used any more, nothing that holds it leaves.
    asked = [{"container": floor.bench.resin_can}, {"container": recalled.cans[1]}]
    refused = floor.bench.refused("not-fit", containers=asked)
    assert "recalled by the maker" in refused["detail"]
    assert refused["instead"] == [recalled.other_can]
    ship = {"document": "LN 1"}
    api.refused(f"/v1/parts/{parts['of both']}/shipment", ship, "on-hold", who="lead")
    api.refused(f"/v1/containers/{recalled.jug}/decants", {"mass_g": 10}, "not-fit")
    floor.close_lay_up(parts["in work"])
    assert (recalled.lot, "on-hold") in floor.open_points(parts["in work"])
    # What was at the customer's stays where it is, and its record says that it is on hold.
    assert api.get(f"/v1/parts/{parts['shipped']}/record")["on_hold"] is True
    _what_is_spared_is_proved_to_be(recalled, hold)


def _what_is_spared_is_proved_to_be(recalled: Recalled, hold: dict[str, Any]) -> None:
    floor, api, parts = recalled.floor, recalled.floor.api, recalled.parts
    spared = parts["spared"]
    assert spared not in makers.reached(api, hold)
    back = api.get(f"/v1/items/{spared}/trace")
    upstream = {i["code"] for i in back["items"]}
    assert not upstream & {recalled.lot, *recalled.cans, recalled.jug}
    assert [i["makers_lot"] for i in back["items"] if i["kind"] == "L" and "hardener" in i["name"]] == ["H-1"]
    assert api.get(f"/v1/parts/{spared}")["holds"] == []
    assert floor.ship(spared)["state"] == "shipped"
    # A can of the other lot and the pot of it that went into a stopped part are free themselves.
    assert api.get(f"/v1/containers/{recalled.other_can}")["fitness"]["answer"] == "fit"
    assert api.get(f"/v1/items/{recalled.pots['both, good']}")["holds"] == []
    # Lifted by a second person with a reason, everything goes on.
    path = f"/v1/holds/{hold['id']}/lifting"
    api.post(path, {"why": "other plant only"}, who="lead", expect=403)
    api.post(path, {"why": "the maker's letter: other plant only"}, who="quality")
    assert floor.ship(parts["of both"])["state"] == "shipped"


def test_a_hold_from_a_time_on_spares_what_was_taken_before(floor: Floor) -> None:
    """The can was left open overnight: what was poured from it before is as good as it was."""
    api, bench = floor.api, floor.bench
    jug = api.post(f"/v1/containers/{bench.slow_can}/decants", {"mass_g": 800, "tare_g": 85})["code"]
    design = floor.design(plies=[])
    early, late = floor.part(design), floor.part(design)
    floor.pot(early, cans=(bench.resin_can, jug))
    since = floor.clock.forward(hours=1)
    floor.pot(late, cans=(bench.resin_can, jug))
    api.post("/v1/holds", {"item": jug, "reason": "lid off overnight", "since": since.isoformat()}, who="lead")
    assert [h["on"] for h in api.get(f"/v1/parts/{late}")["holds"]] == [jug]
    assert api.get(f"/v1/parts/{early}")["holds"] == []
