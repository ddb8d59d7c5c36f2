"""Words are checked wherever they are written; sets that are closed by what they mean are held by the database too."""

import re
from collections.abc import Callable
from typing import Any

import pytest
from peewee import IntegrityError

from service.database import connected, database, on_postgresql
from service.operations.ledger.checking import check_account
from service.operations.stock.registers import add_material
from service.records import ALL
from service.records.base import UnknownWord, Word
from service.records.items import Item
from service.records.materials import Material
from service.records.parts import PartStep
from tests import makers
from tests.forging import beside_any_act, forge, say

COLUMNS = [(table, field) for table in ALL for field in table._meta.sorted_fields if isinstance(field, Word)]
STRANGE = "no such word"


WRITES: dict[str, Callable[[Any, Any], Any]] = {
    "create": lambda table, field: table.create(**{field.name: STRANGE}),
    "insert": lambda table, field: table.insert(**{field.name: STRANGE}).execute(),
    "insert_many": lambda table, field: table.insert_many([{field: STRANGE}]).execute(),
    "bulk_create": lambda table, field: table.bulk_create([table(**{field.name: STRANGE})]),
    "replace or ignore": lambda table, field: table.insert(**{field.name: STRANGE}).on_conflict_ignore().execute(),
    "update": lambda table, field: table.update(**{field.name: STRANGE}).execute(),
    "update by column": lambda table, field: table.update({field: STRANGE}).execute(),
    "save": lambda table, field: table(**{field.name: STRANGE}).save(force_insert=True),
}


@pytest.mark.parametrize("write", WRITES.values(), ids=WRITES)
def test_every_way_to_write_a_row_refuses_an_unknown_word(shop: Any, write: Callable[[Any, Any], Any]) -> None:
    assert len(COLUMNS) > 25
    for table, field in COLUMNS:
        with (
            beside_any_act(),
            pytest.raises(UnknownWord, match=f"{table.__name__}.{field.name} has no word 'no such word'"),
        ):
            write(table, field)


def test_asking_for_a_word_that_is_none_is_a_mistake_that_is_said(shop: Any) -> None:
    for ask in (
        lambda: Item.select().where(Item.state == STRANGE),
        lambda: Item.select().where(Item.state.in_([STRANGE])),
    ):
        with pytest.raises(UnknownWord):
            ask().sql()


def test_every_word_is_written_as_it_stands_and_read_back(shop: Any) -> None:
    for word in Material.kind.words:
        form = {"form": "woven", "areal_weight_g_m2": 200, "width_mm": 1000} if word == "fabric" else {}
        with beside_any_act():
            row = Material.create(name=word, kind=word, **form)
        assert Material.get_by_id(row.id).kind == word


def test_a_step_of_its_own_act_is_a_word_of_steps() -> None:
    assert {"closing", "demoulding", "trimming", "bag", "note"} <= set(PartStep.kind.words)


def test_only_closed_sets_are_held_by_the_database(shop: Any) -> None:
    """A word that a later program adds is taken by the tables of this one; a closed set is not widened unseen."""
    checks = _checks()
    for table, field in COLUMNS:
        listed = re.search(rf"\b{field.column_name} (IN|= ANY) \(", checks[table._meta.table_name])
        assert bool(listed) is field.closed, (table, field)
    assert {field.name for _, field in COLUMNS if field.closed} >= {"unit", "verdict", "evidence", "tolerance_kind"}


def _checks() -> dict[str, str]:
    """Table -> the text of its checks, as the database has them."""
    if on_postgresql():
        query = (
            "SELECT t.relname, string_agg(pg_get_constraintdef(c.oid), ' ') FROM pg_class t LEFT JOIN pg_constraint c"
            " ON c.conrelid = t.oid AND c.contype = 'c' WHERE t.relkind = 'r' GROUP BY t.relname"
        )
    else:
        query = "SELECT name, sql FROM sqlite_master WHERE type = 'table'"
    return {name: text or "" for name, text in database.execute_sql(query).fetchall()}


def test_check_names_each_row_with_a_word_that_is_not_known(shop: Any) -> None:
    """As if a later program had written it, or someone with the database's own password."""
    add_material(shop.act("lead"), name="Alder 20 resin", kind="resin")
    form = {"form": "mat", "areal_weight_g_m2": 30, "width_mm": 1000}
    odd = add_material(shop.act("lead"), name="Elm veil", kind="fabric", **form)
    assert check_account().agrees
    forge("UPDATE material SET form = ? WHERE id = ?", "veil", odd.id)
    forge("UPDATE person_role SET role = ? WHERE person_id = ?", "owner", shop.people["lead"])
    assert [(d.what, d.where, d.sentence) for d in check_account().first if d.what == "word"] == [
        (
            "word",
            f"{shop.people['lead']}/owner",
            f"Row {shop.people['lead']}/owner of the table person_role has the role 'owner'; no such word is known.",
        ),
        ("word", str(odd.id), f"Row {odd.id} of the table material has the form 'veil'; no such word is known."),
    ]


def test_check_names_an_item_whose_kind_or_state_is_not_known_and_goes_on(api: Any) -> None:
    code = makers.place(api)
    with connected():
        forge("UPDATE item SET kind = 'Z', state = 'lost'")
        said = [d.sentence for d in check_account().first]
    assert f"The item {code} is kept as lost; its history says in use." in said
    assert any("has the kind 'Z'" in sentence for sentence in said)
    assert any("has the state 'lost'" in sentence for sentence in said)


def test_a_closed_set_is_refused_by_the_database_itself(api: Any) -> None:
    makers.place(api)
    with connected(), pytest.raises(IntegrityError):
        say("UPDATE item SET unit = 'oz'")
