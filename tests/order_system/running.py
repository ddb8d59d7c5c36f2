"""The whole: server, bad line, order system and floor, with servers and the order system killed on the way."""

import os
import signal
import sqlite3
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Sequence
from contextlib import closing
from dataclasses import dataclass, field
from datetime import UTC, datetime
from json import dumps, loads
from pathlib import Path
from random import Random
from typing import Any

from peewee import fn

from schemas.words import Referred, State
from service.app import create_app
from service.config import Settings
from service.database import connected
from service.operations.ledger.checking import check_account
from service.records.items import Item
from service.records.journal import Deed
from service.records.orders import ExternalReference, OrderLine
from service.records.orders import Order as OrderRow
from service.records.parts import Part, Shipment
from tests.conftest import Api, Clock, Shop
from tests.fresh import PEPPER, found
from tests.journeys.test_kill import Plug
from tests.order_system.floor import Floor
from tests.order_system.orders import Order, wanted
from tests.order_system.trouble import Trouble, bad_line

PACKAGE = "generated_potmark_client"
_CLIENT = Path(__file__).with_name("client.py")
_ERRORS = "client.log"
# So long the order system waits for an answer.
PATIENCE_S = 2.5


def generate(folder: Path) -> str:
    """The package that openapi-python-client makes of the description, in that folder; what it said."""
    from tests.api.description import document

    (folder / "openapi.json").write_text(dumps(document()), "utf-8")
    # Nothing is to be formatted for reading.
    (folder / "config.yml").write_text("post_hooks: []\n", "utf-8")
    command = [sys.executable, "-m", "openapi_python_client", "generate", "--path", "openapi.json",
               "--config", "config.yml", "--meta", "none", "--output-path", PACKAGE]  # fmt: skip
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=True)
    return done.stdout + done.stderr


def shop_of_today(url: str, home: Path) -> Any:
    """A shop that is founded now, and its people's own way in, which no bad line and no kill disturbs."""
    now = datetime.now(UTC)
    founded = found(url, now, home / PEPPER)
    settings = Settings(database=url)
    clock = Clock(now)
    client = create_app(settings, clock=clock).test_client()
    shop = Shop(clock, founded.site, founded.people, founded.keys, founded.secrets, founded.tokens, founded.signers)
    return Api(client=client, shop=shop, accounts=None, url=url)  # type: ignore[arg-type]


@dataclass
class Run:
    """What happened, and what is wrong with how it ended."""

    lines: int = 0
    orders: int = 0
    parts: int = 0
    seconds: float = 0
    servers_killed: int = 0
    clients_killed: int = 0
    met: Counter[str] = field(default_factory=Counter)
    said: dict[str, int] = field(default_factory=dict)
    acts: Counter[str] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)

    def figures(self) -> str:
        line = ", ".join(f"{count} {fate}" for fate, count in sorted(self.met.items()))
        return (
            f"{self.lines} lines of {self.orders} orders, {self.parts} parts in {self.seconds:.0f} s; "
            f"the server killed {self.servers_killed} times, the order system {self.clients_killed} times; "
            f"requests: {line}; acts done: {dict(sorted(self.acts.items()))}"
        )


def run(
    api: Any, plug: Plug, folder: Path, generated: Path, *, lines: int, seed: int, kill_each_s: float, within_s: float
) -> Run:
    """So many lines from the order to the customer; what is wrong in the end is in the answer."""
    told, moments, began = Run(lines=lines), Random(seed), time.monotonic()
    orders = wanted(lines, seed)
    (folder / "orders.json").write_text(dumps([order.to_dict() for order in orders]))
    floor = Floor(api, {order.reference for order in orders if order.cancelled})
    api.shop.clock.now = datetime.now(UTC)
    floor.prepare()
    plug.start()
    with bad_line(Trouble(plug.port, PATIENCE_S, Random(seed))) as line:
        system = _started(folder, generated, line, api.shop.keys["integrator"])
        next_kill = time.monotonic() + kill_each_s
        try:
            while system.poll() != 0:
                assert system.poll() in (None, -signal.SIGKILL), (folder / _ERRORS).read_text("utf-8")
                assert time.monotonic() < began + within_s, f"not done in {within_s:.0f} s; {_standing()}"
                floor.turn()
                if time.monotonic() > next_kill:
                    if moments.random() < 0.5:
                        plug.pull()
                        plug.start()
                        told.servers_killed += 1
                    else:
                        system.kill()
                        system.wait()
                        system = _started(folder, generated, line, api.shop.keys["integrator"])
                        told.clients_killed += 1
                    next_kill = time.monotonic() + kill_each_s * moments.uniform(0.5, 1.5)
                time.sleep(0.1)
        finally:
            system.kill()
            system.wait()
    # All that was under way has arrived: what is late comes into an account in which everything is done.
    told.seconds, told.met, told.orders = time.monotonic() - began, line.met, len(orders)
    told.said = loads((folder / "done.json").read_text())
    with connected():
        told.parts = Part.select().where(Part.line.is_null(False)).count()
        told.acts = _acts()
        told.wrong = [*_wrong(orders, floor), *_wrong_in(folder / "memory.db")]
    return told


def _started(folder: Path, generated: Path, line: Trouble, key: str) -> subprocess.Popen[bytes]:
    environment = {**os.environ, "PYTHONPATH": str(generated)}
    with (folder / _ERRORS).open("ab") as log:
        return subprocess.Popen(
            [sys.executable, _CLIENT, folder, f"http://127.0.0.1:{line.port}", key, str(line.patience_s)],
            env=environment, stdout=log, stderr=log,
        )  # fmt: skip


def _acts() -> Counter[str]:
    names = ("place_order", "start_planned_part", "ship_part", "return_part", "plan_replacements", "scrap_part")
    rows = Deed.select(Deed.operation, fn.COUNT(Deed.id)).where(Deed.refused.is_null() & Deed.operation.in_(names))
    return Counter(dict(rows.group_by(Deed.operation).tuples()))


def _standing() -> Counter[str]:
    with connected():
        return Counter(state for (state,) in Item.select(Item.state).join(Part, on=(Part.item == Item.id)).tuples())


def _wrong(orders: Sequence[Order], floor: Floor) -> list[str]:
    """What of the account is not as the customers wanted it."""
    wrong = []
    named = (
        ExternalReference.select(ExternalReference.text, ExternalReference.subject)
        .where(ExternalReference.kind == Referred.ORDER)
        .tuples()
    )
    numbers = dict(named)
    if OrderRow.select().count() != len(orders) or set(numbers) != {order.reference for order in orders}:
        wrong.append(f"{len(orders)} orders were placed, {OrderRow.select().count()} are there")
    rows = (
        Part.select(OrderLine.order_id, OrderLine.number, Item.code, Item.state, Part.serial, Part.item_id)
        .join(Item, on=(Part.item == Item.id))
        .switch(Part)
        .join(OrderLine)
        .order_by(Part.item)
        .tuples()
    )
    of_lines: dict[tuple[int, int], list[Any]] = {}
    for order, line, *part in rows:
        of_lines.setdefault((order, line), []).append(part)
    made = sum(len(parts) for parts in of_lines.values())
    expected = sum(order.planned for order in orders) + floor.scrapped
    if made != expected:
        wrong.append(f"{expected} parts should ever have been planned, {made} were")
    for order in orders:
        for number, line in enumerate(order.last_lines, 1):
            parts = of_lines.pop((numbers[order.reference], number), [])
            wrong += [f"{order.reference}/{number}: {one}" for one in _wrong_of(order, line, parts)]
    wrong += [f"nobody wanted {line}" for line in of_lines]
    shipped = Counter(part for (part,) in Shipment.select(Shipment.part).tuples())
    documents = Counter(text for (text,) in Shipment.select(Shipment.document).tuples())
    wrong += [f"the delivery note {text} went out {count} times" for text, count in documents.items() if count > 1]
    returns = Deed.select().where((Deed.operation == "return_part") & Deed.refused.is_null()).count()
    if sum(shipped.values()) - returns != Item.select().where(Item.state == State.SHIPPED).count():
        wrong.append(f"{sum(shipped.values())} shipments, {returns} returns and other numbers of parts with customers")
    check = check_account()
    return wrong if check.agrees else [*wrong, f"the account's own check: {check.first}"]


def _wrong_of(order: Order, line: dict[str, Any], parts: list[Any]) -> list[str]:
    states = Counter(state for _, state, *_ in parts)
    gone = states[State.SCRAPPED] + states[State.CANCELLED]
    if order.cancelled:
        still = states[State.SHIPPED]
        return [f"{still} of a cancelled order were built"] * (still > 1) + _left(states)
    wrong = _left(states)
    if len(parts) - gone != line["quantity"]:
        wrong.append(f"{line['quantity']} wanted, {len(parts) - gone} are there")
    serials = Counter(serial for *_, serial, _ in parts if serial is not None)
    first = line.get("serials") or []
    wrong += [f"serial {serial} stands {serials[serial]} times" for serial in first if serials[serial] != 1]
    return wrong


def _left(states: Counter[str]) -> list[str]:
    ends = (State.SHIPPED, State.SCRAPPED, State.CANCELLED)
    return [f"{count} are {state}" for state, count in states.items() if state not in ends]


def _wrong_in(memory: Path) -> list[str]:
    """What the order system believes, having read the feed alone, and what is not so."""
    with closing(sqlite3.connect(memory)) as remembered:
        believed = dict(remembered.execute("SELECT code, state FROM part"))
    true = dict(
        Item.select(Item.code, Item.state)
        .join(Part, on=(Part.item == Item.id))
        .where(Part.line.is_null(False))
        .tuples()
    )
    return [
        f"{code} is {true.get(code)}, and the order system believes {believed.get(code)}"
        for code in sorted({*believed, *true})
        if believed.get(code) != true.get(code)
    ]
