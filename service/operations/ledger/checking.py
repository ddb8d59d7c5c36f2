"""The account's own proof: what is cached is worked out again from history, and history from its chain.

Balances follow from movements, states from changes of state, hold counts from holds; the journal's entries follow from
each other, and each says the same as its deed. Everything is read in bulk, so that a large account takes seconds.
"""

import hashlib
import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import reduce
from operator import or_
from typing import Any

from peewee import JOIN, fn

from schemas.words import KIND_NAMES, PARTS_OF_A_RATIO, Kind, State
from service.database import guarded_tables, reading
from service.formulas.ratio import deviation_pct
from service.operations.door.plain import plain
from service.operations.ledger.journal import verify_chain
from service.records import ALL, KEPT
from service.records.base import Word, instant, known
from service.records.items import Hold, Item, Movement, StateChange
from service.records.journal import Deed, Document, Entry
from service.records.materials import Container, ResinSystem, SystemHardener
from service.records.mixes import Mix, Pour

# A pot that has ended has all that was poured in parts, in its cup or lost.
_SETTLED = (State.CLOSED, State.DISCARDED, State.ABANDONED)


@dataclass(frozen=True, slots=True)
class Difference:
    """One place where the account does not agree with its own history."""

    what: str
    where: str
    sentence: str


@dataclass(frozen=True, slots=True)
class AccountCheck:
    """How much was looked at, how many differences there are, and the first of them."""

    items: int
    movements: int
    deeds: int
    entries: int
    documents: int
    differences: int
    first: tuple[Difference, ...]

    @property
    def agrees(self) -> bool:
        return self.differences == 0


def check_account(*, show: int = 20) -> AccountCheck:
    """Work out every cached balance, state and hold count again, and prove the journal, in one snapshot."""
    with reading():
        found = [*_items(), *_pots(), *_journal(), *_deeds(), *_documents(), *_words(), *_guards()]
        return AccountCheck(
            items=Item.select().count(),
            movements=Movement.select().count(),
            deeds=Deed.select().count(),
            entries=Entry.select().count(),
            documents=Document.select().count(),
            differences=len(found),
            first=tuple(found[:show]),
        )


def _items() -> Iterator[Difference]:
    into, out = _sums(Movement.target), _sums(Movement.source)
    states = _last_states()
    holds = dict(
        Hold.select(Hold.item, fn.COUNT(Hold.id))
        .where(Hold.item.is_null(False) & Hold.lifted_at.is_null())
        .group_by(Hold.item)
        .tuples()
    )
    rows = Item.select(Item.id, Item.code, Item.kind, Item.unit, Item.balance, Item.state, Item.holds).order_by(Item.id)
    for number, code, kind, unit, balance, state, held in rows.tuples().iterator():
        name = f"{KIND_NAMES.get(kind, 'item')} {code}"
        right = into.get((number, unit), 0) - out.get((number, unit), 0)
        if balance != right:
            measure = f" {unit}" if unit else ""
            yield Difference("balance", code, f"The {name} is kept at {balance}{measure}; its movements say {right}.")
        if kind == Kind.LOT and balance != 0:
            yield Difference("packing", code, f"Of the {name}, {balance} {unit} came that stand in no container.")
        if kind == Kind.MIX and state in _SETTLED and balance != 0:
            yield Difference(
                "closing", code, f"The {name} is {state}, but {balance} mg of it are in no part, cup or loss."
            )
        if state != states.get(number):
            known = states.get(number)
            history = f"its history says {known}" if known else "it has no history of states"
            yield Difference("state", code, f"The {name} is kept as {state}; {history}.")
        if held != holds.get(number, 0):
            yield Difference("holds", code, f"The {name} is kept with {held} holds; {holds.get(number, 0)} stand.")


def _pots() -> Iterator[Difference]:
    """The deviation that is kept of a pot is that of its pours that stand."""
    poured: dict[tuple[int, str], int] = {}
    rows = (
        Pour.select(Pour.mix, Pour.component, fn.SUM(Movement.amount))
        .join(Movement)
        .where(Movement.cancelled_by.is_null())
        .group_by(Pour.mix, Pour.component)
    )
    for mix, component, amount in rows.tuples():
        poured[mix, component] = int(amount)
    # With another material in it a pot has no ratio.
    strange = {
        row.mix_id
        for row in Pour.select(Pour.mix)
        .join(Movement)
        .switch(Pour)
        .join(Container)
        .switch(Pour)
        .join(Mix)
        .join(SystemHardener)
        .join(ResinSystem)
        .where(
            Movement.cancelled_by.is_null()
            & (Container.material != ResinSystem.resin)
            & (Container.material != SystemHardener.material)
        )
    }
    for mix in Mix.select(Mix.item, Mix.ratio, Mix.deviation_pct):
        resin, hardener = (poured.get((mix.item_id, part), 0) / 1000 for part in PARTS_OF_A_RATIO)
        has_ratio = resin and hardener and mix.item_id not in strange
        right = deviation_pct(resin_g=resin, hardener_g=hardener, ratio=mix.ratio) if has_ratio else None
        if (right is None) != (mix.deviation_pct is None) or (
            right is not None and abs(right - known(mix.deviation_pct)) > 1e-9
        ):
            code = Item.get_by_id(mix.item_id).code
            yield Difference("ratio", code, f"The mix {code} is kept {mix.deviation_pct} % off; its pours say {right}.")


def _sums(end: Any) -> dict[tuple[int, str], int]:
    """What the movements that stand carry to or from each item, by unit."""
    rows = (
        Movement.select(end, Movement.unit, fn.SUM(Movement.amount))
        .where(end.is_null(False) & Movement.amount.is_null(False) & Movement.cancelled_by.is_null())
        .group_by(end, Movement.unit)
        .tuples()
    )
    # PostgreSQL adds whole numbers up to a decimal.
    return {(item, unit): int(total) for item, unit, total in rows}


def _last_states() -> dict[int, str]:
    last = StateChange.select(fn.MAX(StateChange.id)).group_by(StateChange.item)
    return dict(StateChange.select(StateChange.item, StateChange.state).where(StateChange.id.in_(last)).tuples())


def _journal() -> Iterator[Difference]:
    chain = verify_chain()
    if chain.first_broken is not None:
        yield Difference(
            "journal",
            str(chain.first_broken),
            f"Entry {chain.first_broken} of the journal is not as it was written, or is missing.",
        )


def _deeds() -> Iterator[Difference]:
    """Each deed has its entry, and the entry says of it what the deed's own row says."""
    rows = (
        Deed.select(
            Deed.id,
            Deed.operation,
            Deed.person,
            Deed.system,
            Deed.device,
            Deed.site,
            Deed.occurred_at,
            Deed.recorded_at,
            Deed.why,
            Deed.refused,
            Entry.body,
        )
        .join(Entry, JOIN.LEFT_OUTER)
        .order_by(Deed.id)
    )
    names = ("deed", "operation", "person", "system", "device", "site", "occurred_at", "recorded_at", "why")
    for *facts, refused, body in rows.tuples().iterator():
        deed = facts[0]
        if body is None:
            yield Difference("deed", str(deed), f"Deed {deed} ({facts[1]}) has no entry in the journal.")
            continue
        said = _read(body)
        kept = {name: plain(_as_instant(name, fact)) for name, fact in zip(names, facts, strict=True)}
        other = [name for name in names if said.get(name) != kept[name]]
        if (said.get("refused") or {}).get("kind") != refused:
            other.append("refused")
        if other:
            yield Difference(
                "deed",
                str(deed),
                f"Deed {deed} ({facts[1]}) and its entry in the journal differ in {', '.join(other)}.",
            )


def _as_instant(name: str, fact: Any) -> Any:
    return instant(fact) if name.endswith("_at") and isinstance(fact, int) else fact


def _read(body: str) -> dict[str, Any]:
    try:
        said = json.loads(body)
    except ValueError:
        return {}
    return said if isinstance(said, dict) else {}


def _documents() -> Iterator[Difference]:
    numbers: Iterable[tuple[int]] = Document.select(Document.id).order_by(Document.id).tuples()
    for (number,) in list(numbers):
        row = Document.get_by_id(number)
        content = bytes(row.content)
        if hashlib.sha256(content).hexdigest() != row.sha256 or len(content) != row.size:
            yield Difference("document", str(number), f"Document {number} ({row.name}) is not as it was kept.")


def _words() -> Iterator[Difference]:
    """Every word that is kept is one that this program knows; most of them are held by no CHECK of the database."""
    for table in ALL:
        meta = table._meta
        columns = [field for field in meta.sorted_fields if isinstance(field, Word)]
        if not columns:
            continue
        keys = meta.get_primary_keys()
        strange = reduce(or_, (field.not_in(field.words) for field in columns))
        for row in table.select(*keys, *columns).where(strange).order_by(*keys).tuples().iterator():
            number = "/".join(str(key) for key in row[: len(keys)])
            for field, word in zip(columns, row[len(keys) :], strict=True):
                if word is not None and word not in field.words:
                    where = f"Row {number} of the table {meta.table_name}"
                    yield Difference("word", number, f"{where} has the {field.name} {word!r}; no such word is known.")


def _guards() -> Iterator[Difference]:
    """History may only be added to: the triggers that see to it have to be there."""
    guarded = guarded_tables()
    for table in KEPT:
        name = table._meta.table_name
        if name not in guarded:
            yield Difference("guard", name, f"The table {name} is no longer guarded against changes of history.")
