"""The description and the service agree, and nothing that the description lets in breaks the service."""

import warnings
from typing import Any

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings

from service.app import create_app
from service.config import Settings
from service.database import connected, open_database
from service.operations.door import founding
from service.records.people import PersonRole
from tests.conftest import NOW
from tests.forging import beside_any_act


@pytest.fixture(scope="module")
def described(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """The service on a file of its own; its only person has every role, so that no door stops a request."""
    url = f"sqlite:///{tmp_path_factory.mktemp('described') / 'potmark.db'}"
    open_database(url)
    with connected():
        founding.migrate()
        founded = founding.found(site="Yard", zone="Europe/Copenhagen", administrator="Ada", at=NOW)
        with beside_any_act():
            for role in ("laminator", "lead", "quality"):
                PersonRole.create(person=founded.administrator, role=role)
    schema = schemathesis.openapi.from_wsgi("/openapi.json", create_app(Settings(database=url)))
    schema.config.update(headers={"Authorization": f"Bearer {founded.key}"})
    return schema


def test_every_operation_has_an_id_a_summary_and_an_example(described: Any) -> None:
    for path, methods in described.raw_schema["paths"].items():
        for method, operation in methods.items():
            if method == "parameters":
                continue
            assert operation.get("operationId"), (method, path)
            assert operation.get("summary"), (method, path)
            bodies = operation.get("requestBody", {}).get("content", {})
            answers = [r["content"] for code, r in operation["responses"].items() if code[0] == "2" and "content" in r]
            shown = [media for content in [bodies, *answers] for media in content.values()]
            assert any({"example", "examples"} & set(m) or m["schema"].get("format") == "binary" for m in shown), path


def test_every_question_of_a_list_is_described(described: Any) -> None:
    asked = described.raw_schema["paths"]["/v1/availability"]["get"]["parameters"]
    assert {p["name"] for p in asked} >= {"material", "system", "mass_g"}
    written = described.raw_schema["paths"]["/v1/mixes"]["post"]["parameters"]
    assert {p["name"] for p in written} == {"Idempotency-Key", "Potmark-Device"}


@pytest.mark.sweep
def test_no_request_breaks_the_service(described: Any) -> None:
    """Whatever the description allows, and some of what it does not: never a 5xx, and errors are problem documents."""
    for found in described.get_all_operations():

        @given(case=found.ok().as_strategy())
        @settings(
            max_examples=4,  # `deploy/check --fuzz` tries many more
            deadline=None,
            database=None,
            suppress_health_check=list(HealthCheck),
            phases=[Phase.explicit, Phase.generate],
        )
        def never_breaks(case: Any) -> None:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                response = case.call()
            assert response.status_code < 500, (case.method, case.path, response.text)
            if response.status_code >= 400:
                assert response.headers["content-type"][0].startswith("application/problem+json")

        never_breaks()
