"""The command that sends webhooks."""

import signal
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import click

from service import opening
from service.cli.asking import DONE, Command, machines_act, note
from service.config import Settings
from service.database import connected
from service.delivering import Worker
from service.operations.door import shop
from service.operations.door.refusals import Refusal
from service.operations.ledger import outbox
from service.operations.stock.watching import watch_stock
from service.sending import addresses


@dataclass
class DailyLook:
    """The look over the stock, once a day of the shop; of several workers one does it."""

    say: Callable[[str], None]
    from_h: int
    within_days: int
    done_on: date | None = None
    trouble: str = ""

    def due(self, at: datetime) -> None:
        if self.done_on is not None and at.date() <= self.done_on:
            return
        with connected():
            there = at.astimezone(ZoneInfo(shop.the_site().zone))
            if there.hour < self.from_h or there.date() == self.done_on:
                return
            try:
                act = replace(
                    machines_act(), occurred_at=at, recorded_at=at, idempotency_key=f"stock of {there.date()}"
                )
                watch_stock(act, within_days=self.within_days)
            except Refusal as trouble:
                if str(trouble) != self.trouble:
                    self.trouble = str(trouble)
                    self.say(f"The stock was not looked over: {trouble}")
                return
        self.done_on = there.date()


@click.command(cls=Command)
@click.option("--once", is_flag=True, help="Send what is due now, and end.")
@click.option("--poll", default=1.0, show_default=True, type=click.FloatRange(0.05, 60), help="Seconds between looks.")
@click.option("--look/--no-look", default=True, show_default=True, help="Look over the stock once a day.")
@click.option("--look-at", "look_at_h", default=6, show_default=True, type=click.IntRange(0, 23),
              help="Not before this hour of the shop's clock.")  # fmt: skip
@click.option("--within", "within_days", default=14, show_default=True, type=click.IntRange(0, 365),
              help="Cans that are past their date within so many days are told of.")  # fmt: skip
@click.option("--pace", default=1.0, hidden=True, type=click.FloatRange(0.0001, 1),
              help="Waits are cut to this share, to try it out.")  # fmt: skip
@click.option("--lease", default=outbox.LEASE.total_seconds(), hidden=True, type=click.FloatRange(1, 600),
              help="For so many seconds a delivery is one worker's.")  # fmt: skip
@click.pass_obj
def deliver(
    settings: Settings, once: bool, poll: float, look: bool, look_at_h: int, within_days: int, pace: float, lease: float
) -> int:
    """Send the shop's webhooks, and look over the stock each day.

    Goes on until SIGTERM or Ctrl-C. Runs beside the service, on the same account; several may. What does not arrive is
    tried ten times over three days, then kept (GET /v1/webhooks/…/deliveries?state=dead) until it is sent again.
    """
    opening.open_account(settings)
    opening.stay_with(settings)
    addresses.allow_own(settings.webhook_network)
    daily = DailyLook(say=note, from_h=look_at_h, within_days=within_days)
    worker = Worker(say=note, poll_s=poll, pace=pace, lease=timedelta(seconds=lease))
    if look:
        worker.also = daily.due

    def stop(number: int, frame: Any) -> None:
        worker.stopped.set()

    for each in (signal.SIGTERM, signal.SIGINT):
        signal.signal(each, stop)
    if not once:
        note("Potmark sends what happens (Ctrl-C stops it).")
    came = worker.run(once=once)
    note(f"{came} {'delivery' if came == 1 else 'deliveries'} came through.")
    return DONE
