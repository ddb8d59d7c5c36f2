"""The numbered steps make exactly what the records describe, each whole or not at all."""

import hashlib
from collections.abc import Iterator
from pathlib import Path

import pytest
from playhouse.migrations import Runner

import service.migrations
from service.database import connected, database, guard_against_change, open_database
from service.operations.door import founding
from service.records import ALL, KEPT
from tests.described import described
from tests.fresh import clear

STEPS = Path(service.migrations.__file__).parent
FIRST_STEP = {
    "sqlite": "e3bd707f4d89d90f8a9b4460df267be473453ebcf46dc1d4d8a4bd20a1e340bb",
    "postgresql": "ca2ce5c4a6ebd609d169414fb95b554824f5e02df86f9862c5ab6a9074e263cd",
}


@pytest.fixture
def empty(database_url: str) -> Iterator[None]:
    open_database(database_url)
    with connected():
        clear()
        yield
        clear()
    database.close_all()


def test_the_first_step_is_as_accounts_have_had_it() -> None:
    """An account that has had a step is not given it again: what is to change comes as the next one, by steps.py."""
    for engine, digest in FIRST_STEP.items():
        assert hashlib.sha256((STEPS / f"0001_start.{engine}.sql").read_bytes()).hexdigest() == digest, engine


def test_steps_are_numbered_one_by_one() -> None:
    steps = sorted(STEPS.glob("[0-9]*.py"))
    assert [int(step.name[:4]) for step in steps] == list(range(1, len(steps) + 1))


def test_all_steps_make_what_the_records_describe(empty: None) -> None:
    founding.migrate()
    by_steps = described()
    clear()
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
