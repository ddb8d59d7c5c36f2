"""All that a whole job moved, in money: what arrived is in parts, was wasted or stands there, to the last cent."""

from collections import Counter
from typing import Any

from service.database import connected, rows_of
from tests.statements import statements

# The month of the job, with one before and one after.
MONTHS = ("2026-10", "2026-11", "2026-12")
# The key that opens the door counted in.
MOST_STATEMENTS = 18
_FIGURES = ("received", "found", "in_parts", "wasted", "stock_change")


def _rows(sql: str) -> list[tuple[Any, ...]]:
    with connected():
        return rows_of(sql)


def _amounts(row: dict[str, Any]) -> list[float]:
    """In the whole steps of the material's own unit: milligrams, millimetres, pieces."""
    return [
        round(row[f"{name}_{unit}"] * (1000 if unit == "g" else 1))
        for name in _FIGURES
        for unit in ("g", "mm", "pieces")
        if f"{name}_{unit}" in row
    ]


def _few(api: Any, path: str) -> Any:
    """Asked with as many statements whatever is behind it, none of them twice."""
    with statements() as said:
        answer = api.get(path, who="lead")
    assert said.repeated == {}, path
    assert len(said) <= MOST_STATEMENTS, (path, len(said))
    return answer


def test_what_arrived_is_in_parts_wasted_or_in_stock_to_the_last_cent(shop_with_history: Any) -> None:
    api = shop_with_history
    full = "SELECT i.code FROM item i JOIN container c ON c.item_id = i.id WHERE i.balance = c.net AND c.net = 500000"
    can = _rows(f"{full} AND i.state = 'sealed' ORDER BY i.id")[0][0]
    api.post(f"/v1/containers/{can}/weighings", {"gross_g": 540, "tare_g": 30})
    receipts = _rows("SELECT id FROM receipt WHERE kind <> 'made here' ORDER BY id")
    # Totals that no amount divides evenly.
    totals = {number: 1009 * number + 7 for (number,) in receipts}
    said = [{"receipt": number, "total_minor": total} for number, total in totals.items()]
    api.post("/v1/prices", {"prices": said}, who="lead")
    months = [_few(api, f"/v1/costs?month={month}") for month in MONTHS]
    whole: Counter[str] = Counter()
    stock: Counter[int] = Counter()
    for month in months:
        assert month["complete"], month["sentences"]
        for row in month["materials"]:
            received, found, in_parts, wasted, change = _amounts(row)
            assert received + found == in_parts + wasted + change, row
            money = [row[f"{name}_minor"] for name in _FIGURES]
            assert money[0] + money[1] == sum(money[2:]), row
            whole.update(dict(zip(_FIGURES, money, strict=True)))
            stock[row["material"]] += change
        for name in _FIGURES:
            assert month[f"{name}_minor"] == sum(row[f"{name}_minor"] for row in month["materials"])
    assert min(whole[name] for name in _FIGURES) > 0
    standing = "(SELECT SUM(m.amount) FROM movement m WHERE m.kind = 'receipt' AND m.target_id = r.lot_id"
    standing += " AND m.cancelled_by_id IS NULL) > 0"
    arrived = [number for (number,) in _rows(f"SELECT r.id FROM receipt r WHERE {standing}")]
    assert whole["received"] == sum(totals[number] for number in arrived if number in totals)
    # What the book itself says is left in cans, pots and kits; a blend is still what it was blended of.
    ((left,),) = _rows("SELECT SUM(balance) FROM item WHERE kind IN ('C', 'M', 'K')")
    assert sum(stock.values()) == left
    # The same from the parts: what was drawn for each, less what was lost on the way to it.
    inside = 0
    for (code,) in _rows("SELECT i.code FROM item i JOIN part p ON p.item_id = i.id"):
        cost = _few(api, f"/v1/parts/{code}/cost")
        inside += cost["known_minor"] - sum(one["minor"] or 0 for one in cost["waste"] if one["cause"] != "trim")
    assert inside == whole["in_parts"]
    causes = {one["cause"] for month in months for one in month["waste"]}
    assert causes >= {"scrapped", "left in pot", "spilled", "discarded pot", "given up", "cutting waste", "trim"}
