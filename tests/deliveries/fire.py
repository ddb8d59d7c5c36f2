"""Holds are placed on a real account while workers that send webhooks are killed (SIGKILL) and the receiver fails."""

import random
import signal
import subprocess
import threading
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from standardwebhooks.webhooks import Webhook

from service.database import connected
from service.operations.ledger.holding import place_hold
from service.records.hooks import WebhookDelivery
from tests.receiver import Heard, Receiver

# Waits between attempts are shortened by this: three days become half a minute.
PACE = 0.0001


@dataclass(frozen=True, slots=True)
class Outcome:
    """How many events there were, how many of them arrived, how often one came again, and how long all took."""

    events: int
    arrived: int
    repeated: int
    refused: int
    kills: int
    seconds: float
    forged: int


@dataclass
class Fire:
    """Where it happens: a folder with the account, the environment of its programs, the receiver and its secret."""

    potmark: Path
    folder: Path
    environment: dict[str, str]
    receiver: Receiver
    secret: str
    act: Callable[[int], Any]
    item: str
    fails: float = 0.15

    def run(
        self, *, events: int, workers: int, kills: int, at_most_s: float, seed: int = 1, before: int = 0
    ) -> Outcome:
        """``before`` events have happened already and wait to be told."""
        chance = random.Random(seed)
        lock, failed = threading.Lock(), Counter[str]()

        def answer(heard: Heard) -> tuple[int, dict[str, str]]:
            with lock:
                if chance.random() < self.fails:
                    failed[heard.message] += 1
                    return (chance.choice((500, 503, 404)), {})
            return (204, {})

        self.receiver.answer = answer
        begun = time.monotonic()
        running = [self._worker() for _ in range(workers)]
        killed = 0
        try:
            for number in range(events):
                with connected():
                    place_hold(self.act(number), item=self.item, reason=f"look {number}")
                if kills and number % max(1, events // kills) == events // kills - 1 and killed < kills:
                    killed += 1
                    self._kill(running, killed % workers)
            # The last kills fall while much is on its way and nothing new is asked.
            until = time.monotonic() + at_most_s
            while self._open(events + before) and time.monotonic() < until:
                time.sleep(0.1)
        finally:
            ended = time.monotonic()
            for process in running:
                process.send_signal(signal.SIGTERM)
            for process in running:
                process.wait(timeout=30)
        taken = list(self.receiver.heard)
        told = Counter(one.message for one in taken)
        delivered = {m for m in told if told[m] > failed[m]}
        return Outcome(
            events=events + before,
            arrived=len(delivered),
            repeated=sum(told[m] - failed[m] - 1 for m in delivered),
            refused=sum(failed.values()),
            kills=killed,
            seconds=ended - begun,
            forged=sum(not self._genuine(one) for one in taken),
        )

    def _worker(self) -> subprocess.Popen[bytes]:
        with (self.folder / "worker.log").open("ab") as log:
            return subprocess.Popen(
                [self.potmark, "deliver", "--no-look", "--poll", "0.05", "--pace", str(PACE), "--lease", "2"],
                cwd=self.folder, env=self.environment, stdout=log, stderr=log,
            )  # fmt: skip

    def _kill(self, running: list[subprocess.Popen[bytes]], which: int) -> None:
        running[which].kill()
        running[which].wait()
        running[which] = self._worker()

    def _open(self, events: int) -> bool:
        with connected():
            made = WebhookDelivery.select().count()
            return made < events or WebhookDelivery.select().where(WebhookDelivery.state == "waiting").exists()

    def _genuine(self, one: Heard) -> bool:
        try:
            Webhook(self.secret).verify(one.body, one.headers)
        except Exception:
            return False
        return True
