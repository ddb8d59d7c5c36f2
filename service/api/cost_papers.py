"""What a part, an order or a month cost, as a table for the office: CSV or a workbook, with the same columns always."""

import io
from collections.abc import Iterable, Iterator, Sequence
from decimal import Decimal
from typing import Any

from flask import Response, request

from schemas.costs import MonthQuery
from schemas.words import Unit
from service.api.base import Blueprint
from service.api.files import BYTES, CSV, WORKBOOK, file_doc
from service.database import reading
from service.operations.costs.cost import OrderCost, PartCost, read_order_cost, read_part_cost
from service.operations.costs.labour import Labour
from service.operations.costs.month import MonthCost, read_month_cost
from service.operations.costs.telling import MaterialCost, WasteCost
from service.reports.drawing.sheets import MARK, as_csv, cells

blp = Blueprint("cost tables", "What parts, orders and months cost, as tables for the office", right="read_costs")

COLUMNS = (
    "of", "row", "name", "unit", "planned", "planned_money", "drawn", "money", "not_priced", "minutes", "currency",
)  # fmt: skip
_KIND = "<any('csv','xlsx'):kind>"
_DOC = file_doc("The table", CSV, WORKBOOK)
_SAID = {Unit.MILLIGRAM: ("g", 3), Unit.MILLIMETRE: ("m", 3), Unit.PIECE: ("pieces", 0)}

Row = Sequence[Any]


def part_cost_table(part: str, kind: str) -> Response:
    """What a part cost, row by row: each material, waste, work, what was fitted in, and the whole.

    Money in the currency's own unit with its decimals, amounts in grams, metres or pieces. What is not known is empty.
    """
    with reading():
        cost = read_part_cost(part)
    return _table(kind, f"{part}-cost", list(_of_part(cost)))


def order_cost_table(order: int, kind: str) -> Response:
    """What an order cost so far, row by row: each material, waste, work, each line, and the whole.

    Money in the currency's own unit with its decimals, amounts in grams, metres or pieces. What is not known is empty.
    """
    with reading():
        cost = read_order_cost(order)
    return _table(kind, f"order-{order}-cost", list(_of_order(cost)))


@blp.arguments(MonthQuery, location="query")
def month_cost_table(asked: dict[str, Any], kind: str) -> Response:
    """What a month cost, row by row: where each material went, waste by cause, work, and the sums that close.

    Money in the currency's own unit with its decimals, amounts in grams, metres or pieces. What is not known is empty.
    """
    with reading():
        cost = read_month_cost(**asked)
    return _table(kind, f"{cost.month}-cost", list(_of_month(cost)))


def _of_part(cost: PartCost) -> Iterator[Row]:
    tell = _Teller(cost.code, cost.currency, cost.minor_digits)
    yield from tell.all_of(cost.materials, cost.waste, cost.labour)
    for one in cost.components:
        yield tell.row("fitted in", one.code, money=one.total_minor)
    yield tell.row("total", cost.part_number, money=cost.total_minor, planned_money=cost.planned_minor)


def _of_order(cost: OrderCost) -> Iterator[Row]:
    tell = _Teller(f"order {cost.order_id}", cost.currency, cost.minor_digits)
    yield from tell.all_of(cost.materials, cost.waste, cost.labour)
    for line in cost.lines:
        yield tell.row("line", f"{line.number} {line.part_number}", money=line.total_minor, minutes=line.labour_minutes)
    yield tell.row("total", "", money=cost.total_minor, planned_money=cost.planned_minor)


def _of_month(cost: MonthCost) -> Iterator[Row]:
    tell = _Teller(cost.month, cost.currency, cost.minor_digits)
    for one in cost.materials:
        for name in ("received", "found", "in_parts", "wasted", "stock_change"):
            said = name.replace("_", " ")
            yield tell.row(said, one.name, one.unit, drawn=getattr(one, name), money=getattr(one, f"{name}_minor"))
    yield from tell.all_of((), cost.waste, cost.labour)
    for name in ("received", "found", "in_parts", "wasted", "stock_change"):
        yield tell.row("total", name.replace("_", " "), money=getattr(cost, f"{name}_minor"))


class _Teller:
    """Says rows of one thing."""

    def __init__(self, of: str, currency: str | None, digits: int) -> None:
        self.of, self.currency, self.digits = of, currency, digits

    def all_of(self, materials: Iterable[MaterialCost], waste: Iterable[WasteCost], labour: Labour) -> Iterator[Row]:
        for one in materials:
            yield self.row("material", one.name, one.unit, planned=one.planned, planned_money=one.planned_minor,
                           drawn=one.drawn, money=one.drawn_minor, not_priced=one.not_priced)  # fmt: skip
        for lost in waste:
            yield self.row("of that wasted", lost.cause, lost.unit, drawn=lost.amount, money=lost.minor,
                           not_priced=lost.not_priced)  # fmt: skip
        yield self.row("work", "lay-up and pots", money=labour.minor, minutes=labour.minutes)

    def row(self, kind: str, name: str, unit: Unit | None = None, *, minutes: int | None = None, **said: Any) -> Row:
        word, decimals = _SAID[unit] if unit is not None else (None, 0)
        amounts = {column: _scaled(said.get(column), decimals) for column in ("planned", "drawn", "not_priced")}
        money = {column: _scaled(said.get(column), self.digits) for column in ("planned_money", "money")}
        return (
            self.of, kind, str(name), word, amounts["planned"], money["planned_money"], amounts["drawn"],
            money["money"], amounts["not_priced"], minutes, self.currency,
        )  # fmt: skip


def _scaled(value: int | None, decimals: int) -> Decimal | None:
    """A whole number of small steps in the unit of which there are ten to the so-manieth: exact, and no float."""
    return None if value is None else Decimal(value).scaleb(-decimals)


def _table(kind: str, name: str, rows: Sequence[Row]) -> Response:
    content, mimetype = (_book(rows), WORKBOOK) if kind == "xlsx" else (_text(rows), CSV)
    asked = request.accept_mimetypes.best_match([mimetype, BYTES])
    response = Response(content, mimetype=BYTES if asked == BYTES else mimetype)
    response.headers["Content-Disposition"] = f'attachment; filename="{name}.{kind}"'
    return response


def _text(rows: Sequence[Row]) -> bytes:
    return (MARK + as_csv([COLUMNS, *rows])).encode()


def _book(rows: Sequence[Row]) -> bytes:
    from openpyxl import Workbook

    book = Workbook(write_only=True)
    sheet = book.create_sheet("cost")
    sheet.freeze_panes = "A2"
    sheet.append(COLUMNS)
    for row in rows:
        sheet.append(cells(sheet, row))
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


blp.custom(f"/parts/<code(P):part>/cost.{_KIND}", part_cost_table, right="read_costs", doc=_DOC)
blp.custom(f"/orders/<number:order>/cost.{_KIND}", order_cost_table, right="read_costs", doc=_DOC)
blp.custom(f"/costs.{_KIND}", month_cost_table, right="read_costs", doc=_DOC)
