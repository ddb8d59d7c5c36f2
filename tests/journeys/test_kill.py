"""The plug is pulled in mid-pour, again and again: nothing acknowledged is lost, nothing is done twice.

A real server on a real file and on a real PostgreSQL; all its processes are killed at once (SIGKILL), as often as it is
started again, while several tablets go on sending and repeat with the same key whatever was not answered.
"""

import http.client
import itertools
import json
import os
import random
import signal
import socket
import subprocess
import threading
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from service.database import connected
from service.operations.ledger.checking import check_account
from service.records.journal import Answer, Deed
from tests import makers
from tests.cli.conftest import POTMARK, clean_environment
from tests.conftest import Api
from tests.journeys.floor import mg

KILLS = 5
TABLETS = 6
_DRUM_G = 1_000_000
# Acts between two kills, before a moment is picked.
_ACTS = 20


@dataclass
class Plug:
    """The server, and the plug that is pulled on it."""

    environment: dict[str, str]
    log: Path
    process: subprocess.Popen[bytes] | None = None

    @property
    def port(self) -> int:
        return int(self.environment["POTMARK_BIND"].rpartition(":")[2])

    def start(self) -> None:
        with self.log.open("ab") as log:
            self.process = subprocess.Popen([POTMARK, "serve"], env=self.environment, start_new_session=True,
                                            stdout=log, stderr=log)  # fmt: skip
        until = time.monotonic() + 180
        while True:
            assert self.process.poll() is None, self.log.read_text()
            try:
                socket.create_connection(("127.0.0.1", self.port), timeout=1).close()
                return
            except OSError:
                assert time.monotonic() < until, "no answer in 180 s"
                time.sleep(0.02)

    def pull(self) -> None:
        """All processes of the server at once, without a word."""
        if self.process is not None and self.process.poll() is None:
            os.killpg(self.process.pid, signal.SIGKILL)
            self.process.wait()


@dataclass
class Tablet:
    """One client: it sends an act until it is answered, always with the act's own key."""

    plug: Plug
    number: int
    key: str
    stop: threading.Event
    acknowledged: dict[str, tuple[str, dict[str, Any]]] = field(default_factory=dict)
    cut_off: int = 0
    replayed: int = 0
    refused: list[Any] = field(default_factory=list)

    def act(self, path: str, body: dict[str, Any]) -> dict[str, Any]:
        number = len(self.acknowledged)
        key = f"tablet {self.number} act {number}"
        out_of_reach = number % 4 == 0
        while True:
            try:
                if out_of_reach:
                    self._ask(path, body, key).close()  # sent, and gone before the answer came
                    out_of_reach = False
                status, answer, again = self._send(path, body, key)
            except ConnectionRefusedError:
                time.sleep(0.02)
                continue
            except (OSError, http.client.HTTPException, ValueError):
                self.cut_off += 1
                continue
            if status == 409 and answer["type"] == "/problems/still-running":
                continue
            if status != 201:
                self.refused.append((path, body, status, answer))
                raise AssertionError(answer)
            self.replayed += again
            self.acknowledged[key] = (path, answer)
            return answer

    def _ask(self, path: str, body: dict[str, Any], key: str) -> http.client.HTTPConnection:
        connection = http.client.HTTPConnection("127.0.0.1", self.plug.port, timeout=10)
        headers = {"Authorization": f"Bearer {self.key}", "Content-Type": "application/json", "Idempotency-Key": key}
        connection.request("POST", path, json.dumps(body), headers)
        return connection

    def _send(self, path: str, body: dict[str, Any], key: str) -> tuple[int, dict[str, Any], bool]:
        connection = self._ask(path, body, key)
        try:
            response = connection.getresponse()
            return response.status, json.loads(response.read()), "Idempotency-Replayed" in response.headers
        finally:
            connection.close()

    def work(self, bench: makers.Mixing) -> None:
        """Decant, and weigh pots, from drums that all share, until it is time to go home."""
        masses = random.Random(self.number)
        for turn in itertools.count():
            can = bench.slow_can if turn % 2 else bench.resin_can
            self.act(f"/v1/containers/{can}/decants", {"mass_g": masses.randrange(1, 2000) / 1000})
            if self.stop.is_set():
                return
            self._pot(bench, masses.randrange(1000, 1100) / 10)

    def _pot(self, bench: makers.Mixing, resin_g: float) -> None:
        asked = [{"container": bench.resin_can}, {"container": bench.slow_can}]
        start = {"system": bench.system, "hardener": bench.slow, "purpose": "wet-out", "resin_g": resin_g,
                 "containers": asked, "scale": bench.scale, "temperature_c": 20}  # fmt: skip
        mix = self.act("/v1/mixes", start)["code"]
        pour = {"scale": bench.scale, "source": "typed"}
        self.act(f"/v1/mixes/{mix}/pours", {**pour, "container": bench.resin_can, "reading_g": resin_g})
        hardener_g = round(resin_g * 0.3, 1)
        self.act(f"/v1/mixes/{mix}/pours", {**pour, "container": bench.slow_can, "reading_g": hardener_g})
        self.act(f"/v1/mixes/{mix}/discard", {"reason": "only an exercise"})


@pytest.fixture
def bench(api: Api) -> makers.Mixing:
    """Drums that outlast the exercise, stocked at the time of day that the server has too."""
    api.shop.clock.now = datetime.now(UTC)
    found = makers.mixing(api)
    drum = {"net_g": _DRUM_G, "no_expiry": True}
    found.resin_can = makers.cans(api, found.resin, found.place, "R-drum", **drum)[0]
    found.slow_can = makers.cans(api, found.slow, found.place, "H-drum", **drum)[0]
    return found


@pytest.fixture
def plug(database_url: str, tmp_path: Path) -> Iterator[Plug]:
    environment = {**clean_environment(), "POTMARK_DATABASE": database_url, "POTMARK_WORKERS": "2"}
    found = Plug(environment, tmp_path / "server.log")
    yield found
    found.pull()


@pytest.mark.sweep
def test_pulled_in_mid_pour_nothing_acknowledged_is_lost_and_nothing_is_doubled(
    bench: makers.Mixing, plug: Plug
) -> None:
    keys, stop = bench.api.shop.keys, threading.Event()
    people = itertools.cycle(("laminator", "second laminator", "lead"))
    tablets = [Tablet(plug, number, keys[next(people)], stop) for number in range(TABLETS)]
    with connected():
        answered, done = Answer.select().count(), _done()
    plug.start()
    threads = [threading.Thread(target=tablet.work, args=(bench,), daemon=True) for tablet in tablets]
    for thread in threads:
        thread.start()
    moments = random.Random(9)
    for _ in range(KILLS):
        before = sum(len(t.acknowledged) for t in tablets)
        until = time.monotonic() + 10
        while sum(len(t.acknowledged) for t in tablets) < before + _ACTS and time.monotonic() < until:
            time.sleep(0.01)
        time.sleep(moments.uniform(0, 0.3))
        plug.pull()
        plug.start()
    stop.set()
    for thread in threads:
        thread.join(timeout=30)
    assert [t.refused for t in tablets if t.refused] == []
    assert not any(thread.is_alive() for thread in threads)
    assert sum(t.cut_off for t in tablets) >= KILLS, "the plug was pulled while they waited for answers"
    assert sum(t.replayed for t in tablets) > 0, "some answers were given again"

    acts = [act for tablet in tablets for act in tablet.acknowledged.values()]
    with connected():
        assert Answer.select().count() - answered == len(acts)
        assert _done() - done == Counter(_operation(path) for path, _ in acts), "each act once, and no other"
        check = check_account()
    assert check.agrees, check.first
    _all_is_there(bench, acts)


def _done() -> Counter[str]:
    return Counter(row.operation for row in Deed.select(Deed.operation).where(Deed.refused.is_null()))


def _operation(path: str) -> str:
    ends = {"decants": "decant", "mixes": "start_mix", "pours": "pour", "discard": "discard_mix"}
    return ends[path.rpartition("/")[2]]


def _all_is_there(bench: makers.Mixing, acts: list[tuple[str, dict[str, Any]]]) -> None:
    """Every answer that a tablet was given is true of the account, and the drums lack just what was taken."""
    api = bench.api
    jugs = {answer["code"]: answer for path, answer in acts if path.endswith("/decants")}
    started = [answer["code"] for path, answer in acts if path == "/v1/mixes"]
    assert len(jugs) == sum(path.endswith("/decants") for path, _ in acts)
    assert len(set(started)) == len(started)
    taken = Counter({bench.resin_can: 0, bench.slow_can: 0})
    for code, answer in jugs.items():
        assert api.get(f"/v1/containers/{code}")["left_g"] == answer["left_g"]
        taken[answer["parent"]] += mg(answer["left_g"])
    for code in started:
        pot = api.get(f"/v1/mixes/{code}")
        assert [p["component"] for p in pot["pours"]] == ["resin", "hardener"]
        assert pot["state"] == "discarded"
        for pour in pot["pours"]:
            taken[pour["container"]] += mg(pour["net_g"])
    for can, amount in taken.items():
        view = api.get(f"/v1/containers/{can}")
        assert (mg(view["left_g"]), view["reserved_g"]) == (mg(_DRUM_G) - amount, 0)
