"""What a correction takes back of an act, and what answers an act of which nothing can be taken back.

That an act did not occur is said only where the correction removes what it left: its movements, its row among those
that count, the state that it set. All else is answered by an act of its own, which the refusal names. Every act stands
in one of the two tables, or is a decision.
"""

from collections.abc import Collection, Iterable, Mapping
from typing import Any

from schemas.words import Kind, State
from service.operations.door.acts import called
from service.operations.door.operation import Work
from service.operations.door.refusals import CannotUndo, WrongState
from service.operations.ledger import ledger
from service.operations.ledger.flags import stands
from service.operations.parts.taken_back import put_part_back, refuse_if_built_on
from service.records.cures import Cure
from service.records.items import Item, StateChange
from service.records.journal import Deed
from service.records.mixes import Mix, PlannedPour

TAKEN_BACK = frozenset(
    {
        "receive_delivery", "receive_lots", "receive_deliveries", "record_opening_stock", "open_container", "decant",
        "weigh_back", "scrap_container", "blend_hardeners", "record_storage_reading", "check_scale", "check_pump",
        "start_mix", "pour", "undo_pour", "pump_strokes", "pour_back", "stir", "add_filler", "move_to_tray",
        "apply_mix", "close_mix", "discard_mix", "abandon_mix", "check_cup", "treat_mould", "cut_kit", "start_part",
        "start_parts", "start_planned_part", "lay_kit", "lay_ply", "use_on_part", "record_part_step", "close_lay_up",
        "bond_part", "demould", "trim", "scrap_part", "inspect_part", "open_nonconformance", "start_cure",
        "import_cure_log", "record_cure_reading", "declare_cure", "end_cure", "correct_entry",
    }
)  # fmt: skip

_KEPT = "Change it where it is kept; what carries a code and is not wanted is taken out of use."
_DRAFT = "Change the draft, or leave it without an approval."
_SETTING = "Set it as it should be; the newest counts."
_LABEL = "Replace the label: a void one still opens its page and says so."
_LOT = "Place a hold on the lot, or decide about it anew."
_KEY = "Revoke the key; hand out another one if it is wanted."
_SECRET = "A new secret, or its being set anew, answers it."
_HOLD = "Quality lifts the hold, and says why."
_NOTHING = "It left nothing that could be wrong now."
_HOOK = "Change the webhook, or end it."
_EXPECTED = "Change what is expected, or end the wait for it."
_FOLLOWS = "Give the right one: it follows this one and counts from then on."

# The way out of each act of which nothing can be taken back.
INSTEAD: Mapping[str, str] = {
    "add_person": "Close the person.",
    "change_person": _SETTING,
    "recover_administrator": _KEY,
    "add_key": _KEY,
    "revoke_key": _KEY,
    "claim_key": _KEY,
    "set_secret": _SECRET,
    "begin_signing": _NOTHING,
    "end_signing": _NOTHING,
    "unlock_secret": _SECRET,
    "ask_secret_reset": _SECRET,
    "agree_secret_reset": _SECRET,
    "issue_badge": "Withdraw the badge.",
    "withdraw_badge": "Issue another badge.",
    "keep_head": _NOTHING,
    "declare_restored": "Say it once more, as it was.",
    "begin_session": _NOTHING,
    "end_session": _NOTHING,
    "end_tablet": _NOTHING,
    "change_site": _SETTING,
    "add_webhook": _HOOK,
    "change_webhook": _HOOK,
    "renew_webhook_secret": _HOOK,
    "end_webhook": "Register the webhook again.",
    "replay_deliveries": _NOTHING,
    "add_registers": _KEPT,
    "import_rows": _KEPT,
    "add_supplier": _KEPT,
    "change_supplier": _SETTING,
    "add_material": _KEPT,
    "change_material": _SETTING,
    "add_place": _KEPT,
    "add_scale": _KEPT,
    "add_pump": _KEPT,
    "change_hose": "Check the pump; its newest check counts.",
    "add_measure": _KEPT,
    "withdraw_item": "Add it again; it gets a code of its own.",
    "receive_reading": _NOTHING,
    "set_line_format": _SETTING,
    "set_up_place": _SETTING,
    "watch_stock": _NOTHING,
    "review_storage": "Place a hold on the cans that are not to be used.",
    "keep_document": "Keep the right document; what was kept stays as it was.",
    "add_certificate": "Add the right certificate.",
    "record_incoming_check": "Record the check again; the newest counts.",
    "release_lot": _LOT,
    "release_lots": _LOT,
    "reject_lot": "A rejected lot stays rejected; what comes again is received again.",
    "extend_lot": _LOT,
    "agree_extension": _LOT,
    "move_item": "Move it to where it is.",
    "add_resin_system": _DRAFT,
    "change_resin_system": _DRAFT,
    "scan_catalyst": "Scan the right one, or give up the pot.",
    "note_contact": "Note the right time of the first contact; a later one needs a reason.",
    "add_design": _DRAFT,
    "mirror_design": _DRAFT,
    "change_design": _DRAFT,
    "add_mould": _KEPT,
    "set_up_mould": _SETTING,
    "expect_delivery": _EXPECTED,
    "change_expected_delivery": _EXPECTED,
    "end_expected_delivery": "State anew what is expected.",
    "add_customer": _KEPT,
    "change_customer": _SETTING,
    "add_reference": "Withdraw the reference.",
    "withdraw_reference": "Give the reference again.",
    "add_schedule": _DRAFT,
    "change_schedule": _DRAFT,
    "add_logger": _KEPT,
    "change_logger": _SETTING,
    "issue_document": "Issue the right one; the newest says which it replaces.",
    "give_prices": _FOLLOWS,
    "set_hourly_rate": _FOLLOWS,
    "place_hold": _HOLD,
    "look_back": _HOLD,
    "keep_drill": _NOTHING,
    "ask_permission": "Lead or quality refuses it.",
    "issue_label": _LABEL,
    "issue_lot_labels": _LABEL,
    "replace_label": _LABEL,
}

# What is done again by the act itself, not by taking back the correction that undid it.
ANEW: Mapping[str, str] = {
    "open_container": "Open the container again.",
    "close_mix": "Close the pot again.",
    "discard_mix": "Discard the pot again.",
    "abandon_mix": "Give the pot up again.",
    "move_to_tray": "Note again that it is in a tray.",
    "start_part": "Start the part anew; it gets a code of its own.",
    "start_parts": "Start the parts anew; they get codes of their own.",
    "start_planned_part": "Start the part again.",
    "close_lay_up": "Close the lay-up again.",
    "demould": "Demould the part again.",
    "trim": "Trim the part again.",
    "scrap_part": "Scrap the part again.",
    "scrap_container": "Scrap the container again.",
    "start_cure": "Start the cure anew; it gets a code of its own.",
    "end_cure": "End the cure again.",
}

# What the row of a pot kept of the act that did not occur.
REOPENED: Mapping[str, Mapping[str, Any]] = {
    "close_mix": {"closed_at": None},
    "discard_mix": {"closed_at": None},
    "abandon_mix": {"closed_at": None},
    "move_to_tray": {"in_tray_at": None},
}

_SET_STATES = frozenset(
    {"close_lay_up", "demould", "trim", "scrap_part", "scrap_container", "discard_mix", "abandon_mix", "end_cure"}
)


def refuse_what_stays(seq: int, operation: str) -> None:
    """An act that leaves nothing to take back is answered by another act."""
    instead = INSTEAD.get(operation)
    if instead is not None:
        raise WrongState(f"Of entry {seq} ({called(operation)}) a correction can take nothing back.", way_out=instead)


def take_states_back(
    work: Work, operation: str | None, wrong: Deed, items: Mapping[int, Item], *, but: Collection[Item]
) -> None:
    """What an act had set is again as it was before; refused where something went on since."""
    kept = {item.id for item in but}
    mine = [item for _, item in sorted(items.items()) if item.id not in kept]
    if operation in _SET_STATES:
        for item in mine:
            _back(work, item, wrong)
    if operation in ("close_lay_up", "demould", "trim", "record_part_step"):
        for item in mine:
            if item.kind == Kind.PART:
                put_part_back(work, item, operation)
    elif operation == "treat_mould":
        for item in mine:
            if item.kind == Kind.MOULD:
                refuse_if_built_on(item, wrong.occurred_at)
    elif operation == "end_cure":
        _run_on(item for item in mine if item.kind == Kind.CURE)
    elif operation == "declare_cure":
        _end_taken_back(work, mine, wrong)
    elif operation == "abandon_mix":
        for item in mine:
            _reserve_again(item)


def _changes(item: Item, wrong: Deed) -> list[StateChange]:
    """The last states of a thing, newest first: those set by acts that stand, and by the one that did not occur."""
    standing = stands(StateChange.deed) & Deed.corrects.is_null()
    query = (
        StateChange.select(StateChange)
        .join(Deed)
        .where((StateChange.item == item.id) & (standing | (StateChange.deed == wrong.id)))
    )
    return list(query.order_by(StateChange.id.desc()).limit(3))


def _back(work: Work, item: Item, wrong: Deed) -> None:
    """A thing whose state this act set is in the state before."""
    changes = _changes(item, wrong)
    if all(change.deed_id != wrong.id for change in changes):
        return
    if changes[0].deed_id != wrong.id:
        raise CannotUndo(
            f"{item.code} went on since: it is {item.state}.", way_out="Correct what was done to it since first."
        )
    before = next((change for change in changes if change.deed_id != wrong.id), None)
    if before is not None:
        ledger.set_state(work, item, State(before.state))


def _run_on(cures: Iterable[Item]) -> None:
    """A cure that was not ended runs, and no verdict of it counts."""
    for item in cures:
        Cure.update(ended_at=None, passed=None).where(Cure.item == item.id).execute()


def _end_taken_back(work: Work, items: list[Item], wrong: Deed) -> None:
    """A declaration that ended its cure too: the cure runs again, if its parts are still in it. If they went on, it
    stays ended, and is judged without the declaration."""
    seen = {item.id: _changes(item, wrong) for item in items if item.kind in (Kind.CURE, Kind.PART)}
    ended = [
        item
        for item in items
        if item.kind == Kind.CURE
        and len(seen[item.id]) > 1
        and seen[item.id][0].deed_id == wrong.id
        and seen[item.id][1].state == State.RUNNING
    ]
    went_on = [
        changes
        for changes in seen.values()
        if changes and changes[0].deed_id > wrong.id and changes[0].state != State.CURING
    ]
    if not ended or went_on:
        return
    for item in items:
        if item.id in seen:
            _back(work, item, wrong)
    _run_on(ended)


def _reserve_again(item: Item) -> None:
    """What a pot that was given up had set free is reserved for it again."""
    closed_at = Mix.select(Mix.closed_at).where(Mix.item == item.id).scalar()
    for plan in PlannedPour.select().where((PlannedPour.mix == item.id) & (PlannedPour.settled_at == closed_at)):
        same = {name: plan.__data__[name] for name in ("mix", "container", "component", "amount_mg")}
        PlannedPour.create(**same)
