"""What an account is asked when a file of tests is done with it: is every row as the last entry of it left it?"""

from collections.abc import Iterator
from typing import Any

import pytest

from service.database import connected, reading
from service.operations.door import chain
from service.operations.ledger.rows import compare_rows

# By these a test writes rows that no act wrote, which is not to go unseen.
_PAST_THE_HOOKS = {"forge", "say", "beside_any_act", "execute_sql", "measure_a_place"}
_LAST = pytest.StashKey[dict[Any, str]]()


def _last_of_each_file(session: pytest.Session) -> dict[Any, str]:
    """The test of each file that has the last account; the others' are no more worth the time that it takes."""
    if _LAST not in session.stash:
        session.stash[_LAST] = {
            one.path: one.nodeid
            for one in session.items
            if isinstance(one, pytest.Function)
            and "api" in one.fixturenames
            and "[sqlite" in one.nodeid
            and not _PAST_THE_HOOKS & set(one.function.__code__.co_names)
        }
    return session.stash[_LAST]


@pytest.fixture(autouse=True)
def every_row_follows_from_the_journal(request: pytest.FixtureRequest) -> Iterator[None]:
    """So that no operation escapes the binding, whatever its tests ask of it."""
    if _last_of_each_file(request.session).get(request.node.path) != request.node.nodeid:
        yield
        return
    request.getfixturevalue("api")  # which is put away after this
    yield
    with connected(), chain.scratch_marks(), reading():
        for _ in chain.read_chain():
            pass
        chain.link_marks()
        assert [differs.say() for differs in compare_rows(lambda _: None)] == []
