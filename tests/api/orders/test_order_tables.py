"""Orders from a spreadsheet: tried first, taken in all or none, and never planned twice."""

from typing import Any

from tests import makers
from tests.conftest import Api

_SHEET = """system,reference,customer,due,part_number,quantity,lines.reference,serials,lines.due
order desk,PO 71,Rowing club,2026-12-18,HY-204,2,PO 71/1,"71-1, 71-2",
order desk,PO 71,,,HY-300,1,PO 71/2,,2026-12-11
order desk,PO 72,Ferry line,,HY-204,1,,,
"""


def _send(api: Api, sheet: str, *, dry: bool = False) -> Any:
    return api.call("POST", f"/v1/imports/orders{'/dry-run' if dry else ''}", sheet.encode(), who="lead")


def _fates(answer: Any) -> list[tuple[int, str, str | None, int | None]]:
    return [(fate["line"], fate["fate"], fate["column"], fate["number"]) for fate in answer.get_json()["fates"]]


def test_orders_come_in_from_a_sheet_line_by_line_and_a_second_time_nothing_is_planned(api: Api) -> None:
    makers.design(api, "HY-204")
    wrong = _send(api, _SHEET, dry=True)
    assert [fate[:3] for fate in _fates(wrong)] == [
        (2, "refused", None), (3, "refused", "part_number"), (4, "new", None),
    ]  # fmt: skip
    refused = _send(api, _SHEET)
    assert (refused.status_code, [at["line"] for at in refused.get_json()["lines"]]) == (422, [2, 3])
    assert api.get("/v1/orders") == [], "one line that cannot be built keeps all out"
    makers.design(api, "HY-300")
    tried = _send(api, _SHEET, dry=True)
    assert (tried.get_json()["refused"], api.get("/v1/orders"), api.get("/v1/parts")) == (0, [], [])
    done = _send(api, _SHEET)
    assert done.status_code == 201, done.get_json()
    numbers = [number for *_, number in _fates(done)]
    assert numbers[0] == numbers[1] != numbers[2]
    order = api.get(f"/v1/orders/{numbers[0]}")
    lines = [(one["part_number"], one["quantity"], one["due"], one["counts"]["planned"]) for one in order["lines"]]
    assert lines == [("HY-204", 2, None, 2), ("HY-300", 1, "2026-12-11", 1)]
    assert (order["customer"], order["due"]) == ("Rowing club", "2026-12-18")
    assert [part["serial"] for part in api.get(f"/v1/orders/{numbers[0]}/parts?line=1")] == ["71-1", "71-2"]
    again = _send(api, _SHEET)
    assert [fate[1] for fate in _fates(again)] == ["there already"] * 3
    assert len(api.get("/v1/parts")) == 4
    other = _send(api, _SHEET.replace("HY-300,1", "HY-300,2"), dry=True)
    assert [fate[1:3] for fate in _fates(other)] == [
        ("refused", "reference"), ("refused", None), ("there already", None),
    ]  # fmt: skip
    assert "another content" in other.get_json()["fates"][0]["detail"]
