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


class DeliveryState(StrEnum):
    """Waiting for its next attempt; taken by the receiver; or dead, since no attempt came through."""

    WAITING = "waiting"
    DELIVERED = "delivered"
    DEAD = "dead"
