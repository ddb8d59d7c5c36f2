"""What is said of a chain that was forged, and an act appended to it that nobody did."""

import json
from typing import Any

import rfc8785

from service.database import database, rows_of
from service.operations.ledger.against import Anchor
from service.operations.ledger.checking import check_account
from service.operations.ledger.sealed import SignedHead, public_key_of
from service.records.bound import Whole
from tests.forging import forge, write_chain_anew

KEY, OTHER_KEY = bytes(range(32)), bytes(range(1, 33))


def said_of(api: Any = None, *kept: SignedHead, key: bytes | None = None) -> list[str]:
    anchors = [Anchor.of("mailbox", signed) for signed in kept]
    result = check_account(show=1000, against=anchors, public_key=public_key_of(key) if key else None)
    return [d.sentence for d in result.first]


def mark_of(table: str, number: int) -> tuple[int, str]:
    """The entry that names a row last, and the hash that it names."""
    for seq, body in rows_of("SELECT seq, body FROM entry ORDER BY seq DESC"):
        for key, _, after in json.loads(body)["rows"].get(table, ()):
            if key == number:
                return seq, after
    raise AssertionError(f"{table} {number} is in no entry")


def hash_now(table: str, number: int) -> str:
    cursor = database.execute_sql(f'SELECT * FROM "{table}" WHERE id = {number}')
    row = cursor.fetchone()
    return Whole([column[0] for column in cursor.description], ["id"]).hash(row)


def append(
    *,
    at: Any,
    change: str | None = None,
    table: str = "",
    number: int = 0,
    operation: str = "change_supplier",
    signed: tuple[int, Any] | None = None,
    marks: Any = None,
    deedless: bool = False,
    **more: Any,
) -> int:
    """An act that nobody did, written as an act is written: deed, marks, entry, head. ``signed`` by a key, somehow.

    ``more`` is what the entry says besides, or instead; its number is returned.
    """
    ((seq, digest),) = rows_of("SELECT seq, hash FROM head")
    ((deed,),) = rows_of("SELECT 999999" if deedless else "SELECT MAX(id) + 1 FROM deed")
    marks = dict(marks or {})
    if change is not None:
        _, before = mark_of(table, number)
        forge(change)
        gone = change.startswith("DELETE")
        marks[table] = [[number, before, None if gone else hash_now(table, number)]]
    micro = int(at.timestamp()) * 1_000_000
    if not deedless:
        refused = more["refused"]["kind"] if isinstance(more.get("refused"), dict) else None
        forge("INSERT INTO deed (id, operation, person_id, site_id, occurred_at, recorded_at, late, refused)"
              " VALUES (?, ?, 2, 1, ?, ?, ?, ?)", deed, operation, micro, micro, False, refused)  # fmt: skip
        marks["deed"] = [[deed, None, hash_now("deed", deed)]]
    stated = at.isoformat().replace("+00:00", "Z")
    said = {"seq": seq + 1, "deed": deed, "operation": operation, "person": 2, "key": None, "system": None,
            "device": None, "site": 1, "occurred_at": stated, "recorded_at": stated, "why": None, "items": [],
            "asked": {}, "notes": [], "rows": marks, **more}  # fmt: skip
    if signed is not None:
        said["signs"] = {"key": signed[0], "meaning": "released for use"}
        said["signature"] = signed[1](said)
    forge("INSERT INTO entry (seq, deed_id, previous, hash, body) VALUES (?, ?, ?, '', ?)", seq + 1, deed, digest,
          rfc8785.dumps(said).decode())  # fmt: skip
    forge("UPDATE head SET at = (SELECT MAX(recorded_at) FROM deed)")
    write_chain_anew()
    return int(seq) + 1
