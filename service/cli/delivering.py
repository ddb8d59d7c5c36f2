"""The command that sends webhooks."""

import signal
from datetime import timedelta
from typing import Any

import click

from service import opening
from service.cli.asking import DONE, Command, note
from service.config import Settings
from service.delivering import Worker
from service.operations.ledger import outbox
from service.sending import addresses


@click.command(cls=Command)
@click.option("--once", is_flag=True, help="Send what is due now, and end.")
@click.option("--poll", default=1.0, show_default=True, type=click.FloatRange(0.05, 60), help="Seconds between looks.")
@click.option("--pace", default=1.0, hidden=True, type=click.FloatRange(0.0001, 1))
@click.option("--lease", default=outbox.LEASE.total_seconds(), hidden=True, type=click.FloatRange(1, 600))
@click.pass_obj
def deliver(settings: Settings, once: bool, poll: float, pace: float, lease: float) -> int:
    """Tell other systems what happens: send the shop's webhooks until SIGTERM or Ctrl-C.

    Runs beside the service, on the same account; several may. What does not arrive is tried ten times over three days,
    then kept (GET /v1/webhooks/…/deliveries?state=dead) until it is sent again.
    """
    opening.open_account(settings)
    addresses.allow_own(settings.webhook_network)
    worker = Worker(say=note, poll_s=poll, pace=pace, lease=timedelta(seconds=lease))

    def stop(number: int, frame: Any) -> None:
        worker.stopped.set()

    for each in (signal.SIGTERM, signal.SIGINT):
        signal.signal(each, stop)
    if not once:
        note("Potmark sends what happens (Ctrl-C stops it).")
    came = worker.run(once=once)
    note(f"{came} {'delivery' if came == 1 else 'deliveries'} came through.")
    return DONE
