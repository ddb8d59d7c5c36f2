"""Anything with a code, and traces back and forward."""

from collections.abc import Callable, Iterable, Iterator
from datetime import UTC, datetime, timedelta
from itertools import islice
from typing import Any

import orjson
from flask import Response, current_app, request

from schemas.answers import schema_of
from schemas.trace import TraceQuery
from schemas.words import Unit
from service.api.base import Blueprint
from service.api.examples import example_of
from service.api.files import BYTES, file_doc
from service.database import reading
from service.operations.ledger import epcis, sharing, trace, tracing

blp = Blueprint(
    "trace", "Anything with a code: how it stands, what it was made of, what was made of it", right="read_work"
)

_LINES = "application/x-ndjson"
_EPCIS = "application/ld+json"
_ROWS_AT_ONCE = 500
_AS_UTC = orjson.OPT_UTC_Z
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def read_trace(query: dict[str, Any], code: str) -> Response:
    """Trace a code back to its lots, or forward to every part, at any depth.

    `counts` (by kind), `totals`, and what went into cups, loss and scrap instead (`went_away`) come first and are
    always of the whole trace. Up to 5,000 rows, items and movements together, come in one answer. A longer trace has
    its first 5,000 there, items before movements, and says so in `rest`: ask again with
    `Accept: application/x-ndjson` to get every row. That stream begins with a line `{"trace": …}` (what comes first),
    goes on with one line for each item (`{"item": …}`), then each movement (`{"movement": …}`), and ends with
    `{"end": …}`, the number of lines of each; one without its end was cut off.
    """
    if request.accept_mimetypes.best_match(["application/json", _LINES]) == _LINES:
        return _stream(code, query)
    with reading():
        found = trace.trace(code, whole=False, **_asked(query))
        items = [_item(row) for row in found.items]
        movements = [_movement(row) for row in found.movements]
    said = {**_head(found), "rest": _rest(found), "items": items, "movements": movements}
    return Response(orjson.dumps(said, option=_AS_UTC), mimetype="application/json")


def _asked(query: dict[str, Any]) -> dict[str, Any]:
    return {"direction": trace.Direction(query["direction"]), "since": query["since"]}


def _head(found: trace.Traced) -> dict[str, Any]:
    return {
        "code": found.code,
        "direction": found.direction,
        "counts": found.counts,
        "totals": {"items": found.totals.items, "movements": found.totals.movements},
        "went_away": [_away(one) for one in found.went_away],
    }


def _away(one: trace.WentAway) -> dict[str, Any]:
    amount = one.amount / 1000 if one.unit == "mg" else one.amount
    return {"kind": one.kind, "times": one.times, "estimated": one.estimated, _AMOUNT[Unit(one.unit)]: amount}


def _rest(found: trace.Traced) -> str | None:
    if found.rows <= trace.MOST_ROWS:
        return None
    return (
        f"These are the first {trace.MOST_ROWS:,} of {found.rows:,} rows; "
        f"ask with the header Accept: {_LINES} for all of them, one a line."
    )


def _stream(code: str, query: dict[str, Any]) -> Response:
    """All of it in one snapshot, a few hundred lines at a time.

    What is wrong with the question has to show before the answer begins; the lines are read after the request has given
    its connection back, and have one of their own.
    """
    with reading():
        trace.root_of(code, **_asked(query))
    return Response(_lines(code, query), mimetype=_LINES)


def _lines(code: str, query: dict[str, Any]) -> Iterator[bytes]:
    with reading():
        found = trace.trace(code, whole=True, **_asked(query))
        yield orjson.dumps({"trace": _head(found)}) + b"\n"
        yield from _in_blocks(found.items, lambda row: {"item": _item(row)})
        yield from _in_blocks(found.movements, lambda row: {"movement": _movement(row)})
        yield orjson.dumps({"end": {"items": found.totals.items, "movements": found.totals.movements}}) + b"\n"


def _in_blocks(rows: Iterable[tuple[Any, ...]], said: Callable[[tuple[Any, ...]], dict[str, Any]]) -> Iterator[bytes]:
    block: list[bytes] = []
    for row in rows:
        block.append(orjson.dumps(said(row), option=_AS_UTC | orjson.OPT_APPEND_NEWLINE))
        if len(block) == _ROWS_AT_ONCE:
            yield b"".join(block)
            block.clear()
    yield b"".join(block)


# Rows are written from their columns: a trace is the one answer that has hundreds of thousands of them.
_LEFT = {Unit.MILLIGRAM: "left_g", Unit.MILLIMETRE: "left_mm", Unit.PIECE: "left_pieces"}
_AMOUNT = {Unit.MILLIGRAM: "amount_g", Unit.MILLIMETRE: "amount_mm", Unit.PIECE: "amount_pieces"}


def _item(row: tuple[Any, ...]) -> dict[str, Any]:
    """The columns of a `TracedItem`."""
    code, kind, name, state, place, left, unit, lot, makers_lot, good_until, on_hold, failed, *_ = row
    said = {
        "code": code,
        "kind": kind,
        "name": name,
        "state": state,
        "place_name": place,
        "lot": lot,
        "makers_lot": makers_lot,
        "good_until": good_until,
        "on_hold": bool(on_hold),
        "failed": bool(failed),
    }
    if unit is not None:
        said[_LEFT[unit]] = left / 1000 if unit == "mg" else left
    return said


def _movement(row: tuple[Any, ...]) -> dict[str, Any]:
    """The columns of a `TracedMovement`."""
    source, target, kind, purpose, amount, unit, estimated, at = row
    said = {
        "source": source,
        "target": target,
        "kind": kind,
        "purpose": purpose,
        "estimated": bool(estimated),
        "occurred_at": _EPOCH + timedelta(microseconds=at),
    }
    if amount is not None:
        said[_AMOUNT[unit]] = amount / 1000 if unit == "mg" else amount
    return said


def read_epcis(query: dict[str, Any], code: str) -> Response:
    """The same trace as events of GS1 EPCIS 2.0, in JSON-LD, for who follows goods beyond this shop.

    Objects that came in, were made, lost or shipped; transformations of one thing into another; aggregations of parts;
    temperatures as sensor data; what was corrected, with its error declaration.
    """
    asked = {**_asked(query), "origin": str(current_app.extensions["settings"].address),
             "at": current_app.extensions["clock"]()}  # fmt: skip
    with reading():
        trace.root_of(code, **_asked(query))
    plain = request.accept_mimetypes.best_match([_EPCIS, BYTES]) == BYTES
    return Response(_events(code, asked), mimetype=BYTES if plain else _EPCIS)


def _events(code: str, asked: dict[str, Any]) -> Iterator[bytes]:
    with reading():
        told = epcis.read_epcis(code, **asked)
        yield orjson.dumps(next(told))[:-1] + b',"epcisBody":{"eventList":['
        between = b""
        while some := list(islice(told, _ROWS_AT_ONCE)):
            yield between + b",".join(orjson.dumps(event) for event in some)
            between = b","
        yield b"]}}"


blp.read("/items/<code:code>", tracing.read_item)
blp.listing("/items/<code:code>/flags", tracing.list_flags)
blp.custom(
    "/items/<code:code>/trace",
    blp.arguments(TraceQuery, location="query")(read_trace),
    right="read_work",
    doc={
        "responses": {
            "200": {
                "description": "The trace, or its first 5,000 rows; as lines, all of it",
                "content": {
                    "application/json": {"schema": schema_of(trace.Trace), "example": example_of(trace.Trace)},
                    _LINES: {"schema": {"type": "string"}},
                },
            }
        }
    },
)
blp.custom(
    "/items/<code:code>/epcis",
    blp.arguments(TraceQuery, location="query")(read_epcis),
    right="read_work",
    doc=file_doc("The document, an EPCISDocument with its events", _EPCIS),
)
blp.read("/parts/<code(P):code>/sharing", sharing.read_sharing)
