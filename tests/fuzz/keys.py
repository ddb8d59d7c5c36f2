"""With which keys the fuzz comes in: those of a lead, of quality and of an administrator, whoever a call is for.

It may well revoke its own key, or close its own person. So a key is used for a few seconds only, and the next is that
of a new person, added by the same act as any, but not through the server.
"""

import os
from datetime import UTC, datetime
from typing import Any

import schemathesis

from schemas.words import Role
from service.api.files import WORKBOOK
from service.config import read_settings
from service.database import connected, open_database
from service.opening import secrets_key_file
from service.operations.door import signatures
from service.operations.door.act import Act
from service.operations.door.people import add_person
from tests.fresh import settle_in

_OPERATED_BY = ("lead", "quality", "administrator")

open_database(os.environ["POTMARK_DATABASE"])
signatures.look_in(secrets_key_file(read_settings()))


def _role_for(case: Any, context: Any) -> str:
    steps = case.operation.definition.raw.get("x-steps") or [{}]
    role = steps[0].get("by", "quality")
    return role if role in _OPERATED_BY else "lead"


@schemathesis.auth(refresh_interval=5, cache_by_key=_role_for)
class Keys:
    """A key of the right role, made anew every few seconds."""

    def get(self, case: Any, context: Any) -> str:
        role, now = _role_for(case, context), datetime.now(UTC)
        founder = Act(1, frozenset({Role.ADMINISTRATOR}), 1, occurred_at=now, recorded_at=now)
        with connected():
            person = add_person(founder, name=f"{role} {now:%H:%M:%S.%f}", roles=[role, "laminator"], with_key=True)
            act = Act(person.id, frozenset({Role.LAMINATOR}), 1, occurred_at=now, recorded_at=now)
            key, token, _ = settle_in(act, f"48{now:%H%M%S}73")
        return f"{key} {token}"

    def set(self, case: Any, data: str, context: Any) -> None:
        key, token = data.split()
        case.headers = {**(case.headers or {}), "Authorization": f"Bearer {key}", "Signing-Token": token}


@schemathesis.serializer(WORKBOOK)
def as_it_stands(context: Any, value: Any) -> bytes:
    """A workbook is sent as the bytes that were made up for it."""
    return value.encode() if isinstance(value, str) else bytes(value)


@schemathesis.hook
def filter_failure(context: Any, failure: Any, case: Any, response: Any) -> bool:
    """Five answers are right, whatever the checks expect.

    428 asks for If-Match (RFC 6585), a header that nobody knows is passed over (RFC 9110, 5.1), a body that is too
    large is refused unread with 413, after many wrong keys the next one is told to wait, and a fixed word in the place
    of a code is read as a code by the methods that it has not itself (`GET /v1/parts/batch`).
    """
    match type(failure).__name__:
        case "MissingHeaderNotRejected":
            return bool(response.status_code != 428)
        case "AcceptedNegativeData":
            unknown_header = "x-schemathesis-unknown-property" in {name.lower() for name in case.headers or {}}
            return not unknown_header and response.status_code != 413
        case "UnsupportedMethodResponse" | "AllowHeaderMismatch":
            return not case.path.endswith("/batch")
        case "IgnoredAuth":
            return "429" not in failure.message
    return True
