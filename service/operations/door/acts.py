"""One table: every act, who may do it, what it stands for, and how it is called in a sentence.

Every operation and every group of reading routes stands here once; the server obeys this table and nothing else, and a
test sweeps it over every route and role. The name of an operation is what the journal keeps, and is never renamed; a
person reads its ``called`` instead.
"""

from dataclasses import dataclass

from schemas.words import Role
from service.operations.door.shop import span

LAMINATOR, LEAD, QUALITY = Role.LAMINATOR, Role.LEAD, Role.QUALITY


INTEGRATOR, ADMINISTRATOR = Role.INTEGRATOR, Role.ADMINISTRATOR


EVERYONE = frozenset(Role)


FLOOR = frozenset({LAMINATOR, LEAD, QUALITY})


BENCH = frozenset({LEAD, QUALITY})


# A system has what its key's scopes give it of these (`scopes`).
ORDERS = frozenset({LAMINATOR, LEAD, QUALITY, INTEGRATOR})


BENCH_OR_SYSTEM = BENCH | {INTEGRATOR}


ADMIN = frozenset({ADMINISTRATOR})


# Prices and what things cost: the lead and the office; a system by a scope of its own.
COSTS = frozenset({LEAD, ADMINISTRATOR, INTEGRATOR})


PEOPLE = EVERYONE - {INTEGRATOR}


SECRET = frozenset({"secret"})


@dataclass(frozen=True, slots=True)
class ActRow:
    """What holds of one act.

    ``called`` stands in a sentence as its subject: "applying the pot was recorded 3 h 10 min after it happened".
    ``did`` is what its doer did, for the list of those who worked on a part; without it the act is no work on a part.
    ``makes`` is an act by which a part is made, as against one by which it is looked at: whoever did all of these alone
    does not release the part.

    What its doer ``signs`` with it is the meaning of their signature, given with a secret of their own: no system
    signs. Of what is asked, the journal never learns what the act ``hides``. Someone who is on hold does nothing that
    ``starts`` something new. ``decides`` is a decision of its own; a new decision answers it, not a correction.
    """

    roles: frozenset[Role]
    called: str
    did: str | None = None
    makes: bool = False
    signs: str | None = None
    starts: bool = False
    decides: bool = False
    hides: frozenset[str] = frozenset()


ACTS: dict[str, ActRow] = {
    # people and site
    "add_person": ActRow(ADMIN, "adding a person"),
    "change_person": ActRow(ADMIN, "changing what is kept of a person"),
    "recover_administrator": ActRow(ADMIN, "recovering an administrator on the machine itself"),
    "add_key": ActRow(ADMIN, "making a key"),
    "revoke_key": ActRow(ADMIN, "revoking a key"),
    "claim_key": ActRow(PEOPLE, "making a handed-out key one's own"),
    "set_secret": ActRow(PEOPLE, "setting one's own secret", hides=SECRET),
    "begin_signing": ActRow(PEOPLE, "giving one's secret to sign", hides=SECRET),
    "end_signing": ActRow(PEOPLE, "ending one's signing"),
    "unlock_secret": ActRow(ADMIN | BENCH, "unlocking somebody's secret", signs="unlocked"),
    "ask_secret_reset": ActRow(ADMIN | BENCH, "asking that a secret be set anew", signs="asked for"),
    "agree_secret_reset": ActRow(ADMIN | BENCH, "agreeing that a secret be set anew", signs="agreed"),
    "issue_badge": ActRow(ADMIN | BENCH, "issuing a badge"),
    "withdraw_badge": ActRow(ADMIN | BENCH, "withdrawing a badge"),
    "keep_head": ActRow(frozenset({LEAD, QUALITY, ADMINISTRATOR, INTEGRATOR}), "keeping a head of the journal"),
    "declare_restored": ActRow(ADMIN, "saying that the account was restored from a backup"),
    "begin_session": ActRow(EVERYONE, "giving a browser a key"),
    "end_session": ActRow(EVERYONE, "taking the key from a browser"),
    "end_tablet": ActRow(ADMIN | BENCH, "signing a tablet off"),
    "change_site": ActRow(ADMIN, "changing the shop's settings"),
    # webhooks
    "add_webhook": ActRow(ADMIN, "registering a webhook"),
    "change_webhook": ActRow(ADMIN, "changing a webhook"),
    "renew_webhook_secret": ActRow(ADMIN, "renewing the secret of a webhook"),
    "end_webhook": ActRow(ADMIN, "ending a webhook"),
    "replay_deliveries": ActRow(ADMIN | {INTEGRATOR}, "sending again what a webhook did not take"),
    # registers
    "add_registers": ActRow(BENCH_OR_SYSTEM, "adding to the registers"),
    "import_rows": ActRow(BENCH, "taking in a table", hides=frozenset({"places", "only_try"})),
    "add_supplier": ActRow(BENCH_OR_SYSTEM, "adding a supplier"),
    "change_supplier": ActRow(BENCH_OR_SYSTEM, "changing what is kept of a supplier"),
    "add_material": ActRow(BENCH_OR_SYSTEM, "adding a material"),
    "change_material": ActRow(BENCH_OR_SYSTEM, "changing what is kept of a material"),
    "add_place": ActRow(BENCH_OR_SYSTEM, "adding a place"),
    "add_scale": ActRow(BENCH_OR_SYSTEM, "adding a scale"),
    "add_pump": ActRow(BENCH, "adding a pump"),
    "check_pump": ActRow(FLOOR, "checking the pump", "checked scales"),
    "change_hose": ActRow(FLOOR, "changing a hose of the pump"),
    "blend_hardeners": ActRow(FLOOR, "blending hardeners", "mixed", starts=True),
    "add_measure": ActRow(BENCH, "adding a measure"),
    "withdraw_item": ActRow(BENCH, "taking something out of use"),
    "receive_reading": ActRow(ORDERS, "receiving a reading of the scale"),
    "set_line_format": ActRow(BENCH, "saying how a scale writes its lines"),
    "check_scale": ActRow(FLOOR, "checking the scale", "checked scales"),
    "record_storage_reading": ActRow(ORDERS, "reading the thermometer of a place"),
    "set_up_place": ActRow(BENCH, "setting up a place"),
    "watch_stock": ActRow(BENCH | ADMIN | {INTEGRATOR}, "looking over the stock"),
    "review_storage": ActRow(
        frozenset({QUALITY}), "deciding about cans that stood out of their range", signs="decided"
    ),
    # receiving
    "receive_delivery": ActRow(ORDERS, "receiving the delivery"),
    "receive_lots": ActRow(ORDERS, "receiving the delivery of several lots"),
    "receive_deliveries": ActRow(ORDERS, "receiving several deliveries"),
    "record_opening_stock": ActRow(FLOOR, "counting the stock of day one"),
    "keep_document": ActRow(ORDERS, "keeping a document"),
    "add_certificate": ActRow(BENCH_OR_SYSTEM, "adding a certificate"),
    "record_incoming_check": ActRow(ORDERS, "the incoming check"),
    "release_lot": ActRow(BENCH, "releasing the lot", signs="released for use"),
    "release_lots": ActRow(BENCH, "releasing several lots", signs="released for use"),
    "reject_lot": ActRow(BENCH, "rejecting the lot", signs="rejected"),
    "extend_lot": ActRow(frozenset({QUALITY}), "asking for a longer life of the lot", signs="asked for"),
    "agree_extension": ActRow(BENCH, "extending the lot", signs="extended"),
    # containers
    "open_container": ActRow(FLOOR, "opening the container", "opened containers"),
    "decant": ActRow(FLOOR, "decanting", "decanted", starts=True),
    "weigh_back": ActRow(FLOOR, "weighing the container", "weighed containers"),
    "move_item": ActRow(FLOOR, "moving it to another place"),
    "scrap_container": ActRow(FLOOR, "scrapping the container", "scrapped containers"),
    # systems and mixing
    "add_resin_system": ActRow(BENCH, "adding a resin system"),
    "change_resin_system": ActRow(BENCH, "changing the draft of a resin system"),
    "approve_revisions": ActRow(BENCH, "approving several revisions", signs="approved", decides=True),
    "approve_resin_system": ActRow(BENCH, "approving the resin system", signs="approved", decides=True),
    "start_mix": ActRow(FLOOR, "starting the pot", "mixed", starts=True),
    "scan_catalyst": ActRow(FLOOR, "scanning the catalyst", "mixed", starts=True),
    "pour": ActRow(FLOOR, "weighing into the pot", "weighed"),
    "undo_pour": ActRow(FLOOR, "undoing the pour", "weighed"),
    "pump_strokes": ActRow(FLOOR, "pumping into the pot", "weighed"),
    "pour_back": ActRow(FLOOR, "pouring back", "weighed"),
    "note_contact": ActRow(FLOOR, "noting the first contact", "mixed"),
    "stir": ActRow(FLOOR, "stirring the pot", "stirred"),
    "add_filler": ActRow(FLOOR, "adding filler", "mixed"),
    "move_to_tray": ActRow(FLOOR, "spreading the pot in a tray", "mixed"),
    "apply_mix": ActRow(FLOOR, "applying the pot", "applied resin", makes=True),
    "close_mix": ActRow(FLOOR, "closing the pot", "closed pots", makes=True),
    "discard_mix": ActRow(FLOOR, "discarding the pot", "discarded pots"),
    "abandon_mix": ActRow(FLOOR, "giving up the pot", "gave up pots"),
    "check_cup": ActRow(FLOOR, "checking the cup", "checked cups"),
    # laminating
    "add_design": ActRow(BENCH, "adding a design"),
    "mirror_design": ActRow(BENCH, "mirroring a design"),
    "change_design": ActRow(BENCH, "changing the draft of a design"),
    "approve_design": ActRow(BENCH, "approving the design", signs="approved", decides=True),
    "add_mould": ActRow(BENCH_OR_SYSTEM, "adding a mould"),
    "set_up_mould": ActRow(BENCH, "saying how long a part takes a mould"),
    "treat_mould": ActRow(FLOOR, "preparing the mould", "prepared the mould"),
    "cut_kit": ActRow(FLOOR, "cutting the kit", "cut the kit", starts=True),
    "start_part": ActRow(ORDERS, "starting the part", "started the part", makes=True, starts=True),
    "start_parts": ActRow(ORDERS, "starting several parts", "started the part", makes=True, starts=True),
    "start_planned_part": ActRow(ORDERS, "starting the planned part", "started the part", makes=True, starts=True),
    "lay_kit": ActRow(FLOOR, "laying the kit", "laid plies", makes=True),
    "lay_ply": ActRow(FLOOR, "laying a ply", "laid plies", makes=True),
    "use_on_part": ActRow(FLOOR, "using a material on the part", "laid up", makes=True),
    "record_part_step": ActRow(FLOOR, "a step on the part", "recorded steps", makes=True),
    "close_lay_up": ActRow(FLOOR, "closing the lay-up", "closed the lay-up", makes=True),
    "bond_part": ActRow(FLOOR, "bonding", "bonded", makes=True),
    "scrap_part": ActRow(BENCH, "scrapping the part", "scrapped the part"),
    # orders
    "place_order": ActRow(BENCH_OR_SYSTEM, "placing the order", decides=True),
    "place_orders": ActRow(BENCH_OR_SYSTEM, "placing several orders", decides=True),
    "change_order": ActRow(BENCH_OR_SYSTEM, "changing the order", decides=True),
    "add_order_lines": ActRow(BENCH_OR_SYSTEM, "adding lines to the order", decides=True),
    "change_order_line": ActRow(BENCH_OR_SYSTEM, "changing a line of the order", decides=True),
    "plan_replacements": ActRow(BENCH_OR_SYSTEM, "planning replacements", decides=True),
    "cancel_order": ActRow(BENCH_OR_SYSTEM, "cancelling the order", decides=True),
    "reserve_for_order": ActRow(BENCH_OR_SYSTEM, "reserving materials for an order", decides=True),
    "release_reservation": ActRow(BENCH_OR_SYSTEM, "releasing a reservation", decides=True),
    "expect_delivery": ActRow(BENCH_OR_SYSTEM, "stating that a delivery is expected"),
    "change_expected_delivery": ActRow(BENCH_OR_SYSTEM, "changing an expected delivery"),
    "end_expected_delivery": ActRow(ORDERS, "ending the wait for a delivery"),
    "add_customer": ActRow(BENCH_OR_SYSTEM, "adding a customer"),
    "change_customer": ActRow(BENCH_OR_SYSTEM, "changing what is kept of a customer"),
    "add_reference": ActRow(BENCH_OR_SYSTEM, "giving a reference"),
    "withdraw_reference": ActRow(BENCH_OR_SYSTEM, "withdrawing a reference"),
    # curing
    "add_schedule": ActRow(BENCH, "adding a cure schedule"),
    "change_schedule": ActRow(BENCH, "changing the draft of a cure schedule"),
    "approve_schedule": ActRow(BENCH, "approving the cure schedule", signs="approved", decides=True),
    "add_logger": ActRow(BENCH, "adding a data logger"),
    "change_logger": ActRow(BENCH, "changing what is kept of a data logger"),
    "start_cure": ActRow(FLOOR, "starting the cure", "started the cure", makes=True, starts=True),
    "import_cure_log": ActRow(FLOOR, "adding a cure log", "added cure logs", makes=True),
    "record_cure_reading": ActRow(FLOOR, "reading the thermometer of the cure", "read the thermometer"),
    "declare_cure": ActRow(FLOOR, "declaring the cure", "declared the cure", makes=True),
    "end_cure": ActRow(FLOOR, "ending the cure", "ended the cure", makes=True),
    "demould": ActRow(FLOOR, "demoulding", "demoulded", makes=True),
    "trim": ActRow(FLOOR, "trimming", "trimmed", makes=True),
    # inspecting, releasing
    "inspect_part": ActRow(FLOOR, "inspecting the part", "inspected"),
    "open_nonconformance": ActRow(ORDERS, "opening a nonconformance", "opened a nonconformance"),
    "decide_nonconformance": ActRow(
        frozenset({QUALITY}),
        "deciding on a nonconformance",
        "decided on a nonconformance",
        signs="decided",
        decides=True,
    ),
    "release_part": ActRow(BENCH, "releasing the part", "released the part", signs="released", decides=True),
    "ship_part": ActRow(BENCH_OR_SYSTEM, "shipping the part", "shipped the part", decides=True),
    "return_part": ActRow(BENCH_OR_SYSTEM, "taking the part back", "took the part back", decides=True),
    "issue_document": ActRow(BENCH, "issuing a document"),
    # costs
    "give_prices": ActRow(COSTS, "giving prices", hides=frozenset({"prices"})),
    "set_hourly_rate": ActRow(COSTS, "setting what an hour of work costs", hides=frozenset({"minor"})),
    # holds and permissions
    "place_hold": ActRow(FLOOR, "placing a hold", "placed a hold"),
    "lift_hold": ActRow(frozenset({QUALITY}), "lifting a hold", "lifted a hold", signs="lifted", decides=True),
    "look_back": ActRow(BENCH, "looking back", "placed a hold"),
    "open_recall": ActRow(BENCH, "opening a recall", "placed a hold", decides=True),
    "widen_recall": ActRow(BENCH, "taking in what a recall reaches since", "placed a hold", decides=True),
    "follow_recall": ActRow(FLOOR, "following a recall", decides=True),
    "close_recall": ActRow(BENCH, "closing a recall", signs="closed", decides=True),
    "keep_drill": ActRow(ADMIN, "trying out a recall"),
    "ask_permission": ActRow(FLOOR, "asking for a permission", "asked for a permission"),
    "sign_permission": ActRow(BENCH, "signing a permission", "signed a permission", signs="permitted", decides=True),
    "withdraw_permission": ActRow(
        BENCH, "withdrawing a permission", "withdrew a permission", signs="withdrawn", decides=True
    ),
    # history
    "correct_entry": ActRow(BENCH, "correcting an entry", "corrected entries", signs="corrected"),
    # labels
    "issue_label": ActRow(FLOOR, "issuing a label"),
    "issue_lot_labels": ActRow(FLOOR, "issuing the labels of a lot"),
    "replace_label": ActRow(FLOOR, "replacing a label"),
}


# Acts that say themselves when they are signed: who has a secret signs with it that it is another from now on.
SIGNED_SOMETIMES = frozenset({"set_secret"})


@dataclass(frozen=True, slots=True)
class ReadRow:
    """Who may read a group of routes, and how that is called of somebody who may not."""

    roles: frozenset[Role]
    called: str


# The groups of reading routes.
READING: dict[str, ReadRow] = {
    "read_own_key": ReadRow(EVERYONE, "reading what a key opens"),
    "read_account": ReadRow(EVERYONE, "reading the account"),
    "read_journal": ReadRow(frozenset({LEAD, QUALITY, ADMINISTRATOR, INTEGRATOR}), "reading the journal"),
    # The entries byte for byte, with all that they name, for a signer elsewhere: a person's key, never a system's.
    "read_chain": ReadRow(frozenset({LEAD, QUALITY, ADMINISTRATOR}), "reading the chain"),
    # Pots, cures, kits and what stands against them; where a thing went, sisters, suspects; papers that may name
    # anything: what puts a part beside another is the shop's own, so no system reads it.
    "read_work": ReadRow(FLOOR | ADMIN, "reading work in hand"),
    "read_documents": ReadRow(FLOOR | ADMIN, "reading documents"),
    # The whole account, table by table: of people as of parts.
    "export_account": ReadRow(BENCH | ADMIN, "reading the whole account, table by table"),
    "read_investigation": ReadRow(FLOOR | ADMIN, "reading an investigation"),
    "read_costs": ReadRow(COSTS, "reading what things cost"),
    "read_keys": ReadRow(ADMIN, "reading the list of keys"),
    # Who is told of what, and what did not arrive: for those who look after the other end.
    "read_webhooks": ReadRow(frozenset({LEAD, QUALITY, ADMINISTRATOR, INTEGRATOR}), "reading the webhooks"),
}


RIGHTS: dict[str, frozenset[Role]] = {name: row.roles for name, row in READING.items()} | {
    name: row.roles for name, row in ACTS.items()
}


# What the program does by itself on the machine; each has an entry in the journal and is no act that one could ask for.
OF_THE_MACHINE = {
    "found_account": "founding the account",
    "mark_anew": "marking rows anew after a change of the schema",
    "count_strangers": "counting requests that no key opened",
    "count_turned_away": "counting requests that a key did not open",
}


# What makes a part, as the journal names it.
MAKING = tuple(name for name, row in ACTS.items() if row.makes)


def may_be_signed(operation: str) -> bool:
    """Is it signed, always or where the act itself says so?"""
    return ACTS[operation].signs is not None or operation in SIGNED_SOMETIMES


def called(operation: str) -> str:
    """The act in a sentence, as its subject or after a preposition.

    >>> called("apply_mix")
    'applying the pot'
    """
    return OF_THE_MACHINE.get(operation) or (READING.get(operation) or ACTS[operation]).called


def was_recorded(operation: str, minutes: int) -> str:
    """What a person reads of an act that was told late.

    >>> was_recorded("apply_mix", 190)
    'Applying the pot was recorded 3 h 10 min after it happened.'
    """
    words = called(operation)
    return f"{words[0].upper()}{words[1:]} was recorded {span(minutes)} after it happened."
