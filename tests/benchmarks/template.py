"""An account's rows ready to be written again: which are copied, and how each column of a copy follows from them."""

import json
import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

from peewee import DateField, Field, ForeignKeyField, Model, fn

from schemas.words import Kind, MovementKind, State
from service.database import (
    database,
)
from service.records import ALL
from service.records.base import Instant
from service.records.changes import ItemChange
from service.records.items import Flag, Hold, Item, Label, Movement, Permission, StateChange, Touched
from service.records.journal import Deed, Entry
from service.records.materials import Lot
from service.records.parts import Nonconformance, Part

_CLONED_KINDS = (Kind.LOT, Kind.CONTAINER, Kind.KIT, Kind.MIX, Kind.PART, Kind.CURE)
_SHARED = {
    "site", "person", "person_role", "access_key", "answer", "supplier", "material", "resin_system", "system_hardener",
    "design", "schedule", "logger", "document", "mould", "scale", "counter", "head", "entry", "storage_reading",
    "browser_session", "signing_key", "signing_certificate", "secret_reset", "signing_token", "webhook_secret",
}  # fmt: skip
# Columns that name a row without a foreign key.
_LOOSE: dict[Field, type[Model]] = {
    Hold.flag: Flag,
    Hold.nonconformance: Nonconformance,
    Flag.permission: Permission,
    ItemChange.seq: Entry,
    ItemChange.number: Item,
}
# Told apart by the copy's number; an item has a code of its own, and its name is unique only where it is shared.
_NUMBERED = {Lot.makers_lot, Part.serial, Part.serial_key}
_UNLIKE = _NUMBERED | {Item.code, Item.name}
_FOUNDING = ("add_", "approve_", "change_", "found")
_CODE = re.compile(r"\b[LCKMPR]\d{5,12}[0-9A-Z]\b")
DAY = 86_400_000_000


@dataclass(slots=True)
class Table:
    """A table's rows as they are to be written again: each column with the way in which a copy's value follows."""

    model: type[Model]
    columns: list[str]
    values: list[list[Any]]
    ways: list[Callable[["Copy", list[Any]], Iterable[Any]]]


@dataclass(slots=True)
class Copy:
    """One copy under way: where its numbers begin, how much earlier it is, and the codes of its items."""

    number: int
    earlier: int
    base: dict[str, int]
    codes: dict[str, str] = field(default_factory=dict)

    def recoded(self, text: str) -> str:
        return _CODE.sub(lambda m: self.codes.get(m[0], m[0]), text)


def _space(model: type[Model]) -> str:
    """The numbers that a table's key is from: a lot's are those of the items."""
    key = model._meta.primary_key
    return _space(key.rel_model) if isinstance(key, ForeignKeyField) else model._meta.table_name


def _is_shared(model: type[Model]) -> bool:
    """What belongs to somebody or something shared is shared with it, and so is what can be there only once."""
    key = model._meta.primary_key
    if model._meta.table_name in _SHARED or (isinstance(key, ForeignKeyField) and _is_shared(key.rel_model)):
        return True
    unique = [set(index._expressions) for index in model._meta.fields_to_index() if index._unique]
    return any(not any(_differs(one) for one in columns) for columns in unique)


def _differs(column: Field) -> bool:
    """Whether a column says something else in a copy."""
    return column in _UNLIKE or (isinstance(column, ForeignKeyField) and not _is_shared(column.rel_model))


class Template:
    """What there is, ready to be written again any number of times; ``merged`` lots are not copied but shared."""

    def __init__(self, merged: dict[int, int]) -> None:
        self.merged = merged
        self.cleared = {row[0]: row for row in _left_on_the_shelves()}
        self.items = kept_rows(Item, Item.code, Item.kind, where=Item.kind.in_(_CLONED_KINDS))
        self.own: dict[str, dict[int, int]] = {
            "item": _index(n for (n,) in kept_rows(Item, Item.id, where=Item.kind.in_(_CLONED_KINDS))),
            "deed": _index(n for n, name in kept_rows(Deed, Deed.id, Deed.operation) if not name.startswith(_FOUNDING)),
        }
        places = self.own["deed"]
        self.own["entry"] = {
            seq: places[deed] for seq, deed in kept_rows(Entry, Entry.seq, Entry.deed) if deed in places
        }
        copied = [m for m in ALL if not _is_shared(m)]
        rows = {model: self._rows_of(model) for model in copied}
        for model in copied:
            if model not in (Item, Deed) and _space(model) == model._meta.table_name:
                key = model._meta.sorted_fields.index(model._meta.primary_key)
                self.own[model._meta.table_name] = _index(row[key] for row in rows[model])
        self.tables = [self._table(model, rows[model]) for model in copied]
        self.deeds = self._deeds()

    def _rows_of(self, model: type[Model]) -> list[tuple[Any, ...]]:
        """The rows that a copy has of a table: not those about a thing that is shared."""
        names = [f.name for f in model._meta.sorted_fields]
        rows = kept_rows(model, *model._meta.sorted_fields)
        if _space(model) in ("item", "deed"):
            key = names.index(model._meta.primary_key.name)
            shared = self.merged if _space(model) == "item" else {}
            rows = [r for r in rows if r[key] in self.own[_space(model)] and r[key] not in shared]
            if model is Item:
                balance, state, holds = names.index("balance"), names.index("state"), names.index("holds")
                rows = [changed(r, {balance: 0, state: State.SCRAPPED}) if r[0] in self.cleared else r for r in rows]
                rows = [changed(r, {holds: 0}) for r in rows]
        elif model is Touched:
            deed, item = names.index("deed"), names.index("item")
            rows = [r for r in rows if r[deed] in self.own["deed"]]
            # An act on two lots that become one lot is about that one once.
            rows = list({(r[deed], self.merged.get(r[item], r[item])): r for r in rows}.values())
        elif model is ItemChange:
            seq, number = names.index("seq"), names.index("number")
            rows = [r for r in rows if r[seq] in self.own["entry"] and r[number] in self.own["item"]]
            rows = [r for r in rows if r[number] not in self.merged]
        elif "item" in names:
            about, gone = names.index("item"), self.merged if model in (StateChange, Label, Hold) else {}
            rows = [r for r in rows if r[about] is None or (r[about] in self.own["item"] and r[about] not in gone)]
        if model is Hold:
            rows = [_lifted(row, names) for row in rows]
        if model in (Movement, StateChange):
            last = max(r[0] for r in rows)
            for number, row in enumerate(self.cleared.values(), last + 1):
                rows.append(_scrapped(model, number, *row))
        return rows

    def _table(self, model: type[Model], rows: list[tuple[Any, ...]]) -> Table:
        fields = list(model._meta.sorted_fields)
        columns = [list(c) for c in zip(*rows, strict=True)] if rows else [[] for _ in fields]
        coded, ways = zip(*(self._way(model, f, c) for f, c in zip(fields, columns, strict=True)), strict=True)
        return Table(model, [f.column_name for f in fields], list(coded), list(ways))

    def _way(self, model: type[Model], one: Field, values: list[Any]) -> tuple[list[Any], Any]:
        rel = one.rel_model if isinstance(one, ForeignKeyField) else _LOOSE.get(one)
        if (rel is not None and _space(rel) in self.own) or one is model._meta.primary_key:
            space = _space(rel if rel is not None and not one.primary_key else model)
            mine = self.own[space]
            encoded = [
                None if v is None else -self.merged[v] if space == "item" and v in self.merged else mine.get(v, -v)
                for v in values
            ]

            def renumbered(copy: Copy, coded: list[Any]) -> Iterable[Any]:
                base = copy.base[space]
                return [None if v is None else base + v if v > 0 else -v for v in coded]

            return encoded, renumbered
        if one is Permission.flags:
            mine = self.own["flag"]
            return [json.loads(v) for v in values], lambda copy, v: [
                json.dumps([copy.base["flag"] + mine[n] for n in numbers]) for numbers in v
            ]
        if isinstance(one, Instant):
            return values, lambda copy, v: [None if x is None else x - copy.earlier for x in v]
        if isinstance(one, DateField):
            return values, lambda copy, v: [_day_before(x, copy.earlier // DAY) for x in v]
        if model is Item and one is Item.code:
            return values, lambda copy, v: [copy.codes[x] for x in v]
        if one in _NUMBERED:
            return values, lambda copy, v: [None if x is None else f"{x}/{copy.number}" for x in v]
        if any(isinstance(v, str) and _CODE.search(v) for v in values):
            return values, lambda copy, v: [copy.recoded(x) if isinstance(x, str) else x for x in v]
        return values, lambda copy, v: v

    def _deeds(self) -> list[tuple[Any, ...]]:
        """Each deed that is copied, with the codes that it was about, for the journal."""
        about: dict[int, list[str]] = {}
        for deed, code in Touched.select(Touched.deed, Item.code).join(Item).order_by(Touched.id).tuples():
            about.setdefault(deed, []).append(code)
        fields = (Deed.id, Deed.operation, Deed.person, Deed.system, Deed.device, Deed.site, Deed.occurred_at,
                  Deed.recorded_at, Deed.why, Deed.refused)  # fmt: skip
        return [(*row, about.get(row[0], [])) for row in sorted(kept_rows(Deed, *fields)) if row[0] in self.own["deed"]]


def _index(numbers: Iterable[int]) -> dict[int, int]:
    return {number: place for place, number in enumerate(sorted(numbers), 1)}


def changed(row: tuple[Any, ...], new: dict[int, Any]) -> tuple[Any, ...]:
    return tuple(new.get(place, value) for place, value in enumerate(row))


def _lifted(row: tuple[Any, ...], names: list[str]) -> tuple[Any, ...]:
    """A hold as one that does not stand any more."""
    at, by = names.index("lifted_at"), names.index("lifted_by")
    return row if row[at] else changed(row, {at: row[names.index("placed_at")], by: row[names.index("placed_by")]})


def _left_on_the_shelves() -> list[tuple[Any, ...]]:
    """Containers with something left: number, what is left, its unit, the last deed about it and when that was."""
    last = Touched.select(fn.MAX(Touched.deed)).where(Touched.item == Item.id)
    query = (
        Item.select(Item.id, Item.balance, Item.unit, Deed.id, Deed.occurred_at)
        .join(Deed, on=(Deed.id == last))
        .where((Item.kind == Kind.CONTAINER) & (Item.balance > 0))
    )
    return list(database.execute(query).fetchall())


def _scrapped(model: type[Model], number: int, item: int, left: int, unit: str, deed: int, at: int) -> tuple[Any, ...]:
    said = {"id": number, "source": item, "item": item, "amount": left, "unit": unit, "kind": MovementKind.SCRAP,
            "state": State.SCRAPPED, "estimated": False, "occurred_at": at, "deed": deed}  # fmt: skip
    return tuple(said.get(f.name) for f in model._meta.sorted_fields)


def kept_rows(model: type[Model], *fields: Field, where: Any = None) -> list[tuple[Any, ...]]:
    """As the driver gives them."""
    query = model.select(*fields)
    return list(database.execute(query.where(where) if where is not None else query).fetchall())


def _day_before(value: Any, days: int) -> Any:
    if isinstance(value, str):
        return (date.fromisoformat(value) - timedelta(days=days)).isoformat()
    return None if value is None else value - timedelta(days=days)


def copied(table: Table, copy: Copy) -> Iterator[tuple[Any, ...]]:
    columns = (way(copy, values) for way, values in zip(table.ways, table.values, strict=True))
    return zip(*columns, strict=True)
