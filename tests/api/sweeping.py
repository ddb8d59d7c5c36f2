"""A shop in which everything exists once, and the writing routes by their description, for tests of bad input."""

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import pytest

from schemas.words import Role
from service.database import connected, do_not_wait_for_the_disk
from service.records import ALL
from service.records.items import Touched
from service.records.journal import Deed, Entry, Head
from tests import makers
from tests.api.wrong_values import Description, Place
from tests.logger_files import SEMICOLONS

# A refused act is history too; nothing else may come of it.
_HISTORY = (Deed, Entry, Head, Touched)
JSON = "application/json"
_CODE = re.compile(r"[LCKMPTSRAB][0-9]{5,6}[0-9A-Z]")
_COMMON = ("/occurred_at", "/why")
SQLITE_ONLY = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)


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
                if JSON not in media or rule.startswith("/v1/calculations"):
                    continue
                numbers = {**self.numbers, **self.drafts} if method == "patch" else self.numbers
                address = self._address(rule, methods, numbers)
                cans = iter(self.codes["C"] * 3)
                body = self._real(_example(media[JSON]), cans)
                if rule == "/v1/designs":
                    body["revision"] = "D"  # the example's is there
                yield Route(method.upper(), rule, address, body, media[JSON]["schema"])

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
        return self.api.call(route.method, route.address, raw, who="lead", **{"Content_Type": JSON, **sent})

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
    # Of a can that nothing was made of: what the sweeps write on is held by no recall.
    spare = makers.cans(api, bench.resin, bench.place, "spare", count=1)[0]
    recall = api.post("/v1/recalls", {"item": spare, "reason": "thick", "papers": False}, who="lead")["id"]
    told = {"url": "https://orders.example/potmark", "events": ["hold.placed"]}
    webhook = api.post("/v1/webhooks", told, who="administrator")["id"]
    ordered = {"reference": "PO 1", "system": "order desk", "customer": "Ferry line"}
    lines = [{"part_number": "HY-204", "revision": "B", "quantity": 2}]  # one has its kit already
    order = api.post("/v1/orders", {**ordered, "lines": lines}, who="lead")["order"]["id"]
    coming = {"material": bench.resin, "mass_g": 25_000, "expected_on": "2026-12-20"}
    kept = {
        "expires_at": "2026-11-20T12:00:00Z",
        "temperature_c": 20,
        "wet_out_rate_g_min": 50,
        "with_conditions": True,
    }
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
            "recall": recall,
            "webhook": webhook,
            "order": order,
            "expected": api.post("/v1/expected-deliveries", coming, who="lead")["id"],
            "reservation": api.post(f"/v1/orders/{order}/reservations", kept, who="lead")["reservation"]["id"],
            "line": 1,
            "customer": 1,
            "reference": 1,
        },
        drafts={
            "design": draft,
            "schedule": makers.schedule(api, approved=False)["id"],
            "system": makers.resin_system(api, bench.resin, {bench.slow: 30}, name="Alder 11", approved=False)["id"],
        },
    )  # fmt: skip


def wrong_answer(answer: Any, pointer: str | None, statuses: tuple[int, ...]) -> str | None:
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
