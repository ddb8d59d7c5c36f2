"""The command in real processes: a folder, an environment, and a server that is stopped at the end."""

import contextlib
import io
import json
import os
import signal
import socket
import sqlite3
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from service import cli

POTMARK = Path(sys.executable).with_name("potmark")

# The administrator's key and the file, once there are any.
_FOUNDED: list[tuple[str, bytes]] = []


@dataclass
class Shell:
    """A folder, an environment, and the command in it."""

    folder: Path
    environment: dict[str, str]

    def __call__(self, *arguments: str, **settings: str) -> subprocess.CompletedProcess[str]:
        assert POTMARK.is_file(), "install the checkout first: pip install --no-deps -e ."
        return subprocess.run(
            [POTMARK, *arguments],
            cwd=self.folder,
            env={**self.environment, **settings},
            capture_output=True,
            text=True,
            timeout=600,
        )

    def refused(self, *arguments: str, **settings: str) -> str:
        """Refused as everything foreseeable is: status 2, one sentence, nothing on the standard output."""
        done = self(*arguments, **settings)
        assert (done.returncode, done.stdout) == (2, ""), done
        assert done.stderr.count("\n") == 1, done.stderr
        assert done.stderr.startswith("potmark: ")
        return done.stderr.removeprefix("potmark: ").strip()

    def here(self, *arguments: str, **settings: str) -> tuple[int, str, str]:
        """The same within this process, for the many ways of asking: a process for each would cost a second."""
        here, before, mask = Path.cwd(), dict(os.environ), os.umask(0o022)
        said, wrong = io.StringIO(), io.StringIO()
        try:
            os.chdir(self.folder)
            os.environ.clear()
            os.environ.update({**self.environment, **settings})
            with contextlib.redirect_stdout(said), contextlib.redirect_stderr(wrong):
                status = cli.main(arguments)
        finally:
            os.chdir(here)
            os.environ.clear()
            os.environ.update(before)
            os.umask(mask)
        return status, said.getvalue(), wrong.getvalue()

    def refused_here(self, *arguments: str, **settings: str) -> str:
        """Refused within this process."""
        status, said, wrong = self.here(*arguments, **settings)
        assert (status, said) == (2, "")
        assert wrong.count("\n") == 1, wrong
        assert wrong.startswith("potmark: ")
        return wrong.removeprefix("potmark: ").strip()

    def done(self, *arguments: str) -> str:
        done = self(*arguments)
        assert done.returncode == 0, done.stderr
        return done.stdout.strip()

    def init(self) -> str:
        return self.done("init", "--site", "Heron Yard", "--zone", "Europe/Copenhagen", "--administrator", "Ada Lund")

    def founded(self) -> str:
        """What `init` leaves behind: made once, its file copied from then on."""
        file = self.folder / "potmark.db"
        if not _FOUNDED:
            key = self.init()
            with contextlib.closing(sqlite3.connect(file)) as db:
                _FOUNDED.append((key, db.serialize()))
            return key
        key, content = _FOUNDED[0]
        file.write_bytes(content)
        file.chmod(0o600)
        return key


@pytest.fixture
def potmark(tmp_path: Path) -> Shell:
    return Shell(tmp_path, clean_environment())


def clean_environment() -> dict[str, str]:
    """This process's environment without settings, and with a port that nobody uses."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith("POTMARK_")}
    return {**kept, "POTMARK_BIND": f"127.0.0.1:{free_port()}"}


def free_port() -> int:
    with socket.socket() as trial:
        trial.bind(("127.0.0.1", 0))
        return int(trial.getsockname()[1])


@dataclass
class Server:
    process: subprocess.Popen[str]
    address: str

    def call(self, path: str, body: Any = None, *, key: str = "", token: str = "") -> tuple[int, Any]:
        request = urllib.request.Request(
            self.address + path,
            data=None if body is None else json.dumps(body).encode(),
            headers={
                "Content-Type": "application/json",
                "Authorization": f"Bearer {key}",
                **({"Signing-Token": token} if token else {}),
            },
        )
        try:
            with urllib.request.urlopen(request, timeout=30) as answer:
                return answer.status, json.load(answer)
        except urllib.error.HTTPError as error:
            with error:
                return error.code, json.load(error)

    def stop(self, how: signal.Signals) -> int:
        self.process.send_signal(how)
        return self.process.wait(timeout=40)


@pytest.fixture
def serve(potmark: Shell) -> Iterator[Callable[..., Server]]:
    """Start a server and wait until it answers; whatever still runs at the end is stopped."""
    started: list[subprocess.Popen[str]] = []

    def start(*arguments: str) -> Server:
        process = subprocess.Popen(
            [POTMARK, *(arguments or ("serve",))],
            cwd=potmark.folder,
            env=potmark.environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        started.append(process)
        server = Server(process, f"http://{potmark.environment['POTMARK_BIND']}")
        until = time.monotonic() + 90
        while True:
            assert process.poll() is None, process.stderr and process.stderr.read()
            try:
                assert server.call("/healthz") == (200, {"status": "ok"})
                return server
            except OSError:
                assert time.monotonic() < until, "no answer in 90 s"
                time.sleep(0.05)

    yield start
    for process in started:
        if process.poll() is None:
            process.kill()
        process.communicate()
