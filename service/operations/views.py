"""Small views that many answers share."""

from dataclasses import dataclass

from service.operations.graph import StandingHold
from service.records.items import Item


@dataclass(frozen=True, slots=True)
class ItemRef:
    """An item in one line."""

    code: str
    kind: str
    name: str
    state: str


def ref(item: Item) -> ItemRef:
    return ItemRef(code=item.code, kind=item.kind, name=item.name, state=item.state)


@dataclass(frozen=True, slots=True)
class HoldView:
    id: int
    on: str
    reason: str


def hold_views(holds: list[StandingHold] | tuple[StandingHold, ...]) -> tuple[HoldView, ...]:
    return tuple(HoldView(id=h.id, on=h.on, reason=h.reason) for h in holds)
