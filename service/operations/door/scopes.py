"""What a system's key opens: each right that a system may have at all, and the scopes in which it has it.

A person has roles; a system has the scopes that its key was made with, and acts in its own name.
"""

from collections.abc import Collection

from schemas.words import Role, Scope
from service.operations.door.acts import RIGHTS
from service.operations.door.refusals import NotAllowed

_EVERY = frozenset(Scope)
_PAPERS = frozenset({Scope.GOODS_IN, Scope.REGISTERS, Scope.ORDERS, Scope.MEASURING})
_REGISTERS = (
    "add_registers", "add_supplier", "change_supplier", "add_material", "change_material", "add_place", "add_scale",
    "add_mould",
)  # fmt: skip
_ORDERS = (
    "place_order", "place_orders", "change_order", "add_order_lines", "change_order_line", "plan_replacements",
    "cancel_order", "start_part", "start_parts", "start_planned_part", "open_nonconformance", "reserve_for_order",
    "release_reservation",
)  # fmt: skip
_COMING = ("expect_delivery", "change_expected_delivery", "end_expected_delivery")
_NAMES = ("add_customer", "change_customer", "add_reference", "withdraw_reference")
_GOODS_IN = ("receive_delivery", "receive_lots", "receive_deliveries", "add_certificate", "record_incoming_check")

# A right that a system may have -> the scopes that give it.
SCOPES: dict[str, frozenset[Scope]] = {
    **dict.fromkeys(_REGISTERS, frozenset({Scope.REGISTERS})),
    **dict.fromkeys(_GOODS_IN, frozenset({Scope.GOODS_IN})),
    "keep_document": _PAPERS,
    **dict.fromkeys(_ORDERS, frozenset({Scope.ORDERS})),
    **dict.fromkeys(_COMING, frozenset({Scope.ORDERS, Scope.GOODS_IN})),
    **dict.fromkeys(_NAMES, frozenset({Scope.ORDERS, Scope.REGISTERS})),
    "return_part": frozenset({Scope.SHIPPING}),
    "ship_part": frozenset({Scope.SHIPPING}),
    "watch_stock": frozenset({Scope.ORDERS, Scope.GOODS_IN}),
    "receive_reading": frozenset({Scope.MEASURING}),
    "record_storage_reading": frozenset({Scope.MEASURING}),
    "keep_head": frozenset({Scope.READING}),
    "begin_session": frozenset({Scope.READING}),
    "end_session": frozenset({Scope.READING}),
    "read_account": frozenset({Scope.READING}),
    "read_journal": frozenset({Scope.READING}),
    "read_webhooks": frozenset({Scope.READING}),
    "replay_deliveries": frozenset({Scope.READING}),
    "read_costs": frozenset({Scope.COSTS}),
    "give_prices": frozenset({Scope.COSTS}),
    "set_hourly_rate": frozenset({Scope.COSTS}),
    "read_own_key": _EVERY,
}

# What a key is made with that names no scopes: what an order system needs, with a thermometer or a scale beside it.
USUAL = (Scope.ORDERS, Scope.SHIPPING, Scope.MEASURING, Scope.READING)


def refusal(roles: Collection[Role], scopes: Collection[Scope] | None, right: str) -> NotAllowed | None:
    """Why these roles, or these scopes of a system's key, do not open it; nothing if they do.

    ``scopes`` are those of a system; a person has none.
    """
    if not RIGHTS[right] & frozenset(roles):
        needed = sorted(RIGHTS[right])
        return NotAllowed(
            f"This needs the role {' or '.join(needed)}.", way_out="Ask someone with that role.", roles=needed
        )
    if scopes is None or SCOPES.get(right, frozenset()) & frozenset(scopes):
        return None
    needed_scopes = sorted(SCOPES.get(right, frozenset()))
    return NotAllowed(
        f"This needs a key with the scope {' or '.join(needed_scopes)}.",
        way_out="An administrator makes a key with it; the old one can be revoked then.",
        scopes=needed_scopes,
    )
