"""What is told to other systems when it happens, and how far the telling has come."""

from enum import StrEnum


class HookEvent(StrEnum):
    """What a webhook can be told, in the form that Standard Webhooks gives the names of events."""

    PART_RELEASED = "part.released"
    PART_SHIPPED = "part.shipped"
    PART_FAILED = "part.failed"
    PART_SCRAPPED = "part.scrapped"
    HOLD_PLACED = "hold.placed"
    HOLD_LIFTED = "hold.lifted"
    RECALL_OPENED = "recall.opened"
    RECALL_CLOSED = "recall.closed"
    ORDER_DONE = "order.done"
    STOCK_SHORT = "stock.short"
    CONTAINER_EXPIRING = "container.expiring"


class DeliveryState(StrEnum):
    """Waiting for its next attempt; taken by the receiver; or dead, since no attempt came through."""

    WAITING = "waiting"
    DELIVERED = "delivered"
    DEAD = "dead"


class WarningKind(StrEnum):
    """What a look over the stock found: less of a material than is to be there; a can that is soon past its date."""

    SHORT = "stock short"
    EXPIRING = "container expiring"
