"""The door to the calculations, for tests that need no shop behind it."""

import json
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

import pytest

from service.app import create_app
from service.config import Settings
from service.database import connected, database, open_database
from service.operations.door import founding


class Door:
    """The service over HTTP with an account that nobody has written to; no calculation needs more."""

    def __init__(self, client: Any, key: str) -> None:
        self.client, self.headers = client, {"Authorization": f"Bearer {key}"}

    def ask(self, name: str, body: Any) -> Any:
        return self.client.post(f"/v1/calculations/{name}", json=body, headers=self.headers)

    def ask_text(self, name: str, text: str) -> Any:
        headers = {**self.headers, "Content-Type": "application/json"}
        return self.client.post(f"/v1/calculations/{name}", data=text, headers=headers)

    def result(self, name: str, body: Any) -> Any:
        answer = self.ask(name, body)
        assert answer.status_code == 200, answer.get_data(as_text=True)
        return strict(answer)["result"]


def opened(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Door]:
    """A door to a fresh account, for the tests of one file."""
    url = f"sqlite:///{tmp_path_factory.mktemp('calculations')}/potmark.db"
    open_database(url)
    with connected():
        founding.migrate()
        founded = founding.found(site="Yard", zone="UTC", administrator="Ada", at=datetime(2026, 11, 3, tzinfo=UTC))
    yield Door(create_app(Settings(database=url)).test_client(), founded.key)
    database.close_all()


def strict(answer: Any) -> Any:
    """The answer as JSON proper, without NaN and Infinity."""

    def never(word: str) -> Any:
        raise AssertionError(f"{word} is not JSON")

    return json.loads(answer.get_data(as_text=True), parse_constant=never)
