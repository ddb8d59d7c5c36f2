"""500 lines on each engine: `python -m tests.order_system`. It ends with figures, and with 1 if anything is wrong."""

import argparse
import tempfile
from contextlib import ExitStack
from pathlib import Path

from service.database import database
from tests.benchmarks.engines import create_database, postgresql
from tests.cli.conftest import clean_environment
from tests.journeys.test_kill import Plug
from tests.order_system.running import generate, run, shop_of_today


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
            api = shop_of_today(url, home)
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


if __name__ == "__main__":
    raise SystemExit(main())
