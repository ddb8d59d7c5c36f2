"""Style, scripts and fonts under names that change with their content, so that a browser asks for each only once."""

import functools
import gzip
import hashlib
import mimetypes
import re
from pathlib import Path
from typing import Any

from flask import Blueprint, Response, abort, request, url_for

HOME = Path(__file__).parent / "static"
_FOR_EVER = "public, max-age=31536000, immutable"
_HASHED = re.compile(r"(?P<stem>.+)\.(?P<hash>[0-9a-f]{10})(?P<suffix>\.[a-z0-9]+)")
# What one file names in another, relative to itself.
_NAMED = re.compile(rb'(?P<before>url\("|import "\./|from "\./)(?P<name>[\w./-]+)(?P<after>")')
_TEXT = (".css", ".js", ".svg", ".txt")

# Python 3.11 does not know it, and the pages are sent with "nosniff".
mimetypes.add_type("font/woff2", ".woff2")
mimetypes.add_type("text/javascript", ".js")

blp = Blueprint("open-static", __name__)


@functools.cache
def content(name: str) -> bytes:
    """A file as it is sent: what it names is named with its hash, too."""
    path = HOME / name
    raw = path.read_bytes()
    if path.suffix not in (".css", ".js"):
        return raw

    def hashed(match: re.Match[bytes]) -> bytes:
        there = (path.parent / match["name"].decode()).resolve().relative_to(HOME.resolve())
        inner = Path(hashed_name(str(there))).name
        folder = match["name"].decode().rpartition("/")
        return match["before"] + f"{folder[0]}{folder[1]}{inner}".encode() + match["after"]

    return _NAMED.sub(hashed, raw)


@functools.cache
def hashed_name(name: str) -> str:
    """The name of a file with ten characters of its hash in it."""
    stem, _, suffix = name.rpartition(".")
    return f"{stem}.{hashlib.sha256(content(name)).hexdigest()[:10]}.{suffix}"


@functools.cache
def _packed(name: str) -> bytes:
    return gzip.compress(content(name), 9, mtime=0)


@blp.get("/static/<path:name>")
def static_file(name: str) -> Any:
    """A file by its own name, or, for ever, by the name with its hash."""
    match = _HASHED.fullmatch(name)
    plain = f"{match['stem']}{match['suffix']}" if match else name
    path = (HOME / plain).resolve()
    if not path.is_relative_to(HOME.resolve()) or not path.is_file():
        abort(404)
    if match and hashed_name(plain) != name:
        abort(404)
    kind = mimetypes.guess_type(plain)[0] or "application/octet-stream"
    packed = path.suffix in _TEXT and "gzip" in request.headers.get("Accept-Encoding", "")
    answer = Response(_packed(plain) if packed else content(plain), mimetype=kind)
    answer.headers["Cache-Control"] = _FOR_EVER if match else "no-cache"
    answer.headers["Vary"] = "Accept-Encoding"
    if packed:
        answer.headers["Content-Encoding"] = "gzip"
    return answer


def static(name: str) -> str:
    """The address of a file, for templates."""
    return url_for("open-static.static_file", name=hashed_name(name))
