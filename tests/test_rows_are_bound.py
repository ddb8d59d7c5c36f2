"""Every way to write a row is seen, or refused: the hooks of the records, and the guard for what goes past them."""

import json
from collections.abc import Callable
from typing import Any

import pytest

from service.database import NOT_BOUND, NotBound, connected, database
from service.operations.ledger.checking import check_account
from service.operations.stock.registers import add_supplier
from service.records.bound import changes, row_hash
from service.records.journal import Answer, Entry
from service.records.materials import Supplier
from service.records.people import Person, PersonRole
from tests import makers
from tests.statements import statements


@pytest.mark.parametrize(
    "write",
    [
        "INSERT INTO supplier (name, approved, version) VALUES ('Harrow', TRUE, 1)",
        "INSERT OR IGNORE INTO supplier (name, approved, version) VALUES ('Harrow', TRUE, 1)",
        "  update supplier set name = 'Harrow'",
        "UPDATE \"supplier\" SET name = 'Harrow'",
        "DELETE FROM supplier",
        "REPLACE INTO supplier (id, name, approved, version) VALUES (1, 'Harrow', TRUE, 1)",
        "WITH gone AS (DELETE FROM supplier RETURNING id) SELECT * FROM gone",
        "WITH x AS (SELECT 1) UPDATE supplier SET name = 'Harrow'",
        "SELECT 1; DELETE FROM supplier",
        "TRUNCATE supplier",
    ],
)
def test_a_statement_that_goes_past_the_hooks_is_refused(shop: Any, write: str) -> None:
    with changes(), pytest.raises(NotBound, match="supplier is written by a statement"):
        database.execute_sql(write)


def test_reading_and_what_is_not_bound_pass(shop: Any) -> None:
    database.execute_sql("WITH x AS (SELECT id FROM supplier) SELECT * FROM x").fetchall()
    database.execute_sql("UPDATE head SET seq = seq").close()
    assert Answer.insert(caller="x", idempotency_key="y", asked="z", at=0).execute()
    assert "supplier" not in NOT_BOUND


WAYS: dict[str, Callable[[], Any]] = {
    "create": lambda: Supplier.create(name="Harrow", approved=True),
    "insert": lambda: Supplier.insert(name="Harrow", approved=True).execute(),
    "insert_many": lambda: Supplier.insert_many([{"name": "Harrow", "approved": True}]).execute(),
    "bulk_create": lambda: Supplier.bulk_create([Supplier(name="Harrow", approved=True)]),
    "update": lambda: Supplier.update(approved=False).execute(),
    "delete": lambda: Supplier.delete().execute(),
    "set_by_id": lambda: Supplier.set_by_id(1, {"approved": False}),
}


@pytest.mark.parametrize("write", WAYS.values(), ids=WAYS)
def test_a_row_written_outside_any_act_is_refused(shop: Any, write: Callable[[], Any]) -> None:
    with pytest.raises(NotBound, match="outside any act"):
        write()


@pytest.mark.parametrize(
    "write",
    [
        lambda: Supplier.replace(id=1, name="Harrow", approved=True).execute(),
        lambda: Supplier.replace_many([{"id": 1, "name": "Harrow", "approved": True}]).execute(),
        lambda: (
            Supplier.insert(id=1, name="Harrow", approved=True)
            .on_conflict(conflict_target=[Supplier.id], update={"approved": False})
            .execute()
        ),
        lambda: database.execute(Supplier.insert(name="Harrow", approved=True)),
        lambda: database.execute(Supplier.update(approved=False)),
    ],
)
def test_what_the_hooks_could_not_see_is_refused(shop: Any, write: Callable[[], Any]) -> None:
    with changes(), pytest.raises(NotBound):
        write()


def test_the_hooks_give_back_what_peewee_does_and_see_each_row(shop: Any) -> None:
    with changes() as seen:
        first = Supplier.create(name="A", approved=True)
        second = Supplier.insert(name="B", approved=True).execute()
        assert (first.id, second) == (1, 2)
        assert list(Supplier.insert_many([{"name": n, "approved": True} for n in "CD"]).execute()) == [(3,), (4,)]
        Supplier.bulk_create([Supplier(name="E", approved=True), Supplier(name="F", approved=False)])
        (row,) = Supplier.insert_many([{"name": "G", "approved": True}]).returning(Supplier.id, Supplier.name).execute()
        assert (row.id, row.name) == (7, "G")
        assert Supplier.insert(id=7, name="again", approved=True).on_conflict_ignore().execute() is None
        assert Supplier.update(version=Supplier.version + 1).where(Supplier.id <= 2).execute() == 2
        assert Supplier.update(approved=False).where(Supplier.id == 99).execute() == 0
        assert Supplier.delete().where(Supplier.name.in_(["C", "D"])).execute() == 2
        copied = Supplier.select(Supplier.name.concat("2"), Supplier.approved, Supplier.version).where(Supplier.id == 7)
        Supplier.insert_from(copied, [Supplier.name, Supplier.approved, Supplier.version]).execute()
        assert Person.update(active=True).where(Person.id == 1).execute() == 1
        marks = {(table, key): (before, after) for table, key, before, after in seen.seal()}
    assert marks.keys() == {("supplier", key) for key in (1, 2, 5, 6, 7, 8)}, "what is as it was is not named"
    assert all(before is None and after is not None for before, after in marks.values())


def test_nothing_is_written_once_the_entry_has_named_the_rows(shop: Any) -> None:
    with changes() as seen:
        Supplier.create(name="A", approved=True)
        seen.seal()
        with pytest.raises(NotBound, match="after the act's entry"):
            Supplier.create(name="B", approved=True)


def test_a_key_of_two_columns_and_a_row_that_goes_are_named(shop: Any) -> None:
    with changes() as seen:
        PersonRole.create(person=1, role="lead")
        PersonRole.delete().where(PersonRole.person == 2).execute()
        marks = seen.seal()
    (new, gone) = marks
    assert new[:3] == ("person_role", "1/lead", None)
    assert gone[1].startswith("2/")
    assert gone[3] is None


def test_an_entry_names_each_row_of_its_act_and_a_try_that_failed_leaves_nothing(api: Any) -> None:
    makers.supplier(api)
    named = _last_rows()
    assert {table: len(marks) for table, marks in named.items()} == {"deed": 1, "supplier": 1}
    ((key, before, after),) = named["supplier"]
    assert (key, before, len(after)) == (1, None, 43)
    api.post("/v1/suppliers", {"name": "Fenwick Resins", "approved": True}, expect=409, who="lead")
    assert set(_last_rows()) == {"deed"}, "a refusal names its own deed and nothing of what it would have written"
    assert check_account().agrees


def _last_rows() -> Any:
    with connected():
        return json.loads(Entry.select().order_by(Entry.seq.desc()).get().body)["rows"]


def test_the_hash_of_a_row_knows_no_engine_and_no_empty_column() -> None:
    same = [
        (("a", "b", "c"), (5, True, "x")),
        (("a", "b", "c"), (5.0, 1, "x")),
        (("a", "b", "c", "later"), (5, True, "x", None)),
    ]
    assert len({row_hash(columns, values) for columns, values in same}) == 1
    for other in ((5, True, "y"), (5, False, "x"), ("5", True, "x"), (5, True, None), (5.5, True, "x")):
        assert row_hash(("a", "b", "c"), other) != row_hash(*same[0])
    assert row_hash(("a",), (b"x" * 90_000,)) == row_hash(("a",), (memoryview(b"x" * 90_000),))
    assert row_hash(("a", "b"), ("1", "2")) != row_hash(("a", "b"), ('1","b":"2', None))


def test_each_change_looks_at_its_row_once_before(shop: Any) -> None:
    with statements() as said:
        add_supplier(shop.act("lead"), name="Harrow", approved=True)
    assert said.before == [], "a new row was nothing before"
    with changes(), statements() as said:
        Supplier.update(approved=False).execute()
    assert (len(said.before), len(said)) == (1, 1)
