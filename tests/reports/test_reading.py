"""How an investigation reads: what it asks for is looked up, however large the tables are by now."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from service.database import connected, database, on_postgresql, rows_of
from tests.forging import say
from tests.reports import workshop

_MANY = 1_000_000


@contextmanager
def _explained() -> Iterator[dict[str, str]]:
    """The plan of each statement for the length of the block, as SQLite tells it just before it answers."""
    plans: dict[str, str] = {}
    engine: Any = database.obj
    send = engine.execute_sql

    def listening(sql: str, params: Any = None, *more: Any) -> Any:
        if sql.startswith(("SELECT", "WITH")):
            plans[sql] = "\n".join(row[-1] for row in send(f"EXPLAIN QUERY PLAN {sql}", params))
        return send(sql, params, *more)

    engine.execute_sql = listening
    try:
        yield plans
    finally:
        del engine.execute_sql


def _grown_by_statistics() -> None:
    """SQLite is told that every table has a million rows, of which an index leads to few."""
    say("ANALYZE")
    for index, stat in rows_of("SELECT idx, stat FROM sqlite_stat1"):
        _, *each = stat.split()
        say(f"UPDATE sqlite_stat1 SET stat = '{' '.join([str(_MANY), *each])}' WHERE idx = '{index}'")


def test_no_table_is_read_whole_to_look_some_of_its_rows_up(api: Any) -> None:
    part = workshop.investigated(api).parts[-1]
    before = api.get(f"/v1/parts/{part}/investigation", who="quality")
    if on_postgresql():
        return
    with connected():
        _grown_by_statistics()
    database.close_all()
    with _explained() as plans:
        after = api.get(f"/v1/parts/{part}/investigation", who="quality")
    assert {**after, "at": None} == {**before, "at": None}
    asked = [plan for sql, plan in plans.items() if "made" in sql or "parts" in sql]
    assert len(asked) > 15
    assert [sql for sql, plan in plans.items() if "BLOOM" in plan] == []
