"""What is kept in revisions: a draft is changed, then approved once, locked and frozen; the next one replaces it.

Resin systems, designs and cure schedules are such things. What was started by a revision stays with it.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from service.database import locked
from service.operations.door.formerly import name_then
from service.operations.door.operation import Work
from service.operations.door.refusals import AlreadyThere, ChangedMeanwhile, Unprocessable, WrongState
from service.operations.door.rows import find_row
from service.records.base import known
from service.records.cures import Schedule
from service.records.journal import Document
from service.records.materials import ResinSystem
from service.records.parts import Design

R = TypeVar("R", Design, ResinSystem, Schedule)


def approver_of(row: Design | ResinSystem | Schedule) -> str | None:
    """Who approved a revision, as they were called then; a list has read it along with the row."""
    if row.approved_by_id is None or row.approved_at is None:
        return None
    name = getattr(row, "approver", None) or name_then(row.approved_by_id, row.approved_at)
    return f"{name} ({row.approved_alone})" if row.approved_alone else str(name)


@dataclass(frozen=True, slots=True)
class Revisions(Generic[R]):
    """One kind of thing: its table, what it is called, how a revision of it is named, how the next one is made."""

    table: type[R]
    what: str
    title: Callable[[R], str]
    way_on: str

    def next_number(self, name: str) -> int:
        """The number of the next revision under that name; there is one draft at a time."""
        newest = self.table.select().where(self.table.name == name).order_by(self.table.revision.desc()).first()
        if newest is not None and newest.approved_at is None:
            raise AlreadyThere(
                f"{self.title(newest)} is still a draft.",
                way_out=f"Change that draft ({self.what} {newest.id}), or approve it first.",
                **{self.what.replace(" ", "_"): newest.id},
            )
        return 1 if newest is None else int(newest.revision) + 1

    def draft(self, number: int, *, version: int | None = None) -> R:
        """The draft of that number, under lock until the act is over; in the version that was read, if one is given."""
        row = locked(self.table.select().where(self.table.id == number)).get_or_none()
        if row is None:
            row = find_row(self.table, number, self.what)
        if row.approved_at is not None:
            raise WrongState(f"{self.title(row)} is approved and locked.", way_out=self.way_on)
        if version is not None and row.version != version:
            raise ChangedMeanwhile(
                "Someone changed this since you read it.", way_out="Read it again, then repeat your change."
            )
        return row

    def change(self, work: Work, row: R, changes: dict[str, Any]) -> R:
        """Change a draft in place; old and new values go into the journal."""
        if not changes:
            raise Unprocessable("Give at least one field to change.")
        before = {name: getattr(row, name) for name in changes}
        changed = self._put(row, **changes, authors=self.written_by(work, row))
        work.note(record=self.table._meta.table_name, id=row.id, before=before, after=changes)
        return changed

    def written_by(self, work: Work, row: R | None = None) -> list[int]:
        """Who has written a draft by now: those before, and who does it now."""
        written: list[int] = [] if row is None else row.authors or []
        return list(dict.fromkeys([*written, work.act.person]))

    def approve(self, work: Work, row: R, document: Document, *, alone: str | None = None) -> R:
        """Lock a draft with what was frozen of it; where the table says so, it replaces those before it.

        ``alone`` says why somebody approved what they wrote themselves, where the shop has no second person.
        """
        act, table = work.act, self.table
        approved = self._put(
            row, approved_at=act.recorded_at, approved_by=act.person, approved_alone=alone, document=document
        )
        if hasattr(table, "replaced_by"):
            table.update({"replaced_by": row.id, "version": table.version + 1}).where(
                (table.name == row.name) & (table.revision < row.revision) & table.replaced_by.is_null()
            ).execute()
        work.note(
            record=table._meta.table_name, id=row.id, approved=self.title(row), document=document.id,
            sha256=document.sha256,
        )  # fmt: skip
        return approved

    def require_approved(self, row: R) -> None:
        """What is started follows an approved revision."""
        if row.approved_at is None:
            raise WrongState(
                f"{self.title(row)} is still a draft.", way_out=f"The lead or quality approves the {self.what} first."
            )

    def none_approved(self, asked: str, named: Any, pointer: str) -> Unprocessable:
        """Why nothing can start by that name: its draft waits for somebody, or there is none at all."""
        draft = (
            self.table.select().where(named & self.table.approved_at.is_null()).order_by(self.table.id.desc()).first()
        )
        if draft is None:
            return Unprocessable(
                f"There is no {asked} here.", pointer=pointer, way_out="Add it, or look it up in the list."
            )
        return Unprocessable(
            f"There is no approved {asked} here: {self.title(draft)} is still a draft.",
            way_out=f"The lead or quality approves {self.what} {draft.id} first.",
            pointer=pointer,
            **{self.what.replace(" ", "_"): draft.id},
        )

    def current(self, number: int, *, pointer: str) -> R:
        """The revision of that number, if new work may start by it; the refusal says which one it may start by."""
        row = find_row(self.table, number, self.what, pointer=pointer)
        self.require_approved(row)
        newest = known(self.newest_approved(row.name))
        if newest.id != row.id:
            which: dict[str, Any] = {pointer.removeprefix("/"): newest.id}
            raise WrongState(
                f"{self.title(row)} was replaced by revision {newest.revision}.",
                way_out=f"Send {self.what} {newest.id} instead.",
                **which,
            )
        return row

    def newest_approved(self, name: str) -> R | None:
        """The approved revision with the highest number under that name, or nothing."""
        query = self.table.select().where((self.table.name == name) & self.table.approved_at.is_null(False))
        return query.order_by(self.table.revision.desc()).first()

    def _put(self, row: R, **columns: Any) -> R:
        self.table.update(version=self.table.version + 1, **columns).where(self.table.id == row.id).execute()
        for name, value in (*columns.items(), ("version", row.version + 1)):
            setattr(row, name, value)
        return row
