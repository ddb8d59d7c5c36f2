"""What a caller has read of a thing before acting on it (If-Match), and what the thing is at now.

A part's or lot's tag is its last change: it moves whatever its answer tells moves by, a hold on what it was made of
too. Another thing's is its version, which its own acts raise; of what has no version, the digest of its answer.
`GET /v1/items/…` answers less of a part or lot and gives its version: whoever has read that may act on that.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from peewee import fn

from service.database import locked
from service.operations.door.refusals import ChangedMeanwhile
from service.records.changes import FOLLOWED, ItemChange
from service.records.cures import Logger, Schedule
from service.records.hooks import Webhook
from service.records.items import Hold, Item, Permission
from service.records.materials import Material, ResinSystem, Supplier
from service.records.orders import Customer, Order
from service.records.parts import Design, Nonconformance
from service.records.people import Person, Site
from service.records.promises import ExpectedDelivery, Reservation
from service.records.recalls import Recall

# What no tag is, as it is looked at.
_NO_VERSION = "-"
# Not the digest of an answer, which is longer.
_CHANGE = re.compile(r"c[0-9]{1,14}")

# Registers whose rows have a version, by what a path calls the number of a row.
_VERSIONED: dict[str, Any] = {
    "customer": Customer,
    "design": Design,
    "expected": ExpectedDelivery,
    "logger": Logger,
    "material": Material,
    "order": Order,
    "person": Person,
    "schedule": Schedule,
    "site": Site,
    "supplier": Supplier,
    "system": ResinSystem,
    "webhook": Webhook,
}
# Those whose rows have none: locked, so that of two who have read the same answer one acts.
_WITHOUT_VERSION: dict[str, Any] = {
    "hold": Hold,
    "nonconformance": Nonconformance,
    "permission": Permission,
    "recall": Recall,
    "reservation": Reservation,
}


@dataclass(frozen=True, slots=True)
class Expected:
    """The tags of a thing one of which it has to be at: named by its code, or by a register and a number.

    ``answer`` works out the tag that its address would give now, for those that are no change of a part or lot.
    """

    tags: tuple[str, ...]
    what: str
    number: int | str
    answer: Callable[[], str] | None = field(default=None, compare=False, repr=False)


def version_tag(version: int | None) -> str:
    return str(version)


def change_tag(seq: int | None) -> str:
    """Of a part or lot: the entry that last changed what it answers; none has since it can be followed."""
    return f"c{seq or 0}"


def last_change(item: int) -> int | None:
    of_item = (ItemChange.number == item) & ItemChange.kind.in_(FOLLOWED)
    found: int | None = ItemChange.select(fn.MAX(ItemChange.seq)).where(of_item).scalar()
    return found


def tag_of_code(code: str) -> str | None:
    """The tag of the part or lot of that code, in one statement; nothing if there is none."""
    rows = list(
        Item.select(fn.MAX(ItemChange.seq))
        .left_outer_join(ItemChange, on=((ItemChange.number == Item.id) & (ItemChange.kind == Item.kind)))
        .where((Item.code == code) & Item.kind.in_(FOLLOWED))
        .group_by(Item.id)
        .tuples()
    )
    return change_tag(rows[0][0]) if rows else None


def require_expected(expected: Expected) -> None:
    """Refuse if the thing is at none of these. One that is not there is left to the act, which says so."""
    now = _now(expected)
    if now is None or now in expected.tags:
        return
    # Worked out where the row alone does not settle it: of what has no version, and of an item that is told shorter.
    if expected.answer is None or expected.answer().partition("-")[0] not in expected.tags:
        raise ChangedMeanwhile(
            "Someone changed this since you read it.", way_out="Read it again, then repeat what you wanted."
        )


def require_still(expected: Expected) -> None:
    """The same under the head's lock, as the act ends: of a change, which is not locked by a row of its own."""
    of_change = isinstance(expected.number, str) and expected.number[:1] in FOLLOWED
    if of_change and all(_CHANGE.fullmatch(tag) for tag in expected.tags):
        require_expected(expected)


def version_among(what: str, number: int | None, versions: tuple[int, ...]) -> int:
    """Of several versions the one at which that row is, or the only row; the first if it is at none of them."""
    rows = _VERSIONED[what].select()
    row = (rows if number is None else rows.where(_VERSIONED[what].id == number)).get_or_none()
    return row.version if row is not None and row.version in versions else versions[0]


def _now(expected: Expected) -> str | None:
    if isinstance(expected.number, str):
        item = locked(Item.select().where(Item.code == expected.number)).get_or_none()
        if item is None:
            return None
        return change_tag(last_change(item.id)) if item.kind in FOLLOWED else version_tag(item.version)
    table = _VERSIONED.get(expected.what) or _WITHOUT_VERSION.get(expected.what)
    if table is None:
        raise ChangedMeanwhile(
            "This has no answer of its own whose ETag could be compared with If-Match.",
            way_out="Send it without that header.",
        )
    row = locked(table.select().where(table.id == expected.number)).get_or_none()
    if row is None:
        return None
    return version_tag(row.version) if expected.what in _VERSIONED else _NO_VERSION
