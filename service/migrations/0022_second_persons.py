"""A revision knows who wrote it, so that another approves it; a longer life of a lot is asked for, then agreed to."""

import json
from typing import Any

from peewee import DateField, TextField

from service.database import rows_of
from service.migrations import steps

# Acts that write a draft, and what their notes in the journal call it by.
_WRITING = {
    "resin_system": ("add_resin_system", "change_resin_system"),
    "design": ("add_design", "mirror_design", "change_design"),
    "schedule": ("add_schedule", "change_schedule"),
}


def up(migrator: Any, db: Any) -> None:
    for table, acts in _WRITING.items():
        steps.add_column(table, "authors", TextField(null=True))
        steps.add_column(table, "approved_alone", TextField(null=True))
        _tell_of_drafts(db, table, acts)
    steps.add_column("lot", "extension_until", DateField(null=True))
    steps.add_column("lot", "extension_asked_by", steps.row_of("person", null=True))


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
