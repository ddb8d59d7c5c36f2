"""Bad input gets one clear answer on every writing route: 4xx, a pointer to the field, and nothing half-written.

Routes, fields and ranges are taken from the API's own description, so that a new route is swept without being named.
"""

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import pytest

from labels.codes import make, next_usable
from schemas.words import Role
from service.database import connected, do_not_wait_for_the_disk
from service.operations.ledger.checking import check_account
from service.records import ALL
from service.records.items import Touched
from service.records.journal import Deed, Entry, Head
from tests import makers
from tests.api.wrong_values import MANY_DIGITS, Description, Place, edge_values, wrong_values
from tests.logger_files import SEMICOLONS

# A refused act is history too; nothing else may come of it.
_HISTORY = (Deed, Entry, Head, Touched)
_JSON = "application/json"
_CODE = re.compile(r"[LCKMPTSRAB][0-9]{5,6}[0-9A-Z]")
_COMMON = ("/occurred_at", "/why")
# Fields of which one excludes another that stands in the example; the answer names the pair.
_EITHER_OR = {("/v1/holds", "/person"), ("/v1/look-backs", "/person"), ("/v1/parts", "/design")}
_EITHER_OR |= {("/v1/designs/{design}", "/plies/0/material")}
# And those that only another kind of system or of scale has; the answer says so first.
_EITHER_OR |= {
    (system, f"/{field}/material")
    for system in ("/v1/resin-systems", "/v1/resin-systems/{system}")
    for field in ("hardeners/0/blend/of/0", "catalysts/0", "catalysts/0/promoter")
}
_EITHER_OR |= {("/v1/resin-systems/{system}/blends", field) for field in ("/containers/0/container", "/place")}
_EITHER_OR |= {("/v1/scales/{scale}/shots", field) for field in ("/system", "/hardener")}
_SQLITE_ONLY = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
_POSTGRESQL_ONLY = pytest.mark.parametrize("database_url", ["postgresql"], indirect=True)


@dataclass(frozen=True)
class Route:
    """One writing route with an address of something that is there, and a body that can be read."""

    method: str
    rule: str
    address: str
    body: dict[str, Any]
    schema: dict[str, Any]


def _example(media: dict[str, Any]) -> Any:
    """The body of the first step of the walk that takes this route, told just now."""
    body = next((step["value"] for step in media.get("examples", {}).values()), media.get("example", {}))
    return {name: value for name, value in body.items() if name != "occurred_at"}


@dataclass
class Sweep:
    """A shop in which everything exists once, and the routes that write in it."""

    api: Any
    description: Description
    codes: dict[str, list[str]]
    numbers: dict[str, int]
    drafts: dict[str, int]

    def routes(self) -> Iterator[Route]:
        for rule, methods in self.description.paths.items():
            for method, found in methods.items():
                media = found.get("requestBody", {}).get("content", {}) if method != "parameters" else {}
                if _JSON not in media or rule.startswith("/v1/calculations"):
                    continue
                numbers = {**self.numbers, **self.drafts} if method == "patch" else self.numbers
                address = self._address(rule, methods, numbers)
                cans = iter(self.codes["C"] * 3)
                body = self._real(_example(media[_JSON]), cans)
                if rule == "/v1/designs":
                    body["revision"] = "D"  # the example's is there
                yield Route(method.upper(), rule, address, body, media[_JSON]["schema"])

    def _address(self, rule: str, methods: dict[str, Any], numbers: dict[str, int]) -> str:
        for parameter in methods.get("parameters", ()):
            schema, name = parameter["schema"], parameter["name"]
            value = self.codes[schema["pattern"][2]][0] if schema["type"] == "string" else numbers[name]
            rule = rule.replace(f"{{{name}}}", str(value))
        return rule

    def _real(self, body: Any, cans: Iterator[str], name: str = "") -> Any:
        """The example with codes and numbers of what is there, and a name that is not."""
        if isinstance(body, dict):
            return {key: self._real(value, cans, key) for key, value in body.items()}
        if isinstance(body, list):
            return [self._real(value, cans) for value in body]
        if isinstance(body, str):
            if _CODE.fullmatch(body):
                return next(cans) if body[0] == "C" else self.codes[body[0]][0]
            return f"another {body}" if name == "name" else body
        return self.numbers.get(name, body)

    def places(self, route: Route) -> Iterator[Place]:
        """Its fields; what all acts have in common comes from one schema and is swept with the first of them."""
        for place in self.description.places(route.schema, route.body):
            if place.pointer not in _COMMON or route.rule == "/v1/site":
                yield place

    def send(self, route: Route, body: Any, **headers: str) -> Any:
        sent = {"If_Match": '"1"', **headers} if route.method == "PATCH" else headers
        raw = body if isinstance(body, bytes) else json.dumps(body).encode()
        return self.api.call(route.method, route.address, raw, who="lead", **{"Content_Type": _JSON, **sent})

    def kept(self) -> dict[str, int]:
        """How many rows there are of everything but history."""
        with connected():
            return {table.__name__: table.select().count() for table in ALL if table not in _HISTORY}

    def acts(self) -> tuple[int, int, int]:
        """Entries of the journal, deeds, and those of them that were done."""
        with connected():
            return Entry.select().count(), Deed.select().count(), Deed.select().where(Deed.refused.is_null()).count()


@pytest.fixture
def sweep(api: Any) -> Sweep:
    """Everything that a path can name, once; the lead has every role, so that no door stops a request."""
    with connected():
        do_not_wait_for_the_disk()
    roles = {"roles": sorted(set(Role) - {Role.INTEGRATOR})}
    api.call("PATCH", f"/v1/people/{api.shop.people['lead']}", roles, who="administrator", If_Match='"1"')
    bench = makers.mixing(api)
    cloth = makers.fabric(api)
    roll = makers.roll(api, cloth, bench.place, "F-1")
    design = makers.design(api, revision="B", plies=makers.plies(cloth, 0, 45))["id"]
    draft = makers.design(api, revision="C", approved=False)["id"]
    mould = api.post("/v1/moulds", {"name": "Rudder half mould"}, who="lead")["code"]
    kit = api.post("/v1/kits", {"design": design, "cuts": [{"roll": roll, "length_mm": 1500}]})["code"]
    part, other = (makers.laid_up_part(api) for _ in range(2))
    schedule = makers.schedule(api, "Alder 10 overnight")
    cure = api.post("/v1/cures", {"schedule": schedule["name"], "parts": [other]})["code"]
    logger = api.post("/v1/loggers", {"name": "Oven logger 2", "profile": SEMICOLONS}, who="lead")["id"]
    mix = bench.start(500)["code"]
    bench.pour(mix, bench.resin_can, 384.6)
    hold = api.post("/v1/holds", {"item": other, "reason": "soft spot"})["id"]
    asked = {"kind": "deviation permit", "item": bench.fast_can, "reasons": ["expired"], "why": "test pot"}
    lot = api.get(f"/v1/containers/{bench.resin_can}")["lot"]
    return Sweep(
        api=api,
        description=Description(api.client.get("/openapi.json").get_json()),
        codes={
            "L": [lot], "C": [bench.resin_can, bench.slow_can], "K": [kit], "M": [mix], "P": [part], "T": [mould],
            "S": [bench.scale], "R": [cure], "A": [bench.place],
            "B": [api.post(f"/v1/people/{api.shop.people['laminator']}/badges", who="lead")["code"]],
        },
        numbers={
            "material": bench.resin, "supplier": 1, "system": bench.system, "hardener": bench.slow, "key": 3,
            "resin": bench.resin, "design": design, "schedule": schedule["id"], "logger": logger, "seq": 3,
            "person": api.shop.people["laminator"], "hold": hold,
            "permission": api.post("/v1/permissions", asked)["id"],
            "nonconformance": api.post("/v1/nonconformances", {"item": other, "found": "dry patch"})["id"],
        },
        drafts={
            "design": draft,
            "schedule": makers.schedule(api, approved=False)["id"],
            "system": makers.resin_system(api, bench.resin, {bench.slow: 30}, name="Alder 11", approved=False)["id"],
        },
    )  # fmt: skip


def _wrong_answer(answer: Any, pointer: str | None, statuses: tuple[int, ...]) -> str | None:
    """What is wrong with a refusal, if anything."""
    if answer.status_code not in statuses:
        return f"{answer.status_code} {answer.get_data(as_text=True)[:200]}"
    if not answer.headers["Content-Type"].startswith("application/problem+json"):
        return f"answered as {answer.headers['Content-Type']}"
    problem = answer.get_json()
    if not problem.get("detail") or problem["status"] != answer.status_code:
        return f"no sentence: {problem}"
    pointers = [error["pointer"] for error in problem.get("errors", ())]
    if pointer is not None and not any(p == pointer or p.startswith(f"{pointer}/") for p in pointers):
        return f"points to {pointers}: {problem['detail']}"
    return None


@_SQLITE_ONLY
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
                fault = _wrong_answer(sweep.send(route, body), place.pointer, (422,))
                if fault is not None:
                    wrong.append((route.method, route.rule, place.pointer, repr(value)[:40], fault))
    assert wrong == []
    assert asked > 4000
    assert sweep.kept() == before
    assert sweep.acts() == history, "what cannot be read is no act"


def _bodies_of_another_form(route: Route) -> Iterator[tuple[str, bytes, int]]:
    """What is no object, or nothing that can be read at all."""
    body = json.dumps(route.body)
    yield "a list", f"[{body}]".encode(), 422
    for text in ("null", "17", '"text"', "true"):
        yield text, text.encode(), 422
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


@_SQLITE_ONLY
def test_a_body_that_is_no_object_or_cannot_be_read_is_refused_on_every_route(sweep: Sweep) -> None:
    before, history, wrong = sweep.kept(), sweep.acts(), []
    for route in sweep.routes():
        for what, body, status in _bodies_of_another_form(route):
            pointer = "/occurred_at" if b'"now"' in body else "/colour" if b'"colour"' in body else None
            fault = _wrong_answer(sweep.send(route, body), pointer, (status,))
            if fault is not None:
                wrong.append((route.method, route.rule, what, fault))
        for kind in ("text/plain", "application/xml", "application/x-www-form-urlencoded", "multipart/form-data", ""):
            fault = _wrong_answer(sweep.send(route, route.body, Content_Type=kind), None, (415,))
            if fault is not None:
                wrong.append((route.method, route.rule, kind, fault))
    assert wrong == []
    assert (sweep.kept(), sweep.acts()) == (before, history)


@_SQLITE_ONLY
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
                fault = _wrong_answer(sweep.send(route, body), pointer, (400, 422))
                if fault is not None:
                    wrong.append((route.method, route.rule, place.pointer, fault))
    assert wrong == []
    assert sweep.kept() == before


@_SQLITE_ONLY
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
            fault = _wrong_answer(sweep.send(route, place.with_value(value)), pointer, (422,))
            if fault is not None:
                wrong.append((route.method, route.rule, place.pointer, fault))
    assert wrong == []
    assert sweep.kept() == before
    assert asked > 40
    entries, deeds, done_since = sweep.acts()
    assert (entries, done_since) == (deeds, done), "each refusal has its entry, and nothing was done"


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


def test_a_number_comes_back_as_it_was_sent(api: Any) -> None:
    """To the last of the fifteen digits that a JSON number carries, on either engine."""
    makers.supplier(api)
    filler = makers.material(api, "Microspheres", "filler", density_g_ml=1.23456789012345)
    assert api.get(f"/v1/materials/{filler}")["density_g_ml"] == 1.23456789012345
    lot = makers.lot(api, filler, makers.place(api), makers_lot="26-1", containers=[{"net_g": 0.001}])["code"]
    check = {"name": "viscosity", "result": "1.2 Pa s", "value": 123456789.123456, "passed": True}
    assert [c["value"] for c in api.post(f"/v1/lots/{lot}/checks", check)["checks"]] == [123456789.123456]


@_POSTGRESQL_ONLY
def test_no_nul_and_no_lone_surrogate_reaches_postgresql(sweep: Sweep) -> None:
    """PostgreSQL keeps neither in a text; both are refused at the door, wherever a body takes text."""
    before, history, wrong, asked = sweep.kept(), sweep.acts(), [], 0
    for route in sweep.routes():
        for place in sweep.places(route):
            for value in ("a\0b", "a\ud800b") if place.kind == "string" else ():
                asked += 1
                fault = _wrong_answer(sweep.send(route, place.with_value(value)), place.pointer, (422,))
                if fault is not None:
                    wrong.append((route.method, route.rule, place.pointer, repr(value), fault))
    assert wrong == []
    assert asked > 300
    assert (sweep.kept(), sweep.acts()) == (before, history)


_NO_LOGGER_FILES = (
    b"", b"\0" * 400, b"\xff\xfe\0\xd8", b"\x80\x81\n" * 50, b"%PDF-1.7\n\0\0", b"a;b\n" * 3, b'"' * 5000,
    f"t;x\n{MANY_DIGITS};{MANY_DIGITS}\n".encode(), b";" * 20_000 + b"\n" + b"1;" * 20_000,
)  # fmt: skip


def test_a_file_that_is_no_logger_file_is_refused_whole(sweep: Sweep) -> None:
    before = sweep.kept()
    cure, logger = sweep.codes["R"][0], sweep.numbers["logger"]
    for content in _NO_LOGGER_FILES:
        imported = sweep.api.call(
            "POST", f"/v1/cures/{cure}/logs?logger={logger}&part_probes=root,tip&elsewhere=air", content
        )
        assert _wrong_answer(imported, None, (422,)) is None, content[:40]
        preview = sweep.api.call("POST", f"/v1/loggers/{logger}/preview", content)
        assert preview.status_code in (200, 422), "a preview says what it can make of it"
    assert sweep.kept() == before


_STRICTLY: tuple[tuple[str, str, dict[str, str], int], ...] = (
    ("POST", "/v1/places", {"Idempotency_Key": "k" * 81}, 400),
    ("POST", "/v1/places", {"Idempotency_Key": " "}, 400),
    ("POST", "/v1/places", {"Potmark_Device": "tab\x0blet"}, 400),
    ("POST", "/v1/documents", {}, 422),
    ("POST", "/v1/documents?name=..", {}, 422),
    ("POST", "/v1/documents?name=a&name=%00", {"Idempotency_Key": "\x7f"}, 400),
    ("PATCH", "/v1/site", {}, 428),
    ("PATCH", "/v1/site", {"If_Match": '"one"'}, 412),
    ("PATCH", "/v1/site", {"If_Match": f'"{MANY_DIGITS}"'}, 412),
    ("PATCH", f"/v1/suppliers/{MANY_DIGITS}", {"If_Match": '"1"'}, 404),
    ("POST", f"/v1/keys/{2**53}/revocation", {}, 404),
    ("POST", "/v1/keys/0/revocation", {}, 404),
    ("POST", "/v1/mixes/M00001%00/tray", {}, 404),
    ("POST", "/v1/mixes/C000018/tray", {}, 404),
    ("GET", "/v1/parts?limit=0", {}, 422),
    ("GET", "/v1/parts?limit=201", {}, 422),
    ("GET", f"/v1/parts?limit={MANY_DIGITS}", {}, 422),
    ("GET", "/v1/parts?after=%FF%FE", {}, 422),
    ("GET", "/v1/parts?after=bm9uZQ", {}, 422),
    ("GET", "/v1/parts?order=%00", {}, 422),
    ("GET", "/v1/parts?colour=red", {}, 422),
    ("GET", "/v1/availability?material=1&mass_g=NaN", {}, 422),
    ("PUT", "/v1/parts", {}, 405),
    ("POST", "/v1/nothing", {}, 404),
)


@_SQLITE_ONLY
def test_headers_paths_and_queries_are_read_as_strictly(sweep: Sweep) -> None:
    before = sweep.kept()
    for method, path, headers, status in _STRICTLY:
        answer = sweep.api.call(method, path, {"name": "Shelf C1"}, who="lead", **headers)
        assert _wrong_answer(answer, None, (status,)) is None, (method, path[:60], headers)
    assert sweep.kept() == before


@_SQLITE_ONLY
def test_a_json_body_beyond_one_megabyte_is_refused_in_its_own_words(sweep: Sweep) -> None:
    """A document may be longer; what is typed and scanned never is."""
    before = sweep.kept()
    name = b'{"name": "%s"}'
    long = sweep.api.call("POST", "/v1/places", name % (b"x" * 1_000_000), who="lead", Content_Type=_JSON)
    assert long.status_code == 413
    assert "1 MB at most" in long.get_json()["detail"]
    longest = sweep.api.call("POST", "/v1/places", name % (b"x" * 999_000), who="lead", Content_Type=_JSON)
    assert longest.status_code == 422
    assert sweep.kept() == before
    text = b"# " + b"x" * 1_500_000
    assert sweep.api.call("POST", "/v1/documents?name=a.txt", text, who="lead").status_code == 201


@_SQLITE_ONLY
def test_a_list_of_errors_ends_at_fifty(sweep: Sweep) -> None:
    body = {f"field_{n:05d}": n for n in range(30_000)}
    answer = sweep.api.call("POST", "/v1/places", body, who="lead")
    problem = answer.get_json()
    assert (answer.status_code, len(problem["errors"])) == (422, 50)
    assert "there are more" in problem["detail"]
    assert len(answer.data) < 10_000
    few = sweep.api.call("POST", "/v1/places", {"name": "A", **dict.fromkeys("abc", 1)}, who="lead").get_json()
    assert len(few["errors"]) == 3
    assert "more" not in few["detail"]


@_SQLITE_ONLY
def test_an_act_that_needs_no_fields_takes_no_body_and_any_other_says_what_it_needs(sweep: Sweep) -> None:
    """Neither a body nor a header that announces one is {}: never the act that a lost body would have been."""
    wrong, bare = [], set()
    key = {"Authorization": f"Bearer {sweep.api.shop.keys['lead']}", "If-Match": '"1"'}
    for route in sweep.routes():
        required = sweep.description.resolved(route.schema).get("required", ())
        body = sweep.description.paths[route.rule][route.method.lower()]["requestBody"]
        if bool(body.get("required")) != bool(required):
            wrong.append((route.method, route.rule, "described", body.get("required")))
        answer = sweep.api.client.open(route.address, method=route.method, headers=key)
        if not required:
            bare.add(route.rule)
            same = sweep.send(route, {})
            # The first may have done it, so that the second finds it done; neither is told that its form is wrong.
            if answer.status_code in (400, 415) or same.status_code in (400, 415):
                wrong.append((route.method, route.rule, answer.status_code, same.status_code))
            continue
        fault = _wrong_answer(answer, f"/{required[0]}", (422,))
        if fault is not None:
            wrong.append((route.method, route.rule, fault))
    assert wrong == []
    assert "/v1/containers/{container}/opening" in bare
    assert len(bare) > 20


def test_a_container_is_opened_by_a_call_without_a_body(api: Any) -> None:
    makers.supplier(api)
    can = makers.cans(api, makers.material(api, "Alder 10", "resin"), makers.place(api), "26-1")[0]
    key = {"Authorization": f"Bearer {api.shop.keys['laminator']}"}
    assert api.client.post(f"/v1/containers/{can}/opening", headers=key).status_code == 201
    assert api.get(f"/v1/containers/{can}")["state"] == "open"
