"""The whole job is done once on each engine, listened to and compared; all that is promised of it is asked of that."""

from dataclasses import dataclass, field
from typing import Any

import pytest

from service import kept_sql
from service.kept_sql import composed
from tests.budgets.followed import Followed
from tests.budgets.job import Heard, listening, whole_job
from tests.budgets.reread import same_thing
from tests.conftest import Api


@dataclass
class Job:
    """What was heard of each act, and where an answer was not what was read right after it: act -> (told, read)."""

    heard: list[Heard]
    differing: dict[str, tuple[Any, Any]]
    compared: set[str]
    texts: "Texts"
    followed: Followed


@dataclass
class Texts:
    """In the place of `composed` for a while: what it gives, compared with what peewee writes of the same query."""

    asked: int = 0
    composed: int = 0
    differing: list[Any] = field(default_factory=list)
    resting: bool = False

    def __call__(self, engine: Any, query: Any) -> tuple[str, list[Any]]:
        if self.resting:
            return composed(engine, query)
        known = len(kept_sql._KEPT)
        sql, values = composed(engine, query)
        plain_sql, plain_values = engine.get_sql_context().sql(query).query()
        self.asked += 1
        self.composed += len(kept_sql._KEPT) > known
        # What the driver of PostgreSQL takes for bytes is equal to itself alone.
        given, plain = ([getattr(value, "obj", value) for value in some] for some in (values, plain_values))
        if (sql, given) != (plain_sql, plain):
            self.differing.append(((sql, values), (plain_sql, plain_values)))
        return sql, values


@pytest.fixture(scope="session")
def jobs_done() -> dict[str, Job]:
    return {}


@pytest.fixture
def job(api: Api, jobs_done: dict[str, Job], monkeypatch: pytest.MonkeyPatch) -> Job:
    engine = api.url.partition(":")[0]
    if engine not in jobs_done:
        done = jobs_done[engine] = Job([], {}, set(), Texts(), Followed())
        monkeypatch.setattr("service.database.composed", done.texts)
        monkeypatch.setattr("service.records.bound.composed", done.texts)
        listened = listening(api)

        def compare(one: Heard) -> None:
            if engine == "sqlite":
                done.texts.resting = True  # the same few readings again, of everything that there is
                done.followed.look(one.operation)
                done.texts.resting = False
            for told, read in same_thing(api, one):
                done.compared.add(one.operation)
                if told != read:
                    done.differing[one.operation] = (told, read)

        listened.after = compare
        whole_job(listened)
        done.heard = listened.heard
    return jobs_done[engine]
