"""Hand-written SQL for what the service answers, by the bare driver: what the ratios are measured against.

The same columns as the answer has, without its holds and lots; one statement a table, and a JSON dump of the rows.
"""

import sqlite3
from typing import Any

import orjson
import psycopg

_FORWARD, _BACK = ("source_id", "target_id"), ("target_id", "source_id")


class Yardstick:
    """A bare connection to an account."""

    def __init__(self, url: str) -> None:
        self.postgresql = url.startswith("postgresql")
        self.connection: Any
        if self.postgresql:
            self.connection = psycopg.connect(url, autocommit=True)
            # As a database engineer would have it: the planner takes a recursive query for ten times its size.
            self.connection.execute("SET jit = off")
            self.connection.execute("SET enable_hashjoin = off")
        else:
            self.connection = sqlite3.connect(url.removeprefix("sqlite:///"), isolation_level=None)
            self.connection.execute("PRAGMA busy_timeout = 10000")

    def rows(self, sql: str, *values: Any) -> list[tuple[Any, ...]]:
        text = sql.replace("?", "%s") if self.postgresql else sql
        found: list[tuple[Any, ...]] = self.connection.execute(text, values).fetchall()
        return found

    def dumped(self, *tables: list[tuple[Any, ...]]) -> int:
        return sum(len(orjson.dumps(table)) for table in tables)

    def trace(self, code: str, *, back: bool) -> int:
        near, far = _BACK if back else _FORWARD
        reach = (
            "WITH RECURSIVE reach(id) AS (SELECT id FROM item WHERE code = ? UNION SELECT m."
            f"{far} FROM reach JOIN movement m ON m.{near} IN (reach.id)"
            f" WHERE m.{far} IS NOT NULL AND m.cancelled_by_id IS NULL)"
        )
        items = self.rows(
            f"{reach} SELECT i.code, i.kind, i.name, i.state, a.name, i.balance, i.unit, c.expires_on,"
            " EXISTS (SELECT 1 FROM nonconformance n WHERE n.item_id = i.id AND n.failed)"
            " FROM reach r CROSS JOIN item i LEFT JOIN item a ON a.id = i.place_id"
            " LEFT JOIN container c ON c.item_id = i.id WHERE i.id = r.id ORDER BY i.id",
            code,
        )
        moved = self.rows(
            f"{reach} SELECT s.code, t.code, m.kind, m.purpose, m.amount, m.unit, m.estimated, m.occurred_at"
            " FROM reach r CROSS JOIN movement m CROSS JOIN item s CROSS JOIN item t"
            f" WHERE m.{near} IN (r.id) AND m.{far} IS NOT NULL AND m.cancelled_by_id IS NULL"
            " AND s.id = m.source_id AND t.id = m.target_id ORDER BY m.occurred_at, m.id",
            code,
        )
        return self.dumped(items, moved)

    def container(self, code: str) -> int:
        return self.dumped(
            self.rows(
                "SELECT i.code, i.name, i.state, i.balance, i.unit, a.name, c.number, c.net, c.expires_on, c.opened_at,"
                " l.makers_lot, l.retest_on, m.name, m.kind, m.storage_low_c, m.storage_high_c, m.opened_life_days,"
                " r.received_at, r.released_in_id FROM item i JOIN container c ON c.item_id = i.id"
                " JOIN lot l ON l.item_id = c.lot_id JOIN material m ON m.id = c.material_id"
                " LEFT JOIN receipt r ON r.id = c.receipt_id LEFT JOIN item a ON a.id = i.place_id WHERE i.code = ?",
                code,
            )
        )

    def page(self, kind: str) -> int:
        tables = {"P": "part", "M": "mix", "C": "container"}
        return self.dumped(
            self.rows(
                f"SELECT i.code, i.name, i.state, i.balance, i.unit, a.name, i.version, t.* FROM item i"
                f" JOIN {tables[kind]} t ON t.item_id = i.id LEFT JOIN item a ON a.id = i.place_id"
                " WHERE i.kind = ? ORDER BY i.id LIMIT 50",
                kind,
            )
        )

    def availability(self, material: int) -> int:
        return self.dumped(
            self.rows(
                "SELECT i.code, i.state, i.balance, i.unit, c.expires_on, c.opened_at, l.makers_lot, l.retest_on,"
                " (SELECT max(r.occurred_at) FROM storage_reading r WHERE r.place_id = i.place_id),"
                " (SELECT sum(p.amount_mg) FROM planned_pour p WHERE p.container_id = i.id AND p.settled_at IS NULL)"
                " FROM container c JOIN item i ON i.id = c.item_id JOIN lot l ON l.item_id = c.lot_id"
                " WHERE c.material_id = ? AND i.balance > 0",
                material,
            )
        )

    def written(self, statements: list[tuple[str, Any]]) -> int:
        """The writes of an act, as it sent them, again; taken back, as the act's own were."""
        if self.postgresql:
            # The numbers in them are of rows that were taken back, so that what they refer to cannot be looked up.
            self.connection.execute("SET session_replication_role = replica")
        self.connection.execute("BEGIN" if self.postgresql else "BEGIN IMMEDIATE")
        try:
            for sql, values in statements:
                self.connection.execute(sql, values)
        finally:
            self.connection.execute("ROLLBACK")
        return len(statements)
