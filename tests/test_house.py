"""Sweeps over the whole house: what is promised of every route, role, reason, setting, table and file."""

import ast
import fnmatch
import importlib
import pkgutil
import re
import tomllib
from collections import Counter
from dataclasses import fields
from pathlib import Path
from typing import Any

import pytest
from peewee import Model

import service.operations
from labels.codes import make, next_usable
from schemas.words import Role
from service.api.access import COOKIE
from service.api.examples import examples
from service.api.problems import STATUS, status_of
from service.api.routes import is_open, is_page
from service.app import create_app
from service.config import MEANING, Settings
from service.operations.door.acts import ACTS, RIGHTS
from service.operations.door.operation import OPERATIONS
from service.operations.door.refusals import every_refusal
from service.operations.door.sessions import form_secret
from service.records import ALL
from service.records.base import Record

TOP = Path(__file__).resolve().parent.parent
PACKAGES = ("service", "schemas", "labels")
SOURCES = sorted(file for package in PACKAGES for file in (TOP / package).rglob("*.py"))

# What answers without a key; one more name here is a decision, not an accident.
OPEN = {
    "open-static.static_file",
    "open-health.healthz",
    "open-health.readyz",
    "open-health.metrics",
    "open.front",
    "open.documentation",
    "open.documentation_static",
    "open.enter",
    "open.enter_with_key",
    "open.enter_with_badge",
    "open.leave",
    "open.problems",
    "open.problem_page",
    "open-guide.guides",
    "open-guide.guide",
    "open-labels.short_address",
    "open-verify.verify_page",
    "open-verify.verify_file",
    "open-issues.issue_standing",
    "open-issues.read_certificate",
    "api-docs.openapi_json",
}


# What nobody may do from outside, whatever their role.
ON_THE_MACHINE_ONLY = {"recover_administrator", "declare_restored", "keep_drill"}
# What the open page does for who gives it a key.
BEHIND_THE_OPEN_PAGE = {"begin_session", "end_session", "end_tablet"}


@pytest.fixture(scope="module")
def app() -> Any:
    return create_app(Settings(database="sqlite:///never-opened.db"))


def _routes(app: Any) -> list[tuple[str, str, str]]:
    """(endpoint, method, rule) of everything that the service answers to."""
    return [
        (rule.endpoint, method, rule.rule)
        for rule in app.url_map.iter_rules()
        for method in sorted(rule.methods - {"HEAD", "OPTIONS"})
    ]


def _path(rule: str) -> str:
    """An address of that form, of something that is not there."""

    def filled(found: re.Match[str]) -> str:
        if found["converter"] == "any":
            return (found["arguments"] or "").split(",")[0].strip("'")
        if found["converter"] not in ("code", "thing"):
            return "999999"
        kind = (found["arguments"] or "C").split(",")[0]
        return make(kind, next_usable(kind, 99_999))

    return re.sub(r"<(?:(?P<converter>\w+)(?:\((?P<arguments>[^)]*)\))?:)?\w+>", filled, rule)


def test_every_route_has_a_right_or_is_open_by_name(app: Any) -> None:
    rights = {**app.extensions["rights"], **app.extensions["rights of pages"]}
    open_ones = {endpoint for endpoint, _, _ in _routes(app) if is_open(endpoint)}
    assert open_ones == OPEN
    lacking = {e for e, _, _ in _routes(app) if not is_open(e) and rights.get(e) not in RIGHTS}
    assert not lacking


def test_what_is_open_writes_nothing_but_sessions(app: Any) -> None:
    writing = {endpoint for endpoint, method, _ in _routes(app) if is_open(endpoint) and method != "GET"}
    # A file that is sent to /verify is hashed, and neither it nor its hash is kept.
    assert writing - {"open-verify.verify_file"} == {"open.enter_with_key", "open.enter_with_badge", "open.leave"}


def test_every_operation_is_in_the_table_of_acts_and_the_other_way_round(app: Any) -> None:
    for module in pkgutil.walk_packages(service.operations.__path__, "service.operations."):
        importlib.import_module(module.name)
    assert set(OPERATIONS) == set(ACTS)
    assert all(roles for roles in RIGHTS.values())


def test_every_act_is_called_by_words_of_its_own_that_can_stand_in_a_sentence() -> None:
    words = [row.called for row in ACTS.values()]
    assert len(set(words)) == len(words)
    said = [*words, *(row.did for row in ACTS.values() if row.did is not None)]
    assert [text for text in said if not re.fullmatch(r"[a-z][a-z' -]+[a-z]", text)] == []
    assert [name for name, row in ACTS.items() if row.makes and row.did is None] == [], "who makes works on it"


def test_every_operation_can_be_reached_over_http(app: Any) -> None:
    elsewhere = ON_THE_MACHINE_ONLY | BEHIND_THE_OPEN_PAGE
    assert set(OPERATIONS) - elsewhere <= set(app.extensions["rights"].values())
    assert not set(app.extensions["rights"].values()) & ON_THE_MACHINE_ONLY


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_every_route_obeys_the_table_for_every_role(api: Any) -> None:
    app = api.client.application
    rights = app.extensions["rights"]
    wrong = []
    for endpoint, method, rule in _routes(app):
        if is_open(endpoint) or is_page(app, endpoint):
            continue
        path = _path(rule)
        stranger = api.client.open(path, method=method, json=None if method == "GET" else {}).status_code
        if stranger != 401:
            wrong.append((method, rule, "no key", stranger))
        for role in Role:
            answer = api.call(method, path, who=role.value)
            status, may = answer.status_code, role in RIGHTS[rights[endpoint]]
            # Who may, and has ended their own signing some lines ago, is asked for their secret.
            barred = status == 403 and answer.get_json()["type"] == "/problems/not-allowed"
            if (barred or status == 401) if may else not barred:
                wrong.append((method, rule, role.value, status))
            if status >= 500:
                wrong.append((method, rule, role.value, status))
    assert not wrong


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_every_page_obeys_the_table_for_every_role(api: Any) -> None:
    """A page asks a stranger who they are; a form is that of the person for whom it was drawn, or nobody's."""
    app = api.client.application
    rights = app.extensions["rights of pages"]
    tokens: dict[Role, str] = {}
    for role in Role:
        browser = app.test_client()
        if browser.post("/enter", data={"key": api.shop.keys[role.value]}).status_code == 303:
            tokens[role] = browser.get_cookie(COOKIE).value
    assert tokens.keys() == set(Role) - {Role.INTEGRATOR}
    wrong = []
    for endpoint, method, rule in _routes(app):
        if not is_page(app, endpoint):
            continue
        path, stranger = _path(rule), app.test_client().open(_path(rule), method=method)
        if (stranger.status_code, stranger.headers.get("Location", "")[:6]) not in [(303, "/enter"), (401, "")]:
            wrong.append((method, rule, "nobody", stranger.status_code))
        for role, token in tokens.items():
            browser = app.test_client()
            browser.set_cookie(COOKIE, token)
            form = {"_who": form_secret(token), "_key": f"{role} {endpoint}"}
            status = browser.open(path, method=method, data=form if method == "POST" else None).status_code
            may = role in RIGHTS[rights[endpoint]]
            if (status in (401, 403)) if may else (status != 403):
                wrong.append((method, rule, role.value, status))
            if status >= 500 or (method == "POST" and browser.open(path, method="POST").status_code != 401):
                wrong.append((method, rule, role.value, status))
    assert not wrong


def test_every_reason_is_explained_in_words_with_a_status_and_a_page(app: Any) -> None:
    reasons = every_refusal()
    assert len({reason.kind for reason in reasons}) == len(reasons)
    client = app.test_client()
    for reason in reasons:
        text = reason.__dict__.get("__doc__") or ""
        assert text.strip().endswith("."), reason
        assert re.fullmatch(r"[a-z]+(-[a-z]+)*", reason.kind), reason
        assert status_of(reason) in {403, 404, 409, 412, 422, 503}, reason
        page = client.get(f"/problems/{reason.kind}")
        assert page.status_code == 200
        assert reason.title in page.get_data(as_text=True).replace("&#39;", "'")
    assert set(STATUS) <= set(reasons)


def test_every_setting_is_explained_in_the_program_and_in_the_readme() -> None:
    assert set(MEANING) == {f"POTMARK_{field.name.upper()}" for field in fields(Settings)}
    readme = (TOP / "README.md").read_text("utf-8")
    assert [name for name in MEANING if name not in readme] == []
    assert set(re.findall(r"POTMARK_[A-Z_]+", readme)) <= set(MEANING)


def _described(app: Any) -> list[tuple[str, str, dict[str, Any]]]:
    """(path, method, operation) of everything in the API's description."""
    paths = app.test_client().get("/openapi.json").get_json()["paths"]
    return [
        (path, method, operation)
        for path, methods in paths.items()
        for method, operation in methods.items()
        if method != "parameters"
    ]


def _every(base: type) -> set[type]:
    return {found for child in base.__subclasses__() for found in ({child} | _every(child))}


def test_every_answer_that_is_shown_has_its_own_fields(app: Any) -> None:
    described = app.test_client().get("/openapi.json").get_json()["components"]["schemas"]
    assert len(examples()) > 40
    strange = {name: set(shown) - set(described[name]["properties"]) for name, shown in examples().items()}
    assert {name: fields for name, fields in strange.items() if fields} == {}


def test_operation_ids_are_unique_and_the_description_is_openapi_3_1(app: Any) -> None:
    import schemathesis

    described = app.test_client().get("/openapi.json").get_json()
    assert described["openapi"].startswith("3.1")
    ids = [operation["operationId"] for _, _, operation in _described(app)]
    assert len(set(ids)) == len(ids) > 40
    # The meta-schema of OpenAPI 3.1 that the library carries; a violation raises.
    schemathesis.openapi.from_dict(described).validate()


def test_every_table_is_made_by_the_schema() -> None:
    assert _every(Record) == set(ALL)
    assert all(issubclass(table, Model) for table in ALL)


def test_every_source_file_says_what_it_is_for_and_stays_small() -> None:
    offenders = []
    for file in SOURCES:
        text = file.read_text("utf-8")
        tree = ast.parse(text)
        if tree.body and not ast.get_docstring(tree):
            offenders.append(f"{file.relative_to(TOP)}: no docstring")
        if text.count("\n") > 400:
            offenders.append(f"{file.relative_to(TOP)}: more than 400 lines, split it by subject")
    assert len(SOURCES) > 100
    assert offenders == []


def test_only_the_database_module_and_the_schema_steps_know_what_differs_between_the_engines() -> None:
    engines = re.compile(r"SqliteDatabase|PostgresqlDatabase|sqlite_master|pg_trigger|PRAGMA|plpgsql", re.IGNORECASE)
    knowing = {f.relative_to(TOP).as_posix() for f in SOURCES if engines.search(f.read_text("utf-8"))}
    allowed = {"service/database.py", "service/guards.py", "service/migrations/steps.py", "service/whole_tables.py"}
    assert knowing <= allowed


def test_nothing_is_left_half_done_or_skipped() -> None:
    half = re.compile("TO" + r"DO|FIX" + r"ME|NotImplemented" + "Error")
    assert [f for f in SOURCES if half.search(f.read_text("utf-8"))] == []
    dodge = re.compile(
        r"\.sk" + r"ip\b|\.sk" + r"ipif|\.xf" + r"ail|import" + r"orskip|unittest\.mo" + r"ck|import mo" + "ck"
    )
    assert [f for f in (TOP / "tests").rglob("*.py") if dodge.search(f.read_text("utf-8"))] == []


def test_nothing_lies_outside_the_house() -> None:
    house = {
        ".ci", ".git", ".gitignore", "DEVELOPERS.md", "LICENSE", "README.md", "deploy", "labels", "pyproject.toml",
        "schemas", "service", "tests",
    }  # fmt: skip
    ignored = [line.rstrip("/") for line in (TOP / ".gitignore").read_text("utf-8").split()]
    there = {f.name for f in TOP.iterdir() if not any(fnmatch.fnmatch(f.name, pattern) for pattern in ignored)}
    assert there <= house


def test_no_sentence_of_a_refusal_names_a_field() -> None:
    """What a program sends is in `answer_with`, its place in `pointer`; a sentence is for a person at a page."""
    named = re.compile(r"`[a-z_]+`|\bsend [a-z_]+: |\b[a-z]+(_[a-z0-9]+)+\b|: true\b")
    refusals = {kind.__name__ for kind in every_refusal()} | {"Refusal", "ValidationError", "ProfileError", "LogError"}
    files = [f for folder in ("service/operations", "service/pages", "schemas") for f in (TOP / folder).rglob("*.py")]
    said = []
    for file in [*files, TOP / "service" / "readings" / "read.py"]:
        for node in ast.walk(ast.parse(file.read_text("utf-8"))):
            told = [k.value for k in getattr(node, "keywords", ()) if k.arg == "way_out"]
            if isinstance(node, ast.Call) and getattr(node.func, "id", getattr(node.func, "attr", "")) in refusals:
                told += node.args
            texts = [c.value for one in told for c in ast.walk(one) if isinstance(c, ast.Constant)]
            said += [(file.name, t) for t in texts if isinstance(t, str) and " " in t and named.search(t)]
    assert said == []


def test_acts_are_in_a_gerund_or_in_the_plural_that_keeps_a_register() -> None:
    files = {row.__module__.rpartition(".")[2] for row in OPERATIONS.values()}
    wrong = [name for name in files if not re.search(r"ing(_|$)|s$|^people$", name)]
    assert (len(files) > 40, wrong) == (True, [])


def test_each_room_that_the_linter_knows_is_told_to_who_comes_new() -> None:
    contracts = tomllib.loads((TOP / "pyproject.toml").read_text("utf-8"))["tool"]["importlinter"]["contracts"]
    (layers,) = [c["layers"] for c in contracts if c.get("containers") == ["service.operations"]]
    rooms = {room for layer in layers for room in re.findall(r"\w+", layer)}
    table = (TOP / "DEVELOPERS.md").read_text("utf-8").partition("| room | about |")[2].partition("\n\n")[0]
    told = {name for row in table.splitlines()[1:] for name in re.findall(r"`(\w+)`", row.split("|")[1])}
    assert told == rooms


def test_nothing_is_defined_that_nothing_names() -> None:
    folders = [TOP / name for name in (*PACKAGES, "tests", "deploy")]
    written = [f for folder in folders for f in folder.rglob("*") if f.suffix in {".py", ".html", ".json"}]
    named = Counter(word for file in written for word in re.findall(r"\w+", file.read_text("utf-8", "ignore")))
    unnamed = []
    for file in SOURCES:
        for node in ast.parse(file.read_text("utf-8")).body:
            made = getattr(node, "targets", []) or [getattr(node, "target", node)]
            names = [getattr(one, "id", getattr(one, "name", None)) for one in made]
            called_by_its_frame = bool(getattr(node, "decorator_list", []))
            unnamed += [f"{file.name}: {n}" for n in names if n and named[n] == 1 and not called_by_its_frame]
    assert unnamed == []
