"""What the tests stand on: real databases of both kinds, a clock that the test sets, and one shop to work in."""

import gc
import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from xdist.scheduler import LoadScopeScheduling

from schemas.words import Role
from service.api.rates import Rates
from service.api.strangers import Strangers
from service.api.throttle import Throttle
from service.api.turned_away import TurnedAway
from service.config import Settings
from service.database import connected, database
from service.operations.door.act import Act
from service.operations.door.signatures import Signing
from tests.fresh import Accounts, settle_in

if TYPE_CHECKING:
    from flask import Flask

# No tests: what a sweep of its own is given, which meddles with whatever else asks the description; and the program of
# an order system, which needs a package that a generator makes.
collect_ignore = ["fuzz", "order_system/client.py"]

NOW = datetime(2026, 11, 3, 9, 0, tzinfo=UTC)

LONG_FILES = {"budgets", "cli", "journeys", "serving"}
JOB = "tests/budgets/"


@dataclass
class Clock:
    """The time as the test wants it."""

    now: datetime = NOW

    def __call__(self) -> datetime:
        return self.now

    def forward(self, **step: float) -> datetime:
        self.now += timedelta(**step)
        return self.now


class ByFile(LoadScopeScheduling):  # type: ignore[misc]
    """A file stays in one process, so that what it builds once is built once; so do the budgets, which share a job."""

    def _split_scope(self, nodeid: str) -> str:
        file = nodeid.partition("::")[0]
        return JOB if file.startswith(JOB) else file


def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> ByFile:
    return ByFile(config, log)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """What needs an account is marked: `-m "not account"` leaves rules and formulas, which need none.

    The folders whose files take longest begin, so that no process is left alone with one of them at the end.
    """
    items.sort(key=lambda item: LONG_FILES.isdisjoint(item.path.parts))
    for item in items:
        if isinstance(item, pytest.Function) and {"accounts", "database_url"} & set(item.fixturenames):
            item.add_marker("account")


@pytest.fixture(scope="session")
def postgresql_url() -> Iterator[str]:
    """A real PostgreSQL server of its own, on a socket in a folder of its own."""
    bins = _postgresql_programs()
    # Not a folder of pytest's, of which another run may remove the older ones; and short, as a socket's path has to be.
    home = Path(tempfile.mkdtemp(prefix="potmark-pg-"))
    as_user: list[str] = []
    if os.geteuid() == 0:
        shutil.chown(home, "postgres", "postgres")
        as_user = ["runuser", "-u", "postgres", "--"]

    def run(program: str, *arguments: str) -> None:
        subprocess.run([*as_user, f"{bins}/{program}", *arguments], check=True, capture_output=True, cwd=home)

    run("initdb", "-D", f"{home}/data", "-A", "trust", "-U", "potmark", "--no-sync", "-E", "UTF8")
    options = f"-k {home} -c listen_addresses='' -c fsync=off -c autovacuum=off -c max_connections=100"
    run("pg_ctl", "-D", f"{home}/data", "-w", "-l", f"{home}/log", "-o", options, "start")
    run("createdb", "-h", str(home), "-U", "potmark", "potmark")
    yield f"postgresql://potmark@/potmark?host={home}"
    run("pg_ctl", "-D", f"{home}/data", "-m", "immediate", "stop")
    shutil.rmtree(home, ignore_errors=True)


def _postgresql_programs() -> str:
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb")) if Path("/usr/lib/postgresql").exists() else []
    if found:
        return str(found[-1].parent)
    on_path = shutil.which("initdb")
    if on_path is None:
        pytest.fail("The tests need a PostgreSQL server: apt-get install postgresql.")
    return str(Path(on_path).parent)


@pytest.fixture(params=["sqlite", "postgresql"])
def database_url(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """A fresh database, once of each kind."""
    if request.param == "sqlite":
        yield f"sqlite:///{tmp_path}/potmark.db"
        return
    url = request.getfixturevalue("postgresql_url")
    yield url


@dataclass
class Shop:
    """A shop with one person in each role, and acts in their names."""

    clock: Clock
    site: int
    people: dict[str, int] = field(default_factory=dict)
    keys: dict[str, str] = field(default_factory=dict)
    secrets: dict[str, str] = field(default_factory=dict)
    tokens: dict[str, str] = field(default_factory=dict)
    signers: dict[str, Signing] = field(default_factory=dict)

    def act(self, who: str = "laminator", *, why: str | None = None, key: str | None = None, at: datetime | None = None,
            late_min: float = 0) -> Act:  # fmt: skip
        roles = frozenset({Role(who.split()[-1])}) if who.split()[-1] in set(Role) else frozenset()
        happened = at or self.clock.now - timedelta(minutes=late_min)
        return Act(
            person=self.people[who],
            roles=roles,
            site=self.site,
            occurred_at=happened,
            recorded_at=max(self.clock.now, happened),
            key=self._key_row(who) if key else None,
            idempotency_key=key,
            why=why,
            signing=self.signers.get(who),
        )

    def settle_in(self, who: str) -> None:
        """Someone whom the test has added, with a key, makes it theirs and sets a secret: from here on they sign."""
        self.secrets[who] = f"48{90_300 + self.people[who]}"
        with connected():
            self.keys[who], self.tokens[who], self.signers[who] = settle_in(self.act(who), self.secrets[who])

    def _key_row(self, who: str) -> int:
        from service.records.people import AccessKey

        return int(AccessKey.get(AccessKey.person == self.people[who]).id)


@pytest.fixture(scope="session")
def accounts(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Accounts]:
    accounts = Accounts(tmp_path_factory.mktemp("founded"), NOW)
    yield accounts
    accounts.close()


@pytest.fixture
def shop(database_url: str, accounts: Accounts) -> Iterator[Shop]:
    """A founded shop that nothing has happened in, with a connection open for the length of the test."""
    founded = accounts.renew(database_url)
    with connected():
        yield Shop(
            clock=Clock(),
            site=founded.site,
            people=dict(founded.people),
            keys=dict(founded.keys),
            secrets=dict(founded.secrets),
            tokens=dict(founded.tokens),
            signers=dict(founded.signers),
        )
    database.close_all()


@dataclass
class Api:
    """The service over HTTP, through Flask's own client."""

    client: Any
    shop: Shop
    accounts: Accounts
    url: str

    def call(self, method: str, path: str, body: Any = None, *, who: str = "laminator", **headers: str) -> Any:
        sent = {"Authorization": f"Bearer {self.shop.keys[who]}"}
        if who in self.shop.tokens:
            sent["Signing-Token"] = self.shop.tokens[who]
        sent.update({k.replace("_", "-"): v for k, v in headers.items()})
        if isinstance(body, bytes):
            return self.client.open(path, method=method, data=body, headers=sent)
        if method == "GET":
            return self.client.get(path, headers=sent)
        return self.client.open(path, method=method, json=body if body is not None else {}, headers=sent)

    def get(self, path: str, **more: Any) -> Any:
        answer = self.call("GET", path, **more)
        assert answer.status_code == 200, answer.get_data(as_text=True)
        return answer.get_json()

    def post(self, path: str, body: Any = None, *, expect: int = 201, **more: Any) -> Any:
        answer = self.call("POST", path, body, **more)
        assert answer.status_code == expect, answer.get_data(as_text=True)
        return answer.get_json()

    def refused(self, path: str, body: Any, kind: str, *, status: int = 409, **more: Any) -> Any:
        problem = self.post(path, body, expect=status, **more)
        assert problem["type"] == f"/problems/{kind}", problem
        return problem


@pytest.fixture(scope="session")
def application() -> "Flask":
    """The application, wired once; to whom it speaks and by which clock is each test's own."""
    gc.disable()
    from service.app import create_app  # the rules need none of it, and begin sooner without

    app = create_app(Settings(database="sqlite:///never-opened.db"))
    app.config["TESTING"] = True
    # As in the server: what stays to the end is not looked over for garbage again and again.
    gc.collect()
    gc.freeze()
    gc.enable()
    return app


@pytest.fixture(scope="session")
def signing(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """The settings that name a key and its certificate, with which documents are signed."""
    from service.reports.issued.signer import make_signer, write_signer

    folder = tmp_path_factory.mktemp("signing")
    write_signer(make_signer("Heron Yard", at=NOW), folder / "key", folder / "certificate")
    return {"signing_key": str(folder / "key"), "signing_certificate": str(folder / "certificate")}


@pytest.fixture
def api(
    application: "Flask", shop: Shop, accounts: Accounts, database_url: str, signing: dict[str, str]
) -> Iterator[Api]:
    usual = dict(application.extensions)
    settings = Settings(database=database_url, **signing)  # type: ignore[arg-type]
    application.extensions.update(
        clock=shop.clock,
        settings=settings,
        throttle=Throttle(),
        strangers=Strangers(),
        turned_away=TurnedAway(),
        rates=Rates(0),
    )
    yield Api(client=application.test_client(), shop=shop, accounts=accounts, url=database_url)
    application.extensions.clear()
    application.extensions.update(usual)
