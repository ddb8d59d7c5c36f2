"""What whoever runs the service sees of it: is it alive, is it ready, how much it does, and each request in one line.

- `/healthz` says that the process answers, `/readyz` that the account can be reached and has all its steps.
- `/metrics` counts for Prometheus, over all server processes; from elsewhere than this machine it asks for a key.
- Each answer bears an `X-Request-Id`, the caller's own where it sent a sane one; the logs name it.
- The access log is JSON, one line a request (POTMARK_ACCESS_LOG).
"""

import logging
import os
import re
import secrets
import time
from datetime import UTC, datetime
from typing import Any

import orjson
from flask import Blueprint, Flask, Response, g, request
from peewee import PeeweeException
from prometheus_client import CONTENT_TYPE_LATEST, CollectorRegistry, Counter, Histogram, generate_latest, values
from prometheus_client.multiprocess import MultiProcessCollector

from service.api import access
from service.database import database
from service.operations.door import founding

log = logging.getLogger("potmark")

_SANE = re.compile(r"[A-Za-z0-9._:/+=-]{1,80}", re.ASCII)
# Where the library looks, as it is loaded, for the folder in which the numbers of several processes are kept together.
TOGETHER = "PROMETHEUS_MULTIPROC_DIR"
_OF_THIS_MACHINE = ("127.0.0.1", "::1")

blp = Blueprint("open-health", __name__)


class _Counting:
    """Under what name this process keeps its counts, as the library asks before each of them.

    Where the folder was swept away (a cleaner of temporary files), it is made again and the name is a new one: the
    library then opens new files, and counts from there on as after a start.
    """

    def __init__(self) -> None:
        self._process, self._times = 0, 0

    def __call__(self) -> str:
        if self._process != os.getpid():
            self._process, self._times = os.getpid(), 0
        elif not os.path.exists(os.path.join(os.environ[TOGETHER], f"counter_{self._name()}.db")):
            os.makedirs(os.environ[TOGETHER], mode=0o700, exist_ok=True)
            self._times += 1
        return self._name()

    def _name(self) -> str:
        return f"{self._process}-{self._times}"


if TOGETHER in os.environ:
    values.ValueClass = values.MultiProcessValue(_Counting())
_REQUESTS = Counter("potmark_requests_total", "Requests answered.", ["method", "route", "status"])
_SECONDS = Histogram(
    "potmark_request_seconds", "Time from the request's whole body to its answer.", ["method", "route"],
    buckets=(0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 10),
)  # fmt: skip
_REFUSALS = Counter("potmark_refusals_total", "Requests refused, by the reason's type.", ["type"])


def register(app: Flask, *, log_to: str) -> None:
    """Before all other hooks of the application: what they refuse is seen, too."""
    line = _writer(log_to)

    @app.before_request
    def begin() -> None:
        g.begun = time.perf_counter()
        sent = request.headers.get("X-Request-Id", "")
        g.request_id = sent if _SANE.fullmatch(sent) else secrets.token_hex(8)

    @app.after_request
    def end(response: Response) -> Response:
        took = time.perf_counter() - g.get("begun", time.perf_counter())
        route = request.url_rule.rule if request.url_rule is not None else "none"
        method = request.method if request.url_rule is not None else "other"
        response.headers["X-Request-Id"] = request_id()
        # The act is done by now: a full disk or a folder that is gone may cost its count or its line, not its answer.
        try:
            _REQUESTS.labels(method, route, str(response.status_code)).inc()
            _SECONDS.labels(method, route).observe(took)
            if "problem" in g:
                _REFUSALS.labels(g.problem).inc()
        except (OSError, ValueError):  # the latter of a file that the library had closed
            log.exception("request %s was answered and could not be counted", request_id())
        if line is not None:
            try:
                line(_line(response, took))
            except OSError:
                log.exception("request %s was answered and could not be written to the access log", request_id())
        return response


@blp.get("/healthz")
def healthz() -> dict[str, str]:
    """The process answers; a database that is away is no reason to start it again."""
    return {"status": "ok"}


@blp.get("/readyz")
def readyz() -> tuple[dict[str, str], int]:
    """The account can be reached, and has had all steps of the schema: requests may be sent here."""
    try:
        pending = founding.pending_steps()
    except PeeweeException:
        return {"status": "The database cannot be reached."}, 503
    if pending:
        return {"status": "The account lacks steps of the schema; run `potmark upgrade`."}, 503
    return {"status": "ok"}, 200


@blp.get("/metrics")
def metrics() -> Response:
    """What was counted since the start, by all server processes together."""
    if request.remote_addr not in _OF_THIS_MACHINE:
        database.connect(reuse_if_open=True)
        access.let_in("read_account")
    registry = CollectorRegistry()
    if TOGETHER in os.environ:
        os.makedirs(os.environ[TOGETHER], mode=0o700, exist_ok=True)
        MultiProcessCollector(registry)
    else:
        for each in (_REQUESTS, _SECONDS, _REFUSALS):
            registry.register(each)
    return Response(generate_latest(registry), content_type=CONTENT_TYPE_LATEST)


def request_id() -> str:
    """Of the request that is being answered."""
    found: str = g.get("request_id", "")
    return found


def _line(response: Response, took: float) -> dict[str, Any]:
    visitor = g.get("visitor")
    return {
        "at": datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z"),
        "request": request_id(),
        "method": request.method,
        "path": request.path,
        "status": response.status_code,
        "bytes": response.content_length,
        "ms": round(took * 1000, 1),
        "from": request.remote_addr,
        "key": getattr(visitor, "key", None),
        "person": getattr(visitor, "person", None),
        "system": getattr(visitor, "system", None),
        "agent": request.headers.get("User-Agent", "")[:200],
    }


def _writer(log_to: str) -> Any:
    """One write a line, so that the lines of several processes do not mix."""
    if not log_to:
        return None
    file = 1 if log_to == "-" else os.open(log_to, os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o640)

    def write(line: dict[str, Any]) -> None:
        os.write(file, orjson.dumps(line, option=orjson.OPT_APPEND_NEWLINE))

    return write
