"""Grow an account by copies of what it holds: `python -m tests.benchmarks.grow --parts 10000 URL`.

The account is the demo's (copied in if the one at URL has no tables yet, built first if there is none), or any other
small one. Each copy has items, movements, deeds, journal entries and all other rows of its own, with valid codes,
earlier in time than what is there; people, materials, designs, moulds, scales and places are shared, as in a shop that
goes on. Two lots are shared as well, so that there is one that reaches about a thousand parts and one that reaches
fifty thousand. What a copy has left on its shelves is scrapped, and its holds are lifted: what a shop has in stock and
on hold does not grow with its history. What people signed is signed in the copies as well, with keys of theirs from
before those that they have.
"""

import argparse
import hashlib
import json
import secrets
import shutil
import time
from collections.abc import Callable, Iterable, Iterator
from datetime import datetime, timedelta
from itertools import islice
from pathlib import Path
from typing import Any

from peewee import AutoField, BooleanField, Model, fn

from labels.codes import make, next_usable
from schemas.words import Kind, MaterialKind
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
from service.migrations.steps import ample_memory
from service.opening import secrets_key_file
from service.operations.door import chain, founding, marking, signatures
from service.operations.door.acts import ACTS
from service.operations.door.plain import plain
from service.operations.ledger.graph import closure
from service.records import ALL
from service.records.base import instant, microseconds
from service.records.bound import Whole
from service.records.items import Counter, Item
from service.records.journal import Deed, Entry, Head
from service.records.materials import Lot, Material, StorageReading
from service.records.parts import Nonconformance
from service.records.people import SigningKey
from tests.benchmarks.template import DAY, Copy, Template, changed, copied, kept_rows
from tests.forging import beside_any_act, say

GROWN = "9999_grown"
_BIG_PARTS, _THOUSAND = 50_000, 1_000


def _write(model: type[Model], columns: list[str], rows: Iterable[tuple[Any, ...]]) -> None:
    name, listed = model._meta.table_name, ", ".join(f'"{c}"' for c in columns)
    cursor = database.connection().cursor()
    if on_postgresql():
        with cursor.copy(f'COPY "{name}" ({listed}) FROM STDIN') as copying:
            for row in rows:
                copying.write_row(row)
    else:
        cursor.executemany(f'INSERT INTO "{name}" ({listed}) VALUES ({", ".join("?" * len(columns))})', rows)


def _meaning(operation: str) -> str | None:
    """Of the signature that an act always bears, if it is one that people sign."""
    return ACTS[operation].signs if operation in ACTS else None


def _signers(template: Template, earliest: int, latest: int) -> dict[int, signatures.Signing]:
    """A key for each person who signed something that is copied, in use only from the first copy to the last."""
    signers: dict[int, signatures.Signing] = {}
    signed = {
        person for _, operation, person, *_, refused, _ in template.deeds if refused is None and _meaning(operation)
    }
    for person in sorted(signed):
        key, seed = signatures.new_key(person, secrets.token_hex())
        row = SigningKey.create(
            person=person, public_key=key.public_key, salt=key.salt, cost=key.cost, voucher=key.voucher(),
            made_at=instant(earliest), ended_at=instant(latest),
        )  # fmt: skip
        signers[person] = signatures.Signing(person, row.id, seed)
    return signers


def _seal(
    template: Template, copy: Copy, seq: int, previous: str, signers: dict[int, signatures.Signing]
) -> tuple[int, str]:
    """An entry of the journal for each deed of the copy, chained to what is there, signed where people sign."""
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
        if refused is None and (meaning := _meaning(operation)):
            said["signs"] = {"key": signers[person].key, "meaning": meaning}
            said["signature"] = signers[person].sign(said)
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


def grow(parts: int, *, bound: bool = True, progress: Callable[[str], None] = lambda said: None) -> int:
    """Add copies of the open account to it until it has at least so many parts; gives back how many there are.

    What is not ``bound`` is there in half the time: answers are the same, but `potmark check` says of each row that
    the journal does not name it.
    """
    there = Item.select().where(Item.kind == Kind.PART).count()
    copies = max(0, -(-parts // there) - 1)
    big, thousand = _lots_to_share()
    templates = {
        "both": Template(big | thousand),
        "big": Template(big),
        "none": Template({}),
    }
    # Seven of the demo's seasons fill a year; a large account does more in a year, and is ten years old.
    step = min(52 * DAY, 3650 * DAY // max(copies, 1))
    begin = time.monotonic()
    base = {m._meta.table_name: _highest(m) for m in ALL if m._meta.table_name in templates["none"].own}
    numbers = {kind: int(last) for kind, last in kept_rows(Counter, Counter.kind, Counter.last)}
    recorded = [recorded_at for *_, recorded_at, _, _, _ in templates["none"].deeds]
    with writing(), beside_any_act():
        signers = _signers(templates["none"], min(recorded) - copies * step, max(recorded) - step) if copies else {}
    (seq, digest) = kept_rows(Head, Head.seq, Head.hash)[0]
    # The copies refer to each other rightly, not in the order of tables; looking each up would take most of the time.
    if not on_postgresql():
        database.execute_sql("PRAGMA foreign_keys = OFF")
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
                    _write(table.model, table.columns, copied(table, copy))
                seq, digest = _seal(template, copy, seq, digest, signers)
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
    if bound:
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
        # An entry of that kind is believed of a step that the schema has had.
        database.execute_sql(f"INSERT INTO schema_migration (name, applied) VALUES ('{GROWN}', CURRENT_TIMESTAMP)")
        marking.write_entries([GROWN], Deed.select(fn.MAX(Deed.recorded_at)).scalar())


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
    """The demo's account at ``url``, row by row, from the one that is kept in ``folder`` (built if there is none).

    The file that guards its people's secrets is copied, too, unless one is there.
    """
    kept = prepare(folder, fresh=False, progress=progress)
    settings = kept.settings(Settings())
    guarding = secrets_key_file(Settings(database=url))
    if not guarding.exists():
        shutil.copy(secrets_key_file(settings), guarding)
    open_database(settings.database)
    with connected():
        rows = {model: kept_rows(model, *model._meta.sorted_fields) for model in ALL}
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
    return changed(row, {p: bool(row[p]) for p in places if row[p] is not None}) if places else row


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.grow", description=__doc__)
    parser.add_argument("url", metavar="URL", help="the account, such as sqlite:////tmp/large.db")
    parser.add_argument("--parts", type=int, default=1000, help="how many parts it is to have at the least (1000)")
    parser.add_argument("--readings", type=int, default=0, help="readings of each place, one every ten minutes (0)")
    parser.add_argument("--demo", default=".demo", metavar="FOLDER", help="where the demo's account is kept (.demo)")
    asked = parser.parse_args()
    build(asked.url, parts=asked.parts, readings=asked.readings, demo=Path(asked.demo), progress=_say)


def build(
    url: str,
    *,
    parts: int,
    readings: int = 0,
    demo: Path = Path(".demo"),
    bound: bool = True,
    progress: Callable[[str], None],
) -> None:
    """An account of so many parts at ``url``; one that is there already is grown further."""
    open_database(url)
    with connected():
        empty = not Item.table_exists()
    if empty:
        database.close_all()
        begin_with_the_demo(url, demo, progress)
    signatures.look_in(secrets_key_file(Settings(database=url)))
    with connected():
        do_not_wait_for_the_disk()
        with ample_memory():
            there = grow(parts, bound=bound, progress=progress)
        progress(f"{there:,} parts")
        if readings:
            last = instant(int(Deed.select(fn.MAX(Deed.occurred_at)).scalar().timestamp()) * 1_000_000)
            for (name,) in Item.select(Item.name).where(Item.kind == Kind.PLACE).tuples():
                measure_a_place(name, until=last, readings=readings)
    database.close_all()


def _say(said: str) -> None:
    print(said, flush=True)


if __name__ == "__main__":
    main()
