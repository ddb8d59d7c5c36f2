"""All parts, lots and orders as they are answered, and the last change that each is told to have had.

.venv/bin/python -m tests.budgets.followed      the walk of the examples as well, every act of it; some minutes
"""

from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

from peewee import fn

from schemas.answers import to_bytes, writer_of
from schemas.words import FollowedKind, Kind
from service.database import connected, reading
from service.operations.orders.order import OrderView, read_order
from service.operations.parts.view import PartView, read_part
from service.operations.stock.lots import LotView, load_lots, view_lots
from service.records.changes import FOLLOWED, ItemChange
from service.records.items import Item
from service.records.orders import Order

# One time for all: what an answer says by the clock alone is no change.
_AT = datetime(2030, 1, 1, tzinfo=UTC)


@dataclass
class Followed:
    """Looked at after each act: what differed without a new change, and what was told and is the same."""

    unseen: list[tuple[str, str, list[str]]] = field(default_factory=list)
    idle: dict[str, int] = field(default_factory=dict)
    told: int = 0
    _answers: dict[str, bytes] = field(default_factory=dict)
    _changes: dict[str, int | None] = field(default_factory=dict)

    def look(self, act: str) -> None:
        answers, changes = _rendered()
        for code, answer in answers.items():
            before, moved = self._answers.get(code), changes[code] != self._changes.get(code)
            self.told += moved
            if moved and answer == before:
                self.idle[act] = self.idle.get(act, 0) + 1
            if not moved and answer != before:
                self.unseen.append((act, code, _differing(before, answer)))
        self._answers, self._changes = answers, changes


def _rendered() -> tuple[dict[str, bytes], dict[str, int | None]]:
    part, lot, order = writer_of(PartView), writer_of(LotView), writer_of(OrderView)
    with connected(), reading():
        followed = list(Item.select().where(Item.kind.in_(FOLLOWED)))
        orders = [number for (number,) in Order.select(Order.id).tuples()]
        told = ItemChange.select(ItemChange.kind, ItemChange.number, fn.MAX(ItemChange.seq))
        last = {(kind, n): seq for kind, n, seq in told.group_by(ItemChange.kind, ItemChange.number).tuples()}
        parts = [item.code for item in followed if item.kind == Kind.PART]
        lots = view_lots(load_lots([item for item in followed if item.kind == Kind.LOT]))
        answers = (
            {code: to_bytes(part(read_part(code, at=_AT))) for code in parts}
            | {view.code: to_bytes(lot(view)) for view in lots}
            | {f"order {number}": to_bytes(order(read_order(number, at=_AT))) for number in orders}
        )
        assert len(answers) == len(followed) + len(orders)
        changes = {item.code: last.get((item.kind, item.id)) for item in followed}
        return answers, changes | {f"order {number}": last.get((FollowedKind.ORDER, number)) for number in orders}


def _differing(before: bytes | None, after: bytes) -> list[str]:
    import json

    was, now = json.loads(before or b"{}"), json.loads(after)
    return [name for name in now if now[name] != was.get(name)]


def _walk() -> Any:
    """The examples of the description, sent in their order to a shop founded just now."""
    import tempfile
    from pathlib import Path

    from service.app import create_app
    from service.config import Settings
    from service.database import open_database
    from service.opening import make_secrets_key
    from service.operations.door import founding
    from service.reports.issued.signer import make_signer, write_signer
    from tests.api.walk import Walker, examples

    founded = datetime(2026, 12, 1, 8, 0, tzinfo=UTC)
    with tempfile.TemporaryDirectory() as folder:
        home = Path(folder)
        write_signer(make_signer("Yard", at=founded), home / "key", home / "certificate")
        settings = Settings(
            database=f"sqlite:///{home}/potmark.db", secrets_key=f"{home}/secrets.key", signing_key=f"{home}/key",
            signing_certificate=f"{home}/certificate",
        )  # fmt: skip
        open_database(settings.database)
        make_secrets_key(settings)
        with connected():
            founding.migrate()
            key = founding.found(site="Yard", zone="Europe/Copenhagen", administrator="Ada", at=founded).key
        client = create_app(settings, clock=lambda: founded).test_client()
        walker, followed = Walker(client, {0: key}), Followed()
        for request in examples(client.get("/openapi.json").get_json()):
            answer = walker.send(request)
            if request.method != "GET" and answer.status_code in (200, 201):
                followed.look(request.name)
        return followed


if __name__ == "__main__":
    found = _walk()
    for one in found.unseen:
        print("unseen", *one)
    print(f"{found.told} changes told, {sum(found.idle.values())} of them of an answer that is the same: {found.idle}")
    raise SystemExit(bool(found.unseen))
