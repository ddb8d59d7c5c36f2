"""What parts, orders and months cost, for whoever may know it: planned beside drawn, in plain words, on a phone."""

from datetime import datetime
from typing import Any

from flask import Blueprint, Response, current_app, render_template, request

from schemas.costs import MonthQuery
from schemas.words import Referred
from service.database import reading
from service.formulas._money import in_words
from service.operations.costs.cost import read_order_cost, read_part_cost
from service.operations.costs.month import read_month_cost
from service.operations.door.shop import day_in_shop, the_site
from service.operations.orders.order import list_orders
from service.operations.orders.references import references_of
from service.pages.decimals import local
from service.pages.telling import THIN
from service.pages.visiting import who

blp = Blueprint("page-costs", __name__, template_folder="templates")
RIGHTS = {"page-costs.month": "read_costs", "page-costs.order": "read_costs"}
# More orders than these nobody looks through on a phone.
_ORDERS = 30


@blp.app_template_filter()
def money(minor: int | None, currency: str | None) -> str:
    """An amount as it is said; nothing is said where it is not known, or the shop has no currency."""
    if minor is None or currency is None:
        return "not known"
    number, _, name = in_words(minor, currency).partition(" ")
    return f"{local(number.replace(',', THIN))}{THIN}{name}"


def part(code: str, *, at: datetime) -> dict[str, Any]:
    """One part, for its page."""
    cost = read_part_cost(code)
    return {"cost": cost, "about": f"{cost.name} · {cost.part_number} rev. {cost.revision}", "back": f"/I/{code}"}


@blp.get("/costs")
def month() -> Any:
    """A month: this one, or the one that is asked for; and the newest orders."""
    at = current_app.extensions["clock"]()
    with reading():
        site = the_site()
        asked = request.args.get("month", "")
        wanted = asked if _is_month(asked) else f"{day_in_shop(at, site):%Y-%m}"
        orders = list_orders(at=at, after=None, limit=_ORDERS).rows
        shown = {"site": site, "cost": read_month_cost(month=wanted), "orders": orders}
    return _page("month_cost.html", at, shown)


@blp.get("/costs/orders/<int:order>")
def order(order: int) -> Any:
    """One order, line by line."""
    at = current_app.extensions["clock"]()
    with reading():
        cost = read_order_cost(order)
        named = [one.text for one in references_of(Referred.ORDER, [order])[order]]
        about = f"Order {', '.join(named)}" if named else f"Order {order}"
        shown = {"site": the_site(), "cost": cost, "about": about, "back": "/costs"}
    return _page("cost.html", at, shown)


def _is_month(text: str) -> bool:
    return not MonthQuery().validate({"month": text})


def _page(template: str, at: datetime, shown: dict[str, Any]) -> Response:
    html = render_template(template, at=at, who=who, trouble=None, typed={}, **shown)
    return Response(html, headers={"Cache-Control": "no-store"})
