"""The long run: 400 events, 12 workers killed, 15 in 100 attempts refused, and what webhooks cost the acts.

    .venv/bin/python -m tests.deliveries [--events 400] [--kills 12] [--workers 2] [--database postgresql://…]

The database that is named has to be an empty one.
"""

import argparse
import os
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from schemas.words import HookEvent, Role
from service.database import connected, database
from service.operations.door.act import Act
from service.operations.ledger.holding import place_hold
from service.operations.ledger.telling import add_webhook
from service.operations.stock.places import add_place
from service.sending import addresses
from tests.deliveries.fire import Fire
from tests.fresh import PEPPER, found
from tests.receiver import receiving

_ACTS = 300


def main() -> int:
    asked = argparse.ArgumentParser()
    asked.add_argument("--events", type=int, default=400)
    asked.add_argument("--kills", type=int, default=12)
    asked.add_argument("--workers", type=int, default=2)
    asked.add_argument("--database")
    given = asked.parse_args()
    with tempfile.TemporaryDirectory() as name, receiving() as receiver:
        folder = Path(name)
        url = given.database or f"sqlite:///{folder}/potmark.db"
        founded = found(url, datetime.now(UTC), folder / PEPPER)
        environment = {k: v for k, v in os.environ.items() if not k.startswith("POTMARK_")} | {
            "POTMARK_DATABASE": url,
            "POTMARK_SECRETS_KEY": str(folder / PEPPER),
            "POTMARK_WEBHOOK_NETWORK": "127.0.0.0/8",
        }
        addresses.allow_own("127.0.0.0/8")

        def act(who: str, role: Role) -> Act:
            now = datetime.now(UTC)
            return Act(founded.people[who], frozenset({role}), founded.site, occurred_at=now, recorded_at=now)

        def hold(number: int) -> None:
            place_hold(act("quality", Role.QUALITY), item=place, reason=f"look {number}")

        with connected():
            place = add_place(act("lead", Role.LEAD), name="Shelf B2").code
            without = _milliseconds(hold)
            told = add_webhook(
                act("administrator", Role.ADMINISTRATOR), url=receiver.url, events=[HookEvent.HOLD_PLACED]
            )
            with_one = _milliseconds(hold)
        print(f"An act takes {without:.2f} ms without a webhook and {with_one:.2f} ms with one (median of {_ACTS}).")
        fire = Fire(
            Path(sys.executable).with_name("potmark"), folder, environment, receiver, str(told.secret),
            lambda _: act("quality", Role.QUALITY), place,
        )  # fmt: skip
        outcome = fire.run(events=given.events, workers=given.workers, kills=given.kills, at_most_s=300, before=_ACTS)
        print(outcome)
        database.close_all()
        return 0 if outcome.arrived == outcome.events and not outcome.forged else 1


def _milliseconds(do: Callable[[int], None]) -> float:
    taken = []
    for number in range(_ACTS):
        begun = time.perf_counter()
        do(number)
        taken.append((time.perf_counter() - begun) * 1000)
    return statistics.median(taken)


if __name__ == "__main__":
    raise SystemExit(main())
