"""Orders, customers, and what other systems call things."""

from schemas.orders import (
    CancellationIn,
    CustomerChange,
    CustomerIn,
    CustomerQuery,
    OrderChange,
    OrderIn,
    OrderLineChange,
    OrderLinesIn,
    OrderPartQuery,
    OrderQuery,
    ReferenceIn,
    ReferenceQuery,
    ReplacementsIn,
    ReturnIn,
    StartIn,
)
from schemas.promises import ReservationIn, ReservationQuery
from schemas.setting_up import OrdersIn
from service.api.base import Blueprint
from service.operations import setting_up
from service.operations.building import reserving
from service.operations.orders import changing, customers, order, placing, references, reservations
from service.operations.parts import returning, starting

blp = Blueprint("orders", "Orders: placed, changed, cancelled; customers; what other systems call things")

_ORDER = "/orders/<number:order>"
_LINE = f"{_ORDER}/lines/<number:line>"

blp.listing("/orders", order.list_orders, OrderQuery)
blp.write("/orders", placing.place_order, OrderIn)
blp.write("/orders/batch", setting_up.place_orders, OrdersIn)
blp.read(_ORDER, order.read_order)
blp.edit(_ORDER, changing.change_order, OrderChange)
blp.listing(f"{_ORDER}/parts", order.list_order_parts, OrderPartQuery)
blp.write(f"{_ORDER}/lines", changing.add_order_lines, OrderLinesIn)
blp.edit(_LINE, changing.change_order_line, OrderLineChange)
blp.write(f"{_LINE}/replacements", changing.plan_replacements, ReplacementsIn)
blp.write(f"{_ORDER}/cancellation", changing.cancel_order, CancellationIn)
blp.write(f"{_ORDER}/reservations", reserving.reserve_for_order, ReservationIn)
blp.listing("/reservations", reservations.list_reservations, ReservationQuery)
blp.read("/reservations/<number:reservation>", reservations.read_reservation)
blp.write("/reservations/<number:reservation>/release", reservations.release_reservation)
blp.write("/parts/<code(P):part>/start", starting.start_planned_part, StartIn)
blp.write("/parts/<code(P):part>/return", returning.return_part, ReturnIn)
blp.listing("/customers", customers.list_customers, CustomerQuery)
blp.write("/customers", customers.add_customer, CustomerIn)
blp.read("/customers/<number:customer>", customers.read_customer)
blp.edit("/customers/<number:customer>", customers.change_customer, CustomerChange)
blp.listing("/references", references.list_references, ReferenceQuery)
blp.write("/references", references.add_reference, ReferenceIn)
blp.write("/references/<number:reference>/withdrawal", references.withdraw_reference)
