"""Acts that are sent again: what was answered to an idempotency key is kept for a while, and answered again."""

import hashlib
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

import rfc8785

from service.database import database
from service.operations.door.act import Act
from service.operations.door.plain import dump_result, load_result, plain
from service.operations.door.refusals import KeyReused
from service.records.base import known
from service.records.journal import Answer

ANSWERS_ARE_KEPT = timedelta(days=7)
"""So long the same request with the same key is answered again; after that the key is a new one."""


_SWEEP_EACH = timedelta(hours=1)


@dataclass(frozen=True, slots=True)
class KeptAnswer:
    """The result of an earlier, identical request, given again: dictionaries where dataclasses were."""

    value: Any
    tag: str | None = None


def fingerprint_of(name: str, act: Act, asked: dict[str, Any]) -> str:
    if act.idempotency_key is None:
        return ""
    return hashlib.sha256(rfc8785.dumps([name, act.person, act.why, plain(act.stated_at), plain(asked)])).hexdigest()


def kept_answer(act: Act, fingerprint: str) -> Any:
    """The earlier answer to this key, or nothing if the key is new; the insert waits for one that is still running."""
    insert = Answer.insert(
        caller=act.caller,
        idempotency_key=known(act.idempotency_key),
        asked=fingerprint,
        result=None,
        at=act.recorded_at,
    ).on_conflict_ignore()
    fresh = database.execute(insert).rowcount
    this = (Answer.caller == act.caller) & (Answer.idempotency_key == act.idempotency_key)
    row = Answer.get(this)
    if row.result is None and fresh:
        return None
    if row.at < act.recorded_at - ANSWERS_ARE_KEPT:
        # Its time is over and nobody has swept it away yet; the row's lock is the place in which others wait.
        Answer.update(asked=fingerprint, result=None, tag=None, at=act.recorded_at).where(this).execute()
        return None
    if row.asked != fingerprint:
        raise KeyReused("This Idempotency-Key was used for another request.", way_out="Give each new act a new key.")
    if row.result is None:
        return None
    return KeptAnswer(load_result(row.result), row.tag)


# When this process has last looked for answers whose time is over.
_swept: list[datetime] = []


def _sweep(now: datetime) -> None:
    if not _swept or abs(now - _swept[0]) >= _SWEEP_EACH:
        _swept[:] = [now]
        Answer.delete().where(Answer.at < now - ANSWERS_ARE_KEPT).execute()


def keep_answer(act: Act, result: Any) -> None:
    _sweep(act.recorded_at)
    Answer.update(result=dump_result(result), tag=act.outcome.tag).where(
        (Answer.caller == act.caller) & (Answer.idempotency_key == act.idempotency_key)
    ).execute()
