"""An account that an older version wrote is brought up to date and agrees with its journal, with nothing forged in it.

`old_accounts/before_signing.json` has all rows of an account as the version before people had secrets left it: a first
job from the empty shop to a released part, a key of a system, and a draft that waits for its approval.
"""

import json
import shutil
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

import service.migrations
from service.database import connected, database, on_postgresql, open_database, rows_of, worded
from service.operations.door import founding
from service.operations.ledger.checking import check_account
from service.records.parts import Part
from service.records.people import AccessKey, Person
from tests.conftest import NOW
from tests.forging import forge, write_chain_anew
from tests.fresh import clear

OWN = Path(service.migrations.__file__).parent
OLD = Path(__file__).with_name("old_accounts") / "before_signing.json"
# What that version had of the steps; the last one had come early.
_HAD = (*(f"{number:04d}" for number in range(1, 12)), "0016")


@pytest.fixture
def before_signing(database_url: str, tmp_path: Path) -> Iterator[None]:
    open_database(database_url)
    with connected():
        clear()
        for file in OWN.glob("[0-9]*"):
            if file.name.startswith(_HAD):
                shutil.copy(file, tmp_path)
        founding.migrate(steps=str(tmp_path))
        for table, told in json.loads(OLD.read_text("utf-8")).items():
            _fill(table, told["columns"], told["rows"])
        yield
        clear()
    database.close_all()


def _fill(table: str, columns: list[str], rows: list[list[Any]]) -> None:
    """All rows of a table as they were, references looked at by nobody meanwhile."""
    kinds = {column.name: column.data_type.lower() for column in database.get_columns(table)}
    values = [[_value(kinds[name], value) for name, value in zip(columns, row, strict=True)] for row in rows]
    named, marks = ", ".join(f'"{name}"' for name in columns), ", ".join("?" * len(columns))
    cursor = database.connection().cursor()
    if on_postgresql():
        cursor.execute("SET session_replication_role = replica")
    cursor.execute(f'DELETE FROM "{table}"')
    cursor.executemany(worded(f'INSERT INTO "{table}" ({named}) VALUES ({marks})'), values)
    if on_postgresql():
        cursor.execute("SET session_replication_role = DEFAULT")
        if "id" in columns:
            cursor.execute(f"SELECT setval(pg_get_serial_sequence('{table}', 'id'), (SELECT MAX(id) FROM \"{table}\"))")


def _value(kind: str, value: Any) -> Any:
    if isinstance(value, dict):
        return bytes.fromhex(value["hex"])
    return bool(value) if kind == "boolean" and value is not None else value


def test_an_account_from_before_people_signed_is_brought_up_to_date_and_agrees(before_signing: None) -> None:
    """What was done without a signature before there were any stays; whoever adds such an act later is seen."""
    assert founding.migrate(at=NOW + timedelta(days=30))[0].startswith("0012")
    assert check_account().first == ()
    assert Part.get().released_at is not None, "released by a person who could not sign yet"
    machine, *others = Person.select().where(Person.is_system == True).order_by(Person.id)  # noqa: E712
    assert (machine.id, machine.name) == (0, "Potmark")
    shop_key = AccessKey.get(AccessKey.system == "web shop")
    assert [(p.id, p.name) for p in others if p.id == shop_key.acts_as_id] == [(shop_key.acts_as_id, "web shop")]
    assert list(shop_key.scopes) == ["measuring", "orders", "reading", "shipping"]
    ((marit,),) = rows_of("SELECT id FROM person WHERE name = 'marit'")
    assert rows_of("SELECT name, authors FROM schedule WHERE approved_at IS NULL") == [("Draft", f"[{marit}]")]
    assert rows_of("SELECT authors FROM schedule WHERE approved_at IS NOT NULL") == [(None,)]

    # An act that needs a signature, written in afterwards with a chain that holds by itself.
    (released,) = [
        (seq, json.loads(body))
        for seq, body in rows_of("SELECT seq, body FROM entry")
        if json.loads(body)["operation"] == "release_part"
    ]
    ((last, deed),) = rows_of("SELECT MAX(seq), MAX(deed_id) FROM entry")
    others = ", ".join(f'"{column.name}"' for column in database.get_columns("deed") if column.name != "id")
    again = f"INSERT INTO deed (id, {others}) SELECT CAST(? AS INTEGER), {others} FROM deed WHERE id = ?"
    forge(again, deed + 1, released[1]["deed"])
    body = {**released[1], "seq": last + 1, "deed": deed + 1, "rows": {}}
    forge("INSERT INTO entry (seq, deed_id, previous, hash, body) VALUES (?, ?, '', '', ?)", last + 1, deed + 1,
          json.dumps(body))  # fmt: skip
    write_chain_anew()
    said = [d.sentence for d in check_account().first]
    assert any("bears no signature" in sentence for sentence in said), said
