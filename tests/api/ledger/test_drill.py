"""A drill: which lot a seed picks, what it says of grams that are missing, and when there is nothing to try."""

from dataclasses import asdict
from typing import Any

import pytest

from service.database import connected
from service.operations.door.refusals import UnknownThing, WrongState
from service.operations.ledger.drilling import Drill
from service.operations.ledger.recalling import keep_drill
from tests import makers
from tests.journeys.floor import Floor, founded


@pytest.fixture
def floor(api: Any) -> Floor:
    return founded(api)


def _drill(api: Any, *, seed: int = 1, lot: str | None = None) -> Drill:
    with connected():
        return keep_drill(api.shop.act("administrator"), seed=seed, lot=lot)


def test_the_same_seed_picks_the_same_lot_and_each_drill_is_kept(floor: Floor) -> None:
    api = floor.api
    first, again = _drill(api, seed=7), _drill(api, seed=7)
    assert first.lot == again.lot
    assert first.document != again.document
    assert len({_drill(api, seed=seed).lot for seed in range(12)}) > 1
    kept = api.call("GET", f"/v1/documents/{again.document}", who="lead").get_json()
    assert (kept["lot"], kept["seed"], kept["balance"]) == (again.lot, 7, asdict(again.balance))
    assert api.get("/v1/holds?standing=true") == []


def test_of_all_lots_one_that_reached_a_part_is_drawn_where_there_is_one(floor: Floor) -> None:
    api, bench = floor.api, floor.bench
    assert _drill(api).drawn_from == "the released lots, none of which reached a part yet"
    idle = [
        makers.lot(api, bench.resin, bench.place, makers_lot=f"X-{n}", containers=[{"net_g": 500}]) for n in range(6)
    ]
    mix = bench.mixed(500)["code"]
    lots = {api.get(f"/v1/containers/{can}")["lot"] for can in (bench.resin_can, bench.slow_can)}
    # A pot is no part yet.
    assert {_drill(api, seed=seed).drawn_from for seed in range(4)} == {
        "the released lots, none of which reached a part yet"
    }
    bench.apply(mix, (floor.part(floor.design(plies=[])), 400))
    drawn = [_drill(api, seed=seed) for seed in range(12)]
    assert lots <= {one.lot for one in drawn}
    assert not {one.lot for one in drawn} & {lot["code"] for lot in idle}
    assert all(one.parts for one in drawn)
    assert {one.drawn_from for one in drawn} == {"the released lots that reached a part"}
    kept = api.call("GET", f"/v1/documents/{drawn[-1].document}", who="lead").get_json()
    assert kept["drawn_from"] == "the released lots that reached a part"
    assert _drill(api, lot=idle[0]["code"]).drawn_from is None


def test_grams_that_are_planted_as_missing_are_those_that_nobody_can_explain(floor: Floor) -> None:
    """By hand: 115.4 g of a pot of 500 g; 400 g applied, 20 g left, 10 g lost, so that 70 g of the pot are nowhere."""
    api, bench = floor.api, floor.bench
    lot = api.get(f"/v1/containers/{bench.slow_can}")["lot"]
    assert _drill(api, lot=lot).balance.unexplained == 0
    part = floor.part(floor.design(plies=[]))
    mix = bench.start(500, containers=[{"container": bench.resin_can}, {"container": bench.slow_can}])["code"]
    bench.pour(mix, bench.resin_can, 384.6)
    bench.pour(mix, bench.slow_can, 115.4)
    bench.stir(mix)
    bench.apply(mix, (part, 400))
    running = _drill(api, lot=lot).balance
    share = 115.4 / 500
    assert (running.in_parts, running.in_pots) == (round(400_000 * share), round(100_000 * share))
    api.post(f"/v1/mixes/{mix}/closing", {"left_g": 20, "loss_g": 10, "cup_kept": True})
    found = _drill(api, lot=lot).balance
    assert (found.came, found.used, found.left) == (2_000_000, 115_400, 1_884_600)
    assert (found.in_parts, found.in_pots) == (round(400_000 * share), 0)
    assert found.lost_in_pots == round(30_000 * share)
    assert found.missing_in_pots == found.unexplained == round(70_000 * share)
    # Less is in the can than the book says.
    tare = api.get(f"/v1/containers/{bench.slow_can}")["tare_g"] or 85
    api.post(f"/v1/containers/{bench.slow_can}/weighings", {"gross_g": 1884.6 - 250 + tare, "tare_g": tare})
    found = _drill(api, lot=lot).balance
    assert found.unexplained == round(70_000 * share) + 250_000
    assert (found.left, found.difference) == (1_634_600, 0)


def test_without_a_released_lot_there_is_nothing_to_try_and_nothing_is_kept(api: Any) -> None:
    with pytest.raises(WrongState, match="no released lot"):
        _drill(api)
    makers.supplier(api)
    resin, place = makers.material(api, "Alder 10 resin", "resin"), makers.place(api)
    rejected = makers.lot(api, resin, place, makers_lot="26-1", containers=[{"net_g": 500}], released=False)["code"]
    api.post(f"/v1/lots/{rejected}/rejection", {"why": "the seal was broken"}, who="quality")
    with pytest.raises(WrongState, match="no released lot"):
        _drill(api)
    with pytest.raises(UnknownThing):
        _drill(api, lot="L99999X")
    # A lot of which nothing was made is still a drill, if it is named.
    assert _drill(api, lot=rejected).parts == 0
    assert len(api.get("/v1/journal?limit=200", who="lead")) > 0
