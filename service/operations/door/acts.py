"""One table: what each role may do.

Every operation and every group of reading routes stands here once; the server obeys this table and nothing else, and a
test sweeps it over every route and role.
"""

from schemas.words import Role

LAMINATOR, LEAD, QUALITY = Role.LAMINATOR, Role.LEAD, Role.QUALITY


INTEGRATOR, ADMINISTRATOR = Role.INTEGRATOR, Role.ADMINISTRATOR


EVERYONE = frozenset(Role)


FLOOR = frozenset({LAMINATOR, LEAD, QUALITY})


BENCH = frozenset({LEAD, QUALITY})


ORDERS = frozenset({LAMINATOR, LEAD, QUALITY, INTEGRATOR})


ADMIN = frozenset({ADMINISTRATOR})


RIGHTS: dict[str, frozenset[Role]] = {
    # reading
    "read_account": EVERYONE,
    "read_journal": frozenset({LEAD, QUALITY, ADMINISTRATOR, INTEGRATOR}),
    "read_documents": frozenset({LEAD, QUALITY, ADMINISTRATOR, INTEGRATOR, LAMINATOR}),
    # Sisters, suspects, what stands on other parts: the shop's own, so no system reads it.
    "read_investigation": frozenset({LAMINATOR, LEAD, QUALITY, ADMINISTRATOR}),
    "read_keys": ADMIN,
    # people and site
    "add_person": ADMIN,
    "change_person": ADMIN,
    "add_key": ADMIN,
    "revoke_key": ADMIN,
    "change_site": ADMIN,
    # registers
    "add_supplier": BENCH,
    "change_supplier": BENCH,
    "add_material": BENCH,
    "change_material": BENCH,
    "add_place": BENCH,
    "add_scale": BENCH,
    "withdraw_item": BENCH,
    "check_scale": FLOOR,
    "record_storage_reading": ORDERS,
    # receiving
    "receive_delivery": FLOOR,
    "record_opening_stock": FLOOR,
    "keep_document": ORDERS,
    "add_certificate": BENCH,
    "record_incoming_check": FLOOR,
    "release_lot": BENCH,
    "reject_lot": BENCH,
    "extend_lot": frozenset({QUALITY}),
    # containers
    "open_container": FLOOR,
    "decant": FLOOR,
    "weigh_back": FLOOR,
    "move_item": FLOOR,
    "scrap_container": FLOOR,
    # systems and mixing
    "add_resin_system": BENCH,
    "change_resin_system": BENCH,
    "approve_resin_system": BENCH,
    "start_mix": FLOOR,
    "pour": FLOOR,
    "pour_back": FLOOR,
    "note_contact": FLOOR,
    "stir": FLOOR,
    "add_filler": FLOOR,
    "move_to_tray": FLOOR,
    "apply_mix": FLOOR,
    "close_mix": FLOOR,
    "discard_mix": FLOOR,
    "abandon_mix": FLOOR,
    "check_cup": FLOOR,
    # laminating
    "add_design": BENCH,
    "mirror_design": BENCH,
    "change_design": BENCH,
    "approve_design": BENCH,
    "add_mould": BENCH,
    "treat_mould": FLOOR,
    "cut_kit": FLOOR,
    "start_part": ORDERS,
    "lay_kit": FLOOR,
    "lay_ply": FLOOR,
    "use_on_part": FLOOR,
    "record_part_step": FLOOR,
    "close_lay_up": FLOOR,
    "bond_part": FLOOR,
    "scrap_part": BENCH,
    # curing
    "add_schedule": BENCH,
    "change_schedule": BENCH,
    "approve_schedule": BENCH,
    "add_logger": BENCH,
    "change_logger": BENCH,
    "start_cure": FLOOR,
    "import_cure_log": FLOOR,
    "record_cure_reading": FLOOR,
    "declare_cure": FLOOR,
    "end_cure": FLOOR,
    "demould": FLOOR,
    "trim": FLOOR,
    # inspecting, releasing
    "inspect_part": FLOOR,
    "open_nonconformance": FLOOR | {INTEGRATOR},
    "decide_nonconformance": frozenset({QUALITY}),
    "release_part": BENCH,
    "ship_part": BENCH | {INTEGRATOR},
    # holds and permissions
    "place_hold": FLOOR,
    "lift_hold": frozenset({QUALITY}),
    "look_back": BENCH,
    "ask_permission": FLOOR,
    "sign_permission": BENCH,
    # history
    "correct_entry": BENCH,
    # labels
    "issue_label": FLOOR,
    "issue_lot_labels": FLOOR,
    "replace_label": FLOOR,
}


# What a system may never do, whoever it acts for: these carry a person's signature.
SIGNATURES = frozenset(
    {
        "release_lot",
        "reject_lot",
        "extend_lot",
        "approve_resin_system",
        "approve_design",
        "approve_schedule",
        "decide_nonconformance",
        "release_part",
        "lift_hold",
        "sign_permission",
        "correct_entry",
    }
)


# The acts that ask before they do: someone who is on hold starts nothing new.
STARTS = frozenset({"start_mix", "start_part", "start_cure", "cut_kit", "decant"})


def may(roles: frozenset[Role], right: str) -> bool:
    return bool(RIGHTS[right] & roles)
