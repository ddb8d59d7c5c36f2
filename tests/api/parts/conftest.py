"""What the tests of finished parts begin with."""

from typing import Any

import pytest

from tests import makers
from tests.fresh import made_once


@pytest.fixture
@made_once
def yard(api: Any) -> Any:
    makers.supplier(api)
    api.place = makers.place(api)
    api.glass = makers.fabric(api)
    api.roll = makers.roll(api, api.glass, api.place, "F-1")
    return api
