"""The bad line between an order system and the service: it loses, doubles, delays and swaps what is sent over it.

A proxy that takes one request at a time on each connection and picks its fate by a seed. What it loses is never told:
whoever sent it waits until they give up, or hears the connection end.
"""

import http.client
import threading
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from random import Random
from typing import Any

# Fates and how many of a hundred requests meet them; all others go through.
FATES = {
    "lost": 5,  # it never arrives
    "unheard": 5,  # it arrives, and the answer is lost
    "slow": 4,  # it arrives, and the answer comes when nobody waits any more
    "doubled": 8,  # it arrives twice, both at the same time
    "overtaken": 6,  # it arrives after what was sent later, its own repetition among it
}
_NOT_PASSED_ON = {"connection", "keep-alive", "transfer-encoding", "content-length", "host"}

Answer = tuple[int, list[tuple[str, str]], bytes]


@dataclass
class Trouble:
    """Where the line leads, how bad it is, and what it has done."""

    to: int
    patience_s: float
    fates: Random
    met: Counter[str] = field(default_factory=Counter)
    port: int = 0
    quiet: bool = False
    _late: list[threading.Thread] = field(default_factory=list)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def fate(self) -> str:
        with self._lock:
            picked = self.fates.randrange(100)
            for name, share in FATES.items():
                picked -= share
                if picked < 0 and not self.quiet:
                    self.met[name] += 1
                    return name
            self.met["passed"] += 1
            return "passed"

    def pass_on(self, method: str, path: str, headers: dict[str, str], body: bytes) -> Answer | None:
        """Hand it over and give what is answered; nothing if nobody answered."""
        connection = http.client.HTTPConnection("127.0.0.1", self.to, timeout=30)
        try:
            connection.request(method, path, body, headers)
            response = connection.getresponse()
            return response.status, response.getheaders(), response.read()
        except (OSError, http.client.HTTPException):
            with self._lock:
                self.met["cut off"] += 1
            return None
        finally:
            connection.close()

    def later(self, after_s: float, *request: Any) -> threading.Thread:
        """Hand it over some time from now, or at once beside another; nobody hears what is answered."""

        def hand_over() -> None:
            time.sleep(after_s)
            self.pass_on(*request)

        thread = threading.Thread(target=hand_over, daemon=True)
        with self._lock:
            self._late = [one for one in self._late if one.is_alive()] + [thread]
        thread.start()
        return thread

    def settle(self) -> None:
        """Wait until all that is still under way has arrived."""
        for thread in list(self._late):
            thread.join(timeout=60)


@contextmanager
def bad_line(trouble: Trouble) -> Iterator[Trouble]:
    """The proxy, for the length of the block."""

    class Handler(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"

        def answer(self) -> None:
            body = self.rfile.read(int(self.headers.get("Content-Length") or 0))
            headers = {name: value for name, value in self.headers.items() if name.lower() not in _NOT_PASSED_ON}
            request = (self.command, self.path, headers, body)
            match trouble.fate():
                case "lost":
                    found = None
                case "overtaken":
                    trouble.later(trouble.fates.uniform(0.2, 3), *request)
                    found = None
                case "unheard":
                    trouble.pass_on(*request)
                    found = None
                case "slow":
                    found = trouble.pass_on(*request)
                    time.sleep(trouble.patience_s * 1.2)
                case "doubled":
                    trouble.later(0, *request)
                    found = trouble.pass_on(*request)
                case _:
                    found = trouble.pass_on(*request)
            self.hand_back(found)

        do_GET = do_POST = do_PATCH = answer  # noqa: N815

        def hand_back(self, found: Answer | None) -> None:
            if found is None:
                self.close_connection = True
                return
            status, headers, content = found
            with suppress(OSError):
                self.send_response_only(status)
                for name, value in headers:
                    if name.lower() not in _NOT_PASSED_ON:
                        self.send_header(name, value)
                self.send_header("Content-Length", str(len(content)))
                self.end_headers()
                self.wfile.write(content)

        def log_message(self, *_: Any) -> None:
            pass

    class Line(ThreadingHTTPServer):
        def handle_error(self, request: Any, client_address: Any) -> None:
            """Whoever is killed leaves their connections as they are; that is what is tried here."""

    server = Line(("127.0.0.1", 0), Handler)
    server.daemon_threads = True
    trouble.port = server.server_address[1]
    thread = threading.Thread(target=server.serve_forever, args=(0.05,), daemon=True)
    thread.start()
    try:
        yield trouble
    finally:
        trouble.settle()
        server.shutdown()
        server.server_close()
