"""Routes as a table: each names its path, its schemas and the one operation or reading function behind it.

A request is parsed by one schema, passed to one function, and written as the dataclass that the function says it
returns; what is the same for all of them (the act, the idempotency key, versions, cursors, rights, documentation) is
said here once.
"""

import base64
import binascii
import inspect
import json
from collections.abc import Callable
from dataclasses import replace
from typing import Any
from urllib.parse import urlencode

import flask_smorest
from flask import Response, current_app, g, request
from flask_smorest import abort
from webargs.flaskparser import FlaskParser

from schemas.answers import answer_of, schema_of, to_bytes, writer_of
from schemas.base import ActIn, In, PageIn
from schemas.words import Sort
from service.api.access import current_act
from service.api.bodies import json_content
from service.api.conventions import location_of
from service.api.examples import example_of
from service.api.fitting import require_fit
from service.api.tags import (
    IF_MATCH,
    IF_MATCH_OF_ACT,
    IF_NONE_MATCH,
    answers_at,
    expected_of,
    expected_versions,
    is_known,
    not_modified,
    tag_of,
)
from service.database import connected, reading
from service.operations.door.act import Act
from service.operations.door.acts import may_be_signed
from service.operations.door.expected import tag_of_code, version_among
from service.operations.door.operation import KeptAnswer
from service.operations.door.views import Page, Whence

IDEMPOTENCY = {
    "name": "Idempotency-Key",
    "in": "header",
    "description": "Any text of your own, new for each act. The same key and body are answered again, not done again.",
    "schema": {"type": "string", "minLength": 1, "maxLength": 80},
}
DEVICE = {
    "name": "Potmark-Device",
    "in": "header",
    "description": "What the device is called, such as the tablet at the scales; it stands in the journal.",
    "schema": {"type": "string", "minLength": 1, "maxLength": 60},
}
SIGNING = {
    "name": "Signing-Token",
    "in": "header",
    "description": "This is signed: the token that POST /v1/signing gives for your own secret, for a few minutes.",
    "schema": {"type": "string", "minLength": 1, "maxLength": 80},
}
# What every act may bring beside its body.
OF_AN_ACT = [IDEMPOTENCY, DEVICE]
# The time of asking and who asks, told to functions that judge by them.
_TOLD = frozenset({"at", "asker"})


READS = ("GET", "HEAD")


class Parser(FlaskParser):
    DEFAULT_UNKNOWN_BY_LOCATION = {**FlaskParser.DEFAULT_UNKNOWN_BY_LOCATION, "query": None, "json": None}

    def load_json(self, req: Any, schema: Any) -> Any:
        if not req.content_type and not json_content(req):
            # Neither a body nor a word of one: the act without any fields. A body that was announced has to come.
            return {}
        if not req.is_json:
            abort(415, message="Send JSON, with the header Content-Type: application/json.")
        if not json_content(req):
            if not any(field.required for field in schema.fields.values()):
                # A generated client names the kind of every body, of one that it does not send, too.
                return {}
            abort(400, message="The header says JSON and the body is empty. Send {}, or neither header nor body.")
        try:
            return super().load_json(req, schema)
        except (ValueError, RecursionError):
            abort(400, message="The body is not a JSON document that can be read.")

    def _raw_load_json(self, req: Any) -> Any:
        return json.loads(json_content(req).decode(), object_pairs_hook=_each_name_once)


def _each_name_once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """Where a name stands twice, a reader would take the last of them without a word (RFC 8259, section 4)."""
    found = dict(pairs)
    if len(found) < len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in found if names.count(name) > 1)
        abort(400, message=f"{twice[:60]!r} stands more than once in one object of the body; send it once.")
    return found


class Blueprint(flask_smorest.Blueprint):
    """A blueprint whose routes are declared, not written out."""

    ARGUMENTS_PARSER = Parser()

    def __init__(self, name: str, description: str, *, right: str = "read_account") -> None:
        """``right`` opens what its routes read or work out, unless a route says another."""
        super().__init__(name, name, url_prefix="/v1", description=description)
        self.right = right
        # endpoint -> the row of the table of rights that opens it
        self.rights: dict[str, str] = {}

    def write(
        self,
        rule: str,
        operation: Callable[..., Any],
        body: type[In] = ActIn,
        *,
        status: int = 201,
        method: str = "POST",
        name: str | None = None,
        then: Callable[[Act, Any], Any] = lambda act, done: done,
    ) -> None:
        """A route that does something; ``then`` adds to its answer what takes its time and comes after it."""
        cls, _ = answer_of(operation)
        signed = may_be_signed(operation.operation_name)  # type: ignore[attr-defined]

        def view(fields: dict[str, Any], **path: Any) -> Any:
            act = replace(current_act(fields, signed=signed), expects=expected_of(path))
            return answered(then(act, operation(act, **path, **fields)), cls, status, tag=act.outcome.tag)

        self._add(
            rule,
            view,
            operation,
            name=name,
            method=method,
            status=status,
            body=body,
            extra=[*([IF_MATCH_OF_ACT] if "<" in rule else []), *OF_AN_ACT, *([SIGNING] if signed else [])],
        )

    def edit(self, rule: str, operation: Callable[..., Any], body: type[In]) -> None:
        """A route that changes in place what may be changed; the version read has to be the version changed."""
        cls, _ = answer_of(operation)

        def view(fields: dict[str, Any], **path: Any) -> Any:
            act = current_act(fields)
            version, *others = expected_versions()
            if others:
                with connected():
                    what, number = next(iter(path.items()), ("site", None))
                    version = version_among(what, number, (version, *others))
            return answered(operation(act, version=version, **path, **fields), cls)

        self._add(
            rule,
            view,
            operation,
            method="PATCH",
            status=200,
            body=body,
            extra=[IF_MATCH, *OF_AN_ACT],
            also=frozenset({"version"}),
        )

    def read(
        self,
        rule: str,
        function: Callable[..., Any],
        query: type[In] | None = None,
        *,
        right: str | None = None,
    ) -> None:
        """A route that reads in one snapshot."""
        cls, _ = answer_of(function)
        followed = getattr(cls, "FOLLOWED", False)

        def view(*parsed: dict[str, Any], **path: Any) -> Any:
            tag = None
            with reading():
                if followed:
                    tag = tag_of_code(next(iter(path.values())))
                    if tag is not None and is_known(tag):
                        return not_modified(tag)
                result = function(**path, **_now(function), **(parsed[0] if parsed else {}))
            return answered(result, cls, tag=tag)

        def tag_now(number: int | str) -> str:
            thing = function(number, **_now(function))
            return tag_of(getattr(thing, "version", None), to_bytes(writer_of(cls)(thing)))

        if not followed:
            answers_at(f"/v1{rule}", tag_now)
        self._add(
            rule,
            view,
            function,
            method="GET",
            status=200,
            query=query,
            right=right or self.right,
            also=_TOLD,
            extra=[] if query is not None else [IF_NONE_MATCH],
        )

    def ask(self, rule: str, function: Callable[..., Any], body: type[In]) -> None:
        """A POST that works something out and stores nothing."""
        cls, _ = answer_of(function)

        def view(fields: dict[str, Any], **path: Any) -> Any:
            with reading():
                result = function(**path, **{**_now(function), **fields})
            return answered(result, cls)

        self._add(
            rule,
            view,
            function,
            method="POST",
            status=200,
            body=body,
            right=self.right,
            also=_TOLD,
        )

    def listing(
        self,
        rule: str,
        function: Callable[..., Page[Any]],
        query: type[PageIn] = PageIn,
        *,
        right: str | None = None,
    ) -> None:
        """A route that lists, a page at a time."""
        cls, _ = answer_of(function)

        def view(fields: dict[str, Any], **path: Any) -> Any:
            after, sort = _cursor(fields.pop("after", None)), fields.pop("sort", None)
            if sort is not None:
                after = Whence(after, newest_first=sort == Sort.NEWEST)
            with reading():
                page = function(after=after, **path, **_now(function), **fields)
            response = answered(page.rows, cls)
            if page.next_after is not None:
                asked = {**request.args.to_dict(), "after": _as_cursor(page.next_after)}
                response.headers["Link"] = f'<{request.path}?{urlencode(asked)}>; rel="next"'
            return response

        self._add(
            rule,
            view,
            function,
            method="GET",
            status=200,
            query=query,
            right=right or self.right,
            also=_TOLD | {"after", "sort"},
        )

    def custom(
        self, rule: str, view: Callable[..., Any], *, right: str, method: str = "GET", doc: dict[str, Any] | None = None
    ) -> None:
        """A route whose body or answer is not JSON; ``view`` does its own reading of the request."""
        view = self.doc(operationId=view.__name__, **(doc or {}))(view)
        self.rights[f"{self.name}.{view.__name__}"] = right
        self.route(rule, methods=[method])(view)

    def _add(
        self,
        rule: str,
        view: Callable[..., Any],
        function: Callable[..., Any],
        *,
        method: str,
        status: int,
        body: type[In] | None = None,
        query: type[In] | None = None,
        right: str | None = None,
        extra: list[dict[str, Any]] | None = None,
        name: str | None = None,
        also: frozenset[str] = frozenset(),
    ) -> None:
        # One schema for all requests: made anew for each, it would take longer than most bodies do.
        asked = body() if body is not None else query() if query is not None else None
        require_fit(rule, function, asked, given=also)
        endpoint = str(name or getattr(function, "operation_name", None) or function.__name__)
        view.__name__ = endpoint
        view.__doc__ = function.__doc__
        cls, many = answer_of(function)
        wrapped = self.response(status, schema_of(cls)(many=many), example=example_of(cls, many=many))(view)
        if asked is not None and body is not None:
            needs = any(field.required for field in asked.fields.values())
            wrapped = self.arguments(asked, required=needs)(wrapped)
        elif asked is not None:
            wrapped = self.arguments(asked, location="query")(wrapped)
        # Given only where there are some: documented parameters would replace those of the query.
        told: dict[str, Any] = {"parameters": extra} if extra else {}
        if method in READS:
            told["responses"] = {"304": {"description": _STILL_SO}}
        wrapped = self.doc(operationId=endpoint, **told)(wrapped)
        self.rights[f"{self.name}.{endpoint}"] = str(right or getattr(function, "operation_name", None) or self.right)
        self.route(rule, methods=[method], endpoint=endpoint)(wrapped)


_STILL_SO = "Still what it was under an ETag in If-None-Match; no content."


def _now(function: Callable[..., Any]) -> dict[str, Any]:
    """Functions that judge by the time of asking, or by who asks, are told it; they never look it up."""
    told = {"at": lambda: current_app.extensions["clock"](), "asker": lambda: g.visitor.person}
    return {name: tell() for name, tell in told.items() if name in inspect.signature(function).parameters}


def answered(result: Any, cls: type, status: int = 200, *, tag: str | None = None) -> Response:
    """A result of that class, or several, with what its headers say: its tag, and whether it is given again."""
    kept = isinstance(result, KeptAnswer)
    value = result.value if kept else result
    headers = {"Idempotency-Replayed": "true"} if kept else {}
    write = writer_of(cls, kept=kept)
    several = isinstance(value, list | tuple)
    content = to_bytes([write(row) for row in value] if several else write(value))
    if kept:
        tag = result.tag
    if tag is None:
        version = None if several else value.get("version") if kept else getattr(value, "version", None)
        tag = tag_of(version, content) if version is not None or request.method in READS else None
    if tag is not None:
        if request.method in READS and is_known(tag):
            return not_modified(tag)
        headers["ETag"] = f'"{tag}"'
    if status == 201:
        headers["Location"] = location_of(value)
    return Response(content, status, headers, mimetype="application/json")


def _cursor(text: str | None) -> int | None:
    if text is None:
        return None
    try:
        number = base64.urlsafe_b64decode(text.encode("ascii") + b"==").decode("ascii")
        if not (number.isdigit() and len(number) < 17):
            raise ValueError(text)
        return int(number)
    except (ValueError, binascii.Error):
        abort(422, messages={"query": {"after": ["This cursor is not one of ours; take it from the Link header."]}})
    raise AssertionError("unreachable")


def _as_cursor(after: int) -> str:
    return base64.urlsafe_b64encode(str(after).encode()).decode().rstrip("=")
