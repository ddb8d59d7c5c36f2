"""A whole job done once on each engine, and ways to forge what it left without a trace of the forging."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

import pytest

from service.database import connected, database, on_postgresql
from service.operations.door.operation import OPERATIONS
from service.operations.ledger.checking import Difference, check_account
from tests import makers
from tests.budgets.job import Listening, listening, whole_job
from tests.budgets.office import hand_in_head
from tests.conftest import NOW
from tests.forgeries.any_time import ANY_TIME
from tests.fresh import made_once


@dataclass
class _ToldEarly(Listening):
    """Before each act is done for the first time it is told as of too early, if a time can be told of it at all."""

    early: datetime = NOW
    answers: dict[str, tuple[Any, ...]] = field(default_factory=dict)

    def call(self, method: str, path: str, body: Any = None, *, who: str = "laminator", **headers: str) -> Any:
        urls = self.client.application.url_map.bind("localhost")
        name = urls.match(path.partition("?")[0], method=method)[0].rpartition(".")[2]
        if name in OPERATIONS and name not in self.answers and name not in ANY_TIME and not isinstance(body, bytes):
            told = {**(body or {}), "occurred_at": self.early.isoformat()}
            answer = super().call(method, path, told, who=who, **headers)
            said = answer.get_json()
            pointers = tuple(error["pointer"] for error in said.get("errors", ()))
            self.answers[name] = (answer.status_code, pointers, said.get("detail"))
        return super().call(method, path, body, who=who, **headers)


@made_once
def job(api: Any) -> None:
    """Every act of the shop at least once; each that can be too early was told of a day before the first of them."""
    told = _ToldEarly(**vars(listening(api)), early=api.shop.clock.now - timedelta(days=1))
    whole_job(told)
    api.told_early = told.answers
    _out_of_the_cold(api)
    api.client.post("/enter", data={"key": api.shop.keys["quality"]})


def _out_of_the_cold(api: Any) -> None:
    """A kit that inherits what its prepreg has used up of its time out of the cold."""
    rows = [{"temperature_c": 21, "hours": 240}]
    prepreg = makers.fabric(api, "Prepreg 12", out_time={"tack": rows, "out": rows})
    asked = {"containers": [{"length_mm": 20_000}], "transport_out": {"hours": 24, "temperature_c": 20}}
    asked["supplier"] = makers.supplier(api, "Fabric mill")
    roll = makers.lot(api, prepreg, makers.place(api, "Clean room"), makers_lot="PP-1", **asked)["containers"][0]
    design = makers.design(api, "PP-204", plies=makers.plies(prepreg, 0, 45))["id"]
    api.post("/v1/kits", {"design": design, "cuts": [{"roll": roll, "length_mm": 1000}]})


@pytest.fixture
def shop_with_history(api: Any) -> Iterator[Any]:
    job(api)
    with connected():
        if on_postgresql():
            database.execute_sql("ANALYZE")
        yield api


def differences() -> list[Difference]:
    """All that `potmark check` says, however much it is."""
    return list(check_account(show=100_000).first)


@contextmanager
def undone() -> Iterator[Callable[[], None]]:
    """Forge within the block; afterwards it never happened. Neither guards nor references stand in the way.

    What is handed out puts the guards back before the account is looked at, as a forger would.
    """
    connection = database.connection()
    if on_postgresql():
        database.execute_sql("SET session_replication_role = replica")
    else:
        database.execute_sql("PRAGMA foreign_keys = 0")
        database.execute_sql("PRAGMA ignore_check_constraints = 1")
    try:
        with database.atomic() as transaction:
            guards: list[tuple[str, str]] = []
            if not on_postgresql():
                guards = connection.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
                for name, _ in guards:
                    connection.execute(f"DROP TRIGGER {name}")

            def put_back() -> None:
                for _, sql in guards:
                    connection.execute(sql)

            yield put_back
            transaction.rollback()
    finally:
        if on_postgresql():
            database.execute_sql("SET session_replication_role = DEFAULT")
        else:
            database.execute_sql("PRAGMA ignore_check_constraints = 0")
            database.execute_sql("PRAGMA foreign_keys = 1")


@pytest.fixture
def stocked(api: Any) -> Any:
    """Four cans of hardener, one of them opened and decanted from; the head of then is kept elsewhere."""
    makers.supplier(api)
    api.place = makers.place(api)
    hardener = makers.material(api, "Alder 32 slow hardener", "hardener", h_codes=["H314", "H317"])
    api.cans = makers.cans(api, hardener, api.place, "26-0914", count=4)
    api.post(f"/v1/containers/{api.cans[0]}/decants", {"mass_g": 100})
    api.kept = hand_in_head(api)
    with connected():
        yield api
