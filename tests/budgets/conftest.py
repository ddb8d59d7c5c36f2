"""The whole job is done once on each engine, listened to and compared; all that is promised of it is asked of that."""

from dataclasses import dataclass
from typing import Any

import pytest

from tests.budgets.job import Heard, listening, whole_job
from tests.budgets.reread import same_thing
from tests.conftest import Api


@dataclass
class Job:
    """What was heard of each act, and where an answer was not what was read right after it: act -> (told, read)."""

    heard: list[Heard]
    differing: dict[str, tuple[Any, Any]]
    compared: set[str]


@pytest.fixture(scope="session")
def jobs_done() -> dict[str, Job]:
    return {}


@pytest.fixture
def job(api: Api, jobs_done: dict[str, Job]) -> Job:
    engine = api.url.partition(":")[0]
    if engine not in jobs_done:
        done = jobs_done[engine] = Job([], {}, set())
        listened = listening(api)

        def compare(one: Heard) -> None:
            for told, read in same_thing(api, one):
                done.compared.add(one.operation)
                if told != read:
                    done.differing[one.operation] = (told, read)

        listened.after = compare
        whole_job(listened)
        done.heard = listened.heard
    return jobs_done[engine]
