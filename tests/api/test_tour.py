"""The examples of the description are one walk through a shop: sent as they stand, in their order, all are accepted."""

import json
import re
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from service.app import create_app
from service.config import Settings
from service.database import connected, database, on_postgresql, open_database
from service.opening import make_secrets_key
from service.operations.door import founding
from service.operations.ledger.checking import check_account
from tests.api.walk import Request, Walker, examples, routes

# After all that the examples tell.
FOUNDED = datetime(2026, 12, 1, 8, 0, tzinfo=UTC)
_CODE = re.compile(r"\b[LCKMPTSRA][0-9]{5}[0-9A-Z]\b")


@pytest.fixture
def founded(database_url: str, signing: dict[str, str], tmp_path: Path) -> Iterator[tuple[Any, str]]:
    """A service of which nothing is known but its address, on a shop founded just now, and the key of the founding."""
    open_database(database_url)
    settings = Settings(database=database_url, secrets_key=str(tmp_path / "potmark-secrets.key"), **signing)  # type: ignore[arg-type]
    make_secrets_key(settings)
    with connected():
        if on_postgresql():
            database.execute_sql("DROP SCHEMA public CASCADE")
            database.execute_sql("CREATE SCHEMA public")
        founding.migrate()
        key = founding.found(site="Yard", zone="Europe/Copenhagen", administrator="Ada", at=FOUNDED).key
    yield create_app(settings, clock=lambda: FOUNDED).test_client(), key
    database.close_all()


def test_every_example_is_accepted_in_its_order_and_the_first_job_ends_in_a_released_part(
    founded: tuple[Any, str],
) -> None:
    client, key = founded
    described = client.get("/openapi.json").get_json()
    last = int(re.search(r"Steps 1 to (\d+) carry the first job", described["info"]["description"])[1])  # type: ignore[index]
    walker, known, writes = Walker(client, {0: key}), "", 0
    made: set[str] = set()
    for request in examples(described):
        unheard = {code for code in _CODE.findall(f"{request.path} {json.dumps(request.body)}") if code not in known}
        assert not unheard, (request.name, unheard)
        answer = walker.send(request)
        binary = answer.mimetype.startswith("application/") and not answer.is_json
        text = "" if binary else answer.get_data(as_text=True)
        assert answer.status_code in (200, 201), (request.name, text)
        assert _against(described, request, answer) == [], request.name
        if answer.status_code == 201 and request.call not in made:
            made.add(request.call)
            own = request.call in ("claim_key", "set_secret")
            key = walker.keys[request.number if own else request.key_of_step]
            held = {"Authorization": f"Bearer {key}"}
            found = client.get(answer.headers["Location"], headers=held).status_code
            assert found in (200, 403), (request.name, answer.headers["Location"], found)
        known += text
        told = request.method != "GET" and request.call != "begin_signing"
        writes += told and 0 < request.number <= last
        if request.number == last:
            assert request.call == "print_part_record"
            assert answer.get_data().startswith(b"%PDF-1.7")
            assert '"state":"released"' in known
    assert 0 < writes <= 25, writes
    with connected():
        assert check_account().first == (), "after every act that there is, each row is as the journal says"


def _against(described: dict[str, Any], request: Request, answer: Any) -> list[str]:
    """Where an answer is another than the description says."""
    route = next(route for _, _, route, _ in routes(described) if route["operationId"] == request.call)
    contents = route["responses"][str(answer.status_code)]["content"]
    if answer.mimetype not in contents:
        return [f"{answer.mimetype} is none of {', '.join(contents)}"]
    if answer.mimetype != "application/json":
        return []
    schema = {**contents["application/json"]["schema"], "components": described["components"]}
    return [f"{error.json_path}: {error.message}" for error in Draft202012Validator(schema).iter_errors(answer.json)]


def test_every_example_keeps_to_its_schema() -> None:
    described = create_app(Settings(database="sqlite:///never-opened.db")).test_client().get("/openapi.json").get_json()
    found = [
        (path, method, media, example["value"])
        for path, methods in described["paths"].items()
        for method, route in methods.items()
        if method != "parameters"
        for media in [
            *route.get("requestBody", {}).get("content", {}).values(),
            *methods.get("parameters", ()),
            *route.get("parameters", ()),
        ]
        for example in [
            *media.get("examples", {}).values(),
            *([{"value": media["example"]}] if "example" in media else []),
        ]
    ]
    assert len(found) > 400
    for path, method, media, value in found:
        schema = {**media["schema"], "components": described["components"]}
        errors = [error.message for error in Draft202012Validator(schema).iter_errors(value)]
        assert errors == [], (method, path, value)
