"""The texts that are kept are those that peewee would compose: on every statement of a job, and of odd queries."""

from typing import Any

import pytest
from peewee import SQL, fn

from schemas.words import Kind
from service.database import composed, connected, database, locked
from service.records.base import UnknownWord
from service.records.items import Item, Movement
from service.records.people import Person
from tests.budgets.conftest import Job
from tests.conftest import Api


def as_peewee_writes(query: Any) -> tuple[str, list[Any]]:
    sql, values = database.obj.get_sql_context().sql(query).query()
    return sql, list(values)


def test_every_statement_of_a_job_is_what_peewee_composes_and_few_are_composed_anew(job: Job) -> None:
    assert job.texts.differing == []
    assert job.texts.asked > 5000
    assert job.texts.composed < 0.15 * job.texts.asked


@pytest.fixture
def queries(api: Api) -> list[Any]:
    """Pairs of queries that differ in one thing alone, which their text or values must show."""
    others, holders = Item.alias(), Item.alias("held")
    whole = Item.select().where(Item.kind == Kind.LOT)
    inner = Item.select(Item.id).where(Item.balance > 3)
    return [
        whole,
        Item.select().where(Item.kind == Kind.PART),
        Item.select().where(Item.kind != Kind.LOT),
        Item.select(Item.id).where(Item.kind == Kind.LOT),
        Item.select(Item.id.alias("one")).where(Item.kind == Kind.LOT),
        Item.select(Item.id.alias("two")).where(Item.kind == Kind.LOT),
        Item.select().where(Item.place.is_null()),
        Item.select().where(Item.place.is_null(False)),
        Item.select().where(Item.place == 0),
        Item.select().where(Item.place == None),  # noqa: E711 - peewee's way of IS NULL
        whole.order_by(Item.id),
        whole.order_by(Item.id.desc()),
        whole.limit(1),
        whole.limit(2),
        whole.limit(1).offset(1),
        whole.distinct(),
        locked(whole),
        Item.select().where(Item.id.in_([])),
        Item.select().where(Item.id.in_([1])),
        Item.select().where(Item.id.in_([1, 2])),
        Item.select().where(Item.id.in_((2, 1))),
        Item.select().where(Item.id.in_({5})),
        Item.select().where(Item.id.in_(list(range(40)))),
        Item.select().where(Item.id.in_(inner)),
        Item.select().where(Item.id.not_in(inner)),
        Item.select().where(Item.id.in_(SQL("(SELECT ?)", (4,)))),
        Item.select().where((Item.id == 1) & (Item.balance == 2)),
        Item.select().where((Item.id == 2) | (Item.balance == 1)),
        Item.select().where(~(Item.id == 1)),
        Item.select().join(others, on=(others.id == Item.place)).where(others.id == 1),
        Item.select().join(others, on=(Item.id == others.place)).where(Item.id == 1),
        Item.select().join(holders, on=(holders.id == Item.place)).where(holders.id == 1),
        others.select(others.id).where(others.kind == Kind.LOT),
        Item.select(fn.COUNT(Item.id), fn.MAX(Item.balance)).where(Item.kind == Kind.LOT),
        Item.select(fn.COUNT(Item.id), fn.MIN(Item.balance)).where(Item.kind == Kind.LOT),
        Item.select(Item.kind, fn.COUNT(Item.id)).group_by(Item.kind).having(fn.COUNT(Item.id) > 1),
        Item.select(Item.kind, fn.COUNT(Item.id)).group_by(Item.kind).having(fn.COUNT(Item.id) > 2),
        Movement.select(Movement.id, Item.code).join(Item, on=(Item.id == Movement.source)),
        Movement.select(Movement.id, Item.code).join(Item, on=(Item.id == Movement.target)),
        Person.select().where(Person.name == "O'Hara \\ %"),
        Item.select(Item.id).where(Item.kind == Kind.LOT) | Item.select(Item.id).where(Item.kind == Kind.PART),
        Item.update(balance=1).where(Item.id == 2),
        Item.update(balance=2).where(Item.id == 1),
        Item.update(balance=Item.balance + 1).where(Item.id == 2),
        Item.update(balance=Item.balance - 1).where(Item.id == 2),
        Item.update(balance=1, version=2).where(Item.id == 2),
        Person.insert(name="a"),
        Person.insert_many([{"name": "a"}, {"name": "b"}]),
        Person.insert_many([{Person.name: "a"}]),
        Item.delete().where(Item.id == 1),
    ]


def test_queries_that_differ_in_one_thing_are_told_apart_whichever_came_first(queries: list[Any]) -> None:
    with connected():
        wanted = [as_peewee_writes(query) for query in queries]
        for order in (range(len(queries)), reversed(range(len(queries)))):
            for number in order:
                sql, values = composed(database.obj, queries[number])
                assert (sql, list(values)) == wanted[number], number


def test_what_a_column_does_not_take_is_refused_the_second_time_as_well(api: Api) -> None:
    with connected():
        composed(database.obj, Item.select().where(Item.kind == Kind.LOT))
        for _ in range(2):
            with pytest.raises(UnknownWord, match="nonsense"):
                composed(database.obj, Item.select().where(Item.kind == "nonsense"))
