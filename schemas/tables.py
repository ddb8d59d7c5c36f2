"""Rows of a spreadsheet as the bodies that the API takes, and where in the sheet each field of a body stands.

A column is called as its field is; what lies deeper has dots, as in `containers.net_g` and `plies.material`, or its
last word alone where that says it. A row that repeats the key of the row before it goes on with the same thing: it adds
to its lists. Materials, suppliers and places may be named instead of numbered.
"""

import json
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import marshmallow as ma

from schemas.designs import DesignIn
from schemas.fields import Code, Grams, Number, Whole, Yes
from schemas.lots import DeliveryIn, OpeningStockIn
from schemas.orders import OrderIn
from schemas.registers import MaterialIn, SupplierIn

_SAID_ONCE = ("occurred_at", "why")
_NUMBER = re.compile(r"[+-]?\d+(\.\d+)?", re.ASCII)
_YES = {"true": True, "yes": True, "false": False, "no": False}


@dataclass(frozen=True, slots=True)
class Table:
    """What can be taken in from a sheet: by which schema, what tells one thing from the next, what may be named."""

    schema: type[ma.Schema]
    key: tuple[str, ...]
    names: Mapping[str, str] = field(default_factory=dict)

    def row(self) -> ma.Schema:
        """The schema of one row, without what is said once for all of them."""
        return self.schema(exclude=_SAID_ONCE)


_OF_STOCK = {"material": "material", "supplier": "supplier", "place": "place"}
TABLES: dict[str, Table] = {
    "suppliers": Table(SupplierIn, ("name",)),
    "materials": Table(MaterialIn, ("name",), {"supplier": "supplier"}),
    "lots": Table(DeliveryIn, ("supplier", "delivery_note", "place", "material", "makers_lot"), _OF_STOCK),
    "opening-stock": Table(OpeningStockIn, ("supplier", "place", "material", "makers_lot"), _OF_STOCK),
    "designs": Table(DesignIn, ("part_number", "revision"), {"plies.material": "material"}),
    "orders": Table(OrderIn, ("system", "reference")),
}


@dataclass(slots=True)
class Wrong:
    """A cell that cannot be taken, or a row: without a column."""

    line: int
    column: str | None
    detail: str


@dataclass(slots=True)
class Entry:
    """One thing: the lines that it stands on, its body, where each field of the body came from, what is wrong."""

    lines: list[int]
    body: dict[str, Any] = field(default_factory=dict)
    places: dict[str, tuple[int, str]] = field(default_factory=dict)
    wrong: list[Wrong] = field(default_factory=list)
    loaded: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class _Column:
    """A column of a table: the steps to its field, of which those into a list are marked."""

    path: tuple[str, ...]
    lists: frozenset[int]
    field: ma.fields.Field[Any]

    @property
    def name(self) -> str:
        return ".".join(self.path)


def columns_of(table: str) -> dict[str, _Column]:
    """All columns that a table may have, by their whole names."""
    return {column.name: column for column in _walk(TABLES[table].row(), (), frozenset())}


def _walk(schema: ma.Schema, path: tuple[str, ...], lists: frozenset[int]) -> Iterator[_Column]:
    for name, its in schema.fields.items():
        here = (*path, name)
        inner = its.inner if isinstance(its, ma.fields.List) else its
        if isinstance(inner, ma.fields.Nested):
            deeper = lists | {len(path)} if isinstance(its, ma.fields.List) else lists
            yield from _walk(inner.schema, here, deeper)
        else:
            yield _Column(here, lists, its)


def _called(table: str) -> dict[str, _Column]:
    """The columns by every name that they may be given: an ending too, if it is that of one alone."""
    whole = columns_of(table)
    ends: dict[str, list[_Column]] = {}
    for column in whole.values():
        ends.setdefault(column.path[-1], []).append(column)
    return {**{end: several[0] for end, several in ends.items() if len(several) == 1}, **whole}


def entries(table: str, heads: Sequence[str], rows: Iterable[tuple[int, Mapping[str, Any]]], *,
            decimal_comma: bool) -> list[Entry]:  # fmt: skip
    """The things that a sheet tells of, in its order; ``LookupError`` with the first column that there is none of."""
    known, key = _called(table), TABLES[table].key
    for head in heads:
        if head not in known:
            raise LookupError(head)
    found: list[Entry] = []
    last: tuple[Any, ...] = ()
    for line, cells in rows:
        named = {known[head].name: (head, cell) for head, cell in cells.items()}
        own = tuple(named[name][1] if name in named else None for name in key)
        if not found or own != last or own[-1] is None:
            found.append(Entry([line]))
        else:
            found[-1].lines.append(line)
        last = own
        _add(found[-1], line, [(known[head], head, cell) for head, cell in cells.items()], decimal_comma)
    return found


def _add(entry: Entry, line: int, cells: Sequence[tuple[_Column, str, Any]], decimal_comma: bool) -> None:
    """Put one row into a body; each list that it has something for grows by one."""
    grown: dict[str, Any] = {}
    for column, head, cell in cells:
        value = _value(column.field, cell, decimal_comma)
        here: Any = entry.body
        at = ""
        for depth, step in enumerate(column.path[:-1]):
            at = f"{at}/{step}"
            if depth not in column.lists:
                here = here.setdefault(step, {})
                continue
            several = here.setdefault(step, [])
            if at not in grown:
                several.append({})
                grown[at] = several[-1]
            here, at = grown[at], f"{at}/{len(several) - 1}"
        end = column.path[-1]
        if end in here and here[end] != value:
            said = here[end]
            entry.wrong.append(Wrong(line, head, f"This goes on with line {entry.lines[0]}, which says {said}."))
        here[end] = value
        entry.places.setdefault(f"{at}/{end}", (line, head))
    if line != entry.lines[0] and not grown:
        entry.wrong.append(Wrong(line, None, f"This stands on line {entry.lines[0]} already."))


def _value(its: ma.fields.Field[Any], cell: Any, decimal_comma: bool) -> Any:
    """A cell as the JSON value that the field takes; what it is not stays as it is, and the field says so."""
    if isinstance(its, ma.fields.List):
        if isinstance(cell, str) and cell.startswith("["):
            try:
                return json.loads(cell)
            except ValueError:
                return cell
        each = re.split(r"[;,\n]", cell) if isinstance(cell, str) else [cell]
        return [_value(its.inner, one.strip() if isinstance(one, str) else one, decimal_comma) for one in each]
    if isinstance(its, Yes):
        return _YES.get(cell.casefold(), cell) if isinstance(cell, str) else cell
    if isinstance(its, Number | Whole | Grams):
        if not isinstance(cell, str):
            return cell
        text = cell.replace(",", ".") if decimal_comma else cell
        if not _NUMBER.fullmatch(text) or len(text) > 40:
            return cell
        return float(text) if "." in text else int(text)
    if isinstance(cell, int | float) and not isinstance(cell, bool):
        return str(cell)
    return cell


def names_in(table: str, found: Iterable[Entry]) -> dict[str, set[str]]:
    """Which materials, suppliers and places are named, and not numbered."""
    named: dict[str, set[str]] = {"material": set(), "supplier": set(), "place": set()}
    for entry in found:
        for holder, end, register in _references(table, entry.body):
            if isinstance(holder[end], str) and not _is_code(register, holder[end]):
                named[register].add(holder[end])
    return named


def put_numbers(table: str, found: Iterable[Entry], numbers: Mapping[str, Mapping[str, int | str]]) -> None:
    """Put numbers and codes where names stand, and say which are not known."""
    for entry in found:
        for holder, end, register in _references(table, entry.body):
            name = holder[end]
            if not isinstance(name, str) or _is_code(register, name):
                continue
            number = numbers[register].get(name)
            if number is None:
                entry.wrong.append(Wrong(*_of(entry, holder, end), f"There is no {register} called {name} here."))
                holder.pop(end)
            else:
                holder[end] = number


def _of(entry: Entry, holder: dict[str, Any], end: str) -> tuple[int, str | None]:
    return next(
        (
            at
            for pointer, at in entry.places.items()
            if pointer.endswith(f"/{end}") and _at(entry.body, pointer) is holder
        ),
        (entry.lines[0], None),
    )


def _at(body: Any, pointer: str) -> Any:
    """What the last step of a pointer stands in."""
    for step in pointer.split("/")[1:-1]:
        body = body[int(step)] if isinstance(body, list) else body.get(step)
    return body


def _is_code(register: str, text: str) -> bool:
    if register != "place":
        return False
    try:
        Code("A").deserialize(text)
    except ma.ValidationError:
        return False
    return True


def _references(table: str, body: dict[str, Any]) -> Iterator[tuple[dict[str, Any], str, str]]:
    for path, register in TABLES[table].names.items():
        *way, end = path.split(".")
        holders: list[Any] = [body]
        for step in way:
            holders = [one for holder in holders for one in holder.get(step) or ()]
        yield from ((holder, end, register) for holder in holders if end in holder)


def load(table: str, entry: Entry) -> list[tuple[str, str]]:
    """Read a body by its schema; pointers and sentences of what is wrong."""
    try:
        entry.loaded = TABLES[table].row().load(entry.body)
    except ma.ValidationError as error:
        return list(_pointers(error.messages))
    return []


def _pointers(messages: Any, at: str = "") -> Iterator[tuple[str, str]]:
    if isinstance(messages, dict):
        for key, inner in messages.items():
            yield from _pointers(inner, at if key == "_schema" else f"{at}/{key}")
        return
    for message in messages if isinstance(messages, list) else [messages]:
        said = "This has to be given." if message == "Missing data for required field." else str(message)
        yield at, said
