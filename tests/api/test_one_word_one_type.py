"""One word has one type in all that the API answers: a client is written from the description once.

What names a thing is the key by which the API takes it, a code or a number; what people call it is `<word>_name`, its
number beside a name `<word>_id`, how many there are `<word>_count`; who did something (`by`, `<done>_by`) is a name.
"""

from collections import defaultdict
from collections.abc import Iterator
from typing import Any

import pytest

from tests.api.description import document

# Words that are more than the name of one kind of thing, and why they stay.
STAY = {
    "document": "number of a file that is kept here; on a price or a shipment what is on its paper, as it was given",
    "order": "on a part the order as its paper has it, as it was given; on placing one the whole order as it is now",
    "line": "number of a line of an order or a file; of a scale the very line that it sent",
}


@pytest.fixture(scope="module")
def described() -> dict[str, Any]:
    return document()


def _types(described: dict[str, Any], schema: dict[str, Any]) -> Iterator[str]:
    """What kind of value it is; that it may be missing is no type of its own, and a closed word is a text."""
    if "$ref" in schema:
        yield from _types(described, described["components"]["schemas"][schema["$ref"].rpartition("/")[2]])
    elif several := [one for key in ("anyOf", "oneOf", "allOf") for one in schema.get(key, ())]:
        for one in several:
            yield from _types(described, one)
    elif words := schema.get("enum", [schema["const"]] if "const" in schema else []):
        yield from {"text" if isinstance(word, str) else "number" for word in words if word is not None}
    else:
        kinds = schema["type"] if isinstance(schema["type"], list) else [schema["type"]]
        for kind in set(kinds) - {"null"}:
            yield {"string": schema.get("format", "text"), "integer": "number"}.get(kind, kind)


def _answered(described: dict[str, Any]) -> set[str]:
    """The schemas of all that is answered, and of all that stands inside."""
    schemas, found = described["components"]["schemas"], set()
    ahead = [
        name
        for path in described["paths"].values()
        for route in path.values()
        if isinstance(route, dict)
        for name in _named(route["responses"])
    ]
    while ahead:
        if (name := ahead.pop()) not in found:
            found.add(name)
            ahead += _named(schemas.get(name, {}))
    return found & set(schemas)


def _named(node: Any) -> Iterator[str]:
    if isinstance(node, dict):
        if "$ref" in node:
            yield node["$ref"].rpartition("/")[2]
        for inner in node.values():
            yield from _named(inner)
    elif isinstance(node, list):
        for inner in node:
            yield from _named(inner)


def _names(described: dict[str, Any]) -> set[str]:
    """The words that name a thing: by them an address asks for it, or they take a code."""
    schemas = described["components"]["schemas"].values()
    asked = [one for path in described["paths"].values() for one in _parameters(path) if one["in"] == "path"]
    coded = {
        field
        for schema in schemas
        for field, inner in schema.get("properties", {}).items()
        if "{5,12}[0-9A-Z]$" in inner.get("pattern", "")
    }
    return {one["name"] for one in asked} | coded | {"revision"}


def _parameters(path: dict[str, Any]) -> Iterator[dict[str, Any]]:
    yield from path.get("parameters", ())
    for route in path.values():
        if isinstance(route, dict):
            yield from route.get("parameters", ())


def test_a_word_that_names_a_thing_or_a_person_has_one_type_in_all_answers(described: dict[str, Any]) -> None:
    names, meant = _names(described), defaultdict(lambda: defaultdict(list))
    for name in sorted(_answered(described)):
        for field, schema in described["components"]["schemas"][name].get("properties", {}).items():
            if field in names or field == "by" or field.endswith("_by"):
                meant[field][" or ".join(sorted(set(_types(described, schema))))].append(name)
    assert {"mould", "place", "revision", "approved_by", "material", "person", "system"} <= meant.keys()
    several = {
        field: {kind: told[:4] for kind, told in kinds.items()} for field, kinds in meant.items() if len(kinds) > 1
    }
    assert several.keys() == STAY.keys(), {field: several.get(field) for field in several.keys() ^ STAY.keys()}
