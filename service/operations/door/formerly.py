"""Cards as they stood at another time: what a material's card, a person's or the shop's said when something was done.

A card is changed in place; what stood on it until then is kept with the moment of the change (`FormerVersion`). So a
record reads names, limits and ranges as of the act, and a use that is told later is judged by what was known then.
"""

import json
from datetime import datetime
from typing import Any, Generic, TypeVar

from peewee import JOIN, fn

from service.operations.door.operation import Work
from service.operations.door.plain import plain
from service.operations.door.refusals import Unprocessable
from service.records.base import Record
from service.records.formers import FormerVersion
from service.records.lookups import another
from service.records.people import Person

R = TypeVar("R", bound=Record)


def keep_former(work: Work, row: Record, *, version: int) -> None:
    """Keep what a card says before it is changed, with the moment of the change and by which act it came."""
    fields = type(row)._meta.sorted_fields
    FormerVersion.create(
        card=type(row)._meta.table_name,
        number=row.get_id(),
        version=version,
        name=getattr(row, "name", None),
        facts={field.column_name: plain(field.db_value(row.__data__[field.name])) for field in fields},
        until=work.act.recorded_at,
        deed=work.deed,
    )


def require_reason(work: Work, what: str) -> None:
    """A change of what records are made of says why."""
    if work.act.why is None:
        raise Unprocessable(f"Say why {what} is changed.", pointer="/why", answer_with={"why": None})


def as_it_was(row: R, facts: dict[str, Any] | None) -> R:
    """The row as it was kept; itself where nothing was. A column that came later says what it says now."""
    if facts is None:
        return row
    fields = [field for field in type(row)._meta.sorted_fields if field.column_name in facts]
    return type(row)(**{**row.__data__, **{f.name: f.python_value(facts[f.column_name]) for f in fields}})


class Formerly(Generic[R]):
    """Rows of a register, each as it stood at any time; in one statement for any number of them."""

    def __init__(self, table: type[R], *where: Any) -> None:
        key = table._meta.primary_key
        same = (FormerVersion.card == table._meta.table_name) & (FormerVersion.number == key)
        query: Any = (
            table.select(table, FormerVersion.facts.alias("former_facts"), FormerVersion.until.alias("former_until"))
            .join(FormerVersion, JOIN.LEFT_OUTER, on=same)
            .order_by(key, FormerVersion.version)
        )
        self.rows: dict[Any, R] = {}
        self._former: dict[Any, list[tuple[datetime, dict[str, Any]]]] = {}
        for row in (query.where(*where) if where else query).objects():
            self.rows.setdefault(row.get_id(), row)
            if row.former_until is not None:
                self._former.setdefault(row.get_id(), []).append((row.former_until, row.former_facts))

    def at(self, number: Any, at: datetime | None) -> R:
        """The row as it stood at that time: as it is now where no time is given."""
        if at is None:
            return self.rows[number]
        return as_it_was(self.rows[number], next((f for until, f in self._former.get(number, ()) if until > at), None))

    def said(self, number: Any, column: str) -> list[tuple[datetime, Any]]:
        """What a column said before it says what it says now, each with until when."""
        return [(until, facts[column]) for until, facts in self._former.get(number, ()) if column in facts]

    def all_at(self, at: datetime | None) -> dict[Any, R]:
        return {number: self.at(number, at) for number in self.rows}


def _former(column: Any, table: Any, key: Any, at: Any) -> Any:
    """A column of the version that stood at a time, which is a value or a column itself; nothing if it still stands."""
    former = another(FormerVersion, "former")
    return (
        former.select(getattr(former, column))
        .where((former.card == table) & (former.number == key) & (former.until > at))
        .order_by(former.version)
        .limit(1)
    )


def facts_then(table: Any, at: Any) -> Any:
    """For a query that has the table: what its card said then, as text for `read_then`; nothing if it still says so."""
    return _former("facts", table._meta.table_name, table._meta.primary_key, at)


def read_then(row: R, facts: str | None) -> R:
    return as_it_was(row, None if facts is None else json.loads(facts))


def called_then(card: Any, at: Any) -> Any:
    """For a query that has the card (a person, a logger) and the time: what it was called at that time."""
    model = getattr(card, "model", card)
    return fn.COALESCE(_former("name", model._meta.table_name, card.id, at), card.name)


def name_then(person: int, at: datetime) -> str:
    """What someone was called at that time."""
    ((name,),) = Person.select(called_then(Person, at)).where(Person.id == person).tuples()
    return str(name)
