"""Whole jobs, from the first act to the last; at the end of each the account is proved from its history."""

from collections.abc import Iterator
from typing import Any

import pytest

from service.database import connected
from service.operations.ledger.checking import check_account
from tests.journeys.floor import Floor, founded


@pytest.fixture
def floor(api: Any) -> Iterator[Floor]:
    """A floor to work on. Whatever a job did there, balances, states, holds and journal follow from its history."""
    yield founded(api)
    with connected():
        check = check_account()
    assert check.agrees, check.first
