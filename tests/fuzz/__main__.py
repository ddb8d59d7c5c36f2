"""Send the running service whatever its description lets in, and much that it does not: `python -m tests.fuzz`.

A shop is founded in a folder of its own and led through the examples of the description, so that there is something to
strike; then schemathesis runs all its phases against the server. No answer may be a 5xx, and none may be another than
the description says. Seeded, so that what it finds can be found again.

Nearly all of the time is spent in making up requests and comparing answers, not in the service, and what a call may
spoil (a revoked key, a person who left) spoils the calls after it. So the description goes in shares of a few calls
each, every share with its own copy of the shop and its own server, two at a time. Calls that lead from one to another
across shares come last, by the stateful phase over the whole.
"""

import argparse
import http.client
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from service.app import create_app
from service.config import Settings
from service.database import connected, database, open_database
from service.opening import make_secrets_key
from service.operations.door import founding
from tests.api.walk import Walker, examples
from tests.cli.conftest import POTMARK, free_port

CHECKS = (
    "not_a_server_error",
    "status_code_conformance",
    "content_type_conformance",
    "response_headers_conformance",
    "response_schema_conformance",
    "negative_data_rejection",
    "missing_required_header",
    "unsupported_method",
    "allow_header_conformance",
    "ignored_auth",
)
PHASES = "examples,coverage,fuzzing,stateful"
WHOLE = "stateful"
PATHS_OF_A_SHARE = 10
# Walks from call to call end of themselves after some thirty; for so long they are begun again, by other seeds.
WALKS_S = 300
DESCRIPTION = "openapi.json"


@dataclass(frozen=True)
class Share:
    """Some paths of the description, and what is done with them."""

    name: str
    pattern: str
    phases: str


def main() -> int:
    asked = argparse.ArgumentParser(prog="python -m tests.fuzz", description="Fuzz the service by its description.")
    asked.add_argument("--examples", type=int, default=60, help="cases for each call in the random phases")
    asked.add_argument("--seed", type=int, default=7)
    asked.add_argument("--phases", default=PHASES)
    asked.add_argument("--most-s", type=int, default=1200, help="seconds after which a share ends, and fails")
    asked.add_argument("--only", default="", help="a pattern of paths")
    asked.add_argument("--at-once", type=int, default=2, help="shares that run beside each other")
    given = asked.parse_args()
    began = time.monotonic()
    with tempfile.TemporaryDirectory(prefix="potmark-fuzz-") as folder:
        description = walk(Path(folder) / "walked")
        (Path(folder) / DESCRIPTION).write_text(json.dumps(description))
        with ThreadPoolExecutor(given.at_once) as runners:
            outcomes = list(runners.map(lambda share: strike(Path(folder), share, given), shares(description, given)))
    print(f"{len(outcomes)} shares, {outcomes.count(False)} with findings, {time.monotonic() - began:.0f} s, "
          f"seed {given.seed}", flush=True)  # fmt: skip
    return 0 if all(outcomes) else 1


def shares(description: dict[str, Any], given: argparse.Namespace) -> Iterator[Share]:
    """The paths by what they are about, a few in each; formulas first, and the whole last."""
    about: dict[str, list[str]] = {}
    # What leads from one call to another is tried over the whole: a share may have no such calls, which is an error.
    alone = ",".join(phase for phase in given.phases.split(",") if phase != WHOLE)
    for path, calls in description["paths"].items():
        if re.search(given.only, path):
            call = next(said for said in calls.values() if isinstance(said, dict) and said.get("tags"))
            about.setdefault(call["tags"][0], []).append(path)
    for tag, paths in sorted(about.items(), key=lambda one: -len(one[1])):
        for start in range(0, len(paths), PATHS_OF_A_SHARE):
            some = "|".join(map(re.escape, paths[start : start + PATHS_OF_A_SHARE]))
            yield Share(f"{tag} {start // PATHS_OF_A_SHARE + 1}", f"^({some})$", alone)
    if WHOLE in given.phases.split(",") and not given.only:
        yield Share("whole", "", WHOLE)


def strike(folder: Path, share: Share, given: argparse.Namespace) -> bool:
    """Serve a copy of the shop and strike it; True if schemathesis and the server's log have nothing to say."""
    place = folder / share.name
    shutil.copytree(folder / "walked", place)
    port, began = free_port(), time.monotonic()
    environment = {
        **os.environ,
        "POTMARK_DATABASE": f"sqlite:///{place}/potmark.db",
        "POTMARK_BIND": f"127.0.0.1:{port}",
        "PYTHONPATH": str(Path(__file__).parents[2]),
        "SCHEMATHESIS_HOOKS": "tests.fuzz.keys",
    }
    with (place / "server.log").open("w") as log:
        server = subprocess.Popen([POTMARK, "serve"], cwd=place, env=environment, stdout=log, stderr=log)
    try:
        wait_for(f"http://127.0.0.1:{port}/healthz")
        struck = subprocess.run(
            [
                sys.executable, "-m", "schemathesis.cli", "run", str(folder / DESCRIPTION),
                "--url", f"http://127.0.0.1:{port}",
                "--phases", share.phases, "--checks", ",".join(CHECKS), "--max-examples", str(given.examples),
                "--seed", str(given.seed), "--continue-on-failure", "--no-color", "--request-timeout", "120",
                # How long a body takes to make up says how busy the machine is, and nothing of the service.
                "--suppress-health-check", "too_slow",
                *(["--include-path-regex", share.pattern] if share.pattern else []),
                *(["--max-time", str(WALKS_S)] if share.phases == WHOLE else []),
            ],
            cwd=place, env=environment, timeout=given.most_s, capture_output=True, text=True, check=False,
        )  # fmt: skip
        outcome, said = struck.returncode, struck.stdout + struck.stderr
    except subprocess.TimeoutExpired as late:
        outcome, said = 1, f"{(late.stdout or b'').decode(errors='replace')}\nCut short after {given.most_s} s."
    finally:
        server.terminate()
        server.wait(timeout=60)
    logged = (place / "server.log").read_text("utf-8")
    good = not outcome and "Traceback" not in logged
    cases = re.search(r"(\d[\d,]*) generated", said)
    print(f"{'passed' if good else 'FAILED'}: {share.name}, {cases[1] if cases else 'no'} cases, "
          f"{time.monotonic() - began:.0f} s, {share.pattern}", flush=True)  # fmt: skip
    if not good:
        print(said, logged[logged.find("Traceback") :][:20_000] if "Traceback" in logged else "", flush=True)
    shutil.rmtree(place)
    return good


def walk(folder: Path) -> dict[str, Any]:
    """Found a shop there, send the examples of its description as they stand, and give the description."""
    folder.mkdir()
    url = f"sqlite:///{folder}/potmark.db"
    open_database(url)
    with connected():
        founding.migrate()
        key = founding.found(site="Yard", zone="Europe/Copenhagen", administrator="Ada", at=datetime.now(UTC)).key
    settings = Settings(database=url)
    make_secrets_key(settings)
    walker = Walker(create_app(settings).test_client(), {0: key})
    description: dict[str, Any] = walker.client.get("/openapi.json").get_json()
    for request in examples(description):
        if request.number:
            walker.send(request)
    database.close()
    return description


def wait_for(address: str) -> None:
    until = time.monotonic() + 300
    while True:
        try:
            urllib.request.urlopen(address, timeout=5).close()
            return
        except (OSError, http.client.HTTPException):
            # Not listening yet, or too busy on a busy machine.
            if time.monotonic() > until:
                raise
            time.sleep(0.1)


if __name__ == "__main__":
    sys.exit(main())
