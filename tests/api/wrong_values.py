"""Bodies that are wrong in one place, made from the API's own description: what every writing route has to refuse."""

import json
from collections.abc import Iterator
from copy import deepcopy
from dataclasses import dataclass
from typing import Any

from labels.codes import make, next_usable

# Texts whose form stands in a pattern instead of in words.
_BY_PATTERN = {"^[0-9]{14}": "09521234543213", "^(19": "2027-06"}
_WRONG_TYPES: dict[str, tuple[Any, ...]] = {
    "string": (17, 1.5, True, [], {}),
    "number": ("12", True, [], {}, float("nan"), float("inf"), float("-inf")),
    "integer": ("3", 3.5, True, [], {}, float("nan"), float("inf")),
    "boolean": ("true", 1, [], {}),
    "array": ("x", 3, {}),
    "object": ("x", 3, []),
}
_NO_DAYS = ("", "3 Nov", "2026-02-30", "26-11-03", "1969-12-31", "2200-01-01", "99999-01-01", "2026-11-03\0")
_NO_TIMES = (
    "", "2026-11-03", "2026-11-03T09:00:00", "2026-13-01T09:00:00Z", "9999-12-31T23:59:59-14:00", "now",
    "2026-11-03T09:00:00Z\0",
)  # fmt: skip
_UNPRINTABLE = ("", "  ", "a\0b", "a\x07b", "a\x1bb", "\ud800", "a\u0085b", "\ue000")
MANY_DIGITS = "9" * 5000

Path = tuple[str | int, ...]


@dataclass(frozen=True)
class Place:
    """One field of a body: where it stands, what the description says of it, and a body in which it is right."""

    path: Path
    schema: dict[str, Any]
    body: dict[str, Any]
    required: bool

    @property
    def pointer(self) -> str:
        return "".join(f"/{step}" for step in self.path)

    @property
    def kind(self) -> str:
        """Its JSON type."""
        named = self.schema.get("type", "object")
        return str(named if isinstance(named, str) else next(t for t in named if t != "null"))

    @property
    def nullable(self) -> bool:
        return "null" in self.schema.get("type", ())

    @property
    def letters(self) -> str:
        """The letters that open its codes, if it is a code."""
        pattern = self.schema.get("pattern", "")
        return pattern[2 : pattern.index("]")] if pattern.endswith(r"[0-9A-Z]$") else ""

    def with_value(self, value: Any) -> dict[str, Any]:
        body = deepcopy(self.body)
        _put(body, self.path, value)
        return body

    def with_digits(self, digits: str) -> bytes:
        """The body as it is sent, with these digits where the field stands; no JSON writer would write them."""
        return json.dumps(self.with_value("@digits@")).replace('"@digits@"', digits).encode()

    def without(self) -> dict[str, Any]:
        body = deepcopy(self.body)
        holder: Any = body
        for step in self.path[:-1]:
            holder = holder[step]
        del holder[self.path[-1]]
        return body


class Description:
    """The OpenAPI document, read for its request bodies."""

    def __init__(self, document: dict[str, Any]) -> None:
        self.schemas = document["components"]["schemas"]
        self.paths = document["paths"]

    def resolved(self, schema: dict[str, Any]) -> dict[str, Any]:
        forms = schema.get("oneOf", ())
        number = len(forms) > 1 and forms[0].get("type") in ("number", "integer")
        if number and self.resolved(forms[1]).get("type") == "object":
            # A number that may be given with another unit; what is wrong with a unit has a test of its own.
            kind = [forms[0]["type"], *(form["type"] for form in forms[2:])]
            return {**forms[0], "type": kind if len(kind) > 1 else kind[0]}
        if "$ref" in schema:
            return dict(self.schemas[schema["$ref"].rpartition("/")[2]])
        for inner in schema.get("allOf", schema.get("anyOf", ())):
            if "$ref" in inner:
                found = self.resolved(inner)
                return {**found, "type": [found["type"], "null"] if len(schema.get("anyOf", ())) > 1 else found["type"]}
        return schema

    def places(self, schema: dict[str, Any], body: dict[str, Any]) -> Iterator[Place]:
        """Every field of a body, those of nested objects and of the first item of a list too."""
        yield from self._within(self.resolved(schema), (), body)

    def _within(self, schema: dict[str, Any], path: Path, body: dict[str, Any]) -> Iterator[Place]:
        for name, given in schema.get("properties", {}).items():
            field = self.resolved(given)
            own = deepcopy(body)
            if _get(own, (*path, name)) is None:
                _put(own, (*path, name), self.sample(field))
            place = Place((*path, name), field, own, name in schema.get("required", ()))
            yield place
            if place.kind == "object":
                yield from self._within(field, place.path, own)
            elif place.kind == "array":
                items = self.resolved(field.get("items", {}))
                if not _get(own, place.path):
                    _put(own, place.path, [self.sample(items)])
                if items.get("type") == "object":
                    yield from self._within(items, (*place.path, 0), own)
                elif items:
                    yield Place((*place.path, 0), items, own, False)

    def sample(self, schema: dict[str, Any]) -> Any:
        """Some value of that form."""
        schema = self.resolved(schema)
        place = Place((), schema, {}, False)
        if "oneOf" in schema:
            return self.sample(schema["oneOf"][0])
        if "enum" in schema:
            return schema["enum"][0]
        if place.letters:
            return make(place.letters[0], next_usable(place.letters[0], 90_000))
        if place.kind == "string":
            return _text(schema)
        if place.kind in ("number", "integer"):
            return max(1, schema.get("minimum", 1))
        if place.kind == "boolean":
            return True
        if place.kind == "array":
            return [self.sample(schema.get("items", {}))] * max(1, schema.get("minItems", 1))
        return {name: self.sample(inner) for name, inner in schema.get("properties", {}).items()
                if name in schema.get("required", ())}  # fmt: skip


def _text(schema: dict[str, Any]) -> str:
    by_format = {"date": "2026-11-03", "date-time": "2026-11-03T08:00:00Z"}
    if schema.get("format") in by_format:
        return by_format[schema["format"]]
    pattern = schema.get("pattern", "")
    return next((text for start, text in _BY_PATTERN.items() if pattern.startswith(start)), "text")


def wrong_values(place: Place) -> Iterator[Any]:
    """Values that this field must not take, whatever else is in the body."""
    if "oneOf" in place.schema:
        yield from (None, True, 1.5, [], {}, "", 0)
        return
    yield from _WRONG_TYPES[place.kind]
    if not place.nullable:
        yield None
    schema = place.schema
    if "enum" in schema:
        yield from ("no such word", "", f"{schema['enum'][0]}\0")
    elif place.letters:
        yield from _wrong_codes(place.letters)
    elif schema.get("format") == "date":
        yield from _NO_DAYS
    elif schema.get("format") == "date-time":
        yield from _NO_TIMES
    elif place.kind == "string":
        yield from _UNPRINTABLE
        yield "x" * (schema.get("maxLength", 1000) + 1)
    elif place.kind in ("number", "integer"):
        yield from _beyond(schema)
    elif place.kind == "array" and schema.get("items"):
        items = _get(place.body, place.path) or [1]
        if "maxItems" in schema:
            yield items[:1] * (schema["maxItems"] + 1)
        if schema.get("minItems"):
            yield []


def _wrong_codes(letters: str) -> Iterator[str]:
    """Misread, of another kind, too long, unprintable."""
    right = make(letters[0], next_usable(letters[0], 90_000))
    yield right[:-1] + ("0" if right[-1] != "0" else "1")
    yield from ("", "C", "what is it", f"{right}\0", "9" * 201)
    other = next((letter for letter in "LCKMPTSRA" if letter not in letters), None)
    if other is not None:
        yield make(other, next_usable(other, 90_000))


def _beyond(schema: dict[str, Any]) -> Iterator[float]:
    if "minimum" in schema:
        yield schema["minimum"] - (1 if schema["type"] == "integer" or "integer" in schema["type"] else 0.001)
    if "maximum" in schema:
        yield schema["maximum"] * 2 + 1
        yield 10**400


def _get(body: Any, path: Path) -> Any:
    for step in path:
        try:
            body = body[step]
        except (KeyError, IndexError, TypeError):
            return None
    return body


def _put(body: Any, path: Path, value: Any) -> None:
    for step in path[:-1]:
        body = body[step]
    body[path[-1]] = value


def edge_values(place: Place) -> Iterator[Any]:
    """The least and the most that the description allows: both engines have to hold them, or refuse them in words."""
    schema = place.schema
    if place.kind in ("number", "integer"):
        yield from {schema.get("minimum", 0), schema.get("maximum", 2**53 - 1)}
    elif place.kind == "string" and not place.letters and "enum" not in schema:
        if schema.get("format") == "date":
            yield from ("1970-01-01", "2199-12-31")
        elif schema.get("format") == "date-time":
            yield from ("1970-01-01T00:00:00Z", "2199-12-31T23:59:59.999999Z")
        elif "maxLength" in schema:
            yield "\U0001f6b2" * schema["maxLength"]
