"""Wrong keys: counted, logged by where they came from, and after some too many."""

import logging
import multiprocessing
from typing import Any

import pytest

from service.api.throttle import AT_ONCE, EACH_S, Throttle

ONE_ENGINE = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)


def _try(api: Any, key: str, address: str = "192.0.2.7") -> Any:
    headers = {"Authorization": f"Bearer {key}"}
    return api.client.get("/v1/me", headers=headers, environ_base={"REMOTE_ADDR": address})


@ONE_ENGINE
def test_wrong_keys_are_refused_after_some_and_right_ones_open_all_the_same(api: Any) -> None:
    tries = [_try(api, f"guess {n}") for n in range(AT_ONCE + 5)]
    assert [t.status_code for t in tries] == [401] * AT_ONCE + [429] * 5
    problem = tries[-1].get_json()
    assert problem["type"] == "/problems/too-many-wrong-keys"
    assert 0 < int(tries[-1].headers["Retry-After"]) <= EACH_S
    assert _try(api, api.shop.keys["lead"]).status_code == 200
    assert _try(api, "guess", "192.0.2.8").status_code == 401, "another address has tries of its own"


@ONE_ENGINE
def test_the_page_and_the_cookie_count_with_the_header(api: Any) -> None:
    base = {"REMOTE_ADDR": "192.0.2.7"}
    browser = api.client.application.test_client()
    browser.set_cookie("potmark_session", "guess")
    for _ in range(AT_ONCE // 2):
        assert api.client.post("/enter", data={"key": "guess"}, environ_base=base).status_code == 422
        assert browser.get("/v1/me", environ_base=base).status_code == 401
    page = api.client.post("/enter", data={"key": "guess"}, environ_base=base)
    assert page.status_code == 429
    assert "Too many wrong keys" in page.get_data(as_text=True)
    assert _try(api, "guess").status_code == 429
    assert api.client.get("/v1/me", environ_base=base).status_code == 401, "no key is no wrong key"


@ONE_ENGINE
def test_the_log_names_the_address_and_never_the_key(api: Any, caplog: pytest.LogCaptureFixture) -> None:
    with caplog.at_level(logging.WARNING, "potmark"):
        for n in range(AT_ONCE + 5):
            api.client.get(
                "/v1/items/a%0Ab",
                headers={"Authorization": f"Bearer guess{n}"},
                environ_base={"REMOTE_ADDR": "192.0.2.7"},
            )
            _try(api, f"guess{n}")
    lines = [record.getMessage() for record in caplog.records]
    assert len(lines) == AT_ONCE, "what comes too often fills no log"
    assert all("192.0.2.7" in line and "guess" not in line and "\n" not in line for line in lines)


def test_what_was_tried_runs_out_with_time() -> None:
    throttle = Throttle(at_once=3, each_s=8)
    assert [throttle.wait_s("192.0.2.7", 100) for _ in range(4)] == [0, 0, 0, 8]
    assert throttle.wait_s("192.0.2.7", 104) == 4
    assert throttle.wait_s("192.0.2.7", 108) == 0
    assert throttle.wait_s("192.0.2.7", 108) == 8
    assert [throttle.wait_s("192.0.2.7", 1000) for _ in range(4)] == [0, 0, 0, 8]


def test_all_addresses_of_one_network_are_one_caller() -> None:
    throttle = Throttle(at_once=1, each_s=10)
    assert throttle.wait_s("2001:db8::1", 100) == 0
    assert throttle.wait_s("2001:db8::2", 100) == 10
    assert throttle.wait_s("2001:db8:0:1::1", 100) == 0


def _count(throttle: Throttle, tries: int, let_through: Any) -> None:
    passed = sum(throttle.wait_s("192.0.2.7", 100) == 0 for _ in range(tries))
    with let_through.get_lock():
        let_through.value += passed


def test_all_processes_count_together_to_the_last_one() -> None:
    fork = multiprocessing.get_context("fork")
    throttle, let_through = Throttle(at_once=500, each_s=10), fork.Value("i", 0)
    processes = [fork.Process(target=_count, args=(throttle, 400, let_through)) for _ in range(4)]
    for process in processes:
        process.start()
    for process in processes:
        process.join()
    assert let_through.value == 500
