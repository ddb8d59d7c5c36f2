"""One connection of a caller, from its first byte to its last, and how long each of its steps may take.

h11 (RFC 9112) reads and writes the bytes; what is done here is to wait. A request is gathered whole before a thread is
taken for it, and an answer is whole before its first byte is sent, so that no caller, however slow, holds a thread or
the database. Whoever is silent or slow beyond the limits is cut off.
"""

import asyncio
import json
import logging
import os
from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum, auto
from http import HTTPStatus
from io import BytesIO
from tempfile import SpooledTemporaryFile
from typing import IO, TYPE_CHECKING

import h11
from werkzeug.http import http_date

from service.api.problems import DOOR
from service.serving.wsgi import Answer, Environ, environ_of

if TYPE_CHECKING:
    from service.serving.callers import Callers

log = logging.getLogger("potmark.serving")


@dataclass(frozen=True, slots=True)
class Limits:
    """What one caller may take of a server process."""

    # From the connection (its TLS handshake included) to the end of the first request's head. A phone at the edge of
    # the wireless network needs a second or two.
    head_s: float = 10
    # Between two requests on one connection.
    idle_s: float = 30
    # A body, and the taking of an answer: so long, and as much longer as its bytes need at the slowest pace
    # (what Apache's mod_reqtimeout calls MinRate; its documentation suggests 20 s for a body).
    grace_s: float = 20
    pace_bytes_s: int = 20_000
    # How long an answer that came before the end of its request is given to be read.
    linger_s: float = 5
    head_bytes: int = 32_768
    # As much body is taken from someone who has not shown a key.
    stranger_bytes: int = 8_192
    # Beyond this a body, or an answer, waits in a file.
    memory_bytes: int = 131_072
    # Answers that wait for slow readers, all of a process together.
    unsent_bytes: int = 268_435_456


class Step(Enum):
    """Where a connection stands."""

    HEAD = auto()
    BODY = auto()
    WORK = auto()
    ANSWER = auto()
    LINGER = auto()
    GONE = auto()


_AT_ONCE = 65_536
_BOTH_DONE = {h11.CLIENT: h11.DONE, h11.SERVER: h11.DONE}


class Connection(asyncio.Protocol):
    """The other side of one caller."""

    def __init__(self, callers: "Callers") -> None:
        self.callers = callers
        self.limits = callers.limits
        self.step = Step.HEAD
        # Set by whoever accepts the connection: gives up a TLS handshake that is still under way.
        self.give_up: Callable[[], object] = lambda: None
        self.unsent = 0
        self._http = h11.Connection(h11.SERVER, self.limits.head_bytes)
        self._transport: asyncio.Transport | None = None
        self._tls = False
        self._timer: asyncio.TimerHandle | None = None
        self._environ: Environ = {}
        self._method = ""
        self._body: IO[bytes] | None = None
        self._length = 0
        self._content: IO[bytes] | None = None
        self._full = False
        self._last = False
        self._began = False
        self._wait_at_most(self.limits.head_s)

    # What asyncio says.

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        assert isinstance(transport, asyncio.Transport)
        self._transport = transport
        self._tls = transport.get_extra_info("sslcontext") is not None
        # What was written is known to have gone out when nothing is left. (TLS pauses at the limit, TCP beyond it.)
        transport.set_write_buffer_limits(high=1 if self._tls else 0, low=0)

    def data_received(self, data: bytes) -> None:
        if self.step is Step.LINGER:
            return
        if self.step is Step.HEAD and not self._began:
            self._began = True
            if self._environ:  # the first head has the time since the connection
                self._wait_at_most(self.limits.head_s)
        self._http.receive_data(data)
        self._read_on()

    def eof_received(self) -> bool:
        if self.step in (Step.HEAD, Step.BODY):
            self._http.receive_data(b"")
            self._read_on()
        elif self.step is Step.LINGER:
            self._close()
        else:
            self._last = True
        # Who has said all may still listen; TLS knows no half-closed connection.
        return not self._tls and self.step is not Step.GONE

    def pause_writing(self) -> None:
        self._full = True

    def resume_writing(self) -> None:
        self._full = False
        if self.step is Step.ANSWER:
            self._send_on()

    def connection_lost(self, error: Exception | None) -> None:
        self._let_go()

    # From outside.

    def abort(self) -> None:
        """Cut the connection off, wherever it stands."""
        if self._transport is None:
            self.give_up()
        else:
            self._transport.abort()
        self._let_go()

    def stop(self) -> None:
        """The server stops: what is under way is finished, nothing new is begun."""
        if self.step is Step.HEAD:
            self.abort()
        self._last = True

    # The request.

    def _read_on(self) -> None:
        while self.step in (Step.HEAD, Step.BODY):
            try:
                event = self._http.next_event()
            except h11.RemoteProtocolError as error:
                self._refuse(error)
                return
            if event is h11.NEED_DATA or event is h11.PAUSED:
                return
            if isinstance(event, h11.Request):
                self._take_head(event)
            elif isinstance(event, h11.Data):
                self._take_body(event.data)
            elif isinstance(event, h11.EndOfMessage):
                self._work()
            else:
                self._close()

    def _take_head(self, request: h11.Request) -> None:
        assert self._transport is not None
        self._environ = environ_of(request, self._transport)
        self._method = self._environ["REQUEST_METHOD"]
        self._body, self._length = None, 0
        announced = self._environ.get("CONTENT_LENGTH")
        chunked = "HTTP_TRANSFER_ENCODING" in self._environ
        self._gather()
        if announced is not None and chunked:
            # Two lengths: a proxy in front may have gone by the other one (RFC 9112, 6.3 and 11.2).
            self._last = True
            self._say(400, DOOR["bad-request"][1])
            return
        if announced is None and not chunked:
            return
        if announced is not None and int(announced) > self.callers.longest_body:
            self._work()  # the application knows what it says to so much
        elif chunked or int(announced or 0) > self.limits.stranger_bytes:
            self._rest()
            self.callers.ask_whether_known(self, self._environ)
        else:
            self._tell_to_go_on()

    def known(self, is_known: bool) -> None:
        """Whether a caller who has more to send has shown a key that opens something."""
        if self.step is not Step.WORK or self._transport is None:
            return
        if not is_known:
            self._work()
            return
        self._gather()
        self._transport.resume_reading()
        self._tell_to_go_on()
        self._read_on()

    def _gather(self) -> None:
        self.step = Step.BODY
        self.callers.stands(self)
        self._wait_at_most(self.limits.grace_s, self._is_body_due)

    def _rest(self) -> None:
        """A thread has the word; nothing more is read, and no time is counted."""
        assert self._transport is not None
        self.step = Step.WORK
        self.callers.stands(self)
        self._wait_at_most(None)
        self._transport.pause_reading()

    def _tell_to_go_on(self) -> None:
        if self._http.they_are_waiting_for_100_continue:
            self._write(self._http.send(h11.InformationalResponse(status_code=100, headers=[], reason="Continue")))

    def _take_body(self, data: bytes) -> None:
        if self._body is None:
            self._body = SpooledTemporaryFile(max_size=self.limits.memory_bytes)  # noqa: SIM115 - closed when used up
        self._length += len(data)
        if self._length > self.callers.longest_body:
            self._work()
            return
        self._body.write(data)

    def _is_body_due(self) -> float:
        return self.limits.grace_s + self._length / self.limits.pace_bytes_s

    def _work(self) -> None:
        """Hand the request over to a thread: whole, or so far as the application needs to see to refuse it."""
        whole = self._http.their_state is not h11.SEND_BODY
        if not whole and self._body is not None:
            self._body.close()
            self._body = None
        body, self._body = self._body or BytesIO(), None
        body.seek(0)
        if self._length:
            self._environ["CONTENT_LENGTH"] = str(self._length)
        self._environ.pop("HTTP_TRANSFER_ENCODING", None)
        if not whole:
            self._last = True
        self._environ["wsgi.input"] = body
        self._rest()
        self.callers.work(self, self._environ)

    def _refuse(self, error: h11.RemoteProtocolError) -> None:
        """What cannot be read as a request, or ended before its time."""
        cut = self.step is Step.BODY
        if not cut and not self._began:
            self._close()
            return
        self._last = True
        detail = "The body ended before all of it had come; send it again whole." if cut else DOOR["bad-request"][1]
        self._say(error.error_status_hint, detail)

    def _say(self, status: int, detail: str) -> None:
        """A problem document that the application has no part in."""
        title = DOOR["bad-request"][0] if status == 400 else HTTPStatus(status).phrase
        problem = {"type": "/problems/bad-request", "title": title, "status": status, "detail": detail}
        content = BytesIO()
        content.write(json.dumps(problem).encode())
        self.answer(Answer(status, [(b"content-type", b"application/problem+json")], content))

    # The answer.

    def answer(self, answer: Answer) -> None:
        """Send what a thread has worked out."""
        if self._transport is None or self._transport.is_closing() or self.step is Step.GONE:
            answer.content.close()
            return
        size = answer.content.tell()
        answer.content.seek(0)
        headers = [*answer.headers, (b"date", http_date().encode())]
        bodiless = self._method == "HEAD" or answer.status in (204, 304)
        if not bodiless and not any(name == b"content-length" for name, _ in headers):
            headers.append((b"content-length", str(size).encode()))
        if self._last or self.callers.stopping:
            headers.append((b"connection", b"close"))
        self._content = answer.content
        self.step, self.unsent = Step.ANSWER, size
        self.callers.stands(self)
        self._wait_at_most(self.limits.grace_s + size / self.limits.pace_bytes_s)
        reason = HTTPStatus(answer.status).phrase if answer.status in HTTPStatus._value2member_map_ else ""
        if bodiless:
            self._content.seek(0, os.SEEK_END)
        self._write(self._http.send(h11.Response(status_code=answer.status, headers=headers, reason=reason)))
        if not self._full:
            self._send_on()

    def _send_on(self) -> None:
        """As much as the caller takes; asyncio calls again when it has taken that."""
        while self._content is not None and not self._full and self.step is Step.ANSWER:
            data = self._content.read(_AT_ONCE)
            if not data:
                self._content.close()
                self._content = None
                self._write(self._http.send(h11.EndOfMessage()))
                break
            self._write(self._http.send(h11.Data(data=data)))
        if self._content is None and not self._full and self.step is Step.ANSWER:
            self._answered()

    def _answered(self) -> None:
        assert self._transport is not None
        self.unsent = 0
        if self._http.their_state in (h11.IDLE, h11.SEND_BODY, h11.ERROR):
            self._linger()
        elif self._last or self.callers.stopping or self._http.states != _BOTH_DONE:
            self._close()
        else:
            self._http.start_next_cycle()
            self.step, self._began, self._method = Step.HEAD, False, ""
            self.callers.stands(self)
            self._wait_at_most(self.limits.idle_s)
            self._transport.resume_reading()
            self._read_on()

    def _linger(self) -> None:
        """Closing on a caller who is still sending would take the answer from them before they read it."""
        assert self._transport is not None
        self.step = Step.LINGER
        self.callers.stands(self)
        self._wait_at_most(self.limits.linger_s)
        if self._transport.can_write_eof():
            self._transport.write_eof()
        self._transport.resume_reading()

    # Ends.

    def _write(self, data: bytes | None) -> None:
        assert self._transport is not None
        if data and not self._transport.is_closing():
            self._transport.write(data)

    def _close(self) -> None:
        """Say goodbye; what is on its way still goes out."""
        assert self._transport is not None
        self.step = Step.LINGER
        self.callers.stands(self)
        self._wait_at_most(self.limits.grace_s)
        self._transport.close()

    def _let_go(self) -> None:
        if self.step is Step.GONE:
            return
        self.step = Step.GONE
        self._wait_at_most(None)
        for held in (self._body, self._content):
            if held is not None:
                held.close()
        self.callers.left(self)

    def _wait_at_most(self, seconds: float | None, longer: Callable[[], float] | None = None) -> None:
        """Cut the connection off when the time is up; ``longer`` tells then how long it may take by now."""
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None
        if seconds is not None:
            begun = self.callers.loop.time()
            self._timer = self.callers.loop.call_later(seconds, self._time_is_up, begun, longer)

    def _time_is_up(self, begun: float, longer: Callable[[], float] | None) -> None:
        left = 0.0 if longer is None else begun + longer() - self.callers.loop.time()
        if left > 0:
            self._timer = self.callers.loop.call_later(left, self._time_is_up, begun, longer)
        elif self.step is Step.BODY or (self.step is Step.HEAD and self._began):
            self._last = True
            self._say(408, "The request did not come in the time it has; send it again.")
        else:
            self.abort()
