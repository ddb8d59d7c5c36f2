"""A wrong entry is answered by one that names it; nothing is rewritten, and the account is right again."""

from typing import Any

import pytest

from service.database import connected
from service.operations.ledger.checking import check_account
from service.records.items import Item, Movement
from tests import makers
from tests.forging import beside_any_act
from tests.fresh import made_once


@pytest.fixture
@made_once
def can(api: Any) -> str:
    makers.supplier(api)
    api.place = makers.place(api)
    resin = makers.material(api, "Alder 10 resin", "resin", opened_life_days=30)
    return makers.cans(api, resin, api.place, "26-1")[0]


def _entry(api: Any, item: str, operation: str) -> Any:
    return api.get(f"/v1/journal?item={item}&operation={operation}", who="quality")[-1]


def test_a_wrong_amount_is_booked_again_and_both_stay_in_the_journal(api: Any, can: str) -> None:
    jug = api.post(f"/v1/containers/{can}/decants", {"mass_g": 500})["code"]
    entry = _entry(api, jug, "decant")
    body = {"declaration": "incorrect data", "amounts": [{"movement": entry["movements"][0]["id"], "mass_g": 50}]}
    path = f"/v1/journal/{entry['seq']}/corrections"
    api.refused(path, body, "invalid", status=422, who="lead")
    made = api.post(path, {**body, "why": "a nought too many"}, who="lead")
    assert [(m["before"], m["after"]) for m in made["movements"]] == [(500_000, 50_000)]
    assert api.get(f"/v1/containers/{jug}")["left_g"] == 50
    assert api.get(f"/v1/containers/{can}")["left_g"] == 4950
    assert _entry(api, jug, "correct_entry")["corrects"] == entry["deed"]
    assert [f["kind"] for f in api.get(f"/v1/items/{jug}")["flags"]] == ["corrected"]
    trace = api.get(f"/v1/items/{jug}/trace")
    assert [m["amount_g"] for m in trace["movements"] if m["target"] == jug] == [50]
    api.refused(path, {**body, "why": "again"}, "wrong-state", who="lead")


def test_what_did_not_occur_is_taken_back_unless_it_has_gone_on(api: Any, can: str) -> None:
    jug = api.post(f"/v1/containers/{can}/decants", {"mass_g": 500})["code"]
    api.post(f"/v1/containers/{jug}/decants", {"mass_g": 100})
    body = {"declaration": "did not occur", "why": "scanned the wrong can"}
    path = f"/v1/journal/{_entry(api, jug, 'decant')['seq']}/corrections"
    api.refused(f"/v1/journal/{_first(api, jug)}/corrections", body, "cannot-undo", who="lead")
    api.post(path, body, who="lead")
    api.post(f"/v1/journal/{_first(api, jug)}/corrections", body, who="lead")
    assert api.get(f"/v1/containers/{can}")["left_g"] == 5000


def _first(api: Any, item: str) -> int:
    return int(api.get(f"/v1/journal?item={item}&operation=decant", who="quality")[0]["seq"])


def test_an_opening_that_did_not_occur_seals_the_can_again(api: Any, can: str) -> None:
    api.post(f"/v1/containers/{can}/opening")
    path = f"/v1/journal/{_entry(api, can, 'open_container')['seq']}/corrections"
    api.post(path, {"declaration": "did not occur", "why": "the one beside it"}, who="quality")
    view = api.get(f"/v1/containers/{can}")
    assert (view["state"], view["opened_at"]) == ("sealed", None)


def test_a_hold_from_a_time_on_names_only_what_was_taken_since(api: Any, can: str) -> None:
    api.post(f"/v1/containers/{can}/decants", {"mass_g": 500})
    since = api.shop.clock.forward(hours=2)
    api.shop.clock.forward(hours=1)
    after = api.post(f"/v1/containers/{can}/decants", {"mass_g": 500})["code"]
    further = api.post(f"/v1/containers/{after}/decants", {"mass_g": 50})["code"]
    hold = api.post("/v1/holds", {"item": can, "reason": "left open", "since": since.isoformat()})
    assert makers.reached(api, hold) == {after, further}
    assert api.get("/v1/holds")[0]["reaches"] is None


def test_a_permit_answers_only_what_can_be_permitted(api: Any, can: str) -> None:
    body = {"kind": "deviation permit", "item": can, "reasons": ["on-hold"], "why": "x"}
    problem = api.refused("/v1/permissions", body, "invalid", status=422)
    assert "open-too-long" in problem["detail"]


def test_a_decision_is_answered_by_a_decision(api: Any, can: str) -> None:
    hold = api.post("/v1/holds", {"item": can, "reason": "cloudy"})
    api.post(f"/v1/holds/{hold['id']}/lifting", {"why": "clear"}, who="quality")
    path = f"/v1/journal/{_entry(api, can, 'lift_hold')['seq']}/corrections"
    api.refused(path, {"declaration": "did not occur", "why": "x"}, "wrong-state", who="quality")
    api.refused(
        "/v1/journal/99999/corrections",
        {"declaration": "did not occur", "why": "x"},
        "unknown",
        status=404,
        who="quality",
    )


def _corrections(api: Any, item: str, operation: str) -> str:
    return f"/v1/journal/{_entry(api, item, operation)['seq']}/corrections"


def _movement(entry: Any, kind: str, target: str | None = None) -> int:
    return int(next(m["id"] for m in entry["movements"] if m["kind"] == kind and target in (None, m["target"])))


@pytest.fixture
def roll(api: Any) -> str:
    makers.supplier(api)
    api.place = makers.place(api)
    return makers.roll(api, makers.fabric(api), api.place, "T-1", length_mm=50_000)


def _whole() -> None:
    found = check_account()
    assert found.agrees, [d.sentence for d in found.first]


def test_a_receipt_that_is_corrected_carries_its_packing_with_it(api: Any, roll: str) -> None:
    """50 m were typed, 60 m are on the roll: none of it may stand in no roll, and it can be corrected again."""
    lot = api.get(f"/v1/containers/{roll}")["lot"]
    entry = _entry(api, lot, "receive_delivery")
    body = {"declaration": "incorrect data", "why": "misread",
            "amounts": [{"movement": _movement(entry, "receipt"), "length_mm": 60_000}]}  # fmt: skip
    api.post(f"/v1/journal/{entry['seq']}/corrections", body, who="lead")
    assert api.get(f"/v1/containers/{roll}")["left_mm"] == 60_000
    receipt = api.get(f"/v1/lots/{lot}")["receipts"][0]
    assert (receipt["amount_mm"], receipt["received_as_mm"]) == (60_000, 50_000)
    _whole()
    again = _entry(api, lot, "correct_entry")
    body["amounts"] = [{"movement": _movement(again, "packing"), "length_mm": 55_000}]
    api.post(f"/v1/journal/{again['seq']}/corrections", body, who="lead")
    assert api.get(f"/v1/containers/{roll}")["left_mm"] == 55_000
    assert api.get(f"/v1/lots/{lot}")["receipts"][0]["amount_mm"] == 55_000
    _whole()


def test_of_several_cans_the_one_that_was_wrong_is_named(api: Any) -> None:
    makers.supplier(api)
    resin = makers.material(api, "Alder 10 resin", "resin")
    first, second = makers.cans(api, resin, makers.place(api), "26-1", count=2)
    lot = api.get(f"/v1/containers/{first}")["lot"]
    entry = _entry(api, lot, "receive_delivery")
    path = f"/v1/journal/{entry['seq']}/corrections"
    body: dict[str, Any] = {"declaration": "incorrect data", "why": "one can is the small one"}
    amounts = [{"movement": _movement(entry, "receipt"), "mass_g": 6000}]
    problem = api.refused(path, {**body, "amounts": amounts}, "invalid", status=422, who="lead")
    assert "came in 2 containers" in problem["detail"]
    small = {"movement": _movement(entry, "packing", second), "mass_g": 1000}
    wrong = [small, {"movement": _movement(entry, "receipt"), "mass_g": 7000}]
    problem = api.refused(path, {**body, "amounts": wrong}, "invalid", status=422, who="lead")
    assert "add up to 6000 g" in problem["detail"]
    made = api.post(path, {**body, "amounts": [small]}, who="lead")
    assert made["flagged"] == [second], "what was told rightly is not marked as corrected"
    assert [api.get(f"/v1/containers/{c}")["left_g"] for c in (first, second)] == [5000, 1000]
    _whole()
    # The other can is corrected by the entry that stands now, though that entry did not book it.
    newest = _entry(api, lot, "correct_entry")["seq"]
    other = [{"movement": _movement(entry, "packing", first), "mass_g": 4000}]
    api.post(f"/v1/journal/{newest}/corrections", {**body, "amounts": other}, who="lead")
    assert api.get(f"/v1/lots/{lot}")["receipts"][0]["amount_g"] == 5000
    _whole()


def test_a_right_amount_in_another_unit_is_no_right_amount(api: Any, roll: str) -> None:
    lot = api.get(f"/v1/containers/{roll}")["lot"]
    entry = _entry(api, lot, "receive_delivery")
    body = {
        "declaration": "incorrect data",
        "why": "x",
        "amounts": [{"movement": _movement(entry, "receipt"), "mass_g": 60}],
    }
    problem = api.refused(f"/v1/journal/{entry['seq']}/corrections", body, "invalid", status=422, who="lead")
    assert problem["errors"][0]["pointer"] == "/amounts/0"


def test_a_correction_that_was_wrong_is_taken_back(api: Any, can: str) -> None:
    jug = api.post(f"/v1/containers/{can}/decants", {"mass_g": 500})["code"]
    wrong = {"declaration": "did not occur", "why": "scanned the wrong can"}
    path = _corrections(api, jug, "decant")
    api.post(path, wrong, who="lead")
    assert api.get(f"/v1/containers/{jug}")["left_g"] == 0
    undoing = _corrections(api, jug, "correct_entry")
    api.post(undoing, {"declaration": "did not occur", "why": "it was the right can after all"}, who="lead")
    assert api.get(f"/v1/containers/{jug}")["left_g"] == 500
    assert api.get(f"/v1/containers/{can}")["left_g"] == 4500
    _whole()
    api.refused(undoing, wrong, "wrong-state", who="lead")
    # What took a correction back is not corrected in turn, but what stands again is, and by what stands for it.
    entry, decant = _entry(api, jug, "correct_entry"), _entry(api, jug, "decant")
    problem = api.refused(f"/v1/journal/{entry['seq']}/corrections", wrong, "wrong-state", who="lead")
    assert problem["way_out"] == f"Entry {decant['seq']} stands again since then; correct that one anew."
    right = {"declaration": "incorrect data", "why": "misread", "amounts": [{"movement": 1, "mass_g": 300}]}
    right["amounts"][0]["movement"] = _movement(decant, "decant")
    problem = api.refused(path, right, "invalid", status=422, who="lead")
    standing = _movement(entry, "decant")
    assert problem["way_out"] == f"What stands of it now: movement {standing} (decant, 500 g)."
    right["amounts"][0]["movement"] = standing
    api.post(path, right, who="lead")
    assert [api.get(f"/v1/containers/{c}")["left_g"] for c in (jug, can)] == [300, 4700]
    api.post(_corrections(api, jug, "correct_entry"), {"declaration": "did not occur", "why": "it was 500"}, who="lead")
    assert [api.get(f"/v1/containers/{c}")["left_g"] for c in (jug, can)] == [500, 4500]
    api.post(path, wrong, who="lead")
    assert [api.get(f"/v1/containers/{c}")["left_g"] for c in (jug, can)] == [0, 5000]
    _whole()


def test_an_inspection_stands_again_once_its_correction_is_taken_back(api: Any) -> None:
    part = makers.laid_up_part(api)
    makers.cured(api, part)
    api.post(f"/v1/parts/{part}/demoulding")
    api.post(f"/v1/parts/{part}/inspections", {"accepted": True}, expect=201)
    before = len(api.get(f"/v1/parts/{part}")["inspections"])
    api.post(_corrections(api, part, "inspect_part"), {"declaration": "did not occur", "why": "other part"}, who="lead")
    assert len(api.get(f"/v1/parts/{part}")["inspections"]) == before - 1
    undo = {"declaration": "did not occur", "why": "it was this part"}
    api.post(_corrections(api, part, "correct_entry"), undo, who="lead")
    assert len(api.get(f"/v1/parts/{part}")["inspections"]) == before


def test_an_opening_that_was_taken_back_is_opened_anew(api: Any, can: str) -> None:
    api.post(f"/v1/containers/{can}/opening")
    wrong = {"declaration": "did not occur", "why": "the one beside it"}
    api.post(_corrections(api, can, "open_container"), wrong, who="lead")
    problem = api.refused(_corrections(api, can, "correct_entry"), wrong, "wrong-state", who="lead")
    assert "Open the container again" in problem["way_out"]


def test_a_part_that_was_never_begun_takes_no_work(api: Any) -> None:
    makers.design(api)
    part = api.post("/v1/parts", {"part_number": "HY-204"})["code"]
    wrong = {"declaration": "did not occur", "why": "wrong number"}
    api.post(_corrections(api, part, "start_part"), wrong, who="lead")
    assert api.get(f"/v1/parts/{part}")["state"] == "abandoned"
    for path, body in (
        ("scrapping", {"method": "sawn"}),
        ("closing", {}),
        ("demoulding", {}),
        ("inspections", {"accepted": True}),
    ):
        assert api.refused(f"/v1/parts/{part}/{path}", body, "wrong-state", who="lead")
    _whole()


def test_a_part_on_which_work_went_on_was_begun(api: Any) -> None:
    part = makers.laid_up_part(api)
    wrong = {"declaration": "did not occur", "why": "wrong number"}
    problem = api.refused(_corrections(api, part, "start_part"), wrong, "cannot-undo", who="lead")
    assert "closing the lay-up" in problem["detail"]


def test_a_cure_that_was_never_started_leaves_its_part_as_it_was(api: Any) -> None:
    part = makers.laid_up_part(api)
    makers.schedule(api, "Room overnight", evidence="declared")
    cure = api.post("/v1/cures", {"schedule": "Room overnight", "parts": [part]})["code"]
    wrong = {"declaration": "did not occur", "why": "other oven"}
    api.post(_corrections(api, cure, "start_cure"), wrong, who="lead")
    assert api.get(f"/v1/parts/{part}")["state"] == "laid up"
    assert api.get(f"/v1/cures/{cure}")["state"] == "abandoned"
    api.refused(f"/v1/cures/{cure}/declaration", {"remark": "x"}, "wrong-state")
    makers.cured(api, part)
    assert api.get(f"/v1/parts/{part}")["state"] == "cured"
    _whole()


def test_a_receipt_that_did_not_occur_is_shown_as_such_and_not_released(api: Any) -> None:
    makers.supplier(api)
    resin = makers.material(api, "Alder 10 resin", "resin")
    lot = makers.lot(api, resin, makers.place(api), makers_lot="26-1", released=False, containers=[{"net_g": 500}])[
        "code"
    ]
    wrong = {"declaration": "did not occur", "why": "the neighbour's"}
    api.post(_corrections(api, lot, "receive_delivery"), wrong, who="lead")
    receipt = api.get(f"/v1/lots/{lot}")["receipts"][0]
    assert (receipt["amount_g"], receipt["received_as_g"]) == (0, 500)
    api.refused(f"/v1/lots/{lot}/release", {}, "wrong-state", who="lead")
    _whole()


def test_the_check_sees_a_lot_that_stands_in_no_container(api: Any, roll: str) -> None:
    lot = api.get(f"/v1/containers/{roll}")["lot"]
    with connected(), beside_any_act():
        row = Item.get(Item.code == lot)
        Movement.insert(target=row.id, amount=10_000, unit="mm", kind="receipt", estimated=False,
                        occurred_at=api.shop.clock.now, deed=1).execute()  # fmt: skip
        Item.update(balance=10_000).where(Item.id == row.id).execute()
    assert "10000 mm came that stand in no container" in " ".join(d.sentence for d in check_account().first)


def test_what_the_service_did_by_itself_is_not_corrected(api: Any) -> None:
    wrong = {"declaration": "did not occur", "why": "x"}
    problem = api.refused("/v1/journal/1/corrections", wrong, "wrong-state", who="lead")
    assert problem["detail"].startswith("Entry 1 is the service's own")
