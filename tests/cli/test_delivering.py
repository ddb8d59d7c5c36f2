"""`potmark deliver` in real processes: killed, restarted, two at once, with a receiver that fails."""

import signal
import subprocess
import time
from pathlib import Path
from typing import Any

from tests.cli.conftest import POTMARK, Shell, clean_environment
from tests.conftest import Api
from tests.deliveries.fire import Fire
from tests.fresh import PEPPER
from tests.receiver import Receiver, receiver

__all__ = ["receiver"]


def _environment(api: Api) -> dict[str, str]:
    pepper = str(api.accounts.folder / PEPPER)
    more = {"POTMARK_DATABASE": api.url, "POTMARK_SECRETS_KEY": pepper, "POTMARK_WEBHOOK_NETWORK": "127.0.0.0/8"}
    return clean_environment() | more


def test_two_workers_that_are_killed_lose_nothing(api: Api, receiver: Receiver, tmp_path: Path) -> None:
    told = {"url": receiver.url, "events": ["hold.placed"]}
    secret = api.post("/v1/webhooks", told, who="administrator")["secret"]
    place = api.post("/v1/places", {"name": "Shelf B2"}, who="lead")["code"]
    fire = Fire(Path(POTMARK), tmp_path, _environment(api), receiver, secret, lambda _: api.shop.act("quality"), place)
    outcome = fire.run(events=40, workers=2, kills=3, at_most_s=60)
    assert (outcome.arrived, outcome.forged, outcome.kills) == (40, 0, 3), (tmp_path / "worker.log").read_text()
    assert outcome.repeated < 40


def test_it_ends_when_asked_and_once_when_nothing_is_due(api: Api, receiver: Receiver, tmp_path: Path) -> None:
    command: dict[str, Any] = {"cwd": tmp_path, "env": _environment(api), "stderr": subprocess.PIPE, "text": True}
    told = {"url": receiver.url, "events": ["hold.placed"]}
    api.post("/v1/webhooks", told, who="administrator")
    place = api.post("/v1/places", {"name": "Shelf B2"}, who="lead")["code"]
    api.post("/v1/holds", {"item": place, "reason": "wet"})
    done = subprocess.run([POTMARK, "deliver", "--no-look", "--once"], timeout=60, check=False, **command)
    assert (done.returncode, done.stderr) == (0, "1 delivery came through.\n")
    assert receiver.heard[0].told["data"]["reaches"] == {"place": 1}
    process = subprocess.Popen([POTMARK, "deliver", "--no-look", "--poll", "0.05"], **command)
    assert process.stderr is not None
    assert process.stderr.readline() == "Potmark sends what happens (Ctrl-C stops it).\n"
    api.post("/v1/holds", {"item": place, "reason": "cold"})
    until = time.monotonic() + 30
    while len(receiver.heard) < 2 and time.monotonic() < until:
        time.sleep(0.02)
    process.send_signal(signal.SIGTERM)
    assert process.wait(timeout=30) == 0
    assert process.stderr.read() == "1 delivery came through.\n"
    process.stderr.close()
    assert len(receiver.heard) == 2


def test_without_an_account_it_says_so(potmark: Shell) -> None:
    assert "`potmark init` makes one" in potmark.refused_here("deliver")
