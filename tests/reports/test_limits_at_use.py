"""How long a can may be open, by its card as it stood at each use: a card that is changed later changes no past."""

from typing import Any

import pytest

from tests import makers

_SPLIT = (
    "Of {} parts made from it after day {}, 2 failed; of {} made from it before, none; of 3 sisters from other cans"
)


def _may_be_open(api: Any, bench: makers.Mixing, days: int) -> None:
    card = api.get(f"/v1/materials/{bench.slow}")
    changed = api.call(
        "PATCH", f"/v1/materials/{bench.slow}", {"opened_life_days": days, "why": "data sheet"}, who="lead",
        If_Match=f'"{card["version"]}"',
    )  # fmt: skip
    assert changed.status_code == 200, changed.get_data(as_text=True)


def _part(bench: makers.Mixing, planned: str, poured: str) -> str:
    """Planned from one can and poured from another: a pour that happened is recorded."""
    api = bench.api
    part = str(api.post("/v1/parts", {"part_number": "HY-204"})["code"])
    asked = [{"container": bench.resin_can}, {"container": planned}]
    mix = bench.start(130, containers=asked, why="that one")["code"]
    bench.pour(mix, bench.resin_can, 100.0)
    bench.pour(mix, poured, 30.0)
    bench.stir(mix)
    bench.apply(mix, part)
    api.post(f"/v1/mixes/{mix}/closing", {"left_g": 5, "loss_g": 1, "cup_kept": False})
    api.post(f"/v1/parts/{part}/closing")
    api.post(f"/v1/parts/{part}/inspections", {"accepted": True})
    return part


@pytest.fixture
def used(api: Any) -> tuple[makers.Mixing, list[str]]:
    """Six parts from one can on days 0 to 40, beside one from a fresh can on each third; the limit is 20 days."""
    makers.design(api, zones=["root"])
    bench = makers.mixing(api)
    _may_be_open(api, bench, 20)
    fresh = makers.cans(api, bench.slow, bench.place, "H-3", count=3)
    parts = []
    for number in range(6):
        parts.append(_part(bench, fresh[number // 2], bench.slow_can))
        if number % 2:
            _part(bench, fresh[number // 2], fresh[number // 2])
        api.shop.clock.forward(days=8)
    for part in parts[-2:]:
        body = {"item": part, "found": "soft", "failed": True}
        api.post("/v1/nonconformances", body, who="quality")
    return bench, parts


def _told(api: Any, part: str) -> tuple[list[str], list[float]]:
    """What is told of the can, and how many days were left at this part's use of it."""
    found = api.get(f"/v1/parts/{part}/investigation", who="quality")
    left = [one["own"] for one in found["suspects"]["numbers"] if one["name"].startswith("days left at use, hardener")]
    return [one["lead"] + one["rest"] for one in found["standing_out"] if one["kind"] == "age"], left


@pytest.mark.parametrize("days", [20, 60, 3])
def test_a_use_beyond_the_limit_is_told_by_that_limit(api: Any, used: Any, days: int) -> None:
    bench, parts = used
    if days != 20:
        _may_be_open(api, bench, days)
    (said,), left = _told(api, parts[-1])
    assert said.startswith("Its hardener can had been open 40 days; the limit is 20. " + _SPLIT.format(3, 20, 3))
    assert left == [-20]


def test_a_use_within_its_limit_and_beyond_what_is_known_now_is_told_as_that(api: Any, used: Any) -> None:
    bench, parts = used
    assert _told(api, parts[2]) == ([], [4])
    _may_be_open(api, bench, 3)
    (said,), left = _told(api, parts[2])
    assert said.startswith(
        "Its hardener can had been open 16 days; the limit is 3 by what is known now, and was not when it was used. "
        + _SPLIT.format(5, 3, 1)
    )
    assert left == [4]


def test_who_shares_a_can_beyond_its_limit_is_counted_there_however_it_failed(api: Any, used: Any) -> None:
    """The first of those beyond the limit cracked; the one that is looked at is soft."""
    bench, parts = used
    for part, kind in ((parts[-1], "soft"), (parts[-3], "crack")):
        defect = {"kind": kind, "zone": "root"}
        body = {"item": part, "found": kind, "failed": True, "defects": [defect]}
        api.post("/v1/nonconformances", body, who="quality")
    report = api.get(f"/v1/parts/{parts[-1]}/investigation", who="quality")
    assert report["suspects"]["became"]["failed_otherwise"] == 1
    rows = {one["name"].partition(", ")[2]: one for one in report["shared"] if one["code"] == bench.slow_can}
    assert {name: (one["parts"], one["failed"]) for name, one in rows.items()} == {
        "after day 20": (3, 3), "before": (3, 0)
    }  # fmt: skip
    assert parts[-3] in rows["after day 20"]["others"]
