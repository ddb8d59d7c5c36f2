"""What did not occur is taken back whole, so that the right thing can be recorded; what cannot be is refused, and the
refusal names the act that answers it."""

from typing import Any

import pytest

from service.database import connected
from service.operations.door.acts import ACTS
from service.operations.ledger.checking import check_account
from service.operations.taking_back import ANEW, INSTEAD, TAKEN_BACK
from tests import makers

_SLIP = {"declaration": "did not occur", "why": "tapped on the wrong one"}


def _path(api: Any, operation: str, item: str | None = None) -> str:
    where = f"&item={item}" if item else ""
    entry = api.get(f"/v1/journal?operation={operation}{where}", who="quality")[-1]
    return f"/v1/journal/{entry['seq']}/corrections"


def _undo(api: Any, operation: str, item: str | None = None) -> Any:
    return api.post(_path(api, operation, item), _SLIP, who="lead")


def _whole() -> None:
    with connected():
        found = check_account()
    assert found.agrees, [d.sentence for d in found.first]


def test_every_act_is_taken_back_or_answered_by_another() -> None:
    decided = {name for name, row in ACTS.items() if row.decides}
    assert TAKEN_BACK | set(INSTEAD) | decided == set(ACTS)
    assert not TAKEN_BACK & set(INSTEAD)
    assert not decided & (TAKEN_BACK | set(INSTEAD))
    assert set(ANEW) <= TAKEN_BACK


def test_what_leaves_nothing_to_take_back_is_refused_with_what_answers_it(api: Any) -> None:
    makers.supplier(api)
    where = makers.place(api)
    resin = makers.material(api, "Alder 10 resin", "resin")
    can = makers.cans(api, resin, where, "26-1")[0]
    hold = api.post("/v1/holds", {"item": can, "reason": "cloudy"})
    for operation, instead in (
        ("add_material", "taken out of use"),
        ("release_lot", "Place a hold on the lot"),
        ("place_hold", "Quality lifts the hold"),
    ):
        problem = api.refused(_path(api, operation), _SLIP, "wrong-state", who="lead")
        assert instead in problem["way_out"]
    assert api.get(f"/v1/holds?item={can}")[0]["id"] == hold["id"]
    # Wrong data can be told of any act; nothing else comes of it.
    api.post(_path(api, "add_material"), {"declaration": "incorrect data", "why": "another density"}, who="lead")


def test_a_part_goes_back_step_by_step_and_is_demoulded_again(api: Any) -> None:
    makers.supplier(api)
    mould = makers.released_mould(api, makers.place(api))["code"]
    makers.design(api)
    part = api.post("/v1/parts", {"part_number": "HY-204", "mould": mould})["code"]
    api.post(f"/v1/parts/{part}/closing")
    makers.cured(api, part)
    before = api.get(f"/v1/moulds/{mould}")
    api.post(f"/v1/parts/{part}/demoulding", {"temperature_c": 21})
    api.post(f"/v1/parts/{part}/trimming", {"mass_g": 480})
    problem = api.refused(_path(api, "demould", part), _SLIP, "cannot-undo", who="lead")
    assert problem["detail"] == f"{part} went on since: it is trimmed."
    _undo(api, "trim", part)
    assert (api.get(f"/v1/parts/{part}")["state"], api.get(f"/v1/parts/{part}")["mass_g"]) == ("demoulded", None)
    _undo(api, "demould", part)
    view, form = api.get(f"/v1/parts/{part}"), api.get(f"/v1/moulds/{mould}")
    assert (view["state"], view["demoulded_at"]) == ("cured", None)
    kept = ("pulls", "ready_at", "release_pulls_left", "in_it")
    assert {name: form[name] for name in kept} == {name: before[name] for name in kept}
    assert (
        "Demould the part again."
        in api.refused(_path(api, "correct_entry", part), _SLIP, "wrong-state", who="lead")["way_out"]
    )
    api.post(f"/v1/parts/{part}/demoulding")
    assert api.get(f"/v1/moulds/{mould}")["pulls"] == before["pulls"] + 1
    _whole()


def test_a_lay_up_that_was_not_closed_goes_on(api: Any) -> None:
    part = makers.laid_up_part(api)
    _undo(api, "close_lay_up", part)
    assert (api.get(f"/v1/parts/{part}")["state"], api.get(f"/v1/parts/{part}")["laid_up_at"]) == ("laying", None)
    api.post(f"/v1/parts/{part}/closing")
    assert api.get(f"/v1/parts/{part}")["state"] == "laid up"
    _whole()


def test_a_cure_that_was_declared_and_ended_too_early_runs_on_and_passes_in_the_morning(api: Any) -> None:
    part = makers.laid_up_part(api)
    makers.schedule(api, "Room overnight", evidence="declared")
    cure = api.post("/v1/cures", {"schedule": "Room overnight", "parts": [part]})["code"]
    told = {"remark": "21 °C", "ended": True}
    assert api.post(f"/v1/cures/{cure}/declaration", told)["passed"] is False
    _undo(api, "declare_cure", cure)
    view = api.get(f"/v1/cures/{cure}")
    assert (view["state"], view["ended_at"], view["statements"]) == ("running", None, [])
    assert api.get(f"/v1/parts/{part}")["state"] == "curing"
    api.shop.clock.forward(hours=20)
    assert api.post(f"/v1/cures/{cure}/declaration", told)["passed"] is True
    assert api.get(f"/v1/parts/{part}")["state"] == "cured"
    assert api.get(f"/v1/cures/{cure}")["holds"] == []
    _undo(api, "declare_cure", cure)
    api.post(f"/v1/cures/{cure}/declaration", told)
    api.post(f"/v1/parts/{part}/demoulding")
    _undo(api, "declare_cure", cure)
    assert api.get(f"/v1/cures/{cure}")["passed"] is False, "its part went on, so it is judged without it"
    _whole()


def test_what_was_thrown_away_by_mistake_is_there_again(api: Any) -> None:
    bench = makers.mixing(api)
    given_up = bench.start(200)["code"]
    bench.pour(given_up, bench.resin_can, 153.8)
    api.post(f"/v1/mixes/{given_up}/abandonment")
    _undo(api, "abandon_mix", given_up)
    view = api.get(f"/v1/mixes/{given_up}")
    assert (view["state"], view["left_g"], view["next"]["component"]) == ("weighing", 153.8, "hardener")
    assert bench.pour(given_up, bench.slow_can, 46.1)["state"] == "running"
    api.post(f"/v1/mixes/{given_up}/discard", {"reason": "wrong cup"})
    _undo(api, "discard_mix", given_up)
    assert (api.get(f"/v1/mixes/{given_up}")["state"], api.get(f"/v1/mixes/{given_up}")["left_g"]) == ("running", 199.9)
    api.post(f"/v1/containers/{bench.fast_can}/scrapping", {"method": "cured and binned"}, who="lead")
    _undo(api, "scrap_container", bench.fast_can)
    assert api.get(f"/v1/containers/{bench.fast_can}")["state"] == "sealed"
    part = api.post("/v1/parts", {"part_number": makers.design(api)["part_number"]})["code"]
    api.post(f"/v1/parts/{part}/scrapping", {"method": "sawn"}, who="lead")
    _undo(api, "scrap_part", part)
    assert api.get(f"/v1/parts/{part}")["state"] == "laying"
    _whole()


def test_a_release_coat_on_the_wrong_mould_is_not_on_it(api: Any) -> None:
    makers.supplier(api)
    where = makers.place(api)
    lasting = makers.material(api, "Release S", "release agent", release_pulls=3, release_coats=2)
    can = makers.cans(api, lasting, where, "S-1")[0]
    mould = api.post("/v1/moulds", {"name": "Tiller blade"}, who="lead")["code"]
    coat = {"kind": "release coat", "container": can}
    api.post(f"/v1/moulds/{mould}/treatments", coat)
    one = api.get(f"/v1/moulds/{mould}")
    api.post(f"/v1/moulds/{mould}/treatments", coat)
    both = api.get(f"/v1/moulds/{mould}")
    assert (one["ready"], both["ready"]) == (False, True)
    _undo(api, "treat_mould", mould)
    again = api.get(f"/v1/moulds/{mould}")
    assert {**again, "version": 0} == {**one, "version": 0}
    api.post(_path(api, "correct_entry", mould), _SLIP, who="lead")
    assert api.get(f"/v1/moulds/{mould}")["ready"] is True
    api.post(f"/v1/moulds/{mould}/treatments", {"kind": "cleaning"})
    _undo(api, "treat_mould", mould)
    assert api.get(f"/v1/moulds/{mould}")["ready"] is True, "the release is still on it"
    design = makers.design(api)
    api.post("/v1/parts", {"part_number": design["part_number"], "mould": mould})
    entry = api.get(f"/v1/journal?operation=treat_mould&item={mould}", who="quality")[0]
    problem = api.refused(f"/v1/journal/{entry['seq']}/corrections", _SLIP, "cannot-undo", who="lead")
    assert "was started in" in problem["detail"]
    _whole()


def test_a_reading_that_was_never_made_stops_no_can(api: Any) -> None:
    makers.supplier(api)
    where = makers.place(api)
    resin = makers.material(api, "Alder 10 resin", "resin", storage_low_c=10, storage_high_c=30)
    can = makers.cans(api, resin, where, "26-1")[0]
    api.post(f"/v1/places/{where}/readings", {"temperature_c": 20})
    api.shop.clock.forward(hours=5)
    fit = api.get(f"/v1/containers/{can}")["fitness"]
    api.post(f"/v1/places/{where}/readings", {"temperature_c": -80})
    assert api.get(f"/v1/containers/{can}")["fitness"]["answer"] == "ask"
    _undo(api, "record_storage_reading")
    assert api.get(f"/v1/containers/{can}")["fitness"] == fit
    _whole()


@pytest.mark.parametrize("kind", ["mass", "trim"])
def test_a_part_weighs_what_the_last_weighing_that_stands_said(api: Any, kind: str) -> None:
    part = makers.laid_up_part(api)
    makers.cured(api, part)
    api.post(f"/v1/parts/{part}/demoulding")
    api.post(f"/v1/parts/{part}/steps", {"kind": "mass", "mass_g": 500})
    if kind == "mass":
        api.post(f"/v1/parts/{part}/steps", {"kind": "mass", "mass_g": 5000})
    else:
        api.post(f"/v1/parts/{part}/trimming", {"mass_g": 4800})
    _undo(api, "record_part_step" if kind == "mass" else "trim", part)
    assert api.get(f"/v1/parts/{part}")["mass_g"] == 500
