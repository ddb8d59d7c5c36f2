"""The OpenAPI 3.1 description, made from the schemas, and the page that shows it without a network."""

import json
from collections.abc import Sequence
from enum import StrEnum
from pathlib import Path
from threading import Lock
from typing import Any

import flask_smorest
from flask import Flask, Response
from werkzeug.exceptions import NotFound
from werkzeug.routing import AnyConverter, BaseConverter, IntegerConverter

from labels.codes import parse
from labels.errors import Misread
from schemas.answers import to_bytes
from schemas.base import Out, Problem
from schemas.calculation_fields import Choice, Exact, Finite, Measure, Row, Variant
from schemas.fields import ANY_ITEM, Code, Grams, Moment, Number, Text, Whole, Word, Yes, describe
from schemas.other_units import units_of
from schemas.words import KIND_NAMES, Kind
from service.api import endings
from service.api.calculations import add_bodies
from service.api.events import add_webhooks
from service.api.links import add_links
from service.api.meanings import add_meanings
from service.api.tour import add_examples
from service.formulas.units import UNITS


class NoSuchCode(NotFound):
    """A code in a path that was misread, or that is the code of another kind of thing."""

    problem = ("unknown", "Not known here")

    def __init__(self, sentence: str, way_out: str) -> None:
        super().__init__(sentence)
        self.data = {"message": sentence, "way_out": way_out}


class CodeInPath(BaseConverter):
    """A code in a path, of any kind or of one: typed or scanned, it arrives in its canonical form."""

    letters: tuple[str, ...] = ()

    def __init__(self, map: Any, *letters: str) -> None:
        super().__init__(map)
        self.letters = letters

    def to_python(self, value: str) -> str:
        try:
            code = parse(value)
        except Misread as misread:
            raise NoSuchCode(str(misread), "Scan the label again, or type the code as printed.") from None
        if self.letters and code.kind not in self.letters:
            named = " or ".join(KIND_NAMES[Kind(letter)] for letter in self.letters)
            raise NoSuchCode(f"{code.text} is not the code of a {named}.", "Scan the right label.")
        return code.text

    def to_url(self, value: str) -> str:
        return value


class Number53(IntegerConverter):
    """A number in a path that every JSON reader keeps exactly."""

    def __init__(self, map: Any) -> None:
        super().__init__(map, min=1, max=2**53 - 1)


class Api(flask_smorest.Api):
    """The routes of the blueprints; they are described when the description is first asked for.

    Describing them takes about as long as all the rest of the wiring, and most processes are never asked.
    """

    ERROR_SCHEMA = Problem
    _written: bytes | None = None

    def __init__(self, app: Flask) -> None:
        self._undescribed: list[flask_smorest.Blueprint] = []
        self._describing = Lock()
        super().__init__(app)

    def register_blueprint(self, blp: flask_smorest.Blueprint) -> None:
        self._app.extensions["flask-smorest"]["blp_name_to_api"][blp.name] = self
        self._app.register_blueprint(blp)
        self._undescribed.append(blp)

    def _register_error_handlers(self) -> None:
        """Errors are told in one place, service.api.problems."""

    def _register_responses(self) -> None:
        usual = flask_smorest.Api.DEFAULT_RESPONSE_CONTENT_TYPE
        self.DEFAULT_RESPONSE_CONTENT_TYPE = "application/problem+json"
        super()._register_responses()
        self.DEFAULT_RESPONSE_CONTENT_TYPE = usual

    def _register_pagination_header(self) -> None:
        """Lists carry a Link header (RFC 8288) instead."""

    def _openapi_json(self) -> Response:
        """The description, finished: written once, since nothing of it changes while the service runs."""
        with self._describing:
            if self._written is None:
                for blp in self._undescribed:
                    blp.register_views_in_doc(self, self._app, self.spec, name=blp.name, parameters=None)
                    self.spec.tag({"name": blp.name, "description": blp.description})
                # What several routes share stands in the spec once; each route's own copy gets its own examples.
                described = json.loads(to_bytes(self.spec.to_dict()))
                add_meanings(described)
                add_examples(described)
                add_bodies(described)
                add_links(described)
                add_webhooks(described)
                endings.describe(described)
                self._written = to_bytes(described)
        return Response(self._written, mimetype="application/json")


def configure(app: Flask) -> None:
    app.config.update(
        API_TITLE="Potmark",
        API_VERSION="1",
        OPENAPI_VERSION="3.1.0",
        OPENAPI_URL_PREFIX="/",
        OPENAPI_JSON_PATH="openapi.json",
        API_SPEC_OPTIONS={
            "info": {"description": Path(__file__).with_name("introduction.md").read_text("utf-8").strip()},
            "security": [{"key": []}],
        },
    )
    app.url_map.converters.update(code=CodeInPath, number=Number53)
    app.url_map.strict_slashes = False


def make_api(app: Flask) -> Api:
    api = Api(app)
    api.register_field(Grams, "number", None)
    api.register_field(Number, "number", None)
    api.register_field(Whole, "integer", None)
    api.register_field(Yes, "boolean", None)
    for field in (Code, Text, Word):
        api.register_field(field, "string", None)
    api.register_field(Moment, "string", "date-time")
    for own in (Finite, Measure, Exact, Choice, Row, Variant):
        api.register_field(own, None, None)
    api.ma_plugin.converter.add_attribute_function(_described)
    api.register_converter(CodeInPath, _code_parameter)
    api.register_converter(Number53, lambda converter: {"type": "integer", "minimum": 1, "maximum": 2**53 - 1})
    api.register_converter(AnyConverter, lambda converter: {"type": "string", "enum": sorted(converter.items)})
    api.spec.components.security_scheme(
        "key", {"type": "http", "scheme": "bearer", "description": "A key from `potmark keys add`."}
    )
    return api


def _described(self: Any, field: Any, ret: dict[str, Any], **kwargs: Any) -> dict[str, Any]:
    """What the field says of itself. A field that takes null goes on saying so."""
    if isinstance(field, Word):
        ret.pop("type", None)
        words: list[dict[str, Any]] = [_component(self.spec, words) for words in field.vocabularies]
        words += [{"type": "null"}] if field.allow_none else []
        return words[0] if len(words) == 1 else {"anyOf": words}
    found: dict[str, Any] = field.openapi(self.field2property) if hasattr(field, "openapi") else describe(field)
    units = field.units if isinstance(field, Measure) else units_of(field.name) if _takes_units(field) else ()
    if units:
        ret.pop("type", None)
        null: list[dict[str, Any]] = [{"type": "null"}] if field.allow_none else []
        return {
            "oneOf": [
                {**found, "type": "integer" if isinstance(field, Whole) else "number"},
                _other_unit(self.spec, units),
                *null,
            ]
        }
    if hasattr(field, "openapi"):
        return found
    if field.allow_none and "type" in found and "type" in ret:
        found["type"] = ret["type"]
    return found


def _component(spec: Any, words: type[StrEnum]) -> dict[str, Any]:
    """A vocabulary, described once under its own name."""
    name = words.__name__
    described = {
        "type": "string",
        "enum": [str(word) for word in words],
        "description": words.__dict__.get("__doc__") or name,
    }
    if spec.components.schemas.setdefault(name, described) != described:
        raise TypeError(f"two vocabularies are called {name}")
    return {"$ref": f"#/components/schemas/{name}"}


def _other_unit(spec: Any, units: Sequence[str]) -> dict[str, Any]:
    """A number with a unit of the same kind, described once for each kind."""
    kind = UNITS[units[0]]
    name = f"{kind.title().replace(' ', '')}InUnit"
    listed = [unit for unit, its in UNITS.items() if its == kind and unit in units]
    described = {
        "type": "object",
        "required": ["value", "unit"],
        "properties": {"value": {"type": "number"}, "unit": {"type": "string", "enum": listed}},
        "additionalProperties": False,
        "description": "A number and its unit; it is converted exactly.",
    }
    if spec.components.schemas.setdefault(name, described) != described:
        raise TypeError(f"two sets of units are called {name}")
    return {"$ref": f"#/components/schemas/{name}"}


def _takes_units(field: Any) -> bool:
    """An amount in a body that comes in may be given in another unit than the field's own; in a query it is plain."""
    parent = field.root
    return (
        isinstance(field, Grams | Number | Whole)
        and not isinstance(parent, Out)
        and not getattr(parent, "in_query", False)
    )


def _code_parameter(converter: CodeInPath) -> dict[str, Any]:
    letters = "".join(converter.letters) or ANY_ITEM
    return {"type": "string", "pattern": rf"^[{letters}][0-9]{{5,12}}[0-9A-Z]$"}
