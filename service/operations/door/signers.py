"""Proving the signatures of the journal, entry by entry, as the account is checked.

An act that a person signs has to bear the signature of a key that was theirs then and that the pepper vouches for. So
whoever has the database alone adds none: neither can they sign with a person's key, nor make a key that counts.
"""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from service.database import rows_of
from service.operations.door.acts import ACTS
from service.operations.door.refusals import WrongState
from service.operations.door.signatures import PublicKey, has_pepper, proves
from service.records.base import microseconds

# The step of the schema with which people got secrets: an account from before it says in its journal when it had it.
_STEP = "0012"
_KEYS = "SELECT id, person_id, public_key, salt, cost, voucher, made_at, ended_at FROM signing_key"
_MARKED_ANEW = "SELECT e.seq, e.body FROM entry e JOIN deed d ON d.id = e.deed_id WHERE d.operation = 'mark_anew'"
_FIRST_SECRET = (
    "SELECT MIN(e.seq) FROM entry e JOIN deed d ON d.id = e.deed_id WHERE d.operation = 'set_secret'"
    " AND d.refused IS NULL"
)


class Signers:
    """Whose key is whose, and from which entry on people sign."""

    def __init__(self) -> None:
        self._keys = {number: facts for number, *facts in rows_of(_KEYS)}
        self._trusted: dict[int, str | None] = {}
        ((first,),) = rows_of(_FIRST_SECRET)
        brought = [seq for seq, body in rows_of(_MARKED_ANEW) if f'"{_STEP}' in body and (first is None or seq < first)]
        self._since = max(brought, default=0)

    def amiss(self, seq: int, said: Mapping[str, Any]) -> str | None:
        """What is wrong with an entry's signature, if anything is."""
        if seq <= self._since or said.get("refused"):
            return None
        signs = said.get("signs")
        if signs is None:
            row = ACTS.get(str(said.get("operation")))
            return None if row is None or row.signs is None else "it bears no signature"
        key = signs.get("key")
        if key not in self._keys:
            return f"there is no key {key}"
        person, public_key, *_, made_at, ended_at = self._keys[key]
        if said.get("person") != person:
            return f"key {key} is somebody else's"
        at = microseconds(datetime.fromisoformat(str(said.get("recorded_at"))))
        if not made_at <= at <= (at if ended_at is None else ended_at):
            return f"key {key} did not sign at that time"
        facts = {name: fact for name, fact in said.items() if name != "signature"}
        if not proves(public_key, str(said.get("signature")), facts):
            return "the signature is not that of its person under what the entry says"
        return self._mistrusted(key)

    def _mistrusted(self, key: int) -> str | None:
        if key not in self._trusted:
            person, public_key, salt, cost, voucher, *_ = self._keys[key]
            self._trusted[key] = _untrusted(PublicKey(person, public_key, salt, cost), voucher, key)
        return self._trusted[key]


def _untrusted(public: PublicKey, voucher: str, key: int) -> str | None:
    if not has_pepper():
        return None
    try:
        return None if public.is_vouched_for(voucher) else f"nobody vouches for key {key}"
    except WrongState as unreadable:
        return unreadable.sentence
