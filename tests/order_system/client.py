"""The order system's own program: `python client.py FOLDER ADDRESS KEY PATIENCE`, as often as it is killed.

It places the orders of ``orders.json``, changes them, has their parts started, follows the feed, ships what was
released, takes some of it back and ships it again. It has the generated client, and a memory on disk in which it notes
what it means to do before it does it. It waits so many seconds for an answer and then sends again: some acts with a key
of their own, some with none, some with a new key each time.
"""

import json
import os
import sqlite3
import sys
import threading
import time
import traceback
import uuid
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from http import HTTPStatus
from pathlib import Path
from typing import Any

import httpx
from generated_potmark_client import models
from generated_potmark_client.api.changes import list_changes
from generated_potmark_client.api.orders import (
    add_order_lines,
    add_reference,
    cancel_order,
    change_order_line,
    list_order_parts,
    place_order,
    plan_replacements,
    read_order,
    return_part,
    start_planned_part,
)
from generated_potmark_client.api.parts import ship_part
from generated_potmark_client.client import AuthenticatedClient
from generated_potmark_client.types import UNSET

HANDS = 4
# One in so many shipped parts comes back.
COMES_BACK = 12
_MEMORY = """
    CREATE TABLE IF NOT EXISTS placed (reference TEXT PRIMARY KEY, number INTEGER, step INTEGER, state TEXT);
    CREATE TABLE IF NOT EXISTS part (code TEXT PRIMARY KEY, number INTEGER, line INTEGER, state TEXT, serial TEXT,
                                     coming_back INTEGER DEFAULT 0);
    CREATE TABLE IF NOT EXISTS read (id INTEGER PRIMARY KEY CHECK (id = 1), upto INTEGER);
    INSERT OR IGNORE INTO read VALUES (1, 0);
"""


class Memory:
    """What the order system knows, on disk; a statement that was answered is there after any kill."""

    def __init__(self, file: Path) -> None:
        self._db = sqlite3.connect(file, check_same_thread=False, isolation_level=None)
        self._lock = threading.Lock()
        self._db.executescript(_MEMORY)

    def __call__(self, sql: str, *values: Any) -> list[Any]:
        with self._lock:
            return self._db.execute(sql, values).fetchall()


class OrderSystem:
    """One run of the program, from its start to its end or to the next kill."""

    def __init__(self, folder: Path, address: str, key: str, patience_s: float) -> None:
        self.orders = {order["reference"]: order for order in json.loads((folder / "orders.json").read_text())}
        self.memory = Memory(folder / "memory.db")
        self.client = AuthenticatedClient(address, key, timeout=httpx.Timeout(patience_s))
        self.said = {"sent": 0, "sent again": 0, "refused": 0}
        # Those that place orders, and those that look after what the feed tells of.
        self._hands, self._eyes = ThreadPoolExecutor(HANDS), ThreadPoolExecutor(HANDS)
        self._at: dict[str, threading.Lock] = {reference: threading.Lock() for reference in self.orders}
        self._work: list[Future[None]] = []

    def send(self, call: Callable[..., Any], *path: Any, **more: Any) -> Any:
        """Send until it is answered; ``idempotency_key`` may be made anew for each time."""
        key = more.pop("idempotency_key", None)
        for attempt in range(10_000):
            if key is not None:
                more["idempotency_key"] = key() if callable(key) else key
            self.said["sent again" if attempt else "sent"] += 1
            try:
                answer = call.sync_detailed(*path, client=self.client, **more)  # type: ignore[attr-defined]
            except httpx.TransportError:
                time.sleep(min(0.02 * 2**attempt, 0.5))
                continue
            if answer.status_code in (HTTPStatus.TOO_MANY_REQUESTS, HTTPStatus.SERVICE_UNAVAILABLE):
                time.sleep(float(answer.headers.get("Retry-After", 0.2)))
            elif _kind(answer) == "still-running":
                time.sleep(0.2)
            else:
                assert answer.status_code < HTTPStatus.INTERNAL_SERVER_ERROR, answer.content
                self.said["refused"] += answer.status_code >= HTTPStatus.BAD_REQUEST
                return answer
        raise AssertionError("nobody answers")

    # What is done to one order, in its order.

    def carry_on(self, reference: str) -> None:
        """Go on with an order where it was left: place it, do its steps, and look after its parts."""
        with self._at[reference]:
            order = self.orders[reference]
            known = self.memory("SELECT number, step FROM placed WHERE reference = ?", reference)
            if not known:
                number = self._place(reference, order)
                self.memory("INSERT OR REPLACE INTO placed VALUES (?, ?, 0, 'open')", reference, number)
                known = [(number, 0)]
            number, done = known[0]
            for step, (name, *what) in list(enumerate(order["steps"]))[done:]:
                getattr(self, f"_{name}")(number, *what)
                self.memory("UPDATE placed SET step = ? WHERE reference = ?", step + 1, reference)
            self._look_after(reference, number)

    def _place(self, reference: str, order: dict[str, Any]) -> int:
        turn = int(reference[-4:]) % 3
        key = (f"place {reference}", lambda: uuid.uuid4().hex, None)[turn]
        body = models.OrderIn.from_dict(
            {name: order[name] for name in ("reference", "customer", "lines")}
            | {"customer_reference": f"C-{order['customer'][9:]}"}
        )
        answer = self.send(place_order, body=body, idempotency_key=key)
        assert isinstance(answer.parsed, models.OrderPlacedOut), answer.content
        return int(answer.parsed.order.id)

    def _more(self, number: int, lines: list[dict[str, Any]]) -> None:
        there = self._read(number).parsed.lines
        if lines[0]["reference"] in {named.reference for line in there for named in line.references}:
            return
        body = models.OrderLinesIn.from_dict({"first": len(there) + 1, "lines": lines})
        answer = self.send(add_order_lines, number, body=body)
        assert answer.status_code == HTTPStatus.CREATED or _kind(answer) == "already-there", answer.content

    def _quantity(self, number: int, line: int, quantity: int) -> None:
        while True:
            read = self._read(number)
            if read.parsed.lines[line - 1].quantity == quantity:
                return
            body = models.OrderLineChange(quantity=quantity, confirmed=True)
            answer = self.send(change_order_line, number, line, body=body, if_match=read.headers["ETag"])
            assert answer.status_code in (HTTPStatus.OK, HTTPStatus.PRECONDITION_FAILED), answer.content

    def _cancel(self, number: int) -> None:
        """With one part begun, which goes on."""
        parts = self._parts(number)
        if parts and not any(part.state != models.PartState.PLANNED for part in parts):
            self._start(parts[0].code)
        answer = self.send(cancel_order, number, body=models.CancellationIn(confirmed=True))
        assert answer.parsed.state is models.OrderState.CANCELLED, answer.content

    def _look_after(self, reference: str, number: int) -> None:
        """Whatever its parts need, as they stand now; the feed says when to look again."""
        order = self._read(number).parsed
        for line in order.lines:
            if line.wanting and line.replaced_by is models.ReplacedBy.ORDER_SYSTEM:
                answer = self.send(plan_replacements, number, line.number)
                assert answer.status_code == HTTPStatus.CREATED, answer.content
        for part in self._parts(number):
            coming_back = self._note(number, part)
            match part.state:
                case models.PartState.PLANNED:
                    self._start(part.code)
                case models.PartState.RELEASED:
                    self._ship(part.code, coming_back)
                case models.PartState.SHIPPED if coming_back == 1 or (not coming_back and _comes_back(part.code)):
                    self._take_back(part.code)
        self.memory("UPDATE placed SET state = ? WHERE reference = ?", str(order.state), reference)

    def _note(self, number: int, part: Any) -> int:
        self.memory(
            "INSERT INTO part (code, number, line, state, serial) VALUES (?, ?, ?, ?, ?)"
            " ON CONFLICT (code) DO UPDATE SET state = excluded.state",
            part.code, number, part.line, str(part.state), part.serial,
        )  # fmt: skip
        return int(self.memory("SELECT coming_back FROM part WHERE code = ?", part.code)[0][0])

    def _start(self, code: str) -> None:
        key = f"start {code}" if code.encode()[-1] % 2 else None
        answer = self.send(start_planned_part, code, body=models.StartIn(), idempotency_key=key)
        assert answer.status_code == HTTPStatus.CREATED or _kind(answer) == "wrong-state", answer.content

    def _ship(self, code: str, coming_back: int) -> None:
        turn = 2 if coming_back else 1
        body = models.ShipmentIn(document=f"DN {code} {turn}")
        answer = self.send(ship_part, code, body=body, idempotency_key=f"ship {code} {turn}")
        assert answer.status_code in (HTTPStatus.CREATED, HTTPStatus.CONFLICT), answer.content

    def _take_back(self, code: str) -> None:
        self.memory("UPDATE part SET coming_back = 1 WHERE code = ?", code)
        body = models.ReturnIn(reason="does not fit")
        answer = self.send(return_part, code, body=body, idempotency_key=f"return {code}")
        assert answer.status_code == HTTPStatus.CREATED, answer.content
        self.memory("UPDATE part SET coming_back = 2 WHERE code = ?", code)
        asked = models.ReferenceIn(kind=models.Referred.PART, reference=f"RMA {code}", code=code)
        assert self.send(add_reference, body=asked).status_code == HTTPStatus.CREATED

    def _read(self, number: int) -> Any:
        return self.send(read_order, number)

    def _parts(self, number: int) -> list[Any]:
        found, after = [], UNSET
        while True:
            answer = self.send(list_order_parts, number, limit=20, after=after)
            found += answer.parsed
            if (after := _next(answer)) is UNSET:
                return found

    # What the feed says.

    def follow(self) -> bool:
        """Read what is new, look after the orders that it names, and remember how far it was read; was it all?"""
        ((upto,),) = self.memory("SELECT upto FROM read")
        rows = self.send(list_changes, since=upto, kind=models.FollowedKind.ORDER, limit=50).parsed
        mine = dict(self.memory("SELECT number, reference FROM placed"))
        looks = {self._eyes.submit(self.carry_on, mine[n]) for n in {row.order_id for row in rows} if n in mine}
        for look in looks:
            look.result()
        if rows:
            self.memory("UPDATE read SET upto = ?", rows[-1].number)
        return not rows

    def is_done(self) -> bool:
        """Is all shipped, and is nothing on its way back?"""
        open_orders = self.memory("SELECT count(*) FROM placed WHERE state NOT IN ('done', 'cancelled')")[0][0]
        here = self.memory("SELECT count(*) FROM part WHERE state NOT IN ('shipped', 'scrapped', 'cancelled')")[0][0]
        coming = [
            code
            for code, back in self.memory("SELECT code, coming_back FROM part WHERE state = 'shipped'")
            if back == 1 or (not back and _comes_back(code))
        ]
        return not (open_orders or here or coming)

    def run(self) -> None:
        for work in [self._hands.submit(self.carry_on, reference) for reference in self.orders]:
            work.add_done_callback(_raise)
            self._work.append(work)
        while True:
            placed = all(work.done() for work in self._work)
            if self.follow() and placed and self.is_done():
                return
            time.sleep(0.3)


def _raise(work: "Future[None]") -> None:
    if work.exception() is not None:
        traceback.print_exception(work.exception())
        os._exit(1)


def _kind(answer: Any) -> str:
    return answer.parsed.type_.rpartition("/")[2] if isinstance(answer.parsed, models.Problem) else ""


def _next(answer: Any) -> Any:
    link = answer.headers.get("Link", "")
    return httpx.URL(link.partition(">")[0].lstrip("<")).params["after"] if 'rel="next"' in link else UNSET


def _comes_back(code: str) -> bool:
    return int(code[1:6]) % COMES_BACK == 0


def main() -> None:
    folder, address, key = Path(sys.argv[1]), sys.argv[2], sys.argv[3]
    system = OrderSystem(folder, address, key, float(sys.argv[4]))
    system.run()
    (folder / "done.json").write_text(json.dumps(system.said))


if __name__ == "__main__":
    main()
