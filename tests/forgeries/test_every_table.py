"""Of every table that is bound: a row changed, a row taken out, a row put in. Each is seen and named with its table.
And what is not forged is carried elsewhere whole."""

import json
import zipfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import Any

import psycopg
import pytest
from peewee import DatabaseError

from service.database import NOT_BOUND, bound_tables, connected, database, open_database, rows_of
from service.operations.ledger import archive
from service.records import ALL
from service.records.bound import changes
from service.records.journal import Document
from tests.conftest import NOW
from tests.epcis_rules import broken
from tests.forgeries.conftest import differences, undone
from tests.forging import say

# Three forgeries on each of these alone are more than the eighty that are promised.
BOUND = sorted(table._meta.table_name for table in ALL if table._meta.table_name not in NOT_BOUND)


def _changed(value: Any) -> Any:
    if isinstance(value, bool):
        return not value
    if isinstance(value, int | float):
        return value + 1
    if isinstance(value, date):
        return value.replace(year=value.year + 1)
    return bytes(value) + b"x" if isinstance(value, bytes | memoryview) else f"{value}x"


def _one(table: str) -> tuple[dict[str, Any], str]:
    """The last row of a table, and the condition that is true of it alone."""
    columns, keys = bound_tables()[table]
    order = ", ".join(f'"{key}" DESC' for key in keys)
    row = dict(zip(columns, rows_of(f'SELECT * FROM "{table}" ORDER BY {order} LIMIT 1')[0], strict=True))
    return row, " AND ".join(f"\"{key}\" = '{row[key]}'" for key in keys)


def _change(table: str) -> None:
    row, where = _one(table)
    _, keys = bound_tables()[table]
    for column, value in row.items():
        if column in keys or value is None:
            continue
        try:
            with database.atomic():
                say(f'UPDATE "{table}" SET "{column}" = ? WHERE {where}', _changed(value))
            return
        except DatabaseError:
            continue  # the table itself does not take it
    # A row that is all key: that it was another.
    say(f'UPDATE "{table}" SET "{keys[-1]}" = ? WHERE {where}', _changed(row[keys[-1]]))


def _delete(table: str) -> None:
    _, where = _one(table)
    assert say(f'DELETE FROM "{table}" WHERE {where}').rowcount == 1


# What is unique with others in some table.
_OF_A_KEY = ("movement_id", "system_id", "recall_id", "deed_id", "issue", "number", "revision")


def _insert(table: str) -> None:
    row, _ = _one(table)
    _, keys = bound_tables()[table]
    new = dict(row)
    for name, value in row.items():
        if name in keys[-1:]:
            new[name] = value + 100_000 if isinstance(value, int) else f"{value}x"
        elif isinstance(value, str) and not _closed(table, name):
            new[name] = f"{value}x"
        elif name in ("movement_id", "system_id", "recall_id", "deed_id", "issue", "number", "revision") and isinstance(
            value, int
        ):
            new[name] = value + 100_000
    listed = ", ".join(f'"{name}"' for name in new)
    say(f'INSERT INTO "{table}" ({listed}) VALUES ({", ".join("?" * len(new))})', *new.values())


def _closed(table: str, column: str) -> bool:
    model = next(model for model in ALL if model._meta.table_name == table)
    return bool(model._meta.columns[column].constraints) or "date" in column


FORGERIES: dict[str, tuple[Callable[[str], None], set[str]]] = {
    "changed": (_change, {"changed", "missing"}),
    "taken out": (_delete, {"missing"}),
    "put in": (_insert, {"added"}),
}


@pytest.mark.parametrize("how", FORGERIES)
def test_a_row_of_every_table_is_missed(shop_with_history: Any, how: str) -> None:
    forge, what = FORGERIES[how]
    assert len(FORGERIES) * len(BOUND) > 130
    assert differences() == []
    unseen, failed = [], {}
    with undone() as put_back:
        for table in BOUND:
            try:
                with database.atomic():
                    forge(table)
            except DatabaseError as error:
                failed[table] = str(error)
        put_back()
        found = differences()
        for table in BOUND:
            named = [d for d in found if d.what in what and f" the table {table} " in d.sentence.replace(" (", " ")]
            if not named:
                unseen.append(table)
    assert failed == {}
    assert unseen == []
    assert differences() == [], "and nothing is left of it"


def test_what_is_not_bound_is_a_short_list_with_reasons() -> None:
    account = {"entry", "head", "item_change", "answer", "secret_try", "signing_token", "schema_migration"}
    assert set(NOT_BOUND) == account | {"webhook_progress", "webhook_delivery"}
    assert all(len(reason) > 30 for reason in NOT_BOUND.values())


def test_every_table_goes_out_as_one_file_and_comes_in_elsewhere_as_the_same_account(
    shop_with_history: Any, tmp_path: Path
) -> None:
    """On SQLite, and from PostgreSQL by way of SQLite to PostgreSQL: the archives are the same byte for byte."""
    first = tmp_path / "0.zip"
    written = archive.write_archive(first)
    with zipfile.ZipFile(first) as packed:
        told = json.loads(packed.read("contents.json"))
    full = {table for table, form in told["tables"].items() if form["rows"]}
    assert full >= set(BOUND), "each has rows, so that none comes through by being empty"
    assert written.documents > 5
    with _empty_databases(shop_with_history.url, tmp_path) as elsewhere:
        for number, url in enumerate(elsewhere):
            again = tmp_path / f"{number + 1}.zip"
            with _opened(url):
                archive.take_in(tmp_path / f"{number}.zip", at=NOW)
                assert differences() == []
                archive.write_archive(again)
                with changes():  # numbers go on after the last one
                    made = Document.create(sha256="0", media_type="", name="", size=0, content=b"", deed=1)
                assert made.id == told["tables"]["document"]["rows"] + 1
            assert again.read_bytes() == first.read_bytes()


@contextmanager
def _empty_databases(url: str, folder: Path) -> Iterator[list[str]]:
    lite = f"sqlite:///{folder}/elsewhere.db"
    if url.startswith("sqlite"):
        yield [lite]
        return
    with psycopg.connect(url, autocommit=True) as db:
        db.execute("CREATE DATABASE elsewhere")
        try:
            yield [lite, url.replace("/potmark?", "/elsewhere?")]
        finally:
            db.execute("DROP DATABASE elsewhere")


@contextmanager
def _opened(url: str) -> Iterator[None]:
    """Another account for the length of the block."""
    here = database.obj
    open_database(url)
    try:
        with connected():
            yield
    finally:
        database.close_all()
        database.initialize(here)


def test_any_trace_is_told_in_events_that_others_read(shop_with_history: Any) -> None:
    """In those of GS1 EPCIS 2.0: of every kind of thing, both ways, with what was corrected and what was measured."""
    api, events = shop_with_history, {}
    codes = [code for (code,) in rows_of("SELECT min(code) FROM item GROUP BY kind")]
    corrected = "SELECT t.code FROM movement m JOIN item t ON t.id = m.target_id WHERE m.cancelled_by_id IS NOT NULL"
    codes += [code for (code,) in rows_of(corrected)]
    codes += [code for (code,) in rows_of("SELECT code FROM item WHERE kind = 'P'")]
    for code in codes:
        for direction in ("back", "forward"):
            document = api.get(f"/v1/items/{code}/epcis?direction={direction}", who="quality")
            assert broken(document) == [], code
            told = {event["eventID"]: event for event in document["epcisBody"]["eventList"]}
            assert len(told) == len(document["epcisBody"]["eventList"]), "each event once"
            assert all(events.get(name, event) == event for name, event in told.items()), "and always told alike"
            events |= told
            stands = [event for event in told.values() if "errorDeclaration" not in event]
            traced = api.get(f"/v1/items/{code}/trace?direction={direction}", who="quality")["movements"]
            joined = [e for e in stands if e["type"] != "ObjectEvent" or e.get("potmark:kind") in ("packing", "cure")]
            assert len(joined) == len(traced), (code, direction)
    kinds = {event["type"] for event in events.values()}
    assert kinds == {"ObjectEvent", "AggregationEvent", "TransformationEvent"}
    assert any("errorDeclaration" in event for event in events.values())
    elements = [element for event in events.values() for element in event.get("sensorElementList", ())]
    reports = [report for element in elements for report in element["sensorReport"]]
    assert {"value", "minValue", "maxValue"} <= {name for report in reports for name in report}
    shipped = [event for event in events.values() if event["bizStep"] == "shipping"]
    assert shipped
    assert shipped[0]["epcList"][0].startswith("http://127.0.0.1:8000/I/P")
