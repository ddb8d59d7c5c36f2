"""Every read on a small account and on one ten times as large: what an answer of the same size costs stays the same.

The cost is counted by the engine itself (see `effort.py`): steps of SQLite's virtual machine, rows that PostgreSQL
read. Both with the statistics that the planner may have and, on SQLite, without any: nothing in the program gathers
them there, and a plan must not be right by them alone.
"""

import re
from collections.abc import Iterator
from typing import Any

import pytest

from schemas.words import Kind
from service.database import connected, database, on_postgresql, rows_of
from tests.benchmarks.effort import effort
from tests.benchmarks.grow import grow
from tests.forging import say
from tests.fresh import made_once
from tests.reports import workshop

pytestmark = pytest.mark.sweep

_SMALL, _LARGE = 40, 400
# What asks about the whole of the account, or of a lot that half the account was made of: its cost follows that.
_WHOLE = {
    "/v1/journal/chain": "works out every link of the journal again",
    "/investigation": "compares the parts of a year, 2,000 at most: the small account has not had its first year",
    "/release": "looks at every act on the can that this workshop pours all its pots from",
    "/record": "the same: what was entered late",
    "/trace": "asks first how much the standing holds reach, up to 3,000 items",
    "/v1/costs?month=2026-11": "the prices of lots that half of this account was made of, shared among their cans",
}
_GROWTH, _SLACK = 1.5, 2500


@made_once
def _workshop(api: Any) -> None:
    yard = workshop.workshop(api)
    for can in (yard.old_can, yard.new_can, yard.new_can):
        yard.whole(can)
    yard.whole(yard.old_can, hardness=44, failed=True)


def _codes() -> dict[str, str]:
    """Of each kind the newest item, which little was made of; and the part that failed."""
    with connected():
        newest = dict(rows_of("SELECT kind, max(code) FROM item GROUP BY kind"))
        failed = "SELECT i.code FROM item i JOIN nonconformance n ON n.item_id = i.id ORDER BY n.id LIMIT 1"
        return newest | {Kind.PART: rows_of(failed)[0][0]}


def _paths(api: Any, codes: dict[str, str]) -> Iterator[str]:
    for rule in api.client.application.url_map.iter_rules():
        if "GET" not in rule.methods or not rule.rule.startswith("/v1/") or rule.rule.endswith(".pdf"):
            continue
        named = {}
        for name, converter in rule._converters.items():
            letters = getattr(converter, "letters", None)
            named[name] = "1" if letters is None else codes.get((letters or "P")[0], "X")
        yield re.sub(r"<(?:[^:>]*:)?(\w+)>", lambda found, named=named: named[found[1]], rule.rule)
    for name in ("parts", "mixes", "kits", "cures", "containers", "lots", "holds", "journal"):
        yield from (f"/v1/{name}?limit=5", f"/v1/{name}?limit=5&sort=newest")
    yield from ("/v1/availability?material=1", "/v1/availability?system=1")
    # The month of all that the newest parts are made of, and one in which nothing moved.
    yield from ("/v1/costs?month=2026-11", "/v1/costs?month=2027-11")


def _asked(api: Any, parts: int, *, statistics: bool = True) -> dict[str, tuple[int, int]]:
    """What each address costs on an account of so many parts, and how long its answer is."""
    api.accounts.renew(api.url)
    api.shop.clock.now = api.accounts.at
    _workshop(api)
    codes = _codes()
    with connected():
        grow(parts, bound=False)
        if not statistics:
            say("DELETE FROM sqlite_stat1")
    database.close_all()
    found = {}
    for path in dict.fromkeys(_paths(api, codes)):
        who = "lead" if path.startswith("/v1/costs") else "quality"
        api.call("GET", path, who=who).get_data()
        with effort() as counted:
            answer = api.call("GET", path, who=who)
            size = len(answer.get_data())
        if answer.status_code == 200:
            found[path] = (counted.spent, size)
    return found


def _grown(small: dict[str, tuple[int, int]], large: dict[str, tuple[int, int]]) -> list[str]:
    """Those that cost more than their answer has grown by."""
    return [
        f"{path}: {before} -> {after} for {size_before} -> {size} bytes"
        for path, (before, size_before) in small.items()
        for after, size in [large.get(path, (0, 1))]
        if not any(word in path for word in _WHOLE)
        and after > (_GROWTH * before + _SLACK) * max(1, size / max(size_before, 1))
    ]


def test_no_read_costs_more_where_ten_times_as_much_lies_behind_it(api: Any) -> None:
    small, large = _asked(api, _SMALL), _asked(api, _LARGE)
    assert len(small) > 70
    assert _grown(small, large) == []
    whole = {path for path in small if any(word in path for word in _WHOLE)}
    assert all(large[path][0] < 12 * small[path][0] + _SLACK for path in whole)
    if not on_postgresql():
        assert _grown(small, _asked(api, _LARGE, statistics=False)) == []
