"""`potmark check` finds what does not follow from history, and nothing else."""

from collections.abc import Callable, Iterator
from typing import Any

import pytest

from service.database import connected, database, take_guard_away
from service.operations.ledger.checking import AccountCheck, check_account
from service.records.items import Item
from service.records.journal import Deed, Entry
from tests import makers
from tests.forging import forge


@pytest.fixture
def stocked(api: Any) -> Iterator[Any]:
    """Four cans of hardener, one of them opened and decanted from, and a certificate that is kept."""
    makers.supplier(api)
    where = makers.place(api)
    hardener = makers.material(api, "Alder 32 slow hardener", "hardener", h_codes=["H314", "H317"])
    cans = makers.cans(api, hardener, where, "26-0914", count=4)
    api.post(f"/v1/containers/{cans[0]}/decants", {"mass_g": 100})
    api.call("POST", "/v1/documents?name=certificate.pdf", b"%PDF-1.7 certificate")
    api.can = cans[0]
    with connected():
        yield api


def _sentences(check: AccountCheck, what: str) -> list[str]:
    return [d.sentence for d in check.first if d.what == what]


def test_an_account_that_was_only_worked_with_agrees(stocked: Any) -> None:
    check = check_account()
    assert check.agrees, check.first
    assert check.items == Item.select().count() > 5
    assert check.movements > 4
    assert check.entries == check.deeds == Entry.select().count()
    assert check.documents == 1


@pytest.mark.parametrize(
    ("column", "value", "what"), [("balance", 1, "balance"), ("state", "withdrawn", "state"), ("holds", 3, "holds")]
)
def test_a_cached_figure_that_does_not_follow_is_named(stocked: Any, column: str, value: Any, what: str) -> None:
    forge(f"UPDATE item SET {column} = ? WHERE code = ?", value, stocked.can)
    check = check_account()
    assert check.differences == 2, "it does not follow, and it is not what the last entry left"
    assert stocked.can in _sentences(check, "changed")[0]
    assert stocked.can in _sentences(check, what)[0]
    assert str(value) in _sentences(check, what)[0]


@pytest.mark.parametrize(
    ("table", "statement", "what"),
    [
        ("entry", "UPDATE entry SET body = REPLACE(body, 'Fenwick', 'Fenwyck')", "journal"),
        ("entry", "DELETE FROM entry WHERE seq = 2", "journal"),
        ("entry", "DELETE FROM entry WHERE seq = (SELECT MAX(seq) FROM entry)", "deed"),
        ("deed", "UPDATE deed SET person_id = 3 WHERE id = 1", "deed"),
        ("deed", "UPDATE deed SET occurred_at = occurred_at - 1 WHERE id = 1", "deed"),
        ("movement", "UPDATE movement SET amount = amount - 1 WHERE id = 1", "balance"),
        ("document", "UPDATE document SET name = 'other.pdf', size = 1", "document"),
    ],
)
def test_a_page_of_history_that_was_changed_is_found(stocked: Any, table: str, statement: str, what: str) -> None:
    forge(statement)
    take_guard_away(table)
    check = check_account()
    assert not check.agrees
    assert _sentences(check, what)
    assert _sentences(check, "guard") == [f"The table {table} is no longer guarded against changes of history."]


def test_a_changed_deed_is_told_with_what_differs(stocked: Any) -> None:
    forge(f"UPDATE deed SET why = 'because' WHERE id = {Deed.select().get().id}")
    assert _sentences(check_account(), "deed")[0].endswith("differ in why.")


def test_many_differences_are_counted_and_the_first_are_told(stocked: Any) -> None:
    forge("UPDATE item SET holds = holds + 1")
    check = check_account(show=2)
    assert check.differences == check.items * 2
    assert len(check.first) == 2


def test_the_number_of_queries_does_not_grow_with_the_account(stocked: Any, queries: Callable[[], int]) -> None:
    before = queries()
    check_account()
    small = queries() - before
    for number in range(20):
        makers.place(stocked, f"Shelf {number}")
    with connected():
        before = queries()
        check_account()
        assert queries() - before == small > 8


@pytest.fixture
def queries(monkeypatch: pytest.MonkeyPatch) -> Callable[[], int]:
    """How many statements were sent so far."""
    count = 0
    send = database.obj.execute_sql

    def counted(*args: Any, **kwargs: Any) -> Any:
        nonlocal count
        count += 1
        return send(*args, **kwargs)

    monkeypatch.setattr(database.obj, "execute_sql", counted)
    return lambda: count
