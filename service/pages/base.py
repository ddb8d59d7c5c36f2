"""Pages as a table, beside `Blueprint.write`: a page shows one reading function, a form does one operation.

A form is read by the schema of the API's own route, so no page has a rule of its own. What was done is answered by 303
to the page (a reload does nothing twice); what was refused is the same page again, with the sentence and its way out.
"""

import inspect
import re
import secrets
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import Any

import marshmallow as ma
from flask import Blueprint, Response, current_app, redirect, render_template, request

from schemas.base import ActIn, In
from schemas.fields import Grams, Number, Whole, Yes
from schemas.words import KIND_NAMES, Kind
from service.api.access import current_act
from service.api.problems import pointers, status_of
from service.api.spec import CodeInPath
from service.database import reading
from service.operations.door.act import Act
from service.operations.door.acts import may_be_signed
from service.operations.door.operation import KeptAnswer
from service.operations.door.refusals import Refusal, SignatureRequired
from service.operations.door.shop import the_site
from service.pages.paper import told_time
from service.pages.signed import token_here
from service.pages.typed import number
from service.pages.visiting import KEY, waited_s, who

Shown = Callable[..., dict[str, Any]]
# Said with a form that was asked about before: it is no part of what is done.
DESPITE = "_despite"


@dataclass(frozen=True, slots=True)
class Trouble:
    """Why the act that was just tried was not done."""

    sentence: str
    way_out: str | None = None
    kind: str = "invalid"
    fields: dict[str, str] = field(default_factory=dict)
    facts: dict[str, Any] = field(default_factory=dict)


class ThingInPath(CodeInPath):
    """A code in the path of a page; other kinds of things have other rules.

    Several rules stand side by side only because this one looks at the letter by its regex; a converter that refuses
    in `to_python`, as the API's does, ends the search for another rule.
    """

    def __init__(self, map: Any, letter: str) -> None:
        super().__init__(map, letter)
        self.regex = f"[{letter}{letter.lower()}][^/]*"


class Pages(Blueprint):
    """The pages of one kind of thing, at the address that its label prints: /I/CODE, /I/CODE/weigh, …"""

    # The first page of each kind of thing: what the address on a label opens for whoever has signed on.
    first: dict[Kind, Callable[..., Response]] = {}

    def __init__(self, kind: Kind) -> None:
        super().__init__(f"page-{KIND_NAMES[kind]}", __name__, template_folder="templates")
        self.kind, self.argument = kind, KIND_NAMES[kind].replace(" ", "_")
        # endpoint -> the row of the table of rights that opens it
        self.rights: dict[str, str] = {}
        self._shown: dict[str, tuple[Shown, str]] = {}

    def show(self, step: str, function: Shown, template: str, *, right: str = "read_account") -> None:
        """A page: what ``function`` gives, in one snapshot, in one template."""
        self._shown[step] = function, template
        if step:
            self._add(step, f"{step}_page", "GET", right, lambda code: self._render(step, code))
        else:
            self.first[self.kind] = lambda code, **more: self._render("", code, **more)

    def act(
        self,
        step: str,
        operation: Callable[..., Any],
        body: type[In] = ActIn,
        *,
        page: str = "",
        then: Callable[[Any], str] | None = None,
        prepare: Callable[[dict[str, Any], datetime], None] | None = None,
        ask: Callable[..., None] | None = None,
    ) -> None:
        """A form on ``page`` that does ``operation``; then the thing's first page, or where ``then`` says.

        ``prepare`` turns what a hand can tell (minutes that it stirred) into what the act asks for (from when to when).
        ``ask`` refuses until whoever is at the page has said that they know what speaks against it.
        """
        name: str = operation.operation_name  # type: ignore[attr-defined]
        itself = {self.argument, "code", "item"} & set(inspect.signature(operation).parameters)
        signed = may_be_signed(name)

        def view(code: str) -> Any:
            try:
                asked = as_json(body(), request.form)
                if prepare is not None:
                    now = current_app.extensions["clock"]() - timedelta(seconds=waited_s())
                    prepare(asked, told_time() or now)
                fields = body().load(asked)
                act = page_act(fields, token=token_here() if signed else None)
                if ask is not None and not request.form.get(DESPITE):
                    with reading():
                        ask(code, fields, at=act.occurred_at)
                done = operation(act, **{**fields, **dict.fromkeys(itself, code)})
            except ma.ValidationError as wrong:
                found = {e["pointer"].strip("/"): e["detail"] for e in pointers(wrong.messages)}
                trouble = Trouble(next(iter(found.values())), fields=found)
                return self._render(page, code, trouble, status=422, signed_act=signed)
            except Refusal as no:
                trouble = Trouble(no.sentence, way_out_here(no), no.kind, facts=no.facts)
                return self._render(page, code, trouble, status=status_of(type(no)), signed_act=signed)
            done = done.value if isinstance(done, KeptAnswer) else done
            return redirect(then(done) if then else round_of(request.form.get("_next", "")) or f"/I/{code}", 303)

        self._add(step, f"{name}_{step}", "POST", name, view)

    def _render(
        self, step: str, code: str, trouble: Trouble | None = None, *, status: int = 200, **more: Any
    ) -> Response:
        function, template = self._shown[step]
        at = current_app.extensions["clock"]()
        with reading():
            shown = function(code, at=at)
            if "site" not in shown:
                shown["site"] = the_site()
        html = render_template(
            template, at=at, code=code, trouble=trouble, new_key=new_key, who=who,
            typed=request.form if request.method == "POST" else request.args,
            **shown, **more,
        )  # fmt: skip
        return Response(html, status, headers={"Cache-Control": "no-store"})

    def _add(self, step: str, endpoint: str, method: str, right: str, view: Callable[[str], Any]) -> None:
        self.rights[f"{self.name}.{endpoint}"] = right
        self.add_url_rule(f"/I/<thing({self.kind}):code>/{step}", endpoint, view, methods=[method])


def round_of(path: str) -> str | None:
    """The list from which a form was opened, to go on with; only these two are lists to be walked."""
    return path if path in ("/morning", "/evening") else None


def _current(fields: dict[str, Any], token: str | None) -> Act:
    return current_act(
        fields, signed=token is not None, token=token, idempotency_key=request.form.get(KEY), device="browser"
    )


_OVER_HTTP = re.compile(r" \((?:GET|POST|PATCH) /v1[^)]*\)")


def way_out_here(refusal: Refusal) -> str | None:
    """The way out at a page: the routes that a program takes are left out of the sentence."""
    if isinstance(refusal, SignatureRequired):
        return "Type your PIN or passphrase with it; for some minutes the next ones are signed without it."
    return None if refusal.way_out is None else _OVER_HTTP.sub("", refusal.way_out)


def code_of(answer: Any) -> str:
    """The code in an answer, or in the one that was kept of it."""
    return str(answer["code"] if isinstance(answer, dict) else answer.code)


def new_key() -> str:
    """One for each form that is drawn: the same form sent twice is done once, with script or without."""
    return secrets.token_urlsafe(16)


def page_act(fields: dict[str, Any], *, token: str | None = None) -> Act:
    """The act of this form: as over the API, but the key and the time come with the form, and what signs it."""
    told, waited = told_time(), waited_s()
    if told is not None:
        fields["occurred_at"] = told
        return _current(fields, token)
    if waited:
        fields["occurred_at"] = current_app.extensions["clock"]() - timedelta(seconds=waited)
    act = _current(fields, token)
    # How long it waited is no part of what was asked, or its second try would be another request.
    return replace(act, stated_at=None) if waited else act


def as_json(schema: ma.Schema, form: Any) -> dict[str, Any]:
    """A form as the body that the API takes. A field that the schema does not know stays in, and is refused there.

    A name with a point in it is a field of an object: "plan.number", or of one in a list: "defects.0.zone".
    """
    body: dict[str, Any] = {}
    for name in form:
        texts = [t.strip() for t in form.getlist(name) if t.strip()]
        if name.startswith("_") or not texts:
            continue
        outer, point, inner = name.partition(".")
        kind = schema.fields.get(outer)
        line, of, each = inner.partition(".")
        if of and line.isdigit() and isinstance(kind, ma.fields.List) and isinstance(kind.inner, ma.fields.Nested):
            one = body.setdefault(outer, {}).setdefault(int(line), {})
            one[each] = _value(kind.inner.schema.fields.get(each), texts)
        elif point and isinstance(kind, ma.fields.Nested):
            body.setdefault(outer, {})[inner] = _value(kind.schema.fields.get(inner), texts)
        else:
            body[name] = _value(kind, texts)
    return {n: _in_order(v) if isinstance(schema.fields.get(n), ma.fields.List) else v for n, v in body.items()}


def _in_order(value: Any) -> Any:
    """The rows of a list that was asked for line by line."""
    return [value[n] for n in sorted(value)] if isinstance(value, dict) else value


def _value(kind: Any, texts: list[str]) -> Any:
    if isinstance(kind, ma.fields.List):
        return [_value(kind.inner, [text]) for text in texts]
    if isinstance(kind, ma.fields.Nested):
        # A scanned code stands for an object whose one required field it is.
        return {next(n for n, inner in kind.schema.fields.items() if inner.required): texts[0]}
    if isinstance(kind, Yes):
        return {"true": True, "on": True, "false": False}.get(texts[-1], texts[-1])
    if isinstance(kind, Grams | Number | Whole):
        return number(texts[-1])
    return texts[-1]
