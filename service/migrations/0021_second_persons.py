"""A revision knows who wrote it, so that another approves it; a longer life of a lot is asked for, then agreed to.

The service itself and each system that has a key are among the people, under which they act in their own names.
"""

import json
from typing import Any

from peewee import DateField, TextField

from service.database import on_postgresql, rows_of, worded
from service.migrations import steps

# Acts that write a draft, and what their notes in the journal call it by.
_WRITING = {
    "resin_system": ("add_resin_system", "change_resin_system"),
    "design": ("add_design", "mirror_design", "change_design"),
    "schedule": ("add_schedule", "change_schedule"),
}

# What the one role of systems had opened.
_AS_BEFORE = ["measuring", "orders", "reading", "shipping"]


def up(migrator: Any, db: Any) -> None:
    for table, acts in _WRITING.items():
        steps.add_column(table, "authors", TextField(null=True))
        steps.add_column(table, "approved_alone", TextField(null=True))
        _tell_of_drafts(db, table, acts)
    steps.add_column("lot", "extension_until", DateField(null=True))
    steps.add_column("lot", "extension_asked_by", steps.row_of("person", null=True))
    if rows_of("SELECT 1 FROM site LIMIT 1"):
        _name_systems(db)


def _name_systems(db: Any) -> None:
    """A key of a system opens what the role opened that all of them had."""
    _add_system(db, "Potmark", number=0)
    for name, since in rows_of(
        "SELECT system, MIN(created_at) FROM access_key WHERE system IS NOT NULL GROUP BY system"
    ):
        number = _add_system(db, name, since=since)
        db.execute_sql(
            worded("UPDATE access_key SET acts_as_id = ?, scopes = ? WHERE system = ?"),
            (number, json.dumps(_AS_BEFORE), name),
        )


def _add_system(db: Any, name: str, *, number: int | None = None, since: int | None = None) -> int:
    while rows_of("SELECT 1 FROM person WHERE name = ?", name):
        name = f"{name} (system)"
    if number is None:
        ((number,),) = rows_of("SELECT MAX(id) + 1 FROM person")
    db.execute_sql(
        worded("INSERT INTO person (id, name, active, since, is_system, version) VALUES (?, ?, TRUE, ?, TRUE, 1)"),
        (number, name, since),
    )
    if on_postgresql() and number:
        db.execute_sql("SELECT setval(pg_get_serial_sequence('person', 'id'), (SELECT MAX(id) FROM person))")
    return number


def _tell_of_drafts(db: Any, table: str, acts: tuple[str, ...]) -> None:
    """Who wrote what still waits for its approval, from what the journal says."""
    drafts = {number for (number,) in rows_of(f"SELECT id FROM {table} WHERE approved_at IS NULL")}
    found: dict[int, list[int]] = {number: [] for number in drafts}
    listed = ", ".join(f"'{act}'" for act in acts)
    entries = rows_of(
        "SELECT d.person_id, e.body FROM entry e JOIN deed d ON d.id = e.deed_id"
        f" WHERE d.operation IN ({listed}) AND d.refused IS NULL ORDER BY e.seq"
    )
    for person, body in entries if drafts else ():
        for note in json.loads(body).get("notes", ()):
            number = note.get(table) or (note.get("id") if note.get("record") == table else None)
            if number in found and person not in found[number]:
                found[number].append(person)
    for number, people in sorted(found.items()):
        if people:
            db.execute_sql(f"UPDATE {table} SET authors = '{json.dumps(people)}' WHERE id = {number}")
