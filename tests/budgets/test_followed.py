"""Whoever follows the feed misses nothing: no part's or lot's answer differs without a change that is told.

All of them are rendered after each act of the whole job, on SQLite; `python -m tests.budgets.followed` does the same
with every example of the description.
"""

import pytest

from tests.budgets.conftest import Job

# Of what is told some is the same: a component's act is told of the assembly, a flag that a later one hides.
MOST_IDLE = 0.2


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_no_part_and_no_lot_answers_otherwise_than_before_without_a_change_that_is_told(job: Job) -> None:
    assert job.followed.told > 100
    assert job.followed.unseen == []
    idle = sum(job.followed.idle.values())
    assert idle <= MOST_IDLE * job.followed.told, job.followed.idle
