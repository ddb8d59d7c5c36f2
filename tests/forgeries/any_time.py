"""The acts that may be told of any time since their doer came, and why nothing of the account is before them."""

_NEW = "it begins something: nothing of it was there before"
_STOOD = "it is about something that stood in the shop before it was registered here"
_OWN_TIME = "its rows bear the service's own time; the told one stands in its entry alone, which is marked late"
_FROM_NOW = "it says what holds from now on; what was true before is kept with the time at which it was changed"

ANY_TIME = {
    **dict.fromkeys(
        (
            "add_customer", "add_design", "add_key", "add_logger", "add_material", "add_measure", "add_mould",
            "add_person", "add_place", "add_pump", "add_registers", "add_resin_system", "add_scale", "add_schedule",
            "add_supplier", "add_webhook", "mirror_design", "import_rows", "keep_document", "place_order",
            "place_orders", "expect_delivery", "receive_delivery", "receive_lots", "receive_deliveries",
            "record_opening_stock", "start_part", "start_parts",
        ),
        _NEW,
    ),
    **dict.fromkeys(
        (
            "check_scale", "check_pump", "change_hose", "receive_reading", "record_storage_reading", "set_line_format",
            "set_up_mould", "set_up_place", "withdraw_item",
        ),
        _STOOD,
    ),
    **dict.fromkeys(
        (
            "approve_design", "approve_resin_system", "approve_revisions", "approve_schedule", "begin_signing",
            "set_secret", "end_signing", "claim_key", "ask_secret_reset", "agree_secret_reset", "unlock_secret",
            "issue_badge", "withdraw_badge", "revoke_key", "withdraw_reference", "issue_document", "keep_head",
            "end_webhook", "renew_webhook_secret", "replay_deliveries", "watch_stock",
        ),
        _OWN_TIME,
    ),
    **dict.fromkeys(
        (
            "change_customer", "change_design", "change_logger", "change_material", "change_person",
            "change_resin_system", "change_schedule", "change_site", "change_supplier", "change_webhook",
            "set_hourly_rate",
        ),
        _FROM_NOW,
    ),
    "review_storage": "it names the span itself, which lies before it",
    "record_cure_reading": "its reset is the earlier time, and lies before it",
    "import_cure_log": "the times are those of its file, which are compared with the cure's",
}  # fmt: skip
