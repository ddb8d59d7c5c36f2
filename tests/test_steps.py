"""A later schema step on an account with work in it: nothing is lost, nothing is loosened, or nothing is done."""

import hashlib
import json
import shutil
from pathlib import Path
from typing import Any

import pytest
import rfc8785
from peewee import DatabaseError, IntegrityError
from playhouse.migrations import Runner

import service.migrations
from service.database import connected, database, on_postgresql
from service.guards import guarded_tables
from service.migrations import steps
from service.operations.door import founding
from service.operations.ledger.checking import check_account
from service.records import KEPT
from service.records.items import Item, Movement
from service.records.journal import Deed, Entry
from service.records.materials import Receipt
from tests import makers
from tests.conftest import NOW
from tests.described import described
from tests.forging import forge, say

OWN = Path(service.migrations.__file__).parent
WORKED = Path(__file__).with_name("worked_step.py")


@pytest.fixture
def worked(api: Any) -> Any:
    """A shop with stock, a decant, a label, a hold and a part that is laid up."""
    makers.supplier(api)
    where = makers.place(api)
    hardener = makers.material(api, "Alder 32 slow hardener", "hardener", h_codes=["H314", "H317"])
    can, other = makers.cans(api, hardener, where, "26-0914", count=2)
    api.post(f"/v1/containers/{can}/decants", {"mass_g": 100})
    api.post(f"/v1/items/{can}/labels", {"size": "62"})
    api.post("/v1/holds", {"item": can, "reason": "Crystals at the bottom."}, who="quality")
    makers.laid_up_part(api)
    api.other = other
    with connected():
        yield api


def _apply(folder: Path, text: str) -> list[str]:
    """Run the steps that there are, and one more after them."""
    for file in OWN.glob("[0-9]*"):
        shutil.copy(file, folder)
    number = max(int(file.name[:4]) for file in OWN.glob("[0-9]*.py")) + 1
    (folder / f"{number:04d}_worked.py").write_text(text)
    return founding.migrate(at=NOW, steps=str(folder))


def _rows() -> dict[str, list[tuple[Any, ...]]]:
    """All there is in the account, by table, its columns by name."""
    found = {}
    for table in database.get_tables():
        if not table.startswith("schema_migration"):
            columns = ", ".join(f'"{column.name}"' for column in sorted(database.get_columns(table)))
            found[table] = sorted(database.execute_sql(f'SELECT {columns} FROM "{table}"').fetchall(), key=repr)
    return found


def _refused(statement: str) -> str:
    try:
        with database.atomic():
            say(statement)
    except DatabaseError as error:
        return str(error)
    return ""


def test_a_step_leaves_all_rows_as_they_were_and_the_account_whole(worked: Any, tmp_path: Path) -> None:
    kept, before = _rows(), described()
    assert len(kept["movement"]) >= 4
    names = {table: [c.name for c in database.get_columns(table)] for table in kept}
    assert len(_apply(tmp_path, WORKED.read_text("utf-8"))) == 1
    for table, rows in kept.items():
        columns = ", ".join(f'"{name}"' for name in sorted(names[table]))
        now = database.execute_sql(f'SELECT {columns} FROM "{table}"').fetchall()
        if table in ("deed", "entry"):
            assert len(now) == len(rows) + 1, "the step has an entry of its own"
            assert set(rows) < set(now)
        elif table != "head":
            assert sorted(now, key=repr) == rows, table
    gone = {row for row in before - described() if row[0] not in ("trigger",)}
    assert {row[1] for row in gone} == {"item", "movement", "label"}, "only what the step changes has another form"
    assert check_account().agrees
    assert guarded_tables() == {table._meta.table_name for table in KEPT} | {"visit"}


def test_rows_that_a_step_changed_are_named_in_an_entry_and_a_forged_one_is_not_washed(
    worked: Any, tmp_path: Path
) -> None:
    pallets, items = Receipt.select().count(), Item.select().count()
    forge("UPDATE item SET name = 'as new' WHERE id = 2")
    forge("INSERT INTO item (id, code, kind, name, state, balance, holds, version, site_id, deed_id)"
          " SELECT 999, 'A999999', kind, 'Nowhere', state, balance, holds, version, site_id, deed_id FROM item"
          " WHERE id = 1")  # fmt: skip
    before = {d.sentence for d in check_account().first if d.what in ("changed", "added")}
    assert len(before) == 2
    _apply(tmp_path, WORKED.read_text("utf-8"))
    (entry,) = Entry.select(Entry).join(Deed).where(Deed.operation == "mark_anew")
    named = json.loads(entry.body)["rows"]
    assert named.keys() == {"deed", "item", "receipt"}
    assert len(named["receipt"]) == pallets
    assert len(named["item"]) == items - 1, "all but the forged ones"
    assert {d.sentence for d in check_account().first if d.what in ("changed", "added")} == before


def test_an_account_from_before_rows_were_bound_has_all_of_them_named(worked: Any, tmp_path: Path) -> None:
    for row in Entry.select().order_by(Entry.seq):
        body = json.loads(row.body)
        del body["rows"]
        if "signature" in body:
            signer = next(one for one in worked.shop.signers.values() if one.key == body["signs"]["key"])
            body["signature"] = signer.sign({name: fact for name, fact in body.items() if name != "signature"})
        forge("UPDATE entry SET body = ? WHERE seq = ?", rfc8785.dumps(body).decode(), row.seq)
    _chain_anew()
    assert check_account().differences > 50
    _apply(tmp_path, WORKED.read_text("utf-8"))
    assert check_account().agrees
    worked.post(f"/v1/containers/{worked.other}/decants", {"mass_g": 100})
    assert check_account().agrees


def _chain_anew() -> None:
    previous = ""
    for row in Entry.select().order_by(Entry.seq):
        digest = hashlib.sha256((previous + row.body).encode()).hexdigest()
        forge("UPDATE entry SET previous = ?, hash = ? WHERE seq = ?", previous, digest, row.seq)
        previous = digest
    forge("UPDATE head SET hash = ?", previous)


def test_the_account_goes_on_after_a_step(worked: Any, tmp_path: Path) -> None:
    _apply(tmp_path, WORKED.read_text("utf-8"))
    receipt = Receipt.get()
    assert database.execute_sql("SELECT pallet FROM receipt").fetchone() == (receipt.id * 10,)
    assert database.execute_sql("SELECT COUNT(*) FROM item WHERE seen_in_id = deed_id").fetchone() == (
        Item.select().count(),
    )
    before = Movement.select().count()
    worked.post(f"/v1/containers/{worked.other}/decants", {"mass_g": 100})
    makers.laid_up_part(worked)
    with connected():
        assert Movement.select().count() > before
        assert check_account().agrees


def test_history_is_kept_after_a_step_in_its_new_columns_too(worked: Any, tmp_path: Path) -> None:
    _apply(tmp_path, WORKED.read_text("utf-8"))
    history = "history is added to"
    for statement in (
        "UPDATE movement SET batch = 'B 7'",
        "UPDATE movement SET amount = amount + 1",
        "DELETE FROM movement",
        "UPDATE receipt SET pallet = 4",
        "DELETE FROM receipt",
    ):
        assert history in _refused(statement), statement
    say("UPDATE movement SET cancelled_by_id = 1 WHERE id = 1")
    assert history in _refused("UPDATE movement SET cancelled_by_id = 2 WHERE id = 1"), "set once, not twice"
    say("INSERT INTO visit (id, person_id, began_at) VALUES (1, 1, 5)")
    assert _refused("INSERT INTO visit (id, person_id, began_at) VALUES (2, 1, 5)"), "unique"
    assert _refused("INSERT INTO visit (id, person_id, began_at) VALUES (2, 999, 5)"), "a person who is not there"
    assert history in _refused("UPDATE visit SET began_at = 4")
    assert _refused("UPDATE visit SET ended_at = 4"), "before it began"
    say("UPDATE visit SET ended_at = 6")
    assert history in _refused("UPDATE visit SET ended_at = 7")


def test_checks_and_references_hold_after_a_step_as_it_says(worked: Any, tmp_path: Path) -> None:
    _apply(tmp_path, WORKED.read_text("utf-8"))
    say("UPDATE item SET unit = 'ml'")
    assert _refused("UPDATE item SET unit = 'oz'")
    assert _refused("UPDATE item SET balance = -1"), "the other checks of a table that was built anew"
    assert _refused("UPDATE item SET seen_in_id = 999999")
    assert _refused("UPDATE item SET site_id = 999999")
    assert _refused("UPDATE item SET code = 'same'"), "its unique index"
    assert "history" in _refused("UPDATE label SET issue = 0"), "the check is gone, the guard is not"
    assert _refused("DELETE FROM person WHERE id = 1"), "references to other tables"
    assert _refused("DELETE FROM item"), "references to a table that was built anew"


@pytest.mark.parametrize(
    ("last", "error"),
    [
        ('db.execute_sql("NONSENSE")', DatabaseError),
        ('steps.change_check("movement", old="amount > 7", new=None)', LookupError),
        ('steps.change_check("movement", old="amount > 0", new="amount > 900000000000")', IntegrityError),
        ('steps.add_column("movement", "weigher", TextField())', ValueError),
        ('steps.add_column("movement", "weigher", TextField(), fill="NULL")', IntegrityError),
        ('steps.add_column("item", "weigher", steps.row_of("person", null=True), fill="999999")', Exception),
    ],
)
def test_a_step_that_fails_at_its_end_leaves_nothing_behind(
    worked: Any, tmp_path: Path, last: str, error: type[Exception]
) -> None:
    before, rows = described(), _rows()
    with pytest.raises(error):
        _apply(tmp_path, f"{WORKED.read_text('utf-8')}    {last}\n")
    assert described() == before
    assert _rows() == rows
    assert len(Runner(database.obj, str(tmp_path)).applied()) == len(list(OWN.glob("[0-9]*.py")))
    assert check_account().agrees
    assert _refused("UPDATE item SET site_id = 999999"), "references are looked after again"


def test_a_step_has_ample_memory_that_is_given_back(worked: Any, tmp_path: Path) -> None:
    """With SQLite's usual 2 MB, a large account's tables are built anew at the pace of the disk."""
    asked = "SELECT -64000" if on_postgresql() else "SELECT cache_size FROM pragma_cache_size"
    before = database.execute_sql(asked).fetchone()
    step = f"def up(migrator, db):\n    assert db.execute_sql('{asked}').fetchone()[0] <= -64_000\n"
    assert len(_apply(tmp_path, step)) == 1
    assert database.execute_sql(asked).fetchone() == before


def test_a_table_is_not_built_anew_while_references_would_be_followed(worked: Any) -> None:
    """On SQLite, dropping the first table would then count as deleting its rows."""
    if on_postgresql():
        steps.change_check("item", old="holds >= 0", new=None)
        assert not _refused("UPDATE item SET holds = -1")
        return
    with pytest.raises(RuntimeError, match="references switched off"):
        steps.change_check("item", old="holds >= 0", new=None)
