"""What no act leaves in the journal, however well its chain holds: entries that this program would not have written.

History is added to: no entry removes a row of it, or changes one in which nothing may be set later. A refused act
leaves its deed and what it was about. And rows are marked anew by steps of the schema alone, once for each that it has
had: the founding and each upgrade say which there were, so that nobody names one of those afterwards.
"""

from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

from service.database import rows_of
from service.records import KEPT

_HISTORY = {table._meta.table_name: settable_once for table, settable_once in KEPT.items()}
_OF_A_REFUSAL = {"deed", "touched"}
FOUNDING, ANEW = "found_account", "mark_anew"


class Impossible(NamedTuple):
    """An entry that no act has written, and why it cannot be one."""

    seq: int
    operation: str
    why: str


class _Anew(NamedTuple):
    """The steps of an upgrade, at what time, and which of how many entries this is; the first versions did not say."""

    steps: tuple[str, ...]
    at: str
    of: int | None
    number: int | None

    def goes_on(self, before: "_Anew | None") -> bool:
        """Is it the next entry of the same upgrade?"""
        if before is None or before[:3] != self[:3]:
            return False
        return self.number is None or before.number == self.number - 1 < (self.of or 0)


class Impossibilities:
    """Entry by entry in their order: what is said of the schema's steps is remembered from one to the next."""

    def __init__(self) -> None:
        self._in_schema = {name for (name,) in rows_of("SELECT name FROM schema_migration")}
        self._named: set[str] = set()
        self._last: _Anew | None = None

    def of(self, seq: int, said: Mapping[str, Any]) -> Iterator[str]:
        """Why an entry can be none of an act, for each thing that speaks against it."""
        operation = str(said["operation"])
        if operation == FOUNDING:
            self._named.update(*(note.get("schema", ()) for note in said["notes"]))
        elif operation == ANEW:
            yield from self._marked_anew(said)
            return
        self._last = None
        rows = said.get("rows", {})
        if "refused" in said and rows.keys() - _OF_A_REFUSAL:
            yield f"it was refused, and yet names rows of {', '.join(sorted(rows.keys() - _OF_A_REFUSAL))}"
        for table in sorted(rows.keys() & _HISTORY.keys()):
            yield from _history(table, rows[table])

    def _marked_anew(self, said: Mapping[str, Any]) -> Iterator[str]:
        """An upgrade names its steps in as many entries as it takes, one right after the other."""
        asked = said["asked"]
        this = _Anew(tuple(asked["steps"]), said["recorded_at"], asked.get("of"), asked.get("number"))
        before, self._last = self._last, this
        strange = [step for step in this.steps if step not in self._in_schema]
        if strange or not this.steps:
            yield f"the schema had no step {', '.join(strange) or 'for it'}"
        if this.goes_on(before):
            return
        again = [step for step in this.steps if step in self._named]
        if again:
            yield f"the schema had had the step {', '.join(again)} before"
        self._named.update(this.steps, asked.get("had", ()))


def _history(table: str, marks: list[Any]) -> Iterator[str]:
    for key, before, after in marks:
        if before is not None and after is None:
            yield f"it removes row {key} of the table {table}, and no act removes history"
        elif before is not None and not _HISTORY[table]:
            yield f"it changes row {key} of the table {table}, and no act changes history"
