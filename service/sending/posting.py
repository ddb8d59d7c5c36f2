"""One signed POST to an address that was looked up once and judged: no second look-up, no redirect, no proxy, one
deadline for all of it."""

import base64
import http.client
import socket
import ssl
import threading
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from standardwebhooks.webhooks import Webhook

from service.sending.addresses import Network, NotFound, Target, Unsuitable, find, take_apart

# Standard Webhooks asks for 15 to 30 s.
DEADLINE_S = 15.0
_CONNECT_S = 5.0
# Of an answer nothing is wanted but its status.
_LOOKED_AT_BYTES = 2048


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one attempt: the status that was answered, if any, and a line for people.

    ``wait_s`` is how long the receiver asked to be left alone (Retry-After).
    """

    status: int | None
    said: str
    wait_s: float | None = None

    @property
    def delivered(self) -> bool:
        return self.status is not None and 200 <= self.status < 300


def signed(body: str, *, message: str, at: datetime, secrets: Sequence[bytes]) -> dict[str, str]:
    """The headers of Standard Webhooks 1.0.0: a signature by each secret that is in use, the newest first.

    ``at`` is the time of this attempt; the library takes the figures of any zone for those of UTC.
    """
    now = at.astimezone(UTC)
    return {
        "Content-Type": "application/json",
        "webhook-id": message,
        "webhook-timestamp": str(int(now.timestamp())),
        "webhook-signature": " ".join(Webhook(secret).sign(message, now, body) for secret in secrets),
    }


def post(
    url: str,
    body: str,
    headers: dict[str, str],
    *,
    own: Iterable[Network] = (),
    seconds: float = DEADLINE_S,
    context: ssl.SSLContext | None = None,
    resolve: Callable[..., Any] = socket.getaddrinfo,
) -> Outcome:
    """Send ``body`` once, and say what came of it; whatever goes wrong is an outcome."""
    deadline = time.monotonic() + seconds
    try:
        target = take_apart(url)
        wire = _Wire(target, find(target, own, resolve=resolve), deadline, context)
    except (Unsuitable, NotFound) as reason:
        return Outcome(None, str(reason).rstrip("."))
    try:
        wire.request("POST", target.asked, body.encode(), {"Host": target.named, "User-Agent": "Potmark", **headers})
        answer = wire.getresponse()
        answer.read(_LOOKED_AT_BYTES)
        if time.monotonic() >= deadline:
            # A head that was cut off in the middle still reads as one.
            raise TimeoutError
        return Outcome(answer.status, f"answered {answer.status}", _seconds(answer.headers.get("Retry-After")))
    except TimeoutError:
        return Outcome(None, f"no whole answer within {seconds:.0f} s")
    except (OSError, http.client.HTTPException) as error:
        late = time.monotonic() >= deadline
        return Outcome(None, f"no whole answer within {seconds:.0f} s" if late else _in_words(error))
    finally:
        wire.close()


class _Wire(http.client.HTTPConnection):
    """A connection to one of the addresses that were judged, cut off at the deadline."""

    def __init__(
        self, target: Target, addresses: Sequence[str], deadline: float, context: ssl.SSLContext | None
    ) -> None:
        super().__init__(target.host, target.port)
        self._target, self._addresses, self._deadline = target, addresses, deadline
        self._context = context
        self._cut: threading.Timer | None = None

    def connect(self) -> None:
        self.sock = self._reached()
        self.sock.settimeout(self._left())
        if self._target.scheme == "https":
            context = self._context or ssl.create_default_context()
            # The timer has to know the socket before anything is said on it.
            self.sock = context.wrap_socket(self.sock, server_hostname=self._target.host, do_handshake_on_connect=False)
        self._cut = threading.Timer(self._left(), _shut, [self.sock])
        self._cut.daemon = True
        self._cut.start()
        if isinstance(self.sock, ssl.SSLSocket):
            self.sock.do_handshake()

    def _reached(self) -> socket.socket:
        """The first of the addresses that can be reached; each in turn, as a browser does."""
        trouble: OSError = TimeoutError()
        for address in self._addresses:
            try:
                return socket.create_connection((address, self._target.port), min(_CONNECT_S, self._left()))
            except OSError as error:
                trouble = error
        raise trouble

    def _left(self) -> float:
        return max(0.01, self._deadline - time.monotonic())

    def close(self) -> None:
        cut = getattr(self, "_cut", None)
        if cut is not None:
            cut.cancel()
        super().close()


def _shut(sock: socket.socket) -> None:
    try:
        # Of a socket under TLS as well: whoever waits for it is woken.
        socket.socket.shutdown(sock, socket.SHUT_RDWR)
    except OSError:
        return


def _seconds(text: str | None) -> float | None:
    """How long Retry-After asks to wait, where it says so in seconds; as a date it is left alone."""
    return float(text) if text is not None and text.isascii() and text.isdigit() and len(text) < 9 else None


def _in_words(error: OSError | http.client.HTTPException) -> str:
    if isinstance(error, ssl.SSLCertVerificationError):
        return f"its certificate is not trusted: {error.verify_message}"
    if isinstance(error, ssl.SSLError):
        return "no connection over TLS"
    if isinstance(error, ConnectionRefusedError):
        return "nothing listens there"
    if isinstance(error, http.client.RemoteDisconnected | ConnectionResetError):
        return "the connection was closed without an answer"
    if isinstance(error, http.client.HTTPException):
        return "what was answered is no HTTP"
    return f"no connection ({error.strerror or type(error).__name__})"


def as_said(secret: bytes) -> str:
    """A secret as Standard Webhooks writes it.

    >>> as_said(bytes(24))
    'whsec_AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA'
    """
    return f"whsec_{base64.b64encode(secret).decode()}"
