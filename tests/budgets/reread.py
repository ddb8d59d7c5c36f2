"""What an act answered beside the same thing as it is read right after it."""

from collections.abc import Iterator
from typing import Any

from tests.budgets.job import Heard
from tests.conftest import Api

# Where a thing is read, by the letter of its code.
_READ = {"M": "mixes", "P": "parts", "R": "cures", "L": "lots", "C": "containers", "K": "kits", "T": "moulds",
         "S": "scales", "A": "places"}  # fmt: skip
# Registers that are read as a list only.
_LISTED = ("suppliers", "keys", "issues", "webhooks", "prices", "hourly-rates")
# Answers that are no thing of the account, but tell of an act: what a look-back held, what a correction booked.
TELL_OF_THE_ACT = {"look_back", "correct_entry", "record_storage_reading", "review_storage", "keep_document"}
# Many acts in one, each of which is compared alone.
TELL_OF_THE_ACT |= {"add_registers", "approve_revisions", "import_rows"}
TELL_OF_THE_ACT |= {"place_orders", "start_parts", "receive_deliveries"}
# A badge is read as the label and the key that it is.
TELL_OF_THE_ACT |= {"issue_badge", "withdraw_badge"}
# A look over the stock counts what is listed.
TELL_OF_THE_ACT |= {"watch_stock"}
# What is sent again is a number of deliveries.
TELL_OF_THE_ACT |= {"replay_deliveries"}
# A head is read as what was signed.
TELL_OF_THE_ACT |= {"keep_head"}
# Secrets are read nowhere.
TELL_OF_THE_ACT |= {"set_secret", "begin_signing", "end_signing", "unlock_secret"}
TELL_OF_THE_ACT |= {"ask_secret_reset", "agree_secret_reset"}
# An order that is placed says whether it was there already; a reference is one row of its list; what is reserved
# is told with its check.
TELL_OF_THE_ACT |= {"place_order", "add_reference", "withdraw_reference", "reserve_for_order"}
# Said by the act alone: a key's secret, the pots that a failed check doubts. Said to who asks alone: what to take
# instead of a can, how far a hold reached that is lifted, that the printed codes lead nowhere.
_NOT_IN_BOTH = {
    "add_key": {"secret"},
    "add_person": {"secret"},
    "claim_key": {"secret"},
    "add_webhook": {"secret", "doubt"},
    "change_webhook": {"doubt"},
    "renew_webhook_secret": {"secret"},
    "check_scale": {"affected", "affected_count"},
    "check_pump": {"affected", "affected_count"},
    "lift_hold": {"reaches"},
}
_SAID_TO_ONE_ALONE = {"instead", "notice"}


def same_thing(api: Api, one: Heard) -> Iterator[tuple[Any, Any]]:
    """Each thing that an act answered, and the same fields of it as they are read now."""
    if one.operation in TELL_OF_THE_ACT:
        return
    left_out = _NOT_IN_BOTH.get(one.operation, set()) | _SAID_TO_ONE_ALONE
    for answer in one.answer if isinstance(one.answer, list) else [one.answer]:
        now = _read(api, one, answer)
        told = {name: value for name, value in answer.items() if name not in left_out}
        yield told, {name: now[name] for name in told}


def _read(api: Api, one: Heard, answer: dict[str, Any]) -> Any:
    kind = one.path.split("/")[2]
    if "issue" in answer and kind != "issues":
        issues = api.get(f"/v1/items/{answer['code']}/labels")
        return next(label for label in issues if label["issue"] == answer["issue"])
    if "code" in answer:
        where = _READ.get(answer["code"][0], "items") if kind != "items" else "items"
        return api.get(f"/v1/{where}/{answer['code']}")
    if kind == "scales":
        return next(row for row in api.get(f"/v1/scales/{answer['scale']}/readings") if row["id"] == answer["id"])
    if kind == "site":
        return api.get("/v1/site")
    if kind in _LISTED:
        return next(row for row in api.get(f"/v1/{kind}?limit=200", who="administrator") if row["id"] == answer["id"])
    return api.get(f"/v1/{kind}/{answer['id']}")
