"""The account's own proof: what is cached is worked out again from history, and history from its chain.

Balances follow from movements, states from changes of state, hold counts from holds; the journal's entries follow from
each other, each says the same as its deed, and every row of every table is as the last entry that names it left it.
All is streamed, so that a large account takes seconds and no more memory than a small one.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import reduce
from operator import or_
from typing import NamedTuple

from schemas.words import KIND_NAMES, PARTS_OF_A_RATIO, Kind, State
from service.database import connected, reading, row_by_row, rows_of
from service.formulas.ratio import deviation_pct
from service.guards import guarded_tables, triggers
from service.operations.door import chain
from service.operations.door.impossible import Impossible
from service.operations.door.signers import Signers
from service.operations.ledger import rows
from service.operations.ledger.against import Anchor, compare_heads
from service.operations.ledger.signed_rows import unsigned_rows
from service.records import ALL, KEPT
from service.records.base import Word
from service.records.items import Item, Movement
from service.records.journal import Deed, Document, Entry

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
    rows: int
    differences: int
    first: tuple[Difference, ...]

    @property
    def agrees(self) -> bool:
        return self.differences == 0


class _Found(NamedTuple):
    """A difference that is told in words only if it is among the first, since that may take more looking up."""

    what: str
    where: str
    say: Callable[[], str]


def check_account(*, show: int = 20, against: Sequence[Anchor] = (), public_key: str | None = None) -> AccountCheck:
    """Work out every cached balance, state and hold count again, prove the journal, and compare every row with it.

    ``against`` are heads of the journal that were kept elsewhere, from which it has to continue; ``public_key`` is that
    of the key with which this machine signs heads.
    """
    with connected(), chain.scratch_marks(), reading():
        return _check(show, against, public_key)


def _check(show: int, against: Sequence[Anchor], public_key: str | None) -> AccountCheck:
    looked_at = differences = 0
    first: list[Difference] = []

    def count(several: int) -> None:
        nonlocal looked_at
        looked_at += several

    heads = _heads(against, public_key)
    parts = (
        ("heads that are kept", heads),
        ("journal", _journal()),
        ("rows", _rows(count)),
        ("rows that are signed", _signed()),
        ("items", _items()),
        ("pots", _pots()),
        ("words", _words()),
        ("guards", _guards()),
    )
    for name, part in parts:
        for found in _to_the_end(name, part):
            differences += 1
            if len(first) < show:
                first.append(Difference(found.what, found.where, found.say()))
    return AccountCheck(
        items=Item.select().count(),
        movements=Movement.select().count(),
        deeds=Deed.select().count(),
        entries=Entry.select().count(),
        documents=Document.select().count(),
        rows=looked_at,
        differences=differences,
        first=tuple(first),
    )


def _to_the_end(name: str, part: Iterator[_Found]) -> Iterator[_Found]:
    """Whoever writes something that cannot be read keeps nothing else from being looked at."""
    try:
        yield from part
    except chain.UNREADABLE as error:
        why = f"something in them is not as this program writes it ({error})."
        yield _told("unreadable", name, f"The account's {name} cannot be checked to the end: {why}")


def _told(what: str, where: str, sentence: str) -> _Found:
    return _Found(what, where, lambda: sentence)


def _heads(against: Sequence[Anchor], public_key: str | None) -> Iterator[_Found]:
    for amiss in compare_heads(against, public_key=public_key):
        yield _told("head", str(amiss.number), amiss.sentence)


def _journal() -> Iterator[_Found]:
    """Each entry follows from the one before it, each deed has its entry, and that says what the deed's row says."""
    for found in chain.read_chain(signers=Signers()):
        if isinstance(found, chain.Broken):
            sentence = f"Entry {found.seq} of the journal is not as it was written, or is missing."
            yield _told("journal", str(found.seq), sentence)
        elif isinstance(found, chain.Unsigned):
            sentence = (
                f"Entry {found.seq} of the journal ({found.operation}) is not signed as it has to be: {found.why}."
            )
            yield _told("signature", str(found.seq), sentence)
        elif isinstance(found, Impossible):
            sentence = f"Entry {found.seq} of the journal ({found.operation}) was written by no act: {found.why}."
            yield _told("journal", str(found.seq), sentence)
        else:
            differ = ", ".join(found.columns) or "number"
            sentence = f"Deed {found.deed} ({found.operation}) and its entry in the journal differ in {differ}."
            yield _told("deed", str(found.deed), sentence)
    chain.link_marks()
    alone = (
        "SELECT d.id, d.operation FROM deed d LEFT JOIN entry e ON e.deed_id = d.id WHERE e.seq IS NULL ORDER BY d.id"
    )
    if rows_of(_HEAD_OF_ANOTHER_TIME):
        yield _told("journal", "head", "The journal's head bears another time than its newest entries were written at.")
    twice = "SELECT deed_id, MAX(seq) FROM entry GROUP BY deed_id HAVING COUNT(*) > 1 ORDER BY 2"
    for deed, seq in row_by_row(twice):
        yield _told("journal", str(seq), f"Entry {seq} of the journal is not the only one of deed {deed}.")
    for deed, operation in row_by_row(alone):
        yield _told("deed", str(deed), f"Deed {deed} ({operation}) has no entry in the journal.")


# By it a clock that was set back is noticed: it is the latest time of all entries, and none is later than the newest.
_HEAD_OF_ANOTHER_TIME = """
    SELECT 1 FROM head h JOIN entry e ON e.seq = h.seq JOIN deed d ON d.id = e.deed_id
    WHERE h.at IS NOT NULL
        AND (h.at < d.recorded_at OR NOT EXISTS (SELECT 1 FROM deed o WHERE o.recorded_at = h.at))
"""


def _signed() -> Iterator[_Found]:
    """What only a signed act makes of a row was made of it by one."""
    for where, sentence in unsigned_rows():
        yield _told("signature", where, sentence)


def _rows(count: Callable[[int], None]) -> Iterator[_Found]:
    for differs in rows.compare_rows(count):
        yield _Found(*differs)


# What an item's cached columns have to be, from its movements, states and holds.
_CACHED = """
    SELECT i.code, i.kind, i.unit, i.balance, i.state, i.holds,
        (SELECT COALESCE(SUM(m.amount), 0) FROM movement m
            WHERE m.target_id = i.id AND m.unit = i.unit AND m.cancelled_by_id IS NULL)
        - (SELECT COALESCE(SUM(m.amount), 0) FROM movement m
            WHERE m.source_id = i.id AND m.unit = i.unit AND m.cancelled_by_id IS NULL),
        (SELECT s.state FROM state_change s WHERE s.item_id = i.id ORDER BY s.id DESC LIMIT 1),
        (SELECT COUNT(*) FROM hold h WHERE h.item_id = i.id AND h.lifted_at IS NULL)
    FROM item i ORDER BY i.id
"""


def _items() -> Iterator[_Found]:
    for code, kind, unit, balance, state, held, right, known, stand in row_by_row(_CACHED):
        name = f"{KIND_NAMES.get(kind, 'item')} {code}"
        if balance != right:
            measure = f" {unit}" if unit else ""
            yield _told("balance", code, f"The {name} is kept at {balance}{measure}; its movements say {right}.")
        if kind == Kind.LOT and balance != 0:
            yield _told("packing", code, f"Of the {name}, {balance} {unit} came that stand in no container.")
        if kind == Kind.MIX and state in _SETTLED and balance != 0:
            yield _told("closing", code, f"The {name} is {state}, but {balance} mg of it are in no part, cup or loss.")
        if state != known:
            history = f"its history says {known}" if known else "it has no history of states"
            yield _told("state", code, f"The {name} is kept as {state}; {history}.")
        if held != stand:
            yield _told("holds", code, f"The {name} is kept with {held} holds; {stand} stand.")


_POURED = """
    (SELECT SUM(v.amount) FROM pour p JOIN movement v ON v.id = p.movement_id
        WHERE p.mix_id = m.item_id AND p.component = ? AND v.cancelled_by_id IS NULL)
"""
# With another material in it a pot has no ratio.
_STRANGE = """
    (SELECT COUNT(*) FROM pour p JOIN movement v ON v.id = p.movement_id JOIN container c ON c.item_id = p.container_id
        JOIN system_hardener h ON h.id = m.hardener_id JOIN resin_system s ON s.id = h.system_id
        WHERE p.mix_id = m.item_id AND v.cancelled_by_id IS NULL
            AND c.material_id <> s.resin_id AND c.material_id <> h.material_id)
"""


def _pots() -> Iterator[_Found]:
    """The deviation that is kept of a pot is that of its pours that stand."""
    by_table = "(h.catalyst IS NOT NULL OR h.blend IS NOT NULL)"
    asked = ", ".join(["i.code, m.ratio, m.deviation_pct", by_table, _STRANGE, *(_POURED for _ in PARTS_OF_A_RATIO)])
    query = f"SELECT {asked} FROM mix m JOIN item i ON i.id = m.item_id"
    query += " JOIN system_hardener h ON h.id = m.hardener_id ORDER BY i.id"
    for code, ratio, kept, tabled, strange, *poured in row_by_row(query, *(str(part) for part in PARTS_OF_A_RATIO)):
        resin, hardener = (int(amount or 0) / 1000 for amount in poured)
        # A promoter or a second hardener is no stranger; outside a catalyst's lines there is no figure to be off from.
        has_ratio = resin and hardener and (kept is not None if tabled else not strange)
        right = deviation_pct(resin_g=resin, hardener_g=hardener, ratio=ratio) if has_ratio else None
        if (right is None) != (kept is None) or (right is not None and abs(right - kept) > 1e-9):
            yield _told("ratio", code, f"The mix {code} is kept {kept} % off; its pours say {right}.")


def _words() -> Iterator[_Found]:
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
                    yield _told("word", number, f"{where} has the {field.name} {word!r}; no such word is known.")


def _guards() -> Iterator[_Found]:
    """History may only be added to: the triggers that see to it have to be there, and none that does anything else."""
    guarded = guarded_tables()
    for table in KEPT:
        name = table._meta.table_name
        if name not in guarded:
            yield _told("guard", name, f"The table {name} is no longer guarded against changes of history.")
    for name, trigger, guards in triggers():
        if not guards:
            sentence = f"The table {name} has a trigger {trigger} of somebody else: it may write what no act writes."
            yield _told("guard", name, sentence)
