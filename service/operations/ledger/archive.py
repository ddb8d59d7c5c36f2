"""The whole account as one file, readable without this program, and such a file as an account again.

A zip: one file of JSON lines a table, in the order of keys; kept and issued documents, named by their SHA-256; a list
of contents with every column's form and every file's hash; a page that says how to read it all. The same account gives
the same bytes on either engine. Of what is left out the reason stands beside it.
"""

import hashlib
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any

import orjson
from peewee import (
    AutoField,
    BlobField,
    BooleanField,
    DateField,
    DoubleField,
    Field,
    ForeignKeyField,
    IntegerField,
    Model,
    PeeweeException,
    TextField,
)

from service.database import NOT_BOUND, database, reading, row_by_row, rows_of
from service.operations.door import founding
from service.records import ALL
from service.records.base import Instant, Json
from service.records.journal import Head
from service.whole_tables import count_on, put_back, put_rows, rows_by_key

FORMAT = "potmark archive 1"

# What no archive holds. All other tables are in it, those too that are not bound.
LEFT_OUT = {
    table: NOT_BOUND[table]
    for table in ("answer", "secret_try", "signing_token", "webhook_delivery", "schema_migration")
}
# And what no database holds, to be carried over by hand (`deploy/backup` puts it into a file of its own).
LEFT_OUT_FILES = {
    "potmark-secrets.key": "it guards the secrets with which people sign; without it nobody here signs again",
    "potmark-signing.key, potmark-signing.crt": "documents are signed with it; `potmark signer --renew` makes new ones",
    "potmark-seal.key": "heads of the journal are signed with it; `potmark signer` and `potmark seal` tell more",
    "heads": "the heads that were signed so far, which prove the journal only where its forger does not reach",
}

_TOLD = "README.txt"
_LIST = "contents.json"
_READ_ME = """This is the whole account of a workshop, kept by Potmark: what went into what.

contents.json     what is in here: each table with its columns, its rows and the SHA-256 of its file
tables/*.ndjson   one table a file, one row a line, each line a JSON object (RFC 8259, UTF-8), in the order of the keys
documents/*       kept files, each named by its SHA-256; tables/document.ndjson has their names and kinds
issued/*          documents as they were issued, named likewise; tables/document_issue.ndjson says what each is

An instant is a whole number of microseconds since 1970-01-01T00:00:00Z; a date stands as 2026-11-26. Columns that end
in _mg are whole milligrams, those in _mm whole millimetres; what an amount is measured in stands beside it. A column
that ends in _id names the row of another table, which contents.json names. "JSON" is text that is JSON itself.

tables/item.ndjson has everything that carries a code, tables/movement.ndjson what went from where to where: with these
two any trace can be followed. tables/entry.ndjson is the journal: hash = SHA-256(previous + body), in hexadecimal, over
the text as it stands, from an empty text on; "rows" in each body names every row that the act wrote, with its hash.

What is not in here stands in contents.json under left_out, with the reason.
"""
# The earliest time that a zip can say: the same account gives the same bytes whenever it goes out.
_LONG_AGO = (1980, 1, 1, 0, 0, 0)
_AT_ONCE = 2000
# Documents may have megabytes each.
_WIDE_AT_ONCE = 10
_FOLDERS = {"document": "documents", "document_issue": "issued"}


class NotAnArchive(Exception):
    """A file that cannot be taken in; the sentence says why."""


@dataclass(frozen=True, slots=True)
class Archived:
    """What went out or came in."""

    site: str
    rows: int
    documents: int
    entries: int
    steps: tuple[str, ...]
    left_out: dict[str, str]


def write_archive(file: Path) -> Archived:
    """Write the account as it is now, one snapshot of it, into a new file."""
    with reading(), zipfile.ZipFile(file, "x", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr(_info(_TOLD), _READ_ME)
        tables = {table._meta.table_name: _write_table(packed, table) for table in _carried()}
        documents = sum(_write_documents(packed, table, folder) for table, folder in _FOLDERS.items())
        head = Head.get_by_id(1)
        contents = {
            "format": FORMAT,
            "site": rows_of("SELECT name FROM site ORDER BY id LIMIT 1")[0][0],
            "steps": founding.all_steps(),
            "head": {"number": head.seq, "hash": head.hash},
            "documents": documents,
            "tables": tables,
            "left_out": {"tables": LEFT_OUT, "files": LEFT_OUT_FILES},
        }
        packed.writestr(_info(_LIST), orjson.dumps(contents, option=orjson.OPT_INDENT_2 | orjson.OPT_APPEND_NEWLINE))
    return _told(contents)


def _told(contents: dict[str, Any]) -> Archived:
    return Archived(
        site=contents["site"],
        rows=sum(table["rows"] for table in contents["tables"].values()),
        documents=contents["documents"],
        entries=contents["head"]["number"],
        steps=tuple(contents["steps"]),
        left_out={**contents["left_out"]["tables"], **contents["left_out"]["files"]},
    )


def _carried() -> list[type[Model]]:
    return [table for table in ALL if table._meta.table_name not in LEFT_OUT]


def _info(name: str) -> zipfile.ZipInfo:
    info = zipfile.ZipInfo(name, _LONG_AGO)
    info.compress_type = zipfile.ZIP_DEFLATED
    info.external_attr = 0o600 << 16
    return info


def _columns(table: type[Model]) -> list[Field]:
    """All but the content of documents, which are files."""
    return [field for field in table._meta.sorted_fields if not isinstance(field, BlobField)]


def _write_table(packed: zipfile.ZipFile, table: type[Model]) -> dict[str, Any]:
    name, fields = table._meta.table_name, _columns(table)
    columns = [field.column_name for field in fields]
    plainly = [(place, said) for place, field in enumerate(fields) if (said := _said(field)) is not None]
    keys = {field.column_name: isinstance(field, TextField) for field in table._meta.get_primary_keys()}
    digest, count = hashlib.sha256(), 0
    with packed.open(_info(f"tables/{name}.ndjson"), "w", force_zip64=True) as out:
        lines: list[bytes] = []

        def pass_on() -> None:
            some = b"".join(lines)
            digest.update(some)
            out.write(some)
            lines.clear()

        for found in rows_by_key(name, columns, keys, at_once=_AT_ONCE):
            row = list(found)
            for place, said in plainly:
                if row[place] is not None:
                    row[place] = said(row[place])
            lines.append(orjson.dumps(dict(zip(columns, row, strict=True)), option=orjson.OPT_APPEND_NEWLINE))
            count += 1
            if len(lines) == _AT_ONCE:
                pass_on()
        pass_on()
    about = " ".join((table.__doc__ or "").split("\n\n")[0].split())
    return {
        "rows": count,
        "sha256": digest.hexdigest(),
        **({"about": about} if about and not about.startswith(f"{table.__name__}(") else {}),
        "key": list(keys),
        "columns": {field.column_name: _form(field) for field in fields},
    }


def _said(field: Field) -> Callable[[Any], Any] | None:
    """How a value of the column is said that the engines give in two ways."""
    if isinstance(field, BooleanField):
        return bool
    if isinstance(field, DateField):
        return lambda value: value.isoformat() if isinstance(value, date) else value
    return float if isinstance(field, DoubleField) else None


def _form(field: Field) -> str:
    if isinstance(field, ForeignKeyField):
        return f"the {field.rel_field.column_name} of {field.rel_model._meta.table_name}"
    forms: tuple[tuple[type[Field], str], ...] = (
        (Instant, "instant"), (Json, "JSON"), (BooleanField, "true or false"), (DateField, "date"),
        (DoubleField, "number"), (AutoField, "whole number"), (IntegerField, "whole number"), (TextField, "text"),
    )  # fmt: skip
    return next(said for kind, said in forms if isinstance(field, kind))


def _write_documents(packed: zipfile.ZipFile, table: str, folder: str) -> int:
    count = 0
    for digest, content in row_by_row(f'SELECT sha256, content FROM "{table}" ORDER BY id', at_once=_WIDE_AT_ONCE):
        packed.writestr(_info(f"{folder}/{digest}"), bytes(content))
        count += 1
    return count


def read_contents(file: Path) -> Archived:
    """What a file holds, once all of it was compared with the hashes that it was written with."""
    with _opened(file) as packed:
        contents = _contents(packed)
        for name, table in contents["tables"].items():
            digest, count = hashlib.sha256(), 0
            for line in _lines(packed, name):
                digest.update(line)
                count += 1
                if name in _FOLDERS:
                    _document(packed, name, orjson.loads(line)["sha256"])
            if (digest.hexdigest(), count) != (table["sha256"], table["rows"]):
                raise NotAnArchive(f"The table {name} in {file} is not as it was written; fetch the file again.")
    return _told(contents)


def take_in(file: Path, *, at: datetime) -> Archived:
    """Make the account that an archive holds, in a database without one: all of it, or no row.

    An archive of an earlier version is taken in with the schema that it had, and then brought up to this one's.
    """
    archived = read_contents(file)
    every = founding.all_steps()
    if tuple(every[: len(archived.steps)]) != archived.steps:
        raise NotAnArchive(
            f"The schema of {file} is not one that this program knows; install the Potmark that wrote it."
        )
    founding.make_schema(archived.steps[-1])
    with _opened(file) as packed:
        contents = _contents(packed)
        try:
            with put_back():
                database.execute_sql("DELETE FROM head")
                for name, table in contents["tables"].items():
                    _put_table(packed, name, table)
        except PeeweeException as error:
            said = (str(error).strip().splitlines() or [type(error).__name__])[0]
            raise NotAnArchive(f"What is in {file} does not hold together, so nothing was taken in: {said}.") from None
    founding.migrate(at=at)
    return archived


def _put_table(packed: zipfile.ZipFile, name: str, table: dict[str, Any]) -> None:
    columns = list(table["columns"])
    wide = ["content"] if name in _FOLDERS else []

    def rows() -> Iterator[list[Any]]:
        for line in _lines(packed, name):
            said = orjson.loads(line)
            yield [said[column] for column in columns] + [_document(packed, name, said["sha256"]) for _ in wide]

    put_rows(name, columns + wide, rows())
    if table["key"] == ["id"]:
        count_on(name, "id")


def _opened(file: Path) -> zipfile.ZipFile:
    try:
        return zipfile.ZipFile(file)
    except FileNotFoundError:
        raise NotAnArchive(f"There is no file {file}.") from None
    except (OSError, zipfile.BadZipFile):
        raise NotAnArchive(f"{file} cannot be read as a zip file.") from None


def _contents(packed: zipfile.ZipFile) -> dict[str, Any]:
    try:
        contents = orjson.loads(packed.read(_LIST))
        known = isinstance(contents, dict) and contents.get("format") == FORMAT
    except (KeyError, ValueError, zipfile.BadZipFile):
        known = False
    if not known:
        raise NotAnArchive(f"{packed.filename} is not what `potmark export` writes.")
    return contents


def _lines(packed: zipfile.ZipFile, table: str) -> Iterator[bytes]:
    try:
        with packed.open(f"tables/{table}.ndjson") as lines:
            yield from lines
    except (KeyError, zipfile.BadZipFile):
        raise NotAnArchive(f"The table {table} is missing or damaged in {packed.filename}.") from None


def _document(packed: zipfile.ZipFile, table: str, digest: str) -> bytes:
    name = f"{_FOLDERS[table]}/{digest}"
    try:
        content = packed.read(name)
    except (KeyError, zipfile.BadZipFile):
        raise NotAnArchive(f"The file {name} is missing or damaged in {packed.filename}.") from None
    if hashlib.sha256(content).hexdigest() != digest:
        raise NotAnArchive(f"The file {name} in {packed.filename} is not the one that it is named by.")
    return content
