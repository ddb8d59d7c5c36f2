"""500 lines on each engine: `python -m tests.order_system`. It ends with figures, and with 1 if anything is wrong."""

import argparse
import tempfile
from contextlib import ExitStack
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from service.app import create_app
from service.config import Settings
from service.database import database
from tests.benchmarks.engines import create_database, postgresql
from tests.cli.conftest import clean_environment
from tests.conftest import Api, Clock, Shop
from tests.fresh import PEPPER, found
from tests.journeys.test_kill import Plug
from tests.order_system.running import generate, run


def main() -> int:
    asked = argparse.ArgumentParser(prog="python -m tests.order_system", description=__doc__)
    asked.add_argument("--lines", type=int, default=500)
    asked.add_argument("--seed", type=int, default=12)
    asked.add_argument("--engine", choices=("sqlite", "postgresql"))
    asked.add_argument("--kill-each-s", type=float, default=12)
    asked.add_argument("--most-s", type=float, default=3000)
    given = asked.parse_args()
    wrong = 0
    with tempfile.TemporaryDirectory(prefix="potmark-orders-") as folder, ExitStack() as servers:
        Path(folder).chmod(0o755)  # the user of PostgreSQL's server comes in here
        generate(Path(folder))
        for engine in (given.engine,) if given.engine else ("sqlite", "postgresql"):
            home = Path(folder) / engine
            home.mkdir()
            url = f"sqlite:///{home}/potmark.db"
            if engine == "postgresql":
                url = create_database(servers.enter_context(postgresql(Path(folder) / "pg")), "potmark")
            api = _shop(url, home)
            plug = Plug({**clean_environment(), "POTMARK_DATABASE": url, "POTMARK_WORKERS": "2"}, home / "server.log")
            try:
                told = run(api, plug, home, Path(folder), lines=given.lines, seed=given.seed,
                           kill_each_s=given.kill_each_s, within_s=given.most_s)  # fmt: skip
            finally:
                plug.pull()
                database.close_all()
            print(f"{engine}: {told.figures()}", *told.wrong[:50], sep="\n  ", flush=True)
            wrong += len(told.wrong)
    return 1 if wrong else 0


def _shop(url: str, home: Path) -> Any:
    """A shop of today, and its people's own way in."""
    now = datetime.now(UTC)
    founded = found(url, now, home / PEPPER)
    settings = Settings(database=url)
    clock = Clock(now)
    client = create_app(settings, clock=clock).test_client()
    shop = Shop(clock, founded.site, founded.people, founded.keys, founded.secrets, founded.tokens, founded.signers)
    return Api(client=client, shop=shop, accounts=None, url=url)  # type: ignore[arg-type]


if __name__ == "__main__":
    raise SystemExit(main())
