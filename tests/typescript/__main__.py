"""A client of another language: what openapi-typescript makes of the description, compiled and used on a real server.

    .venv/bin/python -m tests.typescript      needs Node.js 20 or newer and npm, which fetches package-lock.json

Strictly checked, `use.ts` orders parts, starts one, follows the feed, asks with an ETag, fetches a paper as bytes,
reads a refusal, and knows the type of what a webhook is told. It is no part of the check, which fetches nothing from
npm; what it fetches is pinned, each package by its SHA-512.
"""

import json
import shutil
import subprocess
import tempfile
from pathlib import Path

from service.database import database
from tests import makers
from tests.api.description import document
from tests.cli.conftest import clean_environment
from tests.journeys.test_kill import Plug
from tests.order_system.running import shop_of_today

_HERE = Path(__file__).parent
_COPIED = ("package.json", "package-lock.json", "tsconfig.json", "use.ts")


def main() -> int:
    with tempfile.TemporaryDirectory(prefix="potmark-typescript-") as folder:
        home = Path(folder)
        for name in _COPIED:
            shutil.copy(_HERE / name, home)
        (home / "openapi.json").write_text(json.dumps(document()), "utf-8")
        for command in (
            ("npm", "ci", "--ignore-scripts", "--no-audit", "--no-fund", "--loglevel=error"),
            ("npx", "openapi-typescript", "openapi.json", "--enum", "-o", "potmark.ts"),
            ("npx", "tsc", "-p", "."),
        ):
            subprocess.run(command, cwd=home, check=True)
        url = f"sqlite:///{home}/potmark.db"
        api = shop_of_today(url, home)
        makers.design(api)
        plug = Plug({**clean_environment(), "POTMARK_DATABASE": url}, home / "server.log")
        plug.start()
        try:
            address, key = f"http://127.0.0.1:{plug.port}", api.shop.keys["integrator"]
            return subprocess.run(["node", "out/use.js", address, key], cwd=home, check=False).returncode
        finally:
            plug.pull()
            database.close_all()


if __name__ == "__main__":
    raise SystemExit(main())
