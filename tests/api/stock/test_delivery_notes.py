"""One note, several lots; a note that is typed twice; a code that was misread; labels that say what is so."""

from typing import Any

import pytest

from tests import makers


@pytest.fixture
def shelf(api: Any) -> str:
    makers.supplier(api)
    return makers.place(api)


def _note(api: Any, shelf: str, *lots: dict[str, Any], **more: Any) -> dict[str, Any]:
    return {"supplier": 1, "delivery_note": "LN 4471", "place": shelf, "lots": list(lots), **more}


def _line(material: int, makers_lot: str, net_g: float = 5000, **facts: Any) -> dict[str, Any]:
    return {"material": material, "makers_lot": makers_lot, "expires_on": "2027-09-30",
            "containers": [{"net_g": net_g}], **facts}  # fmt: skip


def test_a_note_of_several_lots_is_one_act_and_they_are_released_by_one_signature(api: Any, shelf: str) -> None:
    resin, hardener = makers.material(api, "Alder 10", "resin"), makers.material(api, "Alder 32", "hardener")
    made = api.post("/v1/delivery-notes", _note(api, shelf, _line(resin, "26-1"), _line(hardener, "26-2", 1500)))
    assert [lot["receipts"][0]["delivery_note"] for lot in made] == ["LN 4471", "LN 4471"]
    codes = [lot["code"] for lot in made]
    assert len({api.get(f"/v1/journal?item={c}", who="lead")[0]["seq"] for c in codes}) == 1
    released = api.post("/v1/lot-releases", {"lots": codes}, who="lead")
    assert [lot["state"] for lot in released] == ["released", "released"]


def test_of_a_note_with_a_wrong_line_nothing_is_kept_and_the_line_is_named(api: Any, shelf: str) -> None:
    resin = makers.material(api, "Alder 10", "resin")
    wrong = _note(api, shelf, _line(resin, "26-1"), _line(99, "26-2"))
    problem = api.post("/v1/delivery-notes", wrong, expect=422)
    assert problem["errors"][0]["pointer"] == "/lots/1/material"
    assert api.get("/v1/lots") == []


def test_releases_are_all_or_none(api: Any, shelf: str) -> None:
    resin = makers.material(api, "Alder 10", "resin")
    strict = makers.material(api, "Alder 32", "hardener", certificate_wanted="3.1")
    made = api.post("/v1/delivery-notes", _note(api, shelf, _line(resin, "26-1"), _line(strict, "26-2")))
    codes = [lot["code"] for lot in made]
    api.refused("/v1/lot-releases", {"lots": codes}, "certificate-missing", who="lead")
    assert [api.get(f"/v1/lots/{c}")["state"] for c in codes] == ["quarantine", "quarantine"]


def test_the_same_note_lot_and_amount_is_asked_about(api: Any, shelf: str) -> None:
    """Two people typed one note: the second is asked before the shelf has twice what came."""
    resin = makers.material(api, "Alder 10", "resin")
    body = {"supplier": 1, "delivery_note": "LN 4471", "place": shelf, **_line(resin, "26-1")}
    lot = api.post("/v1/deliveries", body)["code"]
    problem = api.refused("/v1/deliveries", body, "received-already")
    assert problem["lot"] == lot
    for as_another_types_it in ("ln4471", "Ln 4471"):
        api.refused("/v1/deliveries", {**body, "delivery_note": as_another_types_it}, "received-already")
    assert len(api.get(f"/v1/lots/{lot}")["containers"]) == 1
    api.post("/v1/deliveries", {**body, "containers": [{"net_g": 1000}]})
    api.post("/v1/deliveries", {**body, "confirmed": True})
    assert len(api.get(f"/v1/lots/{lot}")["containers"]) == 3


def test_a_delivery_that_did_not_occur_is_no_reason_to_ask(api: Any, shelf: str) -> None:
    resin = makers.material(api, "Alder 10", "resin")
    body = {"supplier": 1, "delivery_note": "LN 4471", "place": shelf, **_line(resin, "26-1")}
    lot = api.post("/v1/deliveries", body)["code"]
    entry = api.get(f"/v1/journal?item={lot}&operation=receive_delivery", who="lead")[0]["seq"]
    api.post(f"/v1/journal/{entry}/corrections", {"declaration": "did not occur", "why": "typed too soon"}, who="lead")
    api.post("/v1/deliveries", body)


@pytest.mark.parametrize("text", ["(01)09521234543214(10)26-0914", "]C101095212345432141026-0914"])
def test_a_suppliers_code_with_a_wrong_check_digit_is_misread(api: Any, shelf: str, text: str) -> None:
    problem = api.post("/v1/supplier-codes", {"text": text}, expect=422)
    assert "its check digit does not fit" in problem["detail"]
    assert api.post("/v1/supplier-codes", {"text": "(01)09521234543213(10)26-0914"}, expect=200)["gtin"]


def test_an_article_number_with_a_wrong_check_digit_is_not_put_on_a_material(api: Any) -> None:
    wrong, right = {"gtin": "09521234543214"}, {"gtin": "09521234543213"}
    elm = {"name": "Elm 3", "kind": "resin"}
    made = api.post("/v1/materials", {**elm, **right}, who="lead")
    another = {**elm, "name": "Elm 4", **wrong}
    tried = (("/v1/materials", another, "/gtin"), ("/v1/registers", {"materials": [another]}, "/materials/0/gtin"))
    for path, body, at in tried:
        problem = api.post(path, body, expect=422, who="lead")
        assert "its check digit does not fit" in problem["detail"]
        assert problem["errors"][0]["pointer"] == at
    changed = api.call("PATCH", f"/v1/materials/{made['id']}", {**wrong, "why": "tin"}, who="lead", If_Match='"1"')
    assert changed.status_code == 422
    assert len(api.get("/v1/materials")) == 1


def test_a_label_that_says_quarantine_is_replaced_when_the_lot_is_released(api: Any, shelf: str) -> None:
    resin = makers.material(api, "Alder 10", "resin")
    lot = makers.lot(api, resin, shelf, makers_lot="26-1", released=False, containers=[{"net_g": 500, "count": 2}])
    first, second = lot["containers"]
    api.post(f"/v1/items/{first}/labels", {"size": "100x50"})
    api.post(f"/v1/items/{lot['code']}/labels", {"size": "62"})
    api.post(f"/v1/lots/{lot['code']}/release", who="lead")
    for code in (first, lot["code"]):
        assert [(label["issue"], label["void"]) for label in api.get(f"/v1/items/{code}/labels")] == [
            (1, True),
            (2, False),
        ]
    assert api.get(f"/v1/items/{second}/labels") == []
    scanned = api.client.get(f"/I/{first}/1", headers={"Accept": "text/html"}).get_data(as_text=True)
    assert "void" in scanned.lower()


def test_a_second_arrival_that_waits_keeps_its_quarantine_label(api: Any, shelf: str) -> None:
    resin = makers.material(api, "Alder 10", "resin")
    one = makers.lot(api, resin, shelf, makers_lot="26-1", containers=[{"net_g": 500}])
    two = makers.lot(api, resin, shelf, makers_lot="26-1", released=False, containers=[{"net_g": 700}])
    waiting = next(c for c in two["containers"] if c not in one["containers"])
    api.post(f"/v1/items/{waiting}/labels", {"size": "100x50"})
    assert [label["void"] for label in api.get(f"/v1/items/{waiting}/labels")] == [False]
    api.post(f"/v1/lots/{one['code']}/release", who="lead")
    assert [label["void"] for label in api.get(f"/v1/items/{waiting}/labels")] == [True, False]
