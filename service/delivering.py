"""The worker behind `potmark deliver`: it makes deliveries of what the journal has that is new, and sends what is due.

Several may run beside each other and beside the service. What one has begun when it dies is sent again, by whichever
comes first once its lease has ended; so a receiver may be told twice, by the same `webhook-id`, and is always told.
"""

import threading
from collections.abc import Callable
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

from peewee import InterfaceError, OperationalError

from service.operations.ledger import outbox
from service.operations.ledger.outbox import Taken
from service.sending import addresses
from service.sending.posting import Outcome, post, signed

_GONE = 410
# To so many receivers at once, each of which is told one thing after the other.
_THREADS = 8
_SWEEP_EVERY_S = 3600


@dataclass
class Worker:
    """``poll_s`` is how long nothing new is looked for. For a trial ``pace`` shortens the waits between attempts, and
    ``lease`` is how long what a dead worker has begun waits for another."""

    say: Callable[[str], None]
    clock: Callable[[], datetime] = lambda: datetime.now(UTC)
    poll_s: float = 1.0
    pace: float = 1.0
    lease: timedelta = outbox.LEASE
    # What is done once in every round besides, such as the look over the stock once a day.
    also: Callable[[datetime], None] = lambda at: None
    stopped: threading.Event = field(default_factory=threading.Event)

    def run(self, *, once: bool = False) -> int:
        """Until it is stopped, or, ``once``, until nothing is due; what was begun is finished. How many came through.

        A database that is away or busy is waited for.
        """
        sending: dict[Future[Outcome], Taken] = {}
        came, swept = 0, None
        with ThreadPoolExecutor(_THREADS) as pool:
            while True:
                at = self.clock()
                try:
                    if not self.stopped.is_set():
                        self.also(at)
                        outbox.spread(at=at)
                        if swept is None or (at - swept).total_seconds() > _SWEEP_EVERY_S:
                            outbox.sweep(at=at)
                            swept = at
                        for taken in self._claimed(at, sending):
                            sending[pool.submit(self._send, taken)] = taken
                    done, _ = wait(sending, timeout=self.poll_s, return_when=FIRST_COMPLETED)
                    for one in done:
                        came += self._settle(sending[one], one.result())
                        del sending[one]
                except (OperationalError, InterfaceError) as trouble:
                    if self.stopped.is_set():
                        return came
                    self.say(f"The database cannot be used now ({trouble}); tried again in a moment.")
                    self.stopped.wait(self.poll_s)
                    continue
                if sending:
                    continue
                if self.stopped.is_set() or (once and not done):
                    return came
                if not done:
                    self.stopped.wait(self.poll_s)

    def _claimed(self, at: datetime, sending: dict[Future[Outcome], Taken]) -> list[Taken]:
        """No more than begin at once: what waits for a thread would use up its lease."""
        under_way = {taken.webhook for taken in sending.values()}
        return outbox.claim(at=at, under_way=under_way, most=_THREADS - len(sending), lease=self.lease)

    def _send(self, taken: Taken) -> Outcome:
        """In a thread of its own, without the database."""
        headers = signed(taken.body, message=taken.message, at=self.clock(), secrets=taken.secrets)
        return post(taken.url, taken.body, headers, own=addresses.own_networks())

    def _settle(self, taken: Taken, outcome: Outcome) -> int:
        at = self.clock()
        if outcome.delivered:
            outbox.came_through(taken, said=outcome.said, at=at)
            return 1
        next_at = outbox.failed(
            taken, said=outcome.said, at=at, gone=outcome.status == _GONE, asked_wait_s=outcome.wait_s, pace=self.pace
        )
        then = f"again at {next_at:%Y-%m-%d %H:%M:%S} UTC" if next_at is not None else "not again by itself"
        self.say(f"Webhook {taken.webhook}, {taken.event} ({taken.message}): {outcome.said}; {then}.")
        return 0
