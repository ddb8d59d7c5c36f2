"""What the application is told of a request, and what it answers (PEP 3333)."""

import asyncio
import logging
import sys
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from io import BytesIO
from tempfile import SpooledTemporaryFile
from typing import IO, Any
from urllib.parse import unquote_to_bytes, urlsplit

import h11

Environ = dict[str, Any]
Application = Callable[[Environ, Callable[..., Any]], Iterable[bytes]]

log = logging.getLogger("potmark.serving")

# Who may say on whose behalf a request comes: a proxy on this machine (deploy/nginx.conf).
_PROXY = ("127.0.0.1", "::1")


@dataclass(frozen=True, slots=True)
class Answer:
    """Status, headers in lower case, and the content, which ends where its file stands."""

    status: int
    headers: list[tuple[bytes, bytes]]
    content: IO[bytes]


def environ_of(request: h11.Request, transport: asyncio.Transport) -> Environ:
    """The environment of a request without its body."""
    host, port = _address(transport.get_extra_info("sockname"))
    caller, caller_port = _address(transport.get_extra_info("peername"))
    path, query = _target(request.target.decode("latin-1"))
    environ: Environ = {
        "REQUEST_METHOD": request.method.decode("ascii"),
        "SCRIPT_NAME": "",
        "PATH_INFO": unquote_to_bytes(path).decode("latin-1"),
        "QUERY_STRING": query,
        "SERVER_NAME": host,
        "SERVER_PORT": port,
        "SERVER_PROTOCOL": f"HTTP/{request.http_version.decode('ascii')}",
        "REMOTE_ADDR": caller,
        "REMOTE_PORT": caller_port,
        "wsgi.version": (1, 0),
        "wsgi.url_scheme": "http" if transport.get_extra_info("sslcontext") is None else "https",
        "wsgi.errors": sys.stderr,
        "wsgi.multithread": True,
        "wsgi.multiprocess": True,
        "wsgi.run_once": False,
    }
    for raw_name, raw_value in request.headers:
        if b"_" in raw_name:
            continue  # it would pass for the header with a hyphen
        name = raw_name.decode("latin-1").upper().replace("-", "_")
        name = name if name in ("CONTENT_TYPE", "CONTENT_LENGTH") else f"HTTP_{name}"
        value = raw_value.decode("latin-1")
        joint = "; " if name == "HTTP_COOKIE" else ","
        environ[name] = f"{environ[name]}{joint}{value}" if name in environ else value
    if caller in _PROXY:
        _believe_proxy(environ)
    return environ


def _address(name: Any) -> tuple[str, str]:
    return (str(name[0]), str(name[1])) if isinstance(name, tuple) else ("", "")


def _target(target: str) -> tuple[str, str]:
    """Path and query, of a target with scheme and host, too (RFC 9112, 3.2.2)."""
    if not target.startswith("/") and "://" in target:
        parts = urlsplit(target)
        return parts.path or "/", parts.query
    path, _, query = target.partition("?")
    return path, query


def _believe_proxy(environ: Environ) -> None:
    callers = environ.get("HTTP_X_FORWARDED_FOR", "").split(",")
    if callers[-1].strip():
        environ["REMOTE_ADDR"] = callers[-1].strip()
    if environ.get("HTTP_X_FORWARDED_PROTO", "").strip().lower() == "https":
        environ["wsgi.url_scheme"] = "https"


def run(application: Application, environ: Environ, memory_bytes: int) -> Answer:
    """Have the application work out its whole answer; what does not fit into ``memory_bytes`` waits in a file."""
    said: list[tuple[str, list[tuple[str, str]]]] = []
    content: IO[bytes] = SpooledTemporaryFile(max_size=memory_bytes)  # noqa: SIM115 - closed when it is sent
    try:
        pieces = application(environ, lambda status, headers, exc_info=None: said.append((status, headers)))
        try:
            for piece in pieces:
                content.write(piece)
        finally:
            getattr(pieces, "close", lambda: None)()
        status, headers = said[-1]
        return Answer(
            int(status.split(" ", 1)[0]),
            [(name.lower().encode("latin-1"), value.encode("latin-1")) for name, value in headers],
            content,
        )
    except Exception:
        log.exception("no answer to %s %s", environ["REQUEST_METHOD"], environ["PATH_INFO"])
        content.close()
        return Answer(500, [], BytesIO())
    finally:
        environ["wsgi.input"].close()
