"""What there is of each material, as the search sees it: how much is free, on which days, on what condition."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any

from schemas.words import BuildConditionKind, Decision, State
from service.formulas._stock import FOREVER, Stock
from service.operations.door.shop import day_in_shop
from service.operations.stock import load
from service.operations.stock.fitness import Reason, judge
from service.operations.stock.picking import on_shelf, pick_order
from service.records.items import Item
from service.records.people import Site

_RANKS = {
    BuildConditionKind.RELEASE: 0,
    BuildConditionKind.SCALE_CHECK: 0,
    BuildConditionKind.DELIVERY: 1,
    BuildConditionKind.PERMIT: 2,
    BuildConditionKind.HARDENER: 3,
}


def named(kind: BuildConditionKind, what: str) -> str:
    """A condition as the search knows it."""
    return f"{kind}/{what}"


def rank(condition: str) -> int:
    """Of equally many conditions those that take least are asked for: a release before a permit."""
    return _RANKS[BuildConditionKind(condition.partition("/")[0])]


@dataclass(frozen=True, slots=True)
class Shelved:
    """One thing on the shelf, or expected on it, with what the search needs to know of it."""

    code: str | None
    lot: str | None
    good_until: date | None
    stock: Stock


@dataclass(frozen=True, slots=True)
class Shelf:
    """By material, in the order in which it should be used up; sentences say what each condition is about."""

    by_material: dict[int, list[Shelved]]
    sentences: dict[str, str]

    def of(self, material: int) -> list[Shelved]:
        return self.by_material.get(material, [])


def read_shelf(
    materials: Iterable[int],
    expected: Sequence[Mapping[str, Any]],
    lives: Mapping[int, int | None],
    *,
    at: datetime,
    site: Site,
    in_hand: Mapping[int, Item] | None = None,
    loaded: Iterable[load.Loaded] | None = None,
) -> Shelf:
    """The stock of these materials and what is expected of them, loaded together.

    ``in_hand`` are items as an act under way knows them, by number: better than they are written down;
    ``loaded`` is all that stands there, where the act has loaded it already.
    """
    today = day_in_shop(at, site)
    found: dict[int, list[Shelved]] = {}
    sentences: dict[str, str] = {}
    if loaded is None:
        there = {item.id: item for item in on_shelf(materials)} | dict(in_hand or {})
        loaded = load.load(there.values(), at=at, site=site)
    for one in sorted(loaded, key=pick_order):
        shelved = _shelved(one, sentences, at=at, site=site)
        if shelved is not None:
            found.setdefault(one.material.id, []).append(shelved)
    for number, line in enumerate(expected, 1):
        key = named(BuildConditionKind.DELIVERY, str(number))
        until = line.get("expires_on")
        named_so = f"The delivery {line['reference']}, expected" if line.get("reference") else None
        sentences[key] = (
            f"{named_so or 'The delivery that is expected'} on {line['on']:%-d %b %Y} comes and is released."
        )
        stock = Stock(
            free=line.get("mass_mg") or line.get("length_mm") or 0,
            first=max(0, (line["on"] - today).days),
            last=FOREVER if until is None else (until - today).days,
            life=lives.get(line["material"]),
            needs=(key,),
        )
        found.setdefault(line["material"], []).append(Shelved(None, None, until, stock))
    return Shelf(found, sentences)


def _shelved(one: load.Loaded, sentences: dict[str, str], *, at: datetime, site: Site) -> Shelved | None:
    """A can, if it can be used at all, and on what conditions; what is on hold or rejected is not there."""
    facts, today = one.facts, day_in_shop(at, site)
    free = facts.balance - facts.reserved
    if free <= 0:
        return None
    # Its dates are asked for each day apart; what speaks against it otherwise, speaks against it every day.
    timeless = judge(replace(facts, good_until=None, not_before=None), at=at, today=today)
    needs: dict[str, str] = {}
    for reason in timeless.reasons:
        if reason.decision == Decision.PERMITTED:
            continue
        if reason.kind == "not-released":
            key = named(BuildConditionKind.RELEASE, one.lot_item.code)
            needs[key] = f"The lead or quality releases lot {one.lot_item.code} {one.material.name}."
        elif reason.may_permit:
            needs[_permit(facts.code)] = _asked_for(facts.code, reason)
        else:
            return None
    last, beyond = _dates(one, sentences, at=at, site=site)
    sentences |= needs
    sealed = facts.state == State.SEALED
    stock = Stock(
        free=free,
        first=0
        if facts.not_before is None or facts.not_before <= at
        else max(0, (day_in_shop(facts.not_before, site) - today).days),
        last=last,
        life=one.material.opened_life_days if sealed else None,
        opened=not sealed,
        known_lot=facts.lot_known,
        needs=tuple(needs),
        beyond=beyond,
    )
    return Shelved(facts.code, one.lot_item.code, facts.good_until, stock)


def _dates(one: load.Loaded, sentences: dict[str, str], *, at: datetime, site: Site) -> tuple[int, str | None]:
    """The last day on which it is good, permits counted, and the permit that would let it be used after."""
    facts, today = one.facts, day_in_shop(at, site)
    until = facts.good_until
    life = one.material.opened_life_days if facts.state == State.SEALED else None
    if until is None and life is None:
        return FOREVER, None
    key = _permit(facts.code)
    sentences[key] = f"A deviation permit lets {facts.code} {one.material.name} be used past its date."
    last = FOREVER if until is None else (until - today).days
    # What a permit says of its date is asked of the one function that judges, on a date that is over.
    over = judge(replace(facts, good_until=today - timedelta(days=1)), at=at, today=today)
    for reason in over.reasons:
        if reason.kind in ("expired", "open-too-long") and reason.decision == Decision.PERMITTED:
            ends = next(p.until for p in facts.permitted if p.id == reason.permission)
            last = FOREVER if ends is None else max(last, (day_in_shop(ends, site) - today).days)
    return last, key


def _permit(code: str) -> str:
    return named(BuildConditionKind.PERMIT, code)


def _asked_for(code: str, reason: Reason) -> str:
    what = "is signed" if reason.decision == Decision.ASKED else "is asked for and signed"
    return f"A deviation permit for {code} {what}: {reason.sentence}"
