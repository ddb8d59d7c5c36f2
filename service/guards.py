"""The triggers of the account: those that keep history from being edited, and whether there are others.

They are set by `database.guard_against_change`. One of somebody else's could write along with every honest act.
"""

import re

from service.database import database, on_postgresql

# What a guard does and nothing else, as each engine keeps it.
_GUARD = re.compile(
    r"\s*BEGIN\s+RAISE EXCEPTION 'history is added to, never edited';\s+END;?\s*"
    r"|CREATE TRIGGER .* BEGIN\s+SELECT RAISE\(ABORT, 'history is added to, never edited'\);\s+END",
    re.DOTALL,
)


def triggers() -> list[tuple[str, str, bool]]:
    """All triggers that are on: table, name, and whether it guards its table's history and does nothing else."""
    if on_postgresql():
        rows = database.execute_sql(
            "SELECT t.relname, g.tgname, p.prosrc FROM pg_trigger g JOIN pg_class t ON t.oid = g.tgrelid "
            "JOIN pg_proc p ON p.oid = g.tgfoid WHERE NOT g.tgisinternal AND g.tgenabled IN ('O', 'A') ORDER BY 1, 2"
        ).fetchall()
    else:
        rows = database.execute_sql(
            "SELECT tbl_name, name, sql FROM sqlite_master WHERE type = 'trigger' ORDER BY 1, 2"
        ).fetchall()
    return [
        (table, name, name in _guards_of(table) and _GUARD.fullmatch(text) is not None) for table, name, text in rows
    ]


def _guards_of(table: str) -> set[str]:
    return {f"keep_{table}_changed", f"keep_{table}_deleted"}


def guarded_tables() -> set[str]:
    """Tables whose two guards are there and switched on."""
    there = {(table, name) for table, name, guards in triggers() if guards}
    return {table for table, _ in there if {(table, name) for name in _guards_of(table)} <= there}
