"""The one door for every write.

`@operation` makes a function the only kind that may write. In one transaction it holds, in this order: the right to
act, the idempotency key, the deed, then the function's own locks, reads, rules and writes, the journal's entry under
the head's lock, and the commit. A refusal is journalled in a second transaction. A PostgreSQL deadlock runs it again,
and so does what someone else has just put there.
"""

import functools
import random
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Concatenate, ParamSpec, TypeVar, cast

from peewee import IntegrityError, OperationalError, chunked

from schemas.words import Kind, State
from service.database import database, is_busy, is_taken, worth_another_try, writing
from service.operations.door import acts, entry, scopes
from service.operations.door.act import Act
from service.operations.door.expected import change_tag, require_expected, tag_of_code
from service.operations.door.kept import KeptAnswer as KeptAnswer
from service.operations.door.kept import fingerprint_of, keep_answer, kept_answer
from service.operations.door.plain import plain
from service.operations.door.refusals import (
    AlreadyThere,
    ClockSetBack,
    NotAllowed,
    OnHold,
    Refusal,
    SignatureRequired,
    StillRunning,
    UnknownThing,
    Unprocessable,
)
from service.operations.door.views import ItemRef
from service.records.base import as_word
from service.records.bound import Changes, changes
from service.records.items import Hold, Item
from service.records.people import Person, Site

P = ParamSpec("P")


R = TypeVar("R")


# Name -> the function behind it, for the tests that sweep all operations.
OPERATIONS: dict[str, Callable[..., Any]] = {}


_TRIES = 6


AT_ONCE = entry.AT_ONCE


@dataclass(slots=True)
class Carried:
    """What an act changes in the cached columns of an item: steps of its numbers, and its new state or place."""

    balance: int = 0
    holds: int = 0
    version: int = 0
    columns: dict[str, Any] = field(default_factory=dict)


@dataclass(slots=True)
class Work:
    """One operation under way: who acts (`who` by name), its deed, what it touches, what the journal will say."""

    act: Act
    deed: int
    site: Site
    who: str
    touched: dict[int, str] = field(default_factory=dict)
    notes: list[dict[str, Any]] = field(default_factory=list)
    # The items that this act has locked or made, and what of their cached columns is still to be written.
    items: dict[int, Item] = field(default_factory=dict)
    unwritten: dict[int, Carried] = field(default_factory=dict)
    # The rows that it has written and removed.
    changed: Changes = field(default_factory=Changes)
    # From when on its doer did things here.
    since: datetime | None = None
    # What its doer signs with it, if anything: the meaning of the signature.
    signs: str | None = None

    def note(self, **facts: Any) -> None:
        """Say in the journal what changed: old and new values, verdicts, reasons."""
        self.notes.append(plain(facts))

    def sign(self, meaning: str) -> None:
        """From here on the act is one that its doer signs; without their secret it is refused."""
        require_signature(self.act, meaning)
        self.signs = self.signs or meaning

    def answer(self, item: Item, view: Callable[Concatenate[Item, P], R], *args: P.args, **kwargs: P.kwargs) -> R:
        """What the act answers: the item as it is now, or, to who wants no more, its code alone."""
        self.write_items()
        if self.act.code_only:
            return cast(R, ItemRef(item.code, as_word(Kind, item.kind), item.name, as_word(State, item.state)))
        return view(item, *args, **kwargs)

    def item(self, number: int) -> Item:
        """The item as this act knows it; read once, if it is not one of those that it has locked."""
        if number not in self.items:
            self.items[number] = Item.get_by_id(number)
        return self.items[number]

    def carry(self, item: Item, *, balance: int = 0, holds: int = 0, **columns: Any) -> None:
        """Change the cached columns of an item here and now, and in the database once, when the act has done it all."""
        carried = self.unwritten.setdefault(item.id, Carried())
        carried.balance += balance
        carried.holds += holds
        carried.version += 1
        carried.columns |= columns
        for same in {id(i): i for i in (item, self.items.setdefault(item.id, item))}.values():
            same.balance += balance
            same.holds += holds
            same.version += 1
            for name, value in columns.items():
                setattr(same, name, value)

    def write_items(self) -> None:
        """Write what was carried, by ascending id; items that changed alike in one statement."""
        alike: dict[tuple[Any, ...], list[int]] = {}
        for number, carried in sorted(self.unwritten.items()):
            change = (carried.balance, carried.holds, carried.version, tuple(carried.columns.items()))
            alike.setdefault(change, []).append(number)
        for (balance, holds, version, columns), numbers in alike.items():
            steps = {Item.version: Item.version + version}
            if balance:
                steps[Item.balance] = Item.balance + balance
            if holds:
                steps[Item.holds] = Item.holds + holds
            for some in chunked(numbers, AT_ONCE):
                Item.update(steps, **dict(columns)).where(Item.id.in_(some)).execute()
        self.unwritten.clear()

    def touch(self, *items: Item) -> None:
        """Put the deed into the history of these items."""
        for item in items:
            self.touched.setdefault(item.id, item.code)


def operation(function: Callable[Concatenate[Work, P], R]) -> Callable[Concatenate[Act, P], R]:
    """Make ``function`` an operation: called with an ``Act``, it is handed a ``Work``."""
    name = function.__name__
    if name not in acts.ACTS:
        raise LookupError(f"{name} has no row in the table of acts")

    @functools.wraps(function)
    def run(act: Act, *args: P.args, **asked: P.kwargs) -> R:
        if args:
            raise TypeError(f"{name} takes keyword arguments only")
        told = {each: value for each, value in asked.items() if each not in acts.ACTS[name].hides}
        fingerprint = fingerprint_of(name, act, told)
        prepared: dict[str, Any] | None = None
        for attempt in range(_TRIES):
            try:
                if prepared is None:
                    prepared = _prepared(function, asked, act)
                with writing(), changes() as changed:
                    _check_right(act, name)
                    if act.idempotency_key is not None:
                        kept = kept_answer(act, fingerprint)
                        if kept is not None:
                            return kept
                    if act.expects is not None:
                        require_expected(act.expects)
                    work = _begin(act, name, changed)
                    _require_here(work)
                    _sign_as_asked(work, name)
                    result = function(work, **prepared)  # type: ignore[call-arg]
                    seq = _seal(work, name, {"asked": plain(told), "notes": work.notes})
                    act.outcome.tag = _tag_of(work, result, seq)
                    if act.idempotency_key is not None:
                        keep_answer(act, result)
                return result
            except ClockSetBack:
                raise  # its own entry would bear the wrong time as well
            except Refusal as refusal:
                _journal_refusal(act, name, told, refusal)
                raise
            except IntegrityError as error:
                # Someone was faster with the same thing: once more, and the rules see what is there now.
                if not is_taken(error):
                    raise
                if attempt > 0:
                    taken = AlreadyThere("The same is there already.", way_out="Look it up in the list, and use it.")
                    _journal_refusal(act, name, told, taken)
                    raise taken from None
            except OperationalError as error:
                if is_busy(error):
                    raise StillRunning("Someone else is at the same thing; send it again in a moment.") from None
                if not worth_another_try(error) or attempt == _TRIES - 1:
                    raise
                time.sleep(random.random() * 0.02 * 2**attempt)
        raise AssertionError("unreachable")

    run.operation_name = name  # type: ignore[attr-defined]
    OPERATIONS[name] = run
    return run


def beforehand(
    prepare: Callable[[dict[str, Any], Act], dict[str, Any]],
    *,
    gives: str | None = None,
) -> Callable[[Callable[Concatenate[Work, P], R]], Callable[Concatenate[Work, P], R]]:
    """Work out of what is asked, before the transaction begins, what takes long or has to stand whatever becomes of it.

    ``prepare`` is given what the act is asked and gives what its function is handed: the same, made ready, and under
    the name of ``gives`` what no request brings. The journal keeps what was asked.
    """

    def mark(function: Callable[Concatenate[Work, P], R]) -> Callable[Concatenate[Work, P], R]:
        function.beforehand = prepare  # type: ignore[attr-defined]
        function.made_ready = frozenset({gives} - {None})  # type: ignore[attr-defined]
        return function

    return mark


def _prepared(function: Callable[..., Any], asked: dict[str, Any], act: Act) -> dict[str, Any]:
    prepare = getattr(function, "beforehand", None)
    return prepare(asked, act) if prepare is not None else asked


def within(work: Work, act: Callable[Concatenate[Act, P], R], at: str = "", **asked: Any) -> R:
    """Do one act as a part of another: its rules and its rows, under the deed and the entry of the one under way.

    Both rights are asked for. A refusal stops the whole; its pointer begins with ``at``, where the part stands.
    """
    name: str = act.operation_name  # type: ignore[attr-defined]
    _check_right(work.act, name)
    _sign_as_asked(work, name)
    try:
        function = act.__wrapped__  # type: ignore[attr-defined]
        return cast(R, function(work, **_prepared(function, asked, work.act)))
    except UnknownThing as unknown:
        # What is named in a body and is not there makes the body wrong; 404 is for what stands in the path.
        if "code" in unknown.facts:
            raise  # the edge finds where in the body a code stands
        raise Unprocessable(
            unknown.sentence, way_out=unknown.way_out, pointer=at + (unknown.pointer or ""), **unknown.facts
        ) from None
    except Refusal as refusal:
        if at:
            refusal.pointer = at + (refusal.pointer or "")
        raise


def tried_within(work: Work, act: Callable[Concatenate[Act, P], R], at: str = "", **asked: Any) -> R | Refusal:
    """As ``within``, but a refusal stops nothing: it is given back, and what the part had begun is undone."""
    touched, notes, items = dict(work.touched), len(work.notes), dict(work.items)
    unwritten, changed = dict(work.unwritten), work.changed.so_far()
    try:
        with database.atomic():
            made = within(work, act, at, **asked)
            work.write_items()
            return made
    except Refusal as refusal:
        work.touched, work.items, work.unwritten = touched, items, unwritten
        del work.notes[notes:]
        work.changed.back_to(changed)
        return refusal


def _check_right(act: Act, name: str) -> None:
    if act.occurred_at > act.recorded_at + entry.CLOCK_SKEW:
        raise Unprocessable("This lies in the future; give the time at which it happened.", pointer="/occurred_at")
    if act.system is not None and acts.ACTS[name].signs:
        raise NotAllowed("A system can sign nothing; a person with a key of their own has to do this.")
    not_allowed = scopes.refusal(act.roles, act.scopes, name)
    if not_allowed is not None:
        raise not_allowed
    if acts.ACTS[name].starts:
        held = Hold.get_or_none((Hold.person == act.person) & Hold.lifted_at.is_null())
        if held is not None:
            raise OnHold(
                f"You start nothing new for now: {held.reason}", way_out="Talk to quality; what is under way goes on."
            )


def _require_here(work: Work) -> None:
    """Nobody did anything before they were here."""
    if work.since is not None and work.act.occurred_at < work.since:
        raise Unprocessable(
            f"{work.who} is here since {entry.stated(work.since, work.site.zone)}; this cannot have happened before.",
            way_out="Look at the day and the time again. Who was here before is added as of the day they came.",
            pointer="/occurred_at",
        )


def _sign_as_asked(work: Work, name: str) -> None:
    """Not before the kept answer was looked for: what was signed and done is answered again without a signature."""
    meaning = acts.ACTS[name].signs
    if meaning is not None:
        work.sign(meaning)


def require_signature(act: Act, meaning: str) -> None:
    """Refuse who has not given their own secret just now."""
    if act.signing is None or act.signing.person != act.person:
        raise SignatureRequired(
            f"This is signed ({meaning}), and the one who signs gives their own secret for it.",
            way_out="Give your PIN or passphrase (POST /v1/signing), and do this again with the token that you get "
            "in the header Signing-Token; it signs for a few minutes.",
            meaning=meaning,
        )


def _begin(act: Act, name: str, changed: Changes, refused: str | None = None) -> Work:
    # One statement for all: the shop's settings, what the person is called, and since when they are here.
    person = Person.select(Person.name).where(Person.id == act.person)
    here = Person.select(Person.since).where(Person.id == act.person)
    site = Site.select(Site, person.alias("who"), here.alias("since")).where(Site.id == act.site).objects().get()
    deed = entry.begin(act, name, late_after_min=site.late_after_min, refused=refused)
    since = Person.since.python_value(site.since) if isinstance(site.since, int) else site.since
    return Work(act=act, deed=deed, site=site, who=site.who, since=since, changed=changed)


def _seal(work: Work, name: str, said: dict[str, Any]) -> int:
    work.write_items()
    return entry.seal(
        work.act, work.deed, name, said,
        changed=work.changed, touched=work.touched, zone=work.site.zone, signs=work.signs,
    )  # fmt: skip


def journal_turned_away(act: Act, right: str, asked: dict[str, Any], refusal: NotAllowed) -> None:
    """Who came in with a key that does not open this, before there was any act."""
    _journal_refusal(act, right, asked, refusal)


def _tag_of(work: Work, result: Any, seq: int) -> str | None:
    """The tag of the part or lot that an act answers with, as the act has left it."""
    if not getattr(result, "FOLLOWED", False):
        return None
    number = next((item.id for item in work.items.values() if item.code == result.code), None)
    if number is not None and work.changed.concerned.surely(number):
        return change_tag(seq)
    return tag_of_code(result.code)


def _journal_refusal(act: Act, name: str, asked: dict[str, Any], refusal: Refusal) -> None:
    """A refused act is history too: quality can list every pour that was refused, and why."""
    codes = _codes_in(asked)
    with writing(), changes() as changed:
        work = _begin(act, name, changed, refused=refusal.kind)
        if codes:
            work.touch(*Item.select(Item.id, Item.code).where(Item.code.in_(codes)))
        _seal(work, name, {"asked": plain(asked), "refused": {"kind": refusal.kind, "sentence": refusal.sentence}})


def _codes_in(value: Any) -> list[str]:
    if isinstance(value, str):
        return [value] if 7 <= len(value) <= 20 and value[0].isalpha() else []
    if isinstance(value, dict):
        return [code for inner in value.values() for code in _codes_in(inner)]
    if isinstance(value, list | tuple):
        return [code for inner in value for code in _codes_in(inner)]
    return []
