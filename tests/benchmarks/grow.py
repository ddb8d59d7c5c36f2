"""Grow an account by copies of what it holds: `python -m tests.benchmarks.grow --parts 10000 URL`.

The account is the demo's (copied in if the one at URL has no tables yet, built first if there is none), or any other
small one. Each copy has items, movements, deeds, journal entries and all other rows of its own, with valid codes,
earlier in time than what is there; people, materials, designs, moulds, scales and places are shared, as in a shop that
goes on. Two lots are shared as well, so that there is one that reaches about a thousand parts and one that reaches
fifty thousand. What a copy has left on its shelves is scrapped: a shop's stock does not grow with its history.
"""

import argparse
import hashlib
import json
import re
import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from itertools import islice
from pathlib import Path
from typing import Any

from peewee import AutoField, BooleanField, DateField, Field, ForeignKeyField, Model, fn

from labels.codes import make, next_usable
from schemas.words import Kind, MaterialKind, MovementKind, State
from service.config import Settings
from service.database import (
    bound_tables,
    connected,
    database,
    do_not_wait_for_the_disk,
    key_as_text,
    on_postgresql,
    open_database,
    row_by_row,
    scratch,
    writing,
)
from service.demo.keeping import prepare
from service.operations.door import chain, founding, marking
from service.operations.door.plain import plain
from service.operations.ledger.graph import closure
from service.records import ALL
from service.records.base import Instant, instant, microseconds
from service.records.bound import Whole
from service.records.items import Counter, Flag, Hold, Item, Label, Movement, Permission, StateChange, Touched
from service.records.journal import Deed, Entry, Head
from service.records.materials import Lot, Material, StorageReading
from service.records.parts import Nonconformance
from tests.forging import beside_any_act, say

_CLONED_KINDS = (Kind.LOT, Kind.CONTAINER, Kind.KIT, Kind.MIX, Kind.PART, Kind.CURE)
_SHARED = {
    "site", "person", "person_role", "access_key", "answer", "supplier", "material", "resin_system", "system_hardener",
    "design", "schedule", "logger", "document", "mould", "scale", "counter", "head", "entry", "storage_reading",
}  # fmt: skip
# Columns that name a row without a foreign key.
_LOOSE: dict[Field, type[Model]] = {
    Hold.flag: Flag,
    Hold.nonconformance: Nonconformance,
    Flag.permission: Permission,
}
_FOUNDING = ("add_", "approve_", "change_", "found")
_CODE = re.compile(r"\b[LCKMPR]\d{5,12}[0-9A-Z]\b")
_DAY = 86_400_000_000
_BIG_PARTS, _THOUSAND = 50_000, 1_000


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


class Template:
    """What there is, ready to be written again any number of times; ``merged`` lots are not copied but shared."""

    def __init__(self, merged: dict[int, int]) -> None:
        self.merged = merged
        self.cleared = {row[0]: row for row in _left_on_the_shelves()}
        self.items = _rows(Item, Item.code, Item.kind, where=Item.kind.in_(_CLONED_KINDS))
        self.own: dict[str, dict[int, int]] = {
            "item": _index(n for (n,) in _rows(Item, Item.id, where=Item.kind.in_(_CLONED_KINDS))),
            "deed": _index(n for n, name in _rows(Deed, Deed.id, Deed.operation) if not name.startswith(_FOUNDING)),
        }
        copied = [m for m in ALL if m._meta.table_name not in _SHARED]
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
        rows = _rows(model, *model._meta.sorted_fields)
        if _space(model) in ("item", "deed"):
            key = names.index(model._meta.primary_key.name)
            shared = self.merged if _space(model) == "item" else {}
            rows = [r for r in rows if r[key] in self.own[_space(model)] and r[key] not in shared]
            if model is Item:
                balance, state = names.index("balance"), names.index("state")
                rows = [_changed(r, {balance: 0, state: State.SCRAPPED}) if r[0] in self.cleared else r for r in rows]
        elif model is Touched:
            rows = [r for r in rows if r[names.index("deed")] in self.own["deed"]]
        elif "item" in names:
            about, gone = names.index("item"), self.merged if model in (StateChange, Label, Hold) else {}
            rows = [r for r in rows if r[about] is None or (r[about] in self.own["item"] and r[about] not in gone)]
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
            return values, lambda copy, v: [_day_before(x, copy.earlier // _DAY) for x in v]
        if model is Item and one is Item.code:
            return values, lambda copy, v: [copy.codes[x] for x in v]
        if model is Lot and one is Lot.makers_lot:
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
        return [(*row, about.get(row[0], [])) for row in sorted(_rows(Deed, *fields)) if row[0] in self.own["deed"]]


def _index(numbers: Iterable[int]) -> dict[int, int]:
    return {number: place for place, number in enumerate(sorted(numbers), 1)}


def _changed(row: tuple[Any, ...], new: dict[int, Any]) -> tuple[Any, ...]:
    return tuple(new.get(place, value) for place, value in enumerate(row))


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


def _rows(model: type[Model], *fields: Field, where: Any = None) -> list[tuple[Any, ...]]:
    """As the driver gives them."""
    query = model.select(*fields)
    return list(database.execute(query.where(where) if where is not None else query).fetchall())


def _day_before(value: Any, days: int) -> Any:
    if isinstance(value, str):
        return (date.fromisoformat(value) - timedelta(days=days)).isoformat()
    return None if value is None else value - timedelta(days=days)


def _copied(table: Table, copy: Copy) -> Iterator[tuple[Any, ...]]:
    columns = (way(copy, values) for way, values in zip(table.ways, table.values, strict=True))
    return zip(*columns, strict=True)


def _write(model: type[Model], columns: list[str], rows: Iterable[tuple[Any, ...]]) -> None:
    name, listed = model._meta.table_name, ", ".join(f'"{c}"' for c in columns)
    cursor = database.connection().cursor()
    if on_postgresql():
        with cursor.copy(f'COPY "{name}" ({listed}) FROM STDIN') as copying:
            for row in rows:
                copying.write_row(row)
    else:
        cursor.executemany(f'INSERT INTO "{name}" ({listed}) VALUES ({", ".join("?" * len(columns))})', rows)


def _seal(template: Template, copy: Copy, seq: int, previous: str) -> tuple[int, str]:
    """An entry of the journal for each deed of the copy, chained to what is there."""
    mine, base = template.own["deed"], copy.base["deed"]
    entries = []
    for deed, operation, person, system, device, site, occurred_at, recorded_at, why, refused, codes in template.deeds:
        seq += 1
        said = {
            "seq": seq,
            "deed": base + mine[deed],
            "operation": operation,
            "person": person,
            "system": system,
            "device": device,
            "site": site,
            "occurred_at": plain(instant(occurred_at - copy.earlier)),
            "recorded_at": plain(instant(recorded_at - copy.earlier)),
            "why": why,
            "items": [copy.codes.get(c, c) for c in codes],
            "asked": {},
            **({"notes": []} if refused is None else {"refused": {"kind": refused, "sentence": ""}}),
        }
        body = json.dumps(said, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
        digest = hashlib.sha256((previous + body).encode()).hexdigest()
        entries.append((seq, base + mine[deed], previous, digest, body))
        previous = digest
    _write(Entry, ["seq", "deed_id", "previous", "hash", "body"], entries)
    return seq, previous


def _highest(model: type[Model]) -> int:
    return int(model.select(fn.MAX(model._meta.primary_key)).scalar() or 0)


def _lots_to_share() -> tuple[dict[int, int], dict[int, int]]:
    """Of a part that failed, the lot of resin and the lot of fabric: every copy's lots of these materials are these."""
    failed = Nonconformance.select(fn.MAX(Nonconformance.item)).where(Nonconformance.failed == True).scalar()  # noqa: E712
    part = failed or Item.select(fn.MAX(Item.id)).where(Item.kind == Kind.PART).scalar()
    upstream = closure([part], back=True)[part]
    shared: list[dict[int, int]] = []
    for kind in (MaterialKind.RESIN, MaterialKind.FABRIC):
        query = Lot.select(Lot.item, Lot.material).join(Material).where(Material.kind == kind).order_by(Lot.item)
        lots = list(query.tuples())
        chosen = next(((lot, material) for lot, material in lots if lot in upstream), None)
        shared.append({lot: chosen[0] for lot, material in lots if material == chosen[1]} if chosen else {})
    return shared[0], shared[1]


def grow(parts: int, *, progress: Callable[[str], None] = lambda said: None) -> int:
    """Add copies of the open account to it until it has at least so many parts; gives back how many there are."""
    there = Item.select().where(Item.kind == Kind.PART).count()
    copies = max(0, -(-parts // there) - 1)
    big, thousand = _lots_to_share()
    templates = {
        "both": Template(big | thousand),
        "big": Template(big),
        "none": Template({}),
    }
    # Seven of the demo's seasons fill a year; a large account does more in a year, and is ten years old.
    step = min(52 * _DAY, 3650 * _DAY // max(copies, 1))
    begin = time.monotonic()
    base = {m._meta.table_name: _highest(m) for m in ALL if m._meta.table_name in templates["none"].own}
    numbers = {kind: int(last) for kind, last in _rows(Counter, Counter.kind, Counter.last)}
    (seq, digest) = _rows(Head, Head.seq, Head.hash)[0]
    # The copies refer to each other rightly, not in the order of tables; looking each up would take most of the time.
    if not on_postgresql():
        database.execute_sql("PRAGMA foreign_keys = OFF")
        # The indexes of a large account are written at all ends; half a gigabyte keeps them at hand.
        database.execute_sql("PRAGMA cache_size = -500000")
    for batch in _batches(range(1, copies + 1), 10):
        with writing(), beside_any_act():
            if on_postgresql():
                database.execute_sql("SET LOCAL session_replication_role = replica")
            for number in batch:
                which = "both" if number * there < _THOUSAND else "big" if number * there < _BIG_PARTS else "none"
                template = templates[which]
                copy = Copy(number, number * step, base)
                for code, kind in template.items:
                    numbers[kind] = next_usable(kind, numbers[kind])
                    copy.codes[code] = make(kind, numbers[kind])
                for table in template.tables:
                    _write(table.model, table.columns, _copied(table, copy))
                seq, digest = _seal(template, copy, seq, digest)
                for space, own in template.own.items():
                    base[space] += len(own)
            for kind, last in numbers.items():
                Counter.update(last=last).where(Counter.kind == kind).execute()
            Head.update(seq=seq, hash=digest).where(Head.id == 1).execute()
        progress(f"{(batch[-1] + 1) * there:,} parts after {time.monotonic() - begin:.0f} s")
    if on_postgresql():
        _set_sequences()
    else:
        database.execute_sql("PRAGMA foreign_keys = ON")
    database.execute_sql("ANALYZE")
    _name_all_rows()
    return there * (copies + 1)


def _name_all_rows() -> None:
    """Bind what was written past the hooks to entries of its own, as a step of the schema would."""
    with writing(), chain.scratch_marks(), scratch(marking.ANEW):
        marking.make_room()
        marking.read_journal()
        for name, (columns, keys) in bound_tables().items():
            read = Whole(columns, keys)
            joined = f"LEFT JOIN {chain.LINKS} m ON m.tab = '{name}' AND m.last = 1 AND m.key = {key_as_text(keys)}"
            rows = row_by_row(f'SELECT t.*, m.after FROM "{name}" t {joined}', at_once=100)
            hashed = ((str(read.key(row)), after, read.hash(row)) for *row, after in rows)
            other = ((name, key, before, now) for key, before, now in hashed if before != now)
            marking.put_down_all(marking.ANEW, other)
        marking.write_entries(["grown"], Deed.select(fn.MAX(Deed.recorded_at)).scalar())


def _batches(numbers: Iterable[int], size: int) -> Iterator[list[int]]:
    waiting = iter(numbers)
    while batch := list(islice(waiting, size)):
        yield batch


def _set_sequences() -> None:
    for model in ALL:
        if isinstance(model._meta.primary_key, AutoField):
            name = model._meta.table_name
            database.execute_sql(
                f"SELECT setval(pg_get_serial_sequence('{name}', 'id'), (SELECT coalesce(max(id), 1) FROM \"{name}\"))"
            )


def measure_a_place(name: str, *, until: datetime, readings: int, every: timedelta = timedelta(minutes=10)) -> None:
    """Readings of a thermometer in a place up to a time, such as a year's every ten minutes: 52,560."""
    place, deed = Item.get((Item.kind == Kind.PLACE) & (Item.name == name)), Deed.select(fn.MAX(Deed.id)).scalar()
    first = _highest(StorageReading)
    begin = microseconds(until - every * readings)
    step = every // timedelta(microseconds=1)
    with writing():
        _write(
            StorageReading,
            ["id", "place_id", "temperature_c", "lowest_c", "highest_c", "occurred_at", "deed_id"],
            [(first + n, place.id, *(18 + n % 40 / 10,) * 3, begin + n * step, deed) for n in range(1, readings + 1)],
        )
    if on_postgresql():
        _set_sequences()
    database.execute_sql("ANALYZE")


def begin_with_the_demo(url: str, folder: Path, progress: Callable[[str], None]) -> None:
    """The demo's account at ``url``, row by row, from the one that is kept in ``folder`` (built if there is none)."""
    kept = prepare(folder, fresh=False, progress=progress)
    open_database(kept.settings(Settings()).database)
    with connected():
        rows = {model: _rows(model, *model._meta.sorted_fields) for model in ALL}
    database.close_all()
    open_database(url)
    with connected():
        founding.migrate()
        with writing():
            if on_postgresql():
                database.execute_sql("SET LOCAL session_replication_role = replica")
            for model in ALL:
                fields = model._meta.sorted_fields
                if model in (Head, Counter):
                    say(f"DELETE FROM {model._meta.table_name}")
                flags = [place for place, f in enumerate(fields) if isinstance(f, BooleanField)]
                _write(model, [f.column_name for f in fields], [_with_booleans(r, flags) for r in rows[model]])
        if on_postgresql():
            _set_sequences()


def _with_booleans(row: tuple[Any, ...], places: list[int]) -> tuple[Any, ...]:
    return _changed(row, {p: bool(row[p]) for p in places if row[p] is not None}) if places else row


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.grow", description=__doc__)
    parser.add_argument("url", metavar="URL", help="the account, such as sqlite:////tmp/large.db")
    parser.add_argument("--parts", type=int, default=1000, help="how many parts it is to have at the least (1000)")
    parser.add_argument("--readings", type=int, default=0, help="readings of each place, one every ten minutes (0)")
    parser.add_argument("--demo", default=".demo", metavar="FOLDER", help="where the demo's account is kept (.demo)")
    asked = parser.parse_args()
    build(asked.url, parts=asked.parts, readings=asked.readings, demo=Path(asked.demo), progress=_say)


def build(
    url: str, *, parts: int, readings: int = 0, demo: Path = Path(".demo"), progress: Callable[[str], None]
) -> None:
    """An account of so many parts at ``url``; one that is there already is grown further."""
    open_database(url)
    with connected():
        empty = not Item.table_exists()
    if empty:
        database.close_all()
        begin_with_the_demo(url, demo, progress)
    with connected():
        do_not_wait_for_the_disk()
        progress(f"{grow(parts, progress=progress):,} parts")
        if readings:
            last = instant(int(Deed.select(fn.MAX(Deed.occurred_at)).scalar().timestamp()) * 1_000_000)
            for (name,) in Item.select(Item.name).where(Item.kind == Kind.PLACE).tuples():
                measure_a_place(name, until=last, readings=readings)
    database.close_all()


def _say(said: str) -> None:
    print(said, flush=True)


if __name__ == "__main__":
    main()
