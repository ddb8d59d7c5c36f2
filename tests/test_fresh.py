"""Each test begins with an account in which nothing has happened, whatever the tests before it did."""

from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from service.database import connected, database, on_postgresql
from service.guards import guarded_tables
from service.operations.door import founding
from service.records import ALL
from tests import makers
from tests.conftest import NOW, Shop
from tests.forging import say
from tests.fresh import Accounts, OnPostgresql, made_once
from tests.statements import statements


def _rows() -> dict[str, list[Any]]:
    """Everything that the account holds."""
    with connected():
        found = {t._meta.table_name: sorted(map(repr, t.select().tuples())) for t in ALL}
    database.close_all()
    return found


def _shape() -> set[tuple[Any, ...]]:
    """Everything that is not rows, in the engine's own words, and the number that each counter gives next."""
    if on_postgresql():
        queries = [
            "SELECT table_name, column_name, data_type, is_nullable, column_default FROM information_schema.columns"
            " WHERE table_schema = 'public'",
            "SELECT conrelid::regclass::text, pg_get_constraintdef(oid) FROM pg_constraint"
            " WHERE connamespace = 'public'::regnamespace",
            "SELECT tablename, indexdef FROM pg_indexes WHERE schemaname = 'public'",
            "SELECT pg_get_triggerdef(oid), tgenabled FROM pg_trigger WHERE NOT tgisinternal",
            "SELECT sequencename, last_value, start_value FROM pg_sequences WHERE schemaname = 'public'",
        ]
    else:
        queries = ["SELECT type, name, tbl_name, sql FROM sqlite_master"]
    with connected():
        found = {tuple(row) for query in queries for row in database.execute_sql(query).fetchall()}
        found |= {("guarded", table) for table in guarded_tables()}
    database.close_all()
    return found


@pytest.mark.parametrize("turn", ["first", "second"])
def test_numbers_and_codes_begin_again(api: Any, turn: str) -> None:
    bench = makers.mixing(api)
    assert (bench.resin, bench.slow, bench.system) == (1, 2, 1)
    assert (bench.resin_can, bench.slow_can) == ("C000018", "C000026")
    assert [entry["seq"] for entry in api.get("/v1/journal", who="quality")][:2] == [1, 2]


def test_what_happened_in_the_account_is_gone(api: Any, accounts: Accounts, database_url: str) -> None:
    database.close_all()
    rows, shape = _rows(), _shape()
    code = makers.mixing(api).resin_can
    assert _rows() != rows
    accounts.renew(database_url)
    assert (_rows(), _shape()) == (rows, shape)
    assert makers.mixing(api).resin_can == code


@made_once
def _made(api: Any, *, name: str = "Fenwick Resins") -> dict[str, Any]:
    api.noted = [makers.supplier(api, name)]
    api.shop.clock.forward(minutes=5)
    return {"api": api, "place": makers.place(api)}


def test_what_is_made_once_is_the_same_as_made_again(api: Any, accounts: Accounts, database_url: str) -> None:
    found = []
    for _ in range(3):
        api.shop.clock.now = NOW
        vars(api).pop("noted", None)
        accounts.renew(database_url)
        made = _made(api)
        assert made.pop("api") is api
        found.append((made, _rows(), _shape(), list(api.noted), api.shop.clock.now, makers.place(api, "Shelf B3")))
        api.noted.append("of one test alone")
    assert found[0] == found[1] == found[2]
    assert found[0][1]["supplier"] == ["(1, 'Fenwick Resins', True, 1)"]


@made_once
def _and_a_material(api: Any, name: str) -> int:
    return makers.material(api, name, "resin")


def test_one_thing_after_another_is_made_once_and_each_by_its_own_words(
    api: Any, accounts: Accounts, database_url: str
) -> None:
    found: dict[str, list[Any]] = {"Alder 10": [], "Alder 11": []}
    for name in ("Alder 10", "Alder 11", "Alder 10", "Alder 11"):
        api.shop.clock.now = NOW
        vars(api).pop("noted", None)
        accounts.renew(database_url)
        _made(api)
        found[name].append((_and_a_material(api, name), _rows()))
    assert found["Alder 10"][0] == found["Alder 10"][1] != found["Alder 11"][0] == found["Alder 11"][1]
    assert "'Alder 11'" in found["Alder 11"][0][1]["material"][0]


def _one_act(api: Any) -> None:
    makers.material(api, "Resin", "resin")


def _behind_the_door(api: Any) -> None:
    with connected():
        say("UPDATE person SET name = 'Somebody' WHERE id = 1")


def _later(api: Any) -> None:
    api.shop.clock.forward(minutes=1)


def _a_note(api: Any) -> None:
    api.noted.append("something else")


@pytest.mark.parametrize("touch", [_one_act, _behind_the_door, _later, _a_note])
def test_after_anything_else_the_next_thing_is_made_anew(
    api: Any, accounts: Accounts, database_url: str, touch: Any
) -> None:
    for _ in range(2):
        accounts.renew(database_url)
        api.shop.clock.now = NOW
        vars(api).pop("noted", None)
        _made(api)
        number = _and_a_material(api, "Alder 10")
    accounts.renew(database_url)
    api.shop.clock.now = NOW
    vars(api).pop("noted")
    _made(api)
    touch(api)
    with statements() as seen:
        assert _and_a_material(api, "Alder 10") >= number
    assert any("INSERT" in sql for sql, _ in seen.said), "it was done, and not put back"


@pytest.mark.parametrize("touch", [_one_act, _behind_the_door, _later])
def test_on_an_account_that_is_not_fresh_it_is_made_anew(
    api: Any, accounts: Accounts, database_url: str, touch: Any
) -> None:
    _made(api)
    accounts.renew(database_url)
    api.shop.clock.now = NOW
    vars(api).pop("noted")
    touch(api)
    rows, now = _rows(), api.shop.clock.now
    _made(api)
    assert api.shop.clock.now - now == timedelta(minutes=5)
    after = _rows()
    assert len(after["supplier"]) == 1
    assert after["material"] == rows["material"]
    assert after["person"] == rows["person"]


@pytest.mark.parametrize("database_url", ["postgresql"], indirect=True)
def test_pages_that_deleted_rows_have_filled_are_thrown_away(api: Any, database_url: str, tmp_path: Path) -> None:
    account = OnPostgresql(database_url, NOW, tmp_path, full_bytes=0)
    database.close_all()
    account.renew(database_url)
    rows, shape = _rows(), _shape()
    founded = account.renew(database_url)
    api.shop.keys.update(founded.keys)
    api.shop.tokens.update(founded.tokens)
    makers.mixing(api)
    database.close_all()
    account.renew(database_url)
    assert (_rows(), _shape()) == (rows, shape)
    account.close()


@pytest.mark.parametrize(
    "meddling",
    [
        "CREATE TABLE left_behind (id INTEGER)",
        "ALTER TABLE item ADD COLUMN left_behind INTEGER",
        "DROP INDEX item_place_id",
        "DROP TRIGGER keep_movement_changed ON movement",
        "ALTER TABLE movement DISABLE TRIGGER keep_movement_deleted",
    ],
)
def test_what_was_done_to_the_schema_is_gone(shop: Shop, accounts: Accounts, database_url: str, meddling: str) -> None:
    database.close_all()
    rows, shape = _rows(), _shape()
    if not on_postgresql():
        meddling = meddling.replace(" ON movement", "").replace("ALTER TABLE movement DISABLE TRIGGER", "DROP TRIGGER")
    with connected():
        database.execute_sql(meddling)
    database.close_all()
    assert _shape() != shape
    accounts.renew(database_url)
    assert _shape() == shape
    assert {name: len(found) for name, found in _rows().items()} == {name: len(found) for name, found in rows.items()}
    with connected():
        assert founding.pending_steps() == []
