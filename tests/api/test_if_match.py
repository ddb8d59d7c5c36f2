"""If-Match, on every act on a thing: whoever read it before another changed it is told so, and nothing is done."""

from typing import Any

from tests.api.sweeping import SQLITE_ONLY, Sweep, sweep
from tests.api.walk import METHODS

__all__ = ["sweep"]

# What has no answer of its own, and why: no ETag of it was ever read, and one that is sent all the same is refused.
_NO_ANSWER = {
    "/v1/badges/{badge}": "a card; who it is of has the version",
    "/v1/keys/{key}": "revoked once and for all",
    "/v1/journal/{seq}": "an entry never changes",
    "/v1/references/{reference}": "withdrawn once and for all",
    "/v1/suppliers/{supplier}": "its version stands in the list",
}
# They store nothing, or are on no thing.
_NO_ACT = {"preview_log", "film_age", "import_rows", "try_import"}
_STALE = '"c999999999", "998-0123456789abcdef", W/"fedcba9876543210"'


def _acts(paths: dict[str, Any]) -> list[tuple[str, str, str, dict[str, Any]]]:
    """(method, rule, address of the thing it is on, route) of every route with a thing in its path, or that changes."""
    found = [
        (method, rule, rule.partition("}")[0] + "}" if "{" in rule else rule, route)
        for rule, methods in paths.items()
        for method, route in methods.items()
        if method in METHODS and method != "get" and ("{" in rule or method != "post")
    ]
    # A cancelled order takes no more acts, whatever was read of it.
    return sorted(found, key=lambda act: act[1].endswith("/cancellation"))


@SQLITE_ONLY
def test_what_was_read_before_another_changed_it_is_refused_by_every_act_on_a_thing(sweep: Sweep) -> None:
    paths, api = sweep.description.paths, sweep.api
    acts = _acts(paths)
    takes = {
        route["operationId"]: {p["name"]: p.get("required", False) for p in route.get("parameters", ())}
        for *_, route in acts
    }
    assert {name for name, asked in takes.items() if "If-Match" not in asked} == _NO_ACT
    assert len(acts) > 95
    bodies = {(route.method.lower(), route.rule): route for route in sweep.routes()}
    wrong, before, numbers = [], sweep.kept(), sweep.numbers

    def address(method: str, rule: str) -> str:
        return bodies[method, rule].address if (method, rule) in bodies else sweep._address(rule, paths[rule], numbers)

    def send(method: str, rule: str, tags: str) -> Any:
        to = address(method, rule)
        if (method, rule) in bodies:
            return api.call(method.upper(), to, bodies[method, rule].body, who="lead", If_Match=tags)
        file: Any = b"Time;Tip\n"
        return api.call("POST", f"{to}?logger=1", file, who="lead", If_Match=tags, Content_Type="text/csv")

    acts = [act for act in acts if act[3]["operationId"] not in _NO_ACT]
    for method, rule, _, route in acts:
        name = route["operationId"]
        if takes[name]["If-Match"] is not (method != "post"):
            wrong.append((name, "required is for changes, and for all of them"))
        late = send(method, rule, _STALE)
        if (late.status_code, late.get_json()["type"]) != (412, "/problems/changed-meanwhile"):
            wrong.append((name, f"a stale tag: {late.status_code} {late.get_data(as_text=True)[:150]}"))
    assert sweep.kept() == before, "what was refused has left nothing behind"
    for method, rule, thing, route in acts:
        if thing in _NO_ANSWER:
            continue
        read = "/".join(address(method, rule).split("/")[: thing.count("/") + 1])
        seen = api.call("GET", read, who="lead")
        if seen.status_code != 200 or "ETag" not in seen.headers:
            wrong.append((route["operationId"], f"GET {read} gives no tag: {seen.status_code}"))
            continue
        fresh = send(method, rule, f'"0", {seen.headers["ETag"]}')
        if fresh.status_code == 412:
            told = fresh.get_data(as_text=True)[:150]
            wrong.append((route["operationId"], f"the tag just read, {seen.headers['ETag']}: {told}"))
    assert wrong == [], "\n".join(f"{name}: {what}" for name, what in wrong)
    unread = {thing for _, _, thing, _ in acts if "get" not in paths.get(thing, ())}
    assert unread == set(_NO_ANSWER)


def test_of_two_who_read_the_same_hold_one_acts(api: Any) -> None:
    """A hold has no version: its tag is its answer, which the first of the two has changed."""
    place = api.post("/v1/places", {"name": "Shelf B2"}, who="lead")["code"]
    hold = api.post("/v1/holds", {"item": place, "reason": "wet"})["id"]
    read = api.call("GET", f"/v1/holds/{hold}", who="lead").headers["ETag"]
    lifted = api.call("POST", f"/v1/holds/{hold}/lifting", {"why": "dry"}, who="quality", If_Match=f"W/{read}")
    assert lifted.status_code == 201, lifted.get_data(as_text=True)
    late = api.call("POST", f"/v1/holds/{hold}/lifting", {"why": "dry"}, who="quality", If_Match=read)
    assert (late.status_code, "Read it again" in late.get_json()["way_out"]) == (412, True)
