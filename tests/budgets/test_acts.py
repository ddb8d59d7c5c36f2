"""What an act may say to the database: so many statements, and none of them twice with the same values.

A pot, a part, a lot, a cure is loaded once, and what an act writes it changes in hand. The numbers count everything
from the key at the door to the last line of the journal, without an idempotency key, which takes three more.
"""

from collections import defaultdict

from service.operations.door.operation import OPERATIONS
from tests import makers
from tests.budgets.conftest import Job
from tests.budgets.job import FROM_THE_MACHINE, listening
from tests.conftest import Api

# As measured over a whole job, the most that the act took; a new act has its number put down here.
BUDGET = {
    "agree_secret_reset": 16,
    "ask_secret_reset": 13,
    "begin_signing": 14,
    "claim_key": 9,
    "end_signing": 7,
    "set_secret": 16,
    "unlock_secret": 10,
    "pump_strokes": 42,
    "check_pump": 24,
    "change_hose": 13,
    "set_line_format": 13,
    "receive_reading": 10,
    "blend_hardeners": 47,
    "add_pump": 16,
    "add_customer": 8,
    "add_order_lines": 25,
    "add_reference": 12,
    "cancel_order": 22,
    "change_customer": 11,
    "change_order": 17,
    "change_order_line": 24,
    "place_order": 31,
    "place_orders": 46,
    "reserve_for_order": 63,
    "release_reservation": 15,
    "expect_delivery": 8,
    "change_expected_delivery": 9,
    "end_expected_delivery": 10,
    "plan_replacements": 25,
    "return_part": 32,
    "start_planned_part": 42,
    "withdraw_reference": 13,
    "abandon_mix": 23,
    "add_certificate": 19,
    "add_design": 11,
    "add_filler": 28,
    "add_key": 8,
    "add_logger": 8,
    "add_material": 8,
    "add_measure": 16,
    "add_mould": 18,
    "set_up_mould": 14,
    "add_person": 12,
    "add_place": 14,
    "add_registers": 21,
    "add_resin_system": 15,
    "add_scale": 18,
    "add_schedule": 8,
    "add_supplier": 8,
    "agree_extension": 20,  # when it was asked for is looked up, before which nobody agrees
    "apply_mix": 34,
    "approve_design": 14,
    "approve_resin_system": 14,
    "approve_revisions": 12,
    "approve_schedule": 12,
    "ask_permission": 11,
    "bond_part": 36,
    "change_design": 9,
    "change_logger": 9,
    "change_material": 9,
    "change_person": 14,
    "change_resin_system": 15,
    "change_schedule": 8,
    "change_site": 8,
    "change_supplier": 9,
    "check_cup": 19,
    "check_scale": 24,
    "close_lay_up": 33,
    "close_recall": 16,
    "close_mix": 33,
    "correct_entry": 26,
    "cut_kit": 42,
    "decant": 32,
    "decide_nonconformance": 22,
    "declare_cure": 18,
    "demould": 33,
    "discard_mix": 22,
    "end_cure": 30,
    "extend_lot": 20,
    "follow_recall": 18,
    "import_cure_log": 23,
    "import_rows": 8,
    "inspect_part": 31,
    "issue_document": 107,
    "issue_badge": 15,
    "issue_label": 13,
    "issue_lot_labels": 15,
    "keep_document": 8,
    "keep_head": 9,
    "lay_kit": 37,
    "lay_ply": 35,
    "lift_hold": 15,
    "look_back": 13,
    "mirror_design": 10,
    "move_item": 14,
    "move_to_tray": 19,
    "note_contact": 19,
    "open_container": 17,
    "open_nonconformance": 16,
    "open_recall": 179,  # six papers of it are issued: list, letter, and both as tables and workbooks
    "place_hold": 13,
    "pour": 36,
    "pour_back": 25,
    "receive_delivery": 43,
    "receive_lots": 70,
    "receive_deliveries": 70,
    "record_cure_reading": 18,
    "record_incoming_check": 18,
    "record_opening_stock": 36,
    "record_part_step": 24,
    "record_storage_reading": 10,
    "reject_lot": 20,
    "release_lot": 22,
    "release_lots": 35,
    "release_part": 41,
    "replace_label": 14,
    "review_storage": 15,
    "revoke_key": 8,
    "scan_catalyst": 26,
    "scrap_container": 19,
    "scrap_part": 29,
    "give_prices": 12,
    "set_hourly_rate": 8,
    # It asks again what the release asked: whether that still stands.
    "ship_part": 41,
    "set_up_place": 10,
    "sign_permission": 17,
    "start_cure": 36,
    "start_mix": 40,
    "start_part": 40,
    "start_parts": 27,
    "stir": 18,
    "treat_mould": 24,
    "trim": 29,
    "undo_pour": 31,
    "use_on_part": 35,
    "weigh_back": 18,
    "widen_recall": 101,
    "withdraw_badge": 14,
    "withdraw_item": 10,
    "withdraw_permission": 15,
    "add_webhook": 15,
    "change_webhook": 12,
    "end_webhook": 12,
    "renew_webhook_secret": 12,
    "replay_deliveries": 12,
    "watch_stock": 21,
}
# A budget that has become too wide is put down anew.
SLACK = 2
# It asks again under lock what may have slipped in before the lock was had.
_ASKED_AGAIN_UNDER_LOCK = {"check_scale", "check_pump", "reserve_for_order"}
# Several acts or cans in one, each of which asks what it asks alone.
_MANY_IN_ONE = {"blend_hardeners", "receive_lots", "release_lots", "add_registers", "approve_revisions"}
_MANY_IN_ONE |= {"import_rows", "place_orders", "start_parts", "receive_deliveries"}

# What it draws is read as whoever asks for that paper reads it.
_MANY_IN_ONE |= {"issue_document", "open_recall", "widen_recall"}


def _most(job: Job) -> dict[str, int]:
    most: dict[str, int] = defaultdict(int)
    for one in job.heard:
        most[one.operation] = max(most[one.operation], len(one.said))
    return dict(most)


def test_no_act_takes_more_statements_than_its_budget(job: Job) -> None:
    most = _most(job)
    assert most.keys() == BUDGET.keys() == set(OPERATIONS) - FROM_THE_MACHINE
    assert {name: taken for name, taken in most.items() if taken > BUDGET[name]} == {}
    assert {name: taken for name, taken in most.items() if taken < BUDGET[name] - SLACK} == {}


def test_no_act_says_the_same_twice(job: Job) -> None:
    twice = {one.operation: one.said.repeated for one in job.heard if one.said.repeated}
    assert twice.keys() - _ASKED_AGAIN_UNDER_LOCK - _MANY_IN_ONE == set()


def test_the_acts_at_the_bench_stay_within_their_aim() -> None:
    assert BUDGET["pour"] <= 40
    assert BUDGET["start_mix"] <= 60


def test_a_delivery_and_its_labels_take_no_more_for_a_dozen_cans_than_for_two(api: Api) -> None:
    listened = listening(api)
    makers.supplier(api)
    where = makers.place(api)
    resin = makers.material(api, "Alder 10 resin", "resin")
    for number, count in enumerate((2, 12)):
        lines = [{"net_g": 5000, "count": count}]
        lot = makers.lot(listened, resin, where, makers_lot=f"26-{number}", containers=lines)
        listened.post(f"/v1/lots/{lot['code']}/labels", {"size": "62"})
    said: dict[str, list[int]] = defaultdict(list)
    for one in listened.heard:
        said[one.operation].append(len(one.said))
    assert said["receive_delivery"][1] <= said["receive_delivery"][0]
    assert said["issue_lot_labels"][1] <= said["issue_lot_labels"][0]
