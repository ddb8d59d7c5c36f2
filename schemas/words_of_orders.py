"""Words of orders: what another system has a number of its own for, and who plans anew what was scrapped."""

from enum import StrEnum


class Referred(StrEnum):
    """What carries references of other systems."""

    ORDER = "order"
    LINE = "line"
    PART = "part"
    CUSTOMER = "customer"
    MATERIAL = "material"
    SUPPLIER = "supplier"


class ReplacedBy(StrEnum):
    """Who plans another part when one of a line is scrapped: the shop at once, or the order system when it asks."""

    SHOP = "shop"
    ORDER_SYSTEM = "order system"


class OrderState(StrEnum):
    """Where an order stands as a whole, told from its parts."""

    OPEN = "open"
    DONE = "done"
    CANCELLED = "cancelled"


class ExpectedEnd(StrEnum):
    """What became of a delivery that was expected."""

    ARRIVED = "arrived"
    CANCELLED = "cancelled"


class ReservationState(StrEnum):
    """Whether a reservation keeps anything."""

    STANDING = "standing"
    RELEASED = "released"
    EXPIRED = "expired"
