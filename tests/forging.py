"""What someone with the database's own password can do: write past the program, with the guards away meanwhile."""

import hashlib
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from service.database import database, on_postgresql, rows_of, through_a_step, worded
from service.records.bound import changes


@contextmanager
def beside_any_act() -> Iterator[None]:
    """Write rows through the records, and no entry that names them; for tests that ask the journal nothing."""
    with changes():
        yield


def say(statement: str, *values: Any) -> Any:
    """Run a statement past the hooks of the records, with the database's own guards in its way."""
    with through_a_step():
        return database.execute_sql(worded(statement), values)


def forge(statement: str, *values: Any) -> int:
    """Run a statement with nothing in its way, and put back what was in its way; how many rows it changed."""
    connection = database.connection()
    if on_postgresql():
        with connection.cursor() as cursor:
            cursor.execute("SET session_replication_role = replica")
            try:
                cursor.execute(worded(statement), values)
                return int(cursor.rowcount)
            finally:
                cursor.execute("SET session_replication_role = DEFAULT")
    guards = connection.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
    connection.execute("PRAGMA foreign_keys = 0")
    connection.execute("PRAGMA ignore_check_constraints = 1")
    connection.execute("SAVEPOINT forged")  # one transaction, or each trigger would wait for the disk
    for name, _ in guards:
        connection.execute(f"DROP TRIGGER {name}")
    try:
        return int(connection.execute(statement, values).rowcount)
    finally:
        for _, sql in guards:
            connection.execute(sql)
        connection.execute("RELEASE forged")
        connection.execute("PRAGMA ignore_check_constraints = 0")
        connection.execute("PRAGMA foreign_keys = 1")


def write_chain_anew() -> None:
    """Work all hashes of the journal out again, so that the chain holds by itself whatever its entries say now."""
    previous, last = "", 0
    for seq, body in rows_of("SELECT seq, body FROM entry ORDER BY seq"):
        digest = hashlib.sha256((previous + body).encode()).hexdigest()
        forge("UPDATE entry SET previous = ?, hash = ? WHERE seq = ?", previous, digest, seq)
        previous, last = digest, seq
    forge("UPDATE head SET seq = ?, hash = ?", last, previous)
