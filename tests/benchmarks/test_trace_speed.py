"""Speed as a ratio against a plain baseline in the same run: the recursive query against walking item by item."""

import statistics
import time
from collections.abc import Callable
from datetime import timedelta

from peewee import chunked

from schemas.words import Kind, MovementKind, State, Unit
from service.database import database
from service.operations.ledger.graph import closure
from service.records.items import Item, Movement
from service.records.journal import Deed
from tests.conftest import NOW, Shop
from tests.forging import beside_any_act

_CANS, _POTS_A_CAN, _PARTS_A_POT = 40, 15, 2


def _workshop(shop: Shop) -> int:
    """40 cans of one lot, 15 pots a can, two parts a pot; gives back the lot's id."""
    with beside_any_act():
        deed = Deed.create(
            operation="receive_delivery",
            person=shop.people["lead"],
            site=shop.site,
            occurred_at=NOW,
            recorded_at=NOW,
            late=False,
        ).id
    items: list[dict[str, object]] = []
    flows: list[tuple[int, int]] = []

    def item(kind: Kind, source: int | None) -> int:
        number = len(items) + 1
        items.append(
            {"id": number, "code": f"X{number}", "kind": kind, "name": "x", "state": State.OPEN, "site": shop.site,
             "deed": deed, "balance": 0}
        )  # fmt: skip
        if source is not None:
            flows.append((source, number))
        return number

    lot = item(Kind.LOT, None)
    for _ in range(_CANS):
        can = item(Kind.CONTAINER, lot)
        for _ in range(_POTS_A_CAN):
            pot = item(Kind.MIX, can)
            for _ in range(_PARTS_A_POT):
                item(Kind.PART, pot)
    with database.atomic(), beside_any_act():
        for batch in chunked(items, 500):
            Item.insert_many(batch).execute()
        rows = [
            {"source": s, "target": t, "amount": 1, "unit": Unit.MILLIGRAM, "kind": MovementKind.POUR,
             "occurred_at": NOW + timedelta(seconds=i), "deed": deed}
            for i, (s, t) in enumerate(flows)
        ]  # fmt: skip
        for batch in chunked(rows, 500):
            Movement.insert_many(batch).execute()
    database.execute_sql("ANALYZE")
    return lot


def _walk(root: int) -> set[int]:
    """The plain way: one query an item."""
    found: set[int] = set()
    waiting = [root]
    while waiting:
        near = waiting.pop()
        for (far,) in Movement.select(Movement.target).where(Movement.source == near).tuples():
            if far not in found:
                found.add(far)
                waiting.append(far)
    return found


def _median(function: Callable[[], object], runs: int = 5) -> float:
    times = []
    for _ in range(runs):
        begin = time.perf_counter()
        function()
        times.append(time.perf_counter() - begin)
    return statistics.median(times)


def test_the_recursive_query_beats_walking_item_by_item(shop: Shop) -> None:
    lot = _workshop(shop)
    reached = closure([lot], back=False)[lot]
    assert reached == _walk(lot)
    assert len(reached) == _CANS * (1 + _POTS_A_CAN * (1 + _PARTS_A_POT))
    ratio = _median(lambda: closure([lot], back=False)) / _median(lambda: _walk(lot))
    print(f"forward trace of {len(reached)} items: {ratio:.3f} of the time of walking them")
    assert ratio < 0.5
