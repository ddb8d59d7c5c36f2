"""Which pull a part was since the last release of its mould, over HTTP."""

from typing import Any

from tests import makers

_PULLS = "pulls since the mould's release"


def _released(api: Any, mould: str, agent: str) -> None:
    api.post(f"/v1/moulds/{mould}/treatments", {"kind": "release coat", "container": agent, "coats": 1})
    api.shop.clock.forward(minutes=30)


def _pulled(api: Any, mould: str) -> str:
    start = {"part_number": "HY-204", "mould": mould}
    part = str(api.post("/v1/parts", start)["code"])
    api.post(f"/v1/parts/{part}/closing")
    makers.cured(api, part)
    api.post(f"/v1/parts/{part}/demoulding", {"temperature_c": 22})
    api.post(f"/v1/parts/{part}/inspections", {"accepted": True})
    return part


def _undone(api: Any, operation: str, item: str) -> None:
    *_, said = api.get(f"/v1/journal?operation={operation}&item={item}", who="quality")
    body = {"declaration": "did not occur", "why": "it was the other half"}
    api.post(f"/v1/journal/{said['seq']}/corrections", body, who="lead")


def test_a_pull_counts_from_the_last_release_that_stands_however_long_ago_it_was(api: Any) -> None:
    """Two parts from before the year that is compared took two pulls of the same release; another mould took none."""
    makers.design(api)
    makers.supplier(api)
    shelf = makers.place(api)
    coating = makers.material(api, "Long wax", "release agent", release_wait_min=30, release_pulls=9)
    agent = makers.cans(api, coating, shelf, "26-5", net_g=500, no_expiry=True)[0]
    mould, other = (
        str(api.post("/v1/moulds", {"name": name}, who="lead")["code"]) for name in ("Half one", "Half two")
    )
    _released(api, other, agent)
    _released(api, mould, agent)
    for _ in range(2):
        _pulled(api, mould)
    api.shop.clock.forward(days=400)
    # A start that did not occur was no pull.
    mistaken = api.post("/v1/parts", {"part_number": "HY-204", "mould": mould})["code"]
    _undone(api, "start_part", mistaken)
    parts = [_pulled(api, mould) for _ in range(3)]
    parts.append(_pulled(api, other))
    # A coat that was not laid on, and is taken back, begins nothing anew.
    _released(api, mould, agent)
    _undone(api, "treat_mould", mould)
    parts.append(_pulled(api, mould))
    _released(api, mould, agent)
    parts.append(_pulled(api, mould))
    body = {"item": parts[0], "found": "stuck", "failed": True, "defects": [{"kind": "soft", "zone": "root"}]}
    api.post("/v1/nonconformances", body, who="quality")
    expected = [3, 4, 5, 1, 6, 1]
    for part, pull in zip(parts, expected, strict=True):
        report = api.get(f"/v1/parts/{part}/investigation", who="quality")["suspects"]
        assert {one["name"]: one["own"] for one in report["numbers"]}[_PULLS] == pull
