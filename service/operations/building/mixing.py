"""What parts take by each way to mix and cut, asked of the shelf; of several ways the one that asks for least."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice, product
from typing import Any

from schemas.words import BuildConditionKind, Purpose
from service.formulas._stock import Need, Outcome
from service.operations.building.matching import Matched, Matcher, Wish
from service.operations.building.recipes import Bench, Pots, Way, pots_for
from service.operations.building.timeline import Unit
from service.operations.stock.shelf import Shelf, named, rank

MOST_WAYS = 64
"""So many combinations of hardeners and pots are tried."""


@dataclass(frozen=True, slots=True)
class Chosen:
    """One combination of ways to mix, what it makes of each material, and its conditions; or why it is none."""

    ways: Mapping[str, Way]
    matched: Mapping[int, Matched]
    conditions: tuple[str, ...]
    against: tuple[str, ...] = ()

    @property
    def outcome(self) -> Outcome:
        outcomes = {one.found.outcome for one in self.matched.values()}
        if self.against or Outcome.NO in outcomes:
            return Outcome.NO
        if Outcome.NOT_SHOWN in outcomes:
            return Outcome.NOT_SHOWN
        return Outcome.YES_IF if self.conditions else Outcome.YES


def cuts_of(units: Sequence[Unit], cloths: Mapping[int, Any]) -> dict[int, list[tuple[Any, Wish]]]:
    found: dict[int, list[tuple[Any, Wish]]] = {}
    for unit in units:
        for cloth in () if unit.line.reserved else cloths[unit.line.design.id]:
            need = Need(unit.day, 1, unit.line.design.traceable)
            found.setdefault(cloth.material.id, []).append((cloth, Wish(need, unit.number, unit.part)))
    return {number: cuts for number, cuts in found.items() if any(wish.line is not None for _, wish in cuts)}


def mixed_by(
    units: Sequence[Unit], ways: Mapping[str, Sequence[Way]], bench: Bench, shelf: Shelf, matcher: Matcher
) -> tuple[Chosen, bool]:
    """The combination of ways that asks for least, and whether all were tried that could have asked for less."""
    names = list(ways)
    combinations = sorted(product(*(ways[name] for name in names)), key=lambda some: len(asked_by(some)))
    best: Chosen | None = None
    failed: list[Chosen] = []
    for some in islice(combinations, MOST_WAYS):
        if best is not None and len(best.conditions) <= len(asked_by(some)):
            break
        tried = tried_by(dict(zip(names, some, strict=True)), units, bench, shelf, matcher)
        if tried.outcome in (Outcome.NO, Outcome.NOT_SHOWN):
            failed.append(tried)
        elif best is None or _weight(tried) < _weight(best):
            best = tried
    if best is not None:
        return best, True
    # What is told is the plan as it was asked for; a no only where all ways were tried and none was left open.
    shown = all(one.outcome == Outcome.NO for one in failed) and len(combinations) <= MOST_WAYS
    return min(failed, key=lambda one: bool(one.against)), shown


def asked_by(ways: Iterable[Way]) -> set[tuple[BuildConditionKind, str]]:
    return {condition for way in ways for condition in way.conditions}


def _weight(chosen: Chosen) -> tuple[int, int]:
    return len(chosen.conditions), sum(rank(one) for one in chosen.conditions)


def tried_by(ways: Mapping[str, Way], units: Sequence[Unit], bench: Bench, shelf: Shelf, matcher: Matcher) -> Chosen:
    wishes: dict[int, list[Wish]] = {}
    against: list[str] = []
    planned: dict[tuple[str, int], Pots | str] = {}
    for unit in units:
        for need in () if unit.line.reserved else unit.line.design.resin_need:
            way, need_mg = ways.get(need["system"]), round(need["mass_g"] * 1000)
            if way is None:
                continue
            key = (need["system"], need_mg)
            if key not in planned:
                planned[key] = pots_for(need_mg, way, bench)
            pots = planned[key]
            if isinstance(pots, str):
                against += [] if unit.is_others else [pots]
                continue
            for pot in range(1, pots.count + 1):
                for part in pots.components:
                    wanted = Need(unit.day, part.mass_mg, unit.line.design.traceable)
                    wish = Wish(wanted, unit.number, unit.part, Purpose(need["purpose"]), pot, part.component)
                    wishes.setdefault(part.material, []).append(wish)
    matched = {
        number: matcher.match(number, some, shelf.of(number))
        for number, some in wishes.items()
        if any(wish.line is not None for wish in some)
    }
    asked = [named(kind, what) for kind, what in sorted(asked_by(ways.values()))]
    conditions = dict.fromkeys([*asked, *(c for one in matched.values() for c in one.found.conditions)])
    return Chosen(ways, matched, tuple(conditions), tuple(dict.fromkeys(against)))
