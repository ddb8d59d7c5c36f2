"""The description of the API: valid, the same as it was unless somebody means a change, and enough for a stranger."""

import difflib
import re
from collections.abc import Iterator
from typing import Any

import pytest
from openapi_spec_validator import OpenAPIV31SpecValidator

from schemas.words import HookEvent
from service.api.meanings import meanings
from service.app import create_app
from service.config import Settings
from tests.api.description import KEPT, compact, document
from tests.api.walk import routes


@pytest.fixture(scope="module")
def described() -> dict[str, Any]:
    return document()


def test_no_change_of_the_api_goes_unseen(described: dict[str, Any]) -> None:
    kept, now = KEPT.read_text("utf-8"), compact(described)
    changes = [*difflib.unified_diff(kept.splitlines(), now.splitlines(), "kept", "now", n=0, lineterm="")]
    assert not changes, "\n".join(
        ["The API has changed. If that is meant: python -m tests.api.description, and commit the file.", *changes[:80]]
    )


def test_the_description_is_valid_openapi_3_1_defaults_and_all(described: dict[str, Any]) -> None:
    assert [(list(e.absolute_path), e.message) for e in OpenAPIV31SpecValidator(described).iter_errors()] == []


def test_every_route_is_described_and_all_that_is_described_is_there(described: dict[str, Any]) -> None:
    app = create_app(Settings(database="sqlite:///never-opened.db"))
    there = {
        (method.lower(), re.sub(r"<(?:[^:<>]+:)?(\w+)>", r"{\1}", str(rule.rule)))
        for rule in app.url_map.iter_rules()
        for method in (rule.methods or set()) - {"HEAD", "OPTIONS"}
        if str(rule.rule).startswith("/v1/")
    }
    assert {(method, path) for path, method, *_ in routes(described)} == there
    assert len(there) > 200


def test_what_a_call_has_made_leads_to_all_that_is_done_with_it(described: dict[str, Any]) -> None:
    calls = {route["operationId"]: (path, asked) for path, _, route, asked in routes(described)}
    links = {
        (route["operationId"], name): link
        for _, _, route, _ in routes(described)
        for name, link in route["responses"].get("201", {}).get("links", {}).items()
    }
    assert len(links) > 100
    assert links["start_part", "close_lay_up"]["parameters"] == {"part": "$response.body#/code"}
    assert links["place_order", "cancel_order"]["parameters"] == {"order": "$response.body#/order/id"}
    for (made, name), link in links.items():
        assert link["operationId"] == name
        path, asked = calls[name]
        assert set(link["parameters"]) == {one["name"] for one in asked if one["in"] == "path"}, (made, path)


def test_every_event_of_a_webhook_is_described_and_no_other(described: dict[str, Any]) -> None:
    assert set(described["webhooks"]) == set(HookEvent)
    for event, hook in described["webhooks"].items():
        (media,) = hook["post"]["requestBody"]["content"].values()
        payload = described["components"]["schemas"][media["schema"]["$ref"].rpartition("/")[2]]
        assert payload["properties"]["type"]["const"] == event


# What nobody can send as it stands: a head is signed over the very entries of the account that it is handed in to.
SIGNED_OUTSIDE = {("post", "/v1/heads")}
# And each issue is signed anew, so that no example can name its hash.
SIGNED_OUTSIDE |= {("get", "/v1/issues/{sha256}"), ("get", "/v1/issues/{sha256}/file")}


def test_every_call_has_an_example_in_which_all_that_it_needs_stands(described: dict[str, Any]) -> None:
    """A call that works something out has one of its own; any other has its place in service/api/tours."""
    bare = []
    for path, method, route, asked in routes(described):
        names = [f"step {step['step']}" for step in route.get("x-steps", ())]
        contents = route.get("requestBody", {}).get("content", {}).values()
        alone = all("example" in content for content in contents) and "{" not in path
        told = names and all(
            set(names) <= set(part.get("examples", ()))
            for part in [*(one for one in asked if one["in"] == "path"), *contents]
        )
        if not told and not ((contents or path.startswith("/v1/calculations")) and alone):
            bare.append((method, path))
    assert set(bare) == SIGNED_OUTSIDE


def test_every_field_and_all_that_is_asked_in_an_address_or_a_header_says_what_it_is(described: dict[str, Any]) -> None:
    bare = {
        (name, field)
        for name, schema in described["components"]["schemas"].items()
        for field, said in schema.get("properties", {}).items()
        if not said.get("description")
    } | {
        (path, f"{one['in']} {one['name']}")
        for path, _, _, asked in routes(described)
        for one in asked
        if not one.get("description")
    }
    assert bare == set(), "say it in the schema, the docstring, or service/api/meanings.json"


def test_no_meaning_is_left_of_a_field_that_is_gone(described: dict[str, Any]) -> None:
    named = {
        told
        for name, schema in described["components"]["schemas"].items()
        for field in schema.get("properties", {})
        for told in (field, f"{name}.{field}")
    } | {f"{one['in']}.{one['name']}" for _, _, _, asked in routes(described) for one in asked}
    assert set(meanings()) - named == set()


def test_every_pattern_means_the_same_to_javascript(described: dict[str, Any]) -> None:
    r"""JSON Schema's patterns are ECMAScript's: `\Z` is a letter there; without ^ and $ a part of the text would do."""
    patterns = {schema["pattern"] for _, schema in _schemas(described) if "pattern" in schema}
    assert len(patterns) > 5
    odd = [p for p in patterns if re.search(r"\\[AZzdDwWsSpP]|\(\?[^:=!]", p) or not (p[0] == "^" and p[-1] == "$")]
    assert odd == []


def _schemas(node: Any, name: str = "") -> Iterator[tuple[str, dict[str, Any]]]:
    """(name of the field, schema) of everything in the description that looks like one."""
    if isinstance(node, dict):
        if "type" in node or "$ref" in node or "anyOf" in node:
            yield name, node
        for key, inner in node.items():
            yield from _schemas(inner, key)
    elif isinstance(node, list):
        for inner in node:
            yield from _schemas(inner, name)


def _answers(described: dict[str, Any]) -> dict[str, dict[str, Any]]:
    """Components that answers are made of, by name."""
    schemas, found = described["components"]["schemas"], dict[str, dict[str, Any]]()
    waiting = [
        answer.get("content", {})
        for methods in described["paths"].values()
        for route in methods.values()
        if isinstance(route, dict)
        for code, answer in route["responses"].items()
        if code[0] == "2"
    ]
    named = re.findall(r"#/components/schemas/(\w+)", str(waiting))
    while named:
        name = named.pop()
        if name not in found:
            found[name] = schemas[name]
            named += re.findall(r"#/components/schemas/(\w+)", str(schemas[name]))
    return found


def test_an_answer_says_which_fields_are_always_there(described: dict[str, Any]) -> None:
    answers = {name: schema for name, schema in _answers(described).items() if "properties" in schema}
    assert len(answers) > 100
    # An amount stands under the name of its unit, and what was kept as it came in may lack what nobody gave.
    by_unit = re.compile(r"_(g|mm|pieces)$")
    may_lack = {
        (name, field)
        for name, schema in answers.items()
        for field in schema["properties"]
        if field not in schema.get("required", ()) and not by_unit.search(field)
    }
    assert {name for name, _ in may_lack} <= {"CheckLimitsOut", "LaminateAskedOut", "MeasurementOut", "ResinNeedOut"}


def test_states_verdicts_and_the_like_say_their_words(described: dict[str, Any]) -> None:
    free = {
        (name, field)
        for name, schema in _answers(described).items()
        for field, inner in schema.get("properties", {}).items()
        if field in {"state", "verdict", "decision", "evidence", "disposition", "component", "bound", "level", "role"}
        and "$ref" not in str(inner) and "enum" not in inner
    }  # fmt: skip
    # What a thing was used as is told in words of its own: scale, oven, mould, person who weighed.
    assert free == {("UsedOnOut", "role")}


def test_answers_have_no_limits_that_their_numbers_could_break(described: dict[str, Any]) -> None:
    limits = {"minimum", "maximum", "minLength", "maxLength", "pattern"}
    assert {name: set(s) & limits for name, schema in _answers(described).items() for _, s in _schemas(schema)
            if set(s) & limits} == {}  # fmt: skip


def test_what_takes_a_tag_read_before_says_that_it_may_be_still_the_same(described: dict[str, Any]) -> None:
    asking = [
        route["responses"].keys()
        for _, _, route, asked in routes(described)
        if any(one["name"] == "If-None-Match" for one in asked)
    ]
    assert len(asking) > 20
    assert all("304" in answers for answers in asking)
