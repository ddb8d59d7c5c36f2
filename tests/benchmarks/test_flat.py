"""What an account of a thousand parts is asked: every reading route, none with a list that grew with it."""

import json
from collections.abc import Iterator
from typing import Any

import pytest

from schemas.words import Kind
from service.database import connected, database, on_postgresql, rows_of
from service.operations.ledger import trace
from service.operations.ledger.checking import check_account
from service.operations.stock.picking import on_shelf
from service.records.items import Hold, Item
from tests.benchmarks.effort import effort
from tests.benchmarks.grow import grow
from tests.forging import say
from tests.fresh import made_once
from tests.reports import workshop

pytestmark = pytest.mark.sweep

MOST_VALUES = 1000
_PARTS = 1050
# Lists of what is under way or waits, none of it here but what was refused; behind each lies all that was finished.
_FEW = (
    "parts?state=planned", "parts?state=laying", "mixes?open=true", "mixes?state=weighing", "kits?state=cut",
    "cures?state=running", "lots?state=quarantine", "journal?refused=true",
)  # fmt: skip


@made_once
def _grow(api: Any) -> workshop.Workshop:
    yard = workshop.workshop(api)
    for can in (yard.old_can, yard.new_can, yard.new_can):
        yard.whole(can)
    yard.whole(yard.old_can, hardness=44, failed=True)
    with connected():
        grow(_PARTS)
    return yard


@pytest.fixture
def grown(api: Any) -> Any:
    """Three hundred times the four bodies of a small workshop, the last of which failed."""
    api.yard = _grow(api)
    return api


@pytest.fixture
def heard(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[tuple[str, int]]]:
    """Each statement with how many values it carries, those of a list each counted."""
    said: list[tuple[str, int]] = []
    sent = database.obj.execute_sql

    def listening(sql: str, params: Any = None, *rest: Any) -> Any:
        said.append((sql, sum(_values(p) for p in params or ())))
        return sent(sql, params, *rest)

    monkeypatch.setattr(database.obj, "execute_sql", listening)
    return said


def _values(value: Any) -> int:
    if isinstance(value, str) and value.startswith("["):
        try:
            return len(json.loads(value))
        except ValueError:
            return 1
    return len(value) if isinstance(value, list | tuple) else 1


def _paths(api: Any) -> Iterator[str]:
    """Every address that is read, with the oldest item of a kind: those that the most was made of, and with."""
    with connected():
        oldest = dict(rows_of("SELECT kind, min(code) FROM item GROUP BY kind"))
        failed = rows_of("SELECT i.code FROM item i JOIN nonconformance n ON n.item_id = i.id ORDER BY n.id LIMIT 1")
    oldest[Kind.PART] = failed[0][0]
    for rule in api.client.application.url_map.iter_rules():
        if "GET" not in rule.methods or not rule.rule.startswith("/v1/"):
            continue
        named = {}
        for name, converter in rule._converters.items():
            kinds = getattr(converter, "letters", "") or "LPMC"
            named[name] = oldest[kinds[0]] if type(converter).__name__ == "CodeInPath" else "1"
        address = rule.rule
        for part in [p for p in address.split("/") if p.startswith("<")]:
            address = address.replace(part, named[part.strip("<>").split(":")[-1].split(">")[0]])
        yield address
    # Lists as long as they may be, and what is asked with a question.
    yield from (f"/v1/{name}?limit=200" for name in ("parts", "mixes", "kits", "cures", "containers", "lots", "holds"))
    yield from (f"/v1/items/{oldest[kind]}/trace?direction=forward" for kind in ("L", "C", "M"))
    yield from ("/v1/availability?material=1", "/v1/availability?system=1")


def test_a_grown_account_agrees_with_its_own_history(grown: Any) -> None:
    with connected():
        checked = check_account()
        assert Item.select().where(Item.kind == Kind.PART).count() >= _PARTS
        loose = [] if "Postgres" in type(database.obj).__name__ else rows_of("PRAGMA foreign_key_check")
    assert checked.first == ()
    assert loose == []


def test_no_statement_of_any_reading_route_carries_a_list_that_grew(grown: Any, heard: list[tuple[str, int]]) -> None:
    answered, broken = 0, []
    for path in _paths(grown):
        heard.clear()
        answer = grown.call("GET", path, who="quality")
        answer.get_data()
        answered += answer.status_code == 200
        if answer.status_code >= 500:
            broken.append((path, answer.status_code, answer.get_data(as_text=True)[:200]))
        broken += [(path, values, sql[:160]) for sql, values in heard if values > MOST_VALUES]
    assert broken == []
    assert answered > 40


def test_a_hold_on_a_lot_that_all_was_made_of_is_placed_read_and_lifted(
    grown: Any, heard: list[tuple[str, int]]
) -> None:
    with connected():
        (lot,) = rows_of(
            "SELECT i.code FROM item i JOIN container c ON c.lot_id = i.id"
            " GROUP BY i.code ORDER BY count(*) DESC LIMIT 1"
        )[0]
    hold = grown.post("/v1/holds", {"item": lot, "reason": "recalled by the maker"}, who="lead")
    assert hold["reaches"]["counts"]["part"] >= 1000
    assert grown.get(f"/v1/holds/{hold['id']}")["reaches"] == hold["reaches"]
    grown.post(f"/v1/holds/{hold['id']}/lifting", {"why": "the maker's second analysis"}, who="quality")
    with connected():
        assert Hold.get_by_id(hold["id"]).lifted_at is not None
    assert max(values for _, values in heard) <= MOST_VALUES


def test_what_is_on_hold_is_the_same_from_the_holds_down_and_from_the_items_up(
    grown: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    with connected():
        lots = [code for (code,) in rows_of("SELECT code FROM item WHERE kind = 'L' ORDER BY id")][:3]
        (can,) = rows_of("SELECT min(code) FROM item WHERE kind = 'C'")[0]
    grown.post("/v1/holds", {"item": can, "reason": "smells", "since": "2026-11-01T00:00:00Z"}, who="lead")
    paths = [f"/v1/items/{lot}/trace?direction=forward" for lot in lots]
    down = [grown.get(path) for path in paths]
    monkeypatch.setattr(trace, "_FEW_HELD", -1)
    assert down == [grown.get(path) for path in paths]
    assert len({item["on_hold"] for answer in down for item in answer["items"]}) == 2


def test_a_look_back_over_all_that_was_made_in_a_mould_stops_it_in_statements_of_one_size(
    grown: Any, heard: list[tuple[str, int]]
) -> None:
    with connected():
        before = Hold.select().count()
    body = {"item": grown.yard.mould["code"], "since": "2000-01-01T00:00:00Z", "reason": "the mould is out of true"}
    stopped = grown.post("/v1/look-backs", body, who="quality")
    assert stopped["stopped"] >= _PARTS
    assert len(stopped["held"]) == 500
    assert max(values for _, values in heard) <= MOST_VALUES
    with connected():
        assert Hold.select().count() == before + stopped["stopped"]
        assert check_account().first == ()
        newest = {
            code
            for (code,) in Item.select(Item.code)
            .where(Item.kind == Kind.PART)
            .order_by(Item.id.desc())
            .limit(500)
            .tuples()
        }
    assert set(stopped["held"]) == newest


def test_the_shelf_is_looked_up_by_an_index_of_what_stands_there(grown: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    said: list[tuple[str, Any]] = []
    sent = database.obj.execute_sql
    monkeypatch.setattr(database.obj, "execute_sql", lambda sql, *more: said.append((sql, *more)) or sent(sql, *more))
    with connected():
        (resin,) = rows_of("SELECT min(id) FROM material WHERE kind = 'resin'")[0]
        said.clear()
        there = on_shelf([resin])
        sql, values = said[0]
        explain = "EXPLAIN" if on_postgresql() else "EXPLAIN QUERY PLAN"
        plan = " ".join(str(row) for row in sent(f"{explain} {sql}", values))
        ever = rows_of("SELECT count(*) FROM container WHERE material_id = ?", resin)[0][0]
    assert "item_on_the_shelf" in plan
    assert 0 < len(there) < ever / 10


def test_what_is_under_way_is_found_without_a_look_at_all_that_was_finished(grown: Any) -> None:
    """By what PostgreSQL knows of its tables once it has gathered it; of what was just put back it has nothing."""
    if on_postgresql():
        with connected():
            database.execute_sql("ANALYZE")
    spent, few = {}, 100 if on_postgresql() else 1500
    for path in _FEW:
        grown.get(f"/v1/{path}", who="quality")
        with effort() as counted:
            assert len(grown.get(f"/v1/{path}", who="quality")) <= 10, path
        spent[path] = counted.spent
    assert {path: cost for path, cost in spent.items() if cost > few} == {}


@pytest.mark.parametrize("database_url", ["postgresql"], indirect=True)
def test_before_statistics_were_gathered_the_refused_are_not_looked_for_among_all_entries(grown: Any) -> None:
    """It takes all acts for refused then, and went from each entry to its act and on, four times all of them."""
    with connected():
        say("DELETE FROM pg_statistic WHERE starelid::regclass::text !~ '^pg_'")
    refused = "/v1/journal?refused=true"
    grown.get(refused, who="quality")
    with effort("entry") as counted:
        assert grown.get(refused, who="quality") == []
    assert counted.spent < 10


def test_whoever_starts_a_pot_is_told_of_their_other_one_without_a_look_at_all_pots(grown: Any) -> None:
    cans = [{"container": grown.yard.mixing.resin_can}, {"container": grown.yard.new_can}]
    first = grown.yard.mixing.start(100, containers=cans)
    with effort() as counted:
        second = grown.yard.mixing.start(100, containers=cans)
    assert any(first["code"] in notice for notice in second["notices"])
    with connected():
        pots = Item.select().where(Item.kind == Kind.MIX).count()
    assert counted.spent < (pots if on_postgresql() else 8 * pots)
