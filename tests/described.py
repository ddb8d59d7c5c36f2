"""What a database is made of, in the engine's own words, whatever the order in which it came to be."""

from typing import Any

from service.database import database, on_postgresql
from service.migrations.steps import definitions


def described() -> set[tuple[Any, ...]]:
    """Every table, column, constraint, index and trigger there is."""
    if not on_postgresql():
        query = "SELECT type, name, tbl_name, sql FROM sqlite_master WHERE name NOT LIKE 'schema_migration%'"
        rows = database.execute_sql(query).fetchall()
        return {tuple(row) for row in rows if row[0] != "table"} | {
            ("definition", name, part) for kind, name, _, sql in rows if kind == "table" for part in definitions(sql)
        }
    queries = (
        "SELECT 'column', table_name, column_name, data_type, is_nullable, column_default"
        " FROM information_schema.columns WHERE table_schema = 'public'",
        "SELECT 'constraint', conrelid::regclass::text, pg_get_constraintdef(oid) FROM pg_constraint"
        " WHERE connamespace = 'public'::regnamespace",
        "SELECT 'index', tablename, indexdef FROM pg_indexes WHERE schemaname = 'public'",
        "SELECT 'trigger', tgrelid::regclass::text, pg_get_triggerdef(oid) FROM pg_trigger WHERE NOT tgisinternal",
    )
    found = {tuple(row) for query in queries for row in database.execute_sql(query).fetchall()}
    return {row for row in found if not str(row[1]).startswith("schema_migration")}
