"""Bad input gets one clear answer on every writing route: 4xx, a pointer to the field, and nothing half-written.

Routes, fields and ranges are taken from the API's own description, so that a new route is swept without being named.
"""

import json
from collections.abc import Iterator
from typing import Any

import pytest

from labels.codes import make, next_usable
from service.database import connected
from service.operations.ledger.checking import check_account
from tests.api.sweeping import SQLITE_ONLY, Route, Sweep, sweep, wrong_answer
from tests.api.wrong_values import MANY_DIGITS, edge_values, wrong_values

__all__ = ["sweep"]

# Fields of which one excludes another that stands in the example; the answer names the pair.
_EITHER_OR = {("/v1/holds", "/person"), ("/v1/look-backs", "/person"), ("/v1/parts", "/design")}
_EITHER_OR |= {
    ("/v1/references", "/code"),
    ("/v1/references", "/number"),
    ("/v1/recalls", "/person"),
    ("/v1/designs/{design}", "/plies/0/material"),
}
# And those that only another kind of system or of scale has; the answer says so first.
_EITHER_OR |= {
    (system, f"/{field}/material")
    for system in ("/v1/resin-systems", "/v1/resin-systems/{system}")
    for field in ("hardeners/0/blend/of/0", "catalysts/0", "catalysts/0/promoter")
}
_EITHER_OR |= {("/v1/resin-systems/{system}/blends", field) for field in ("/containers/0/container", "/place")}
_EITHER_OR |= {("/v1/scales/{scale}/shots", field) for field in ("/system", "/hardener")}
_POSTGRESQL_ONLY = pytest.mark.parametrize("database_url", ["postgresql"], indirect=True)


@SQLITE_ONLY
def test_a_field_that_is_wrong_is_named_and_nothing_is_written(sweep: Sweep) -> None:
    """Every field of every body, in turn of the wrong type, out of its range, unprintable, too long, or missing."""
    before, history, wrong, asked = sweep.kept(), sweep.acts(), [], 0
    for route in sweep.routes():
        for place in sweep.places(route):
            bodies = [(value, place.with_value(value)) for value in wrong_values(place)]
            if place.required:
                bodies.append(("nothing", place.without()))
            for value, body in bodies:
                asked += 1
                fault = wrong_answer(sweep.send(route, body), place.pointer, (422,))
                if fault is not None:
                    wrong.append((route.method, route.rule, place.pointer, repr(value)[:40], fault))
    assert wrong == []
    assert asked > 4000
    assert sweep.kept() == before
    assert sweep.acts() == history, "what cannot be read is no act"


def _bodies_of_another_form(route: Route, *, needs: bool) -> Iterator[tuple[str, bytes, int]]:
    """What is no object, or nothing that can be read at all. An act that ``needs`` no field may come without a body."""
    body = json.dumps(route.body)
    yield "a list", f"[{body}]".encode(), 422
    for text in ("null", "17", '"text"', "true"):
        yield text, text.encode(), 422
    if needs:
        yield "nothing", b"", 400
    yield "half of it", body[: len(body) // 2].encode() or b"{", 400
    yield "not UTF-8", body[:-1].encode() + (b", " if route.body else b"") + b'"why": "\xff\xfe"}', 400
    yield "without a time", json.dumps({**route.body, "occurred_at": "now"}).encode(), 422
    yield "with an unknown field", json.dumps({**route.body, "colour": "red"}).encode(), 422
    for depth in (20, 2000, 100_000):
        deep = f'{{"why": {"[" * depth}{"]" * depth}}}'
        yield f"{depth} deep", deep.encode(), 422 if depth == 20 else 400
    yield "5,000 digits", f'{{"why": {MANY_DIGITS}}}'.encode(), 400
    yield "-5,000 digits and a point", f'{{"why": -{MANY_DIGITS}.5}}'.encode(), 422


@SQLITE_ONLY
def test_a_body_that_is_no_object_or_cannot_be_read_is_refused_on_every_route(sweep: Sweep) -> None:
    before, history, wrong = sweep.kept(), sweep.acts(), []
    for route in sweep.routes():
        needs = bool(sweep.description.resolved(route.schema).get("required"))
        for what, body, status in _bodies_of_another_form(route, needs=needs):
            pointer = "/occurred_at" if b'"now"' in body else "/colour" if b'"colour"' in body else None
            fault = wrong_answer(sweep.send(route, body), pointer, (status,))
            if fault is not None:
                wrong.append((route.method, route.rule, what, fault))
        for kind in ("text/plain", "application/xml", "application/x-www-form-urlencoded", "multipart/form-data", ""):
            fault = wrong_answer(sweep.send(route, route.body, Content_Type=kind), None, (415,))
            if fault is not None:
                wrong.append((route.method, route.rule, kind, fault))
    assert wrong == []
    assert (sweep.kept(), sweep.acts()) == (before, history)


@SQLITE_ONLY
def test_nested_objects_take_no_unknown_fields_and_no_field_takes_5000_digits(sweep: Sweep) -> None:
    before, wrong = sweep.kept(), []
    for route in sweep.routes():
        for place in sweep.places(route):
            answers: list[tuple[str | None, Any]] = []
            if place.kind in ("number", "integer"):
                answers = [(None, place.with_digits(d)) for d in (MANY_DIGITS, f"-{MANY_DIGITS}", f"{MANY_DIGITS}.0")]
            elif place.kind == "object" and place.schema.get("properties"):
                answers = [(f"{place.pointer}/colour", place.with_value({"colour": "red"}))]
            for pointer, body in answers:
                fault = wrong_answer(sweep.send(route, body), pointer, (400, 422))
                if fault is not None:
                    wrong.append((route.method, route.rule, place.pointer, fault))
    assert wrong == []
    assert sweep.kept() == before


@SQLITE_ONLY
def test_a_code_or_number_that_nobody_knows_is_refused_and_only_the_refusal_is_kept(sweep: Sweep) -> None:
    """An act that can be read and does not hold is history; nothing else comes of it."""
    before, (_, _, done), wrong, asked = sweep.kept(), sweep.acts(), [], 0
    for route in sweep.routes():
        for place in sweep.places(route):
            known = sweep.numbers.get(str(place.path[-1])) and place.kind == "integer"
            if not place.letters and not known:
                continue
            asked += 1
            value = make(place.letters[0], next_usable(place.letters[0], 90_000)) if place.letters else 2**53 - 1
            pointer = None if (route.rule, place.pointer) in _EITHER_OR else place.pointer
            fault = wrong_answer(sweep.send(route, place.with_value(value)), pointer, (422,))
            if fault is not None:
                wrong.append((route.method, route.rule, place.pointer, fault))
    assert wrong == []
    assert sweep.kept() == before
    assert asked > 40
    entries, deeds, done_since = sweep.acts()
    assert (entries, done_since) == (deeds, done), "each refusal has its entry, and nothing was done"


@pytest.mark.sweep
def test_the_least_and_the_most_that_is_allowed_breaks_neither_engine(sweep: Sweep) -> None:
    """Values at both ends of every stated range, and the longest texts of four-byte characters: held or refused."""
    wrong = []
    for route in sweep.routes():
        for place in sweep.places(route):
            for value in edge_values(place):
                answer = sweep.send(route, place.with_value(value))
                if answer.status_code >= 500:
                    wrong.append((route.method, route.rule, place.pointer, repr(value)[:40], answer.data[:200]))
    assert wrong == []
    entries, deeds, _ = sweep.acts()
    assert entries == deeds
    with connected():
        check = check_account()
    assert check.agrees, check.first


@_POSTGRESQL_ONLY
def test_no_nul_and_no_lone_surrogate_reaches_postgresql(sweep: Sweep) -> None:
    """PostgreSQL keeps neither in a text; both are refused at the door, wherever a body takes text."""
    before, history, wrong, asked = sweep.kept(), sweep.acts(), [], 0
    for route in sweep.routes():
        for place in sweep.places(route):
            for value in ("a\0b", "a\ud800b") if place.kind == "string" else ():
                asked += 1
                fault = wrong_answer(sweep.send(route, place.with_value(value)), place.pointer, (422,))
                if fault is not None:
                    wrong.append((route.method, route.rule, place.pointer, repr(value), fault))
    assert wrong == []
    assert asked > 300
    assert (sweep.kept(), sweep.acts()) == (before, history)
