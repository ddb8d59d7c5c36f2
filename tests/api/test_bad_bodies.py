"""Bodies that are too long, missing or of another kind, headers, paths and queries: read as strictly as fields are."""

from typing import Any

from tests import makers
from tests.api.sweeping import JSON, SQLITE_ONLY, Sweep, sweep, wrong_answer
from tests.api.wrong_values import MANY_DIGITS

__all__ = ["sweep"]

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
        assert wrong_answer(imported, None, (422,)) is None, content[:40]
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


@SQLITE_ONLY
def test_headers_paths_and_queries_are_read_as_strictly(sweep: Sweep) -> None:
    before = sweep.kept()
    for method, path, headers, status in _STRICTLY:
        answer = sweep.api.call(method, path, {"name": "Shelf C1"}, who="lead", **headers)
        assert wrong_answer(answer, None, (status,)) is None, (method, path[:60], headers)
    assert sweep.kept() == before


@SQLITE_ONLY
def test_a_json_body_beyond_one_megabyte_is_refused_in_its_own_words(sweep: Sweep) -> None:
    """A document may be longer; what is typed and scanned never is."""
    before = sweep.kept()
    name = b'{"name": "%s"}'
    long = sweep.api.call("POST", "/v1/places", name % (b"x" * 1_000_000), who="lead", Content_Type=JSON)
    assert long.status_code == 413
    assert "1 MB at most" in long.get_json()["detail"]
    longest = sweep.api.call("POST", "/v1/places", name % (b"x" * 999_000), who="lead", Content_Type=JSON)
    assert longest.status_code == 422
    assert sweep.kept() == before
    text = b"# " + b"x" * 1_500_000
    assert sweep.api.call("POST", "/v1/documents?name=a.txt", text, who="lead").status_code == 201


@SQLITE_ONLY
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


@SQLITE_ONLY
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
        fault = wrong_answer(answer, f"/{required[0]}", (422,))
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


def test_a_number_comes_back_as_it_was_sent(api: Any) -> None:
    """To the last of the fifteen digits that a JSON number carries, on either engine."""
    makers.supplier(api)
    filler = makers.material(api, "Microspheres", "filler", density_g_ml=1.23456789012345)
    assert api.get(f"/v1/materials/{filler}")["density_g_ml"] == 1.23456789012345
    lot = makers.lot(api, filler, makers.place(api), makers_lot="26-1", containers=[{"net_g": 0.001}])["code"]
    check = {"name": "viscosity", "result": "1.2 Pa s", "value": 123456789.123456, "passed": True}
    assert [c["value"] for c in api.post(f"/v1/lots/{lot}/checks", check)["checks"]] == [123456789.123456]
