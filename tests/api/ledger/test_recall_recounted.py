"""Recalls recounted by hand: what a time leaves out and what it does not, what is in each piece, what is proved."""

from typing import Any

import pytest

from tests import makers
from tests.journeys.floor import Floor, founded


@pytest.fixture
def floor(api: Any) -> Floor:
    return founded(api)


def _open(floor: Floor, **asked: Any) -> Any:
    return floor.api.post("/v1/recalls", {"reason": "soft parts", "papers": False, **asked}, who="lead")


def _codes(recall: Any) -> set[str]:
    return {p["code"] for p in recall["pieces"]}


def _grams(recall: Any) -> dict[str, float | None]:
    return {p["code"]: p["mass_g"] for p in recall["pieces"]}


def _lot_of(floor: Floor, can: str) -> str:
    return str(floor.api.get(f"/v1/containers/{can}")["lot"])


def test_a_pot_half_weighed_before_the_time_is_reached_by_its_scale_and_by_who_weighed_it(floor: Floor) -> None:
    """A pot notes its scale once, at the first pour; the second one was after the check that the scale fell out at."""
    api, bench = floor.api, floor.bench
    part = floor.part(floor.design(plies=[]))
    mix = bench.start(500, containers=[{"container": bench.resin_can}, {"container": bench.slow_can}])["code"]
    bench.pour(mix, bench.resin_can, 384.6)
    since = floor.clock.forward(minutes=2).isoformat()
    bench.pour(mix, bench.slow_can, 115.4)
    bench.stir(mix)
    bench.apply(mix, part)
    person = api.shop.people["laminator"]
    for what in (
        {"item": bench.scale},
        {"person": person, "task": "weighed by"},
        {"person": person, "task": "weighed"},
    ):
        assert _codes(_open(floor, since=since, **what)) == {mix, part}, what
    looked_back = api.post(
        "/v1/look-backs", {"item": bench.scale, "since": since, "reason": "check failed"}, who="lead"
    )
    assert looked_back["held"] == [mix]
    # What was weighed before is not called back by a time that ends before it.
    flock = makers.material(api, "Cotton flock", "filler")
    fibres = makers.cans(api, flock, bench.place, "CF-1", net_g=500, no_expiry=True)[0]
    second = bench.start(500, containers=[{"container": bench.resin_can}, {"container": bench.slow_can}])["code"]
    bench.pour(second, bench.resin_can, 384.6)
    bench.pour(second, bench.slow_can, 115.4)
    bench.stir(second)
    after = floor.clock.forward(minutes=2).isoformat()
    api.post(f"/v1/mixes/{second}/fillers", {"container": fibres, "mass_g": 10, "scale": bench.scale})
    assert _codes(_open(floor, item=bench.scale, since=after)) == {second}


def test_nothing_is_said_to_be_free_of_a_thing_that_it_got_some_of_at_another_time(floor: Floor) -> None:
    """It was made of another lot as well, or of what had been decanted before: of these only the time is said."""
    api, bench = floor.api, floor.bench
    good = makers.cans(api, bench.slow, bench.place, "26-0731", net_g=2000)[0]
    design = floor.design(plies=[])
    both, decanted, clean, late = (floor.part(design) for _ in range(4))
    jug = api.post(f"/v1/containers/{bench.slow_can}/decants", {"mass_g": 800, "tare_g": 85})["code"]
    floor.pot((both, 200))
    floor.pot((both, 200), (clean, 200), cans=(bench.resin_can, good))
    floor.pot((decanted, 200), cans=(bench.resin_can, jug))
    since = floor.clock.forward(hours=1).isoformat()
    pot = floor.pot(late)["code"]
    for thing, cans in ((_lot_of(floor, bench.slow_can), {bench.slow_can, jug}), (bench.slow_can, {bench.slow_can})):
        found = _open(floor, item=thing, since=since)
        assert _codes(found) == {*cans, pot, late}
        spared = {s["what"].split(",")[0]: (s["parts"], s["because"]) for s in found["spared"]}
        assert {
            what.split()[-1] if what.startswith("lot ") else what.split()[0]: n for what, (n, _) in spared.items()
        } == {
            thing: 2,
            _lot_of(floor, good): 1,
        }
        assert "in that time" in next(because for what, (_, because) in spared.items() if what.startswith(thing))
    person = {"person": api.shop.people["laminator"], "task": "weighed by"}
    whole = _open(floor, since=since, **person)
    assert [s["parts"] for s in whole["spared"]] == [3]
    assert "others" not in str(whole["spared"])


def test_the_grams_of_all_pieces_and_what_was_lost_come_to_what_there_was(floor: Floor) -> None:
    """By hand: two pots of 384.6 g of resin and 115.4 g of hardener, 486 g of each on a part, 14 g lost."""
    bench = floor.bench
    design = floor.design(plies=[])
    parts = [floor.part(design) for _ in range(2)]
    pots = [floor.pot(part)["code"] for part in parts]
    mix = bench.start(500, containers=[{"container": bench.resin_can}, {"container": bench.slow_can}])["code"]
    bench.pour(mix, bench.resin_can, 384.6)
    bench.pour(mix, bench.slow_can, 115.4)
    share = 115.4 / 500
    found = _open(floor, item=_lot_of(floor, bench.slow_can))
    in_part = round(486 * share, 3)
    assert _grams(found) == {
        bench.slow_can: 2000 - 3 * 115.4,
        **dict.fromkeys(parts, in_part),
        **dict.fromkeys(pots, 0),
        mix: 115.4,
    }
    assert sum(t["mass_g"] for t in found["totals"]) == pytest.approx(2000 - 2 * 14 * share, abs=0.002)
    # Of the pot that is called back all of it, of the scale's pots what each has of them.
    assert _grams(_open(floor, item=mix)) == {mix: 500}
    assert _grams(_open(floor, item=pots[0])) == {pots[0]: 0, parts[0]: 486}
    by_scale = _grams(_open(floor, item=bench.scale))
    assert by_scale == {**dict.fromkeys(pots, None), mix: None, **dict.fromkeys(parts, 486)}


def test_what_was_poured_before_the_time_is_not_counted_into_the_pot(floor: Floor) -> None:
    bench = floor.bench
    part = floor.part(floor.design(plies=[]))
    mix = bench.start(500, containers=[{"container": bench.resin_can}, {"container": bench.slow_can}])["code"]
    bench.pour(mix, bench.resin_can, 200)
    since = floor.clock.forward(minutes=2).isoformat()
    bench.pour(mix, bench.resin_can, 184.6)
    bench.pour(mix, bench.slow_can, 115.4)
    bench.stir(mix)
    bench.apply(mix, (part, 250))
    found = _grams(_open(floor, item=bench.resin_can, since=since))
    assert found == {bench.resin_can: 5000 - 384.6, mix: 184.6 / 2, part: 184.6 / 2}


def test_a_recall_up_to_a_time_takes_what_was_taken_by_then_and_leaves_what_is_in_the_can(floor: Floor) -> None:
    api, bench = floor.api, floor.bench
    design = floor.design(plies=[])
    early, late = floor.part(design), floor.part(design)
    pot = floor.pot(early)["code"]
    until = floor.clock.forward(hours=1)
    floor.clock.forward(minutes=5)
    floor.pot(late)
    lot = _lot_of(floor, bench.slow_can)
    for thing in (lot, bench.slow_can):
        found = _open(floor, item=thing, until=until.isoformat())
        assert _codes(found) == {pot, early}
        assert all(p["on_hold"] for p in found["pieces"])
    assert api.get(f"/v1/containers/{bench.slow_can}")["holds"] == []
    assert api.get(f"/v1/parts/{late}")["holds"] == []
    for refused in ("2026-01-01T00:00:00Z", floor.clock.forward(hours=0).replace(year=2030).isoformat()):
        body = {"item": lot, "until": refused, "reason": "soft parts"}
        answer = api.post("/v1/recalls", body, who="lead", expect=422)
        assert answer["errors"][0]["pointer"] in ("/until", "/item")
    assert len(api.get("/v1/recalls")) == 2


def test_what_arrives_of_a_lot_that_is_called_back_from_some_time_on_is_held(floor: Floor) -> None:
    api, bench = floor.api, floor.bench
    part = floor.part(floor.design(plies=[]))
    since = floor.clock.forward(minutes=2).isoformat()
    floor.pot(part)
    lot = api.get(f"/v1/lots/{_lot_of(floor, bench.slow_can)}")
    _open(floor, item=lot["code"], since=since)
    more = {"material": bench.slow, "supplier": 1, "delivery_note": "LN 2", "place": bench.place,
            "makers_lot": lot["makers_lot"], "expires_on": lot["expires_on"],
            "containers": [{"net_g": 2000, "count": 1}]}  # fmt: skip
    api.post("/v1/deliveries", more)
    arrived = [c for c in api.get(f"/v1/lots/{lot['code']}")["containers"] if c != bench.slow_can]
    assert len(arrived) == 1
    assert api.get(f"/v1/containers/{arrived[0]}")["fitness"]["answer"] == "leave"
    assert [h["on"] for h in api.get(f"/v1/containers/{arrived[0]}")["holds"]] == [lot["code"]]
    assert [h["on"] for h in api.get(f"/v1/parts/{part}")["holds"]] == [bench.slow_can]
