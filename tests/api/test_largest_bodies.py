"""The largest that each route takes is bounded: by a limit with a sentence, or by work that grows no faster than it."""

import re
import sqlite3
from collections.abc import Callable
from typing import Any

import pypdfium2
import pytest

from service.database import database
from service.operations.ledger.labelling import MOST_AT_ONCE
from tests import makers
from tests.statements import statements

_SQUARE = [[0, 0], [1000, 0], [1000, 500], [0, 500]]
_CROSSED = [[0, 0], [100, 0], [100, 100], [50, -50], [0, 100]]


def _saw(corners: int) -> list[list[float]]:
    """A saw blade of so many corners."""
    teeth = [[10 * number, 100 if number % 2 else 200] for number in range(corners - 2)]
    return [*teeth, [10 * (corners - 3), 0], [0, 0]]


def test_a_roll_of_labels_is_issued_and_drawn_by_fifties(api: Any) -> None:
    makers.supplier(api)
    resin, where = makers.material(api, "Alder 10 resin", "resin"), makers.place(api)
    lot = makers.lot(api, resin, where, makers_lot="26-1", containers=[{"net_g": 500, "count": 30}] * 4)["code"]
    issued = []
    for count in (MOST_AT_ONCE, MOST_AT_ONCE, 120 - 2 * MOST_AT_ONCE):
        made = api.post(f"/v1/lots/{lot}/labels", {"size": "62"})
        assert len(made) == count
        issued += [label["code"] for label in made]
    assert len(set(issued)) == 120
    assert issued == sorted(issued)
    api.post(f"/v1/lots/{lot}/labels", {"size": "62"}, expect=409)
    path, pages = f"/v1/lots/{lot}/labels.pdf?frame=black", []
    while path:
        answer = api.call("GET", path)
        assert answer.status_code == 200, answer.get_data(as_text=True)
        document = pypdfium2.PdfDocument(answer.data)
        pages.append(len(document))
        document.close()
        link = re.fullmatch(r'<(.+)>; rel="next"', answer.headers.get("Link", ""))
        path = link[1] if link else ""
    assert pages == [MOST_AT_ONCE, MOST_AT_ONCE, 20]
    assert api.call("GET", f"/v1/lots/{lot}/labels.pdf?page=4").status_code == 404
    for wrong in ("0", "-1", "x", "1" * 40):
        assert api.call("GET", f"/v1/lots/{lot}/labels.pdf?page={wrong}").status_code == 422


def test_a_note_of_several_lots_brings_five_hundred_containers_and_no_more(api: Any) -> None:
    makers.supplier(api)
    resin, where = makers.material(api, "Alder 10 resin", "resin"), makers.place(api)
    lots = [
        {"material": resin, "makers_lot": f"26-{number}", "expires_on": "2027-09-30",
         "containers": [{"net_g": 5, "count": count}]}
        for number, count in enumerate((200, 200, 101))
    ]  # fmt: skip
    note = {"supplier": 1, "delivery_note": "LN 2", "place": where, "lots": lots}
    problem = api.post("/v1/delivery-notes", note, expect=422)
    assert [(error["pointer"], error["detail"]) for error in problem["errors"]] == [
        ("/lots", "That is 501 containers; one call takes 500 at most. Send the rest with another.")
    ]
    assert api.get("/v1/lots") == []
    lots[2]["containers"][0]["count"] = 100
    assert [len(lot["containers"]) for lot in api.post("/v1/delivery-notes", note)] == [200, 200, 100]


def test_the_templates_of_a_design_have_five_thousand_corners_at_most(api: Any) -> None:
    cloth = makers.fabric(api)
    plies = [{"number": n, "material": cloth, "angle_deg": 0, "outline": _saw(500)} for n in range(1, 11)]
    body = {"part_number": "HY-204", "revision": "A", "name": "Rudder half", "plies": plies}
    made = api.post("/v1/designs", body, who="lead")
    more = [*plies, {"number": 11, "material": cloth, "angle_deg": 0, "outline": _SQUARE}]
    for method, path, sent in (("POST", "/v1/designs", {**body, "revision": "B", "plies": more}),
                               ("PATCH", f"/v1/designs/{made['id']}", {"plies": more})):  # fmt: skip
        answer = api.call(method, path, sent, who="lead", If_Match='"1"')
        assert answer.status_code == 422
        assert answer.get_json()["errors"][0]["pointer"] == "/plies"
        assert "5,000 corners in all, these have 5,004" in answer.get_json()["errors"][0]["detail"]
    assert api.call("GET", "/v1/designs?limit=51").status_code == 422, "a page of designs is shorter than others"


def test_areas_are_worked_out_before_the_transaction_begins(api: Any) -> None:
    """An outline that is none costs the account nothing but the entry that says so: no lock is held meanwhile."""
    cloth = makers.fabric(api)
    good = {"part_number": "HY-204", "revision": "A", "name": "Rudder half", "plies": makers.plies(cloth, 0)}
    made = api.post("/v1/designs", good, who="lead")
    with statements() as unknown:
        api.post("/v1/designs", {**good, "revision": "B", "schedule": "none such"}, expect=422, who="lead")
    wrong = [{"number": 1, "material": cloth, "angle_deg": 0, "outline": _CROSSED}]
    for method, path, body in (("POST", "/v1/designs", {**good, "revision": "B", "plies": wrong}),
                               ("PATCH", f"/v1/designs/{made['id']}", {"plies": wrong})):  # fmt: skip
        match = {"If_Match": '"1"'} if method == "PATCH" else {}
        with statements() as said:
            answer = api.call(method, path, body, who="lead", **match)
        assert answer.get_json()["errors"][0]["pointer"] == "/plies/0/outline"
        deeds = [sql for sql, _ in said.said if "INSERT INTO" in sql and '"deed"' in sql]
        assert len(deeds) == 1, "the refusal's own"
        assert len(said) < len(unknown)
        assert not [sql for sql, _ in said.said if '"material"' in sql]


def _steps(ask: Callable[[], Any]) -> int:
    """How many steps SQLite's own machine takes for it, in hundreds."""
    count = 0

    def tick() -> int:
        nonlocal count
        count += 1
        return 0

    connection: sqlite3.Connection = database.connection()
    connection.set_progress_handler(tick, 100)
    try:
        ask()
    finally:
        connection.set_progress_handler(None, 0)
    return count


def _filled_again(bench: makers.Mixing, can: str, times: int) -> dict[str, int]:
    """A jug that is filled again so often from a can, which is then put on hold; what looking at them takes."""
    api = bench.api
    jug = api.post(f"/v1/containers/{can}/decants", {"mass_g": 10, "tare_g": 5})["code"]
    since = api.shop.clock.now.isoformat()
    for _ in range(times):
        api.post(f"/v1/containers/{can}/decants", {"mass_g": 1, "into": jug})
    held = {"item": can, "reason": "cloudy", "since": since}
    taken = {"place": _steps(lambda: api.post("/v1/holds", held, who="lead"))}
    number = api.get(f"/v1/holds?item={can}")[0]["id"]
    paths = {"hold": f"/v1/holds/{number}", "can": f"/v1/containers/{can}", "jug": f"/v1/containers/{jug}",
             "item": f"/v1/items/{jug}", "trace": f"/v1/items/{can}/trace?direction=forward",
             "since": api.get(f"/v1/holds/{number}")["reaches"]["trace"]}  # fmt: skip
    taken |= {what: _steps(lambda path=path: api.get(path)) for what, path in paths.items()}  # type: ignore[misc]
    out = {"mass_g": 1, "tare_g": 5}
    taken["refused"] = _steps(lambda: api.post(f"/v1/containers/{jug}/decants", out, expect=409))
    return taken


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_a_can_on_hold_that_others_were_filled_from_takes_steps_that_grow_no_faster_than_its_refills(api: Any) -> None:
    bench = makers.mixing(api)
    few, many = _filled_again(bench, bench.resin_can, 50), _filled_again(bench, bench.slow_can, 200)
    assert {what: (few[what], many[what]) for what in few if many[what] > 5 * max(few[what], 10)} == {}


def test_a_page_of_the_journal_ends_before_it_is_too_heavy_and_leads_on(api: Any) -> None:
    """Two hundred entries of 1 MB each were one answer; a page goes by what it weighs, too."""
    cloth = makers.fabric(api)
    corners = [[10 * n + n / 7, 1000 / 7 if n % 2 else 2000 / 7] for n in range(498)]
    saw = [*corners, [4970, 0], [0, 0]]
    plies = [{"number": n, "material": cloth, "angle_deg": 0, "outline": saw} for n in range(1, 11)]
    body = {"part_number": "HY-204", "revision": "A", "name": "Rudder half", "plies": plies, "schedule": "none such"}
    before = len(api.get("/v1/journal?limit=200", who="quality"))
    for _ in range(7):
        api.post("/v1/designs", body, expect=422, who="lead")
    for path in ("/v1/journal?limit=200", "/v1/chain?limit=200"):
        count, pages = 0, 0
        while path:
            answer = api.call("GET", path, who="quality")
            assert len(answer.data) < 1_500_000
            count, pages = count + len(answer.get_json()), pages + 1
            link = re.fullmatch(r'<(.+)>; rel="next"', answer.headers.get("Link", ""))
            path = link[1] if link else ""
        assert (count, pages) == (before + 7, 2)
