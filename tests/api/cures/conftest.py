"""What the tests of cures begin with."""

from typing import Any

import pytest

from tests import makers
from tests.fresh import made_once
from tests.logger_files import SEMICOLONS


@pytest.fixture
@made_once
def oven(api: Any) -> Any:
    """A schedule for 480 min at 60 °C, a logger, an oven, a laid-up part; the clock stands at the start."""
    api.schedule = makers.schedule(api, start_within_min=120)
    api.logger = api.post("/v1/loggers", {"name": "Oven logger 2", "profile": SEMICOLONS}, who="lead")["id"]
    api.place = makers.place(api, "Oven 1")
    api.part = makers.laid_up_part(api)
    return api
