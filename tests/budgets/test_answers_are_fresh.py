"""What an act answers is what the account says right after it: it tells of what it wrote, and of nothing older."""

from service.operations.door.operation import OPERATIONS
from tests.budgets.conftest import Job
from tests.budgets.job import FROM_THE_MACHINE
from tests.budgets.reread import TELL_OF_THE_ACT


def test_every_act_answers_what_is_read_right_after_it(job: Job) -> None:
    assert job.differing == {}
    assert job.compared | TELL_OF_THE_ACT | FROM_THE_MACHINE == set(OPERATIONS)
