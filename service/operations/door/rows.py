"""Rows of a register: found or refused by name, changed only in the version that was read."""

from typing import Any, TypeVar

from peewee import Model

from service.operations.door.formerly import keep_former
from service.operations.door.operation import Work
from service.operations.door.refusals import AlreadyThere, ChangedMeanwhile, UnknownThing, Unprocessable

M = TypeVar("M", bound=Model)


def find_row(table: type[M], number: int, what: str, *, pointer: str | None = None) -> M:
    """The row of that number, or a refusal that says what there is none of."""
    row = table.get_or_none(table._meta.primary_key == number)
    if row is None:
        if pointer is not None:
            raise Unprocessable(f"There is no {what} {number} here.", pointer=pointer)
        raise UnknownThing(f"There is no {what} {number} here.", way_out="Look it up in the list.")
    return row


def change_row(work: Work, row: Any, version: int, changes: dict[str, Any], *, card: bool = True) -> None:
    """Change a row if it is still the one that was read, here too; old and new values go into the journal.

    Of a ``card``, what it said until then is kept, so that a record can read it as of an earlier act.
    """
    table = type(row)
    if not changes:
        raise Unprocessable("Give at least one field to change.")
    if "name" in changes and table.select().where((table.name == changes["name"]) & (table.id != row.id)).exists():
        raise AlreadyThere(f"There is another {changes['name']} already.", pointer="/name")
    done = (
        table.update(version=table.version + 1, **changes)
        .where((table.id == row.id) & (table.version == version))
        .execute()
    )
    if not done or row.version != version:
        raise ChangedMeanwhile(
            "Someone changed this since you read it.", way_out="Read it again, then repeat your change."
        )
    if card:
        keep_former(work, row, version=version)
    before = {name: getattr(row, f"{name}_id", None) or getattr(row, name) for name in changes}
    work.note(record=table._meta.table_name, id=row.id, before=before, after=changes)
    for name, value in (*changes.items(), ("version", version + 1)):
        setattr(row, name, value)
