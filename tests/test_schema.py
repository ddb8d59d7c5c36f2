"""The numbered steps make exactly what the records describe, each whole or not at all."""

import hashlib
from collections.abc import Iterator
from pathlib import Path

import pytest
from playhouse.migrations import Runner

import service.migrations
from service.database import connected, database, guard_against_change, on_postgresql, open_database
from service.operations.door import founding
from service.records import ALL, KEPT
from tests.described import described

STEPS = Path(service.migrations.__file__).parent
FIRST_STEP = {
    "sqlite": "fe5898547d70fd1f9d45462c39df7786eedf8567c1a448703d04d80b2441a346",
    "postgresql": "f30ef1c850888909dd06db72ef7d617b60dac3c239cd78e028167258d12a08f4",
}


@pytest.fixture
def empty(database_url: str) -> Iterator[None]:
    open_database(database_url)
    with connected():
        _clear()
        yield
        _clear()
    database.close_all()


def _clear() -> None:
    if on_postgresql():
        database.execute_sql("DROP SCHEMA public CASCADE")
        database.execute_sql("CREATE SCHEMA public")
        return
    for (name,) in database.execute_sql("SELECT name FROM sqlite_master WHERE type = 'table'").fetchall():
        database.execute_sql("PRAGMA foreign_keys = 0")
        database.execute_sql(f'DROP TABLE "{name}"')


def test_the_first_step_is_as_accounts_have_had_it() -> None:
    """An account that has had a step is not given it again: what is to change comes as the next one, by steps.py."""
    for engine, digest in FIRST_STEP.items():
        assert hashlib.sha256((STEPS / f"0001_start.{engine}.sql").read_bytes()).hexdigest() == digest, engine


def test_all_steps_make_what_the_records_describe(empty: None) -> None:
    founding.migrate()
    by_steps = described()
    _clear()
    database.create_tables(ALL, safe=False)
    for table, once in KEPT.items():
        columns = tuple(field.column_name for field in table._meta.sorted_fields)
        guard_against_change(table._meta.table_name, settable_once=once, columns=columns)
    assert by_steps == described()


def test_a_second_run_does_nothing_and_nothing_is_pending(empty: None) -> None:
    assert founding.migrate()
    assert founding.migrate() == []
    assert founding.pending_steps() == [] == founding.unknown_steps()


def test_a_step_that_fails_leaves_nothing_behind(empty: None, tmp_path: Path) -> None:
    step = (
        "def up(migrator, db):\n    db.execute_sql('CREATE TABLE half (id INTEGER)')\n    db.execute_sql('NONSENSE')\n"
    )
    (tmp_path / "0001_half.py").write_text(step)
    with pytest.raises(Exception, match=r"(?i)nonsense"):
        Runner(database.obj, str(tmp_path)).up()
    assert "half" not in database.get_tables()
    assert Runner(database.obj, str(tmp_path)).applied() == {}
