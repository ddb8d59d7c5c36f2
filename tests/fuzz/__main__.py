"""Send the running service whatever its description lets in, and much that it does not: `python -m tests.fuzz`.

A shop is founded in a folder of its own and led through the examples of the description, so that there is something to
strike; then schemathesis runs all its phases against the server. No answer may be a 5xx, and none may be another than
the description says. Seeded, so that what it finds can be found again.
"""

import argparse
import os
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
from datetime import UTC, datetime
from pathlib import Path

from service.app import create_app
from service.config import Settings
from service.database import connected, open_database
from service.operations.door import founding
from tests.api.walk import examples
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


def main() -> int:
    asked = argparse.ArgumentParser(prog="python -m tests.fuzz", description="Fuzz the service by its description.")
    asked.add_argument("--examples", type=int, default=60, help="cases for each call in the random phases")
    asked.add_argument("--seed", type=int, default=7)
    asked.add_argument("--phases", default=PHASES)
    asked.add_argument("--most-s", type=int, default=3600, help="seconds after which it ends, and fails if cut short")
    asked.add_argument("--only", default="", help="a pattern of paths")
    given = asked.parse_args()
    with tempfile.TemporaryDirectory(prefix="potmark-fuzz-") as folder:
        return fuzz(Path(folder), given)


def fuzz(folder: Path, given: argparse.Namespace) -> int:
    """Found, fill, serve, strike; what schemathesis says is the outcome."""
    url = f"sqlite:///{folder}/potmark.db"
    walk(url)
    port = free_port()
    environment = {**os.environ, "POTMARK_DATABASE": url, "POTMARK_BIND": f"127.0.0.1:{port}"}
    with (folder / "server.log").open("w") as log:
        server = subprocess.Popen([POTMARK, "serve"], cwd=folder, env=environment, stdout=log, stderr=log)
    try:
        wait_for(f"http://127.0.0.1:{port}/healthz")
        began = time.monotonic()
        outcome = subprocess.run(
            [
                sys.executable, "-m", "schemathesis.cli", "run", f"http://127.0.0.1:{port}/openapi.json",
                "--phases", given.phases, "--checks", ",".join(CHECKS), "--max-examples", str(given.examples),
                "--seed", str(given.seed), "--continue-on-failure", "--no-color", "--request-timeout", "30",
                *(["--include-path-regex", given.only] if given.only else []),
            ],
            cwd=folder,
            env={
                **environment,
                "PYTHONPATH": str(Path(__file__).parents[2]),
                "SCHEMATHESIS_HOOKS": "tests.fuzz.keys",
            },
            timeout=given.most_s,
        ).returncode  # fmt: skip
        print(f"{time.monotonic() - began:.0f} s of fuzzing, seed {given.seed}", flush=True)
        said = (folder / "server.log").read_text("utf-8")
    finally:
        server.terminate()
        server.wait(timeout=60)
    if "Traceback" in said:
        print(said[said.index("Traceback") :][:20_000])
    return outcome or "Traceback" in said


def walk(url: str) -> None:
    """Found a shop and send the examples of its description, as they stand."""
    open_database(url)
    with connected():
        founding.migrate()
        key = founding.found(site="Yard", zone="Europe/Copenhagen", administrator="Ada", at=datetime.now(UTC)).key
    client, keys = create_app(Settings(database=url)).test_client(), {0: key}
    for request in examples(client.get("/openapi.json").get_json()):
        if request.number:
            headers = {"Authorization": f"Bearer {keys[request.key_of_step]}", **request.headers}
            answer = client.open(request.path, method=request.method, headers=headers, **request.sent)
            said = answer.get_json(silent=True)
            if isinstance(said, dict) and said.get("secret"):
                keys[request.number] = said["secret"]


def wait_for(address: str) -> None:
    until = time.monotonic() + 60
    while True:
        try:
            urllib.request.urlopen(address, timeout=5).close()
            return
        except urllib.error.URLError:
            if time.monotonic() > until:
                raise
            time.sleep(0.1)


if __name__ == "__main__":
    sys.exit(main())
