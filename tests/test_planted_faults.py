"""Faults that are planted, each of which the type checker or the start of the service has to find."""

import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from peewee import ForeignKeyField

from schemas.designs import DesignIn
from schemas.fields import Code, Text
from schemas.mixes import PourIn
from service.api.base import Blueprint
from service.api.fitting import Misfit
from service.operations.parts.designs import add_design
from service.operations.pots.pouring import pour
from service.records import ALL
from service.records.mixes import Pour

TOP = Path(__file__).resolve().parent.parent

# Every line with a comment is wrong, and the comment is a word of what the type checker has to say of it.
_CODE = """
from datetime import datetime

from service.operations.door.rows import find_row
from service.records.items import Item, Movement
from service.records.mixes import Mix, Pour


def read(row: Pour) -> int:
    return row.reding_mg  # reding_mg


def read_from_a_list() -> list[int]:
    return [row.amont for row in Movement.select().where(Movement.source == 1)]  # amont


def read_one() -> str:
    return Item.get_by_id(1).balance  # Incompatible return


def read_what_may_be_missing() -> int:
    return Movement.get_by_id(1).target_id  # Incompatible return


def read_of_another() -> str:
    return find_row(Item, 1, "item").cod  # cod


def ask() -> object:
    return Pour.select().where(Pour.reding_mg > 0)  # reding_mg


def change(at: datetime) -> None:
    Pour.update(reding_mg=3).where(Pour.id == 1).execute()  # reding_mg
    Mix.update(started_at=3).execute()  # started_at
    Item.insert(balanse=3).execute()  # balanse
    Item.create(codes="C003183")  # codes
    Item.create(code="C003183", balance="3")  # balance
    Item.create(code="C003183", balance=Item.balance + 1)  # balance


def right(row: Pour, at: datetime) -> int:
    Item.update(balance=Item.balance - 1, place=None, version=Item.version + 1).where(Item.id == 1).execute()
    Mix.update(started_at=at, item_id=1).execute()
    Pour.create(**{name: getattr(row, name) for name in ("mix", "scale")}, reading_mg=3, movement=4)
    return row.reading_mg + row.movement_id + (row.target_mg or 0)
"""


def test_the_type_checker_finds_each_fault_in_how_rows_are_read_asked_for_and_changed(tmp_path: Path) -> None:
    file = tmp_path / "planted.py"
    file.write_text(_CODE, "utf-8")
    ran = subprocess.run(
        [sys.executable, "-m", "mypy", "--no-error-summary", "--hide-error-context", str(file)],
        cwd=TOP, capture_output=True, text=True,
    )  # fmt: skip
    assert ran.stderr == "", ran.stderr
    said: dict[int, str] = {}
    for line in ran.stdout.splitlines():
        found = re.match(r"[^:]+:(\d+): error: (.*)", line)
        if found:
            said[int(found[1])] = said.get(int(found[1]), "") + found[2]
    expected = {n: line.rpartition("  # ")[2] for n, line in enumerate(_CODE.splitlines(), start=1) if "  # " in line}
    assert len(expected) == 12
    assert said.keys() == expected.keys(), ran.stdout
    assert {n: words for n, words in expected.items() if words not in said[n]} == {}


def test_a_misspelled_column_is_refused_at_run_time_too() -> None:
    for make in (Pour.create, Pour.insert, Pour.update):
        with pytest.raises(AttributeError, match="reding_mg"):
            make(reding_mg=3)


def test_the_id_of_every_foreign_key_is_annotated_as_it_is() -> None:
    for table in ALL:
        for field in table._meta.sorted_fields:
            if isinstance(field, ForeignKeyField):
                kept = table.__annotations__.get(field.object_id_name)
                assert kept == (int | None if field.null else int), f"{table.__name__}.{field.object_id_name}"


class _MisspeltIn(PourIn):
    contaner = Text(longest=20)


class _NoColumnIn(DesignIn):
    zone = Text(longest=20)


class _UnsureIn(PourIn):
    container = Code("C")


@pytest.mark.parametrize(
    ("rule", "operation", "body", "says"),
    [
        ("/mixes/<code(M):mix>/pours", pour, DesignIn, "pour has no parameter bag"),
        ("/designs", add_design, PourIn, "add_design has no parameter "),
        ("/mixes/<code(M):mix>/pours", pour, _MisspeltIn, "pour has no parameter contaner"),
        ("/mixes/<code(M):pot>/pours", pour, PourIn, "pour has no parameter pot"),
        ("/pours", pour, PourIn, "no request gives pour its mix"),
        ("/designs", add_design, _NoColumnIn, "add_design has no parameter zone"),
        ("/mixes/<code(M):mix>/pours", pour, _UnsureIn, "may leave out container, which pour needs"),
    ],
    ids=[
        "another schema",
        "another schema of facts",
        "a field too many",
        "another name in the path",
        "no path",
        "no column of the table",
        "a field that may be missing",
    ],
)
def test_a_route_is_refused_at_registration_when_its_schema_is_not_its_operations(
    rule: str, operation: Callable[..., Any], body: Any, says: str
) -> None:
    blp = Blueprint("planted", "Planted faults")
    with pytest.raises(Misfit, match=re.escape(says)):
        blp.write(rule, operation, body)
