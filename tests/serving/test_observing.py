"""What whoever runs the service sees of it: alive, ready, counted over all processes, each request named and logged."""

import json
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from service.database import database
from tests.conftest import NOW, Api
from tests.fresh import PEPPER, found
from tests.serving.conftest import Served, serving


@pytest.fixture
def logged(tmp_path: Path) -> Iterator[tuple[Served, Path]]:
    """A server that writes down each request, and where."""
    url, log = f"sqlite:///{tmp_path}/potmark.db", tmp_path / "access.log"
    with serving(url, found(url, NOW, tmp_path / PEPPER).keys, tmp_path) as start:
        yield start(access_log=str(log)), log


def test_each_answer_is_named_and_logged_and_all_processes_are_counted_together(logged: tuple[Served, Path]) -> None:
    standing, log = logged
    for number in range(12):
        status, headers, _ = standing.say(standing.head("GET", "/v1/me", f"X-Request-Id: order-{number}"))
        assert (status, headers["x-request-id"]) == (200, f"order-{number}")
    _, headers, _ = standing.say(standing.head("GET", "/v1/nothing", "X-Request-Id: a b", who=None))
    made = headers["x-request-id"]
    assert len(made) == 16
    assert made != "a b"
    _, _, counted = standing.say(standing.head("GET", "/metrics", who=None))
    (line,) = [one for one in counted.decode().splitlines() if 'route="/v1/me",status="200"' in one]
    assert float(line.split()[-1]) >= 12
    assert b'potmark_refusals_total{type="not-found"}' in counted
    assert standing.say(standing.head("GET", "/readyz", who=None))[::2] == (200, b'{"status":"ok"}\n')
    lines = [json.loads(one) for one in log.read_text().splitlines()]
    told = {line["request"]: line for line in lines}
    assert told["order-3"]["path"] == "/v1/me"
    assert told["order-3"]["status"] == 200
    assert told["order-3"]["person"] is not None
    assert (told[made]["status"], told[made]["key"]) == (404, None)
    assert all(key not in one for one in log.read_text().splitlines() for key in standing.keys.values())


def test_what_was_done_is_answered_though_it_can_be_neither_counted_nor_logged(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The folder of the counts cannot be used, and the disk of the access log is full; then it was only swept away."""
    monkeypatch.setenv("TMPDIR", str(tmp_path))
    url = f"sqlite:///{tmp_path}/potmark.db"
    with serving(url, found(url, NOW, tmp_path / PEPPER).keys, tmp_path) as start:
        served = start(access_log="/dev/full")
        (counts,) = tmp_path.glob("potmark-counts-*")
        shutil.rmtree(counts)
        counts.touch()
        assert served.call("POST", "/v1/places", {"name": "Shelf B2"})[0] == 201
        assert "could not be counted" in served.log.read_text()
        assert "could not be written to the access log" in served.log.read_text()
        counts.unlink()
        status, _, counted = served.say(served.head("GET", "/metrics", who=None))
        assert (status, counted) == (200, b"")
        for number in (3, 4):
            assert served.call("POST", "/v1/places", {"name": f"Shelf B{number}"})[0] == 201
        counted = served.say(served.head("GET", "/metrics", who=None))[2]
        assert b'potmark_requests_total{method="POST",route="/v1/places",status="201"} 2.0' in counted


def test_a_service_whose_schema_lacks_a_step_is_alive_and_not_ready(api: Api) -> None:
    database.execute_sql("DELETE FROM schema_migration WHERE name = '0019_feed'")
    answer = api.client.get("/readyz")
    assert (answer.status_code, "potmark upgrade" in answer.get_json()["status"]) == (503, True)
    assert api.client.get("/healthz").status_code == 200


def test_counts_are_for_this_machine_and_for_who_has_a_key(api: Api) -> None:
    elsewhere: dict[str, Any] = {"environ_overrides": {"REMOTE_ADDR": "192.0.2.7"}}
    key = {"Authorization": f"Bearer {api.shop.keys['integrator']}"}
    assert api.client.get("/metrics", **elsewhere).status_code == 401
    assert api.client.get("/metrics", headers=key, **elsewhere).status_code == 200
    assert api.client.get("/metrics").status_code == 200
