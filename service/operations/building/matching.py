"""Needs of one material against what there is of it: the search, and its answer for people and programs."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from schemas.words import BuildAnswer, Component, MaterialKind, Purpose
from service.formulas._stock import Found, Need, Outcome, Stock, crowd, granted, ungranted
from service.formulas._stock_search import search
from service.operations.building.view import BuildDraw, BuildMaterial, BuildOrder, BuildSaves
from service.operations.building.wanted import Cloth
from service.operations.ledger.amounts import counted_in, said
from service.operations.stock.shelf import Shelved, rank
from service.records.materials import Material

LIMIT_S = 10.0
"""So long the solver may look in one check, shared among its materials; then the answer is "not shown"."""


@dataclass(frozen=True, slots=True)
class Wish:
    """What a need is for; of what is kept for others nothing but the need, and the order that has it reserved."""

    need: Need
    line: int | None = None
    part: int = 0
    purpose: Purpose | None = None
    pot: int | None = None
    component: Component | None = None
    order: int | None = None


@dataclass(frozen=True, slots=True)
class Matched:
    """A material's needs and the search's answer to them."""

    wishes: tuple[Wish, ...]
    found: Found


class Matcher:
    """Searches what is on one shelf; the same needs of a material are searched once.

    ``reserved`` is what other orders have reserved of each material: it is kept before all else.
    """

    def __init__(self, limit_s: float, reserved: Mapping[int, Sequence[Wish]]) -> None:
        self.limit_s = limit_s
        self.reserved = reserved
        self._known: dict[tuple[int, tuple[Need, ...], bool], Found] = {}

    def match(
        self, material: int, wishes: Sequence[Wish], shelved: Sequence[Shelved], *, whole: bool = False
    ) -> Matched:
        own = [wish for wish in wishes if wish.line is not None]
        kept = self._kept(material, [wish for wish in wishes if wish.line is None], shelved, whole=whole)
        return self._beside(material, kept, own, shelved, whole=whole)

    def _beside(
        self, material: int, kept: Sequence[Wish], own: Sequence[Wish], shelved: Sequence[Shelved], *, whole: bool
    ) -> Matched:
        """Own needs beside what is kept; where they rest on a condition, beside all that is reserved on it."""
        together = (*kept, *own)
        found = self._searched(material, [wish.need for wish in together], shelved, whole=whole)
        reserved = [wish for wish in self.reserved.get(material, ()) if wish.need.size]
        # All that is reserved, if it can be kept with these conditions at all.
        if (
            found.outcome == Outcome.YES_IF
            and sum(wish.need.size for wish in reserved) > _reserved_in(kept)
            and self._searched(material, [w.need for w in reserved], shelved, whole=whole).outcome == Outcome.YES_IF
        ):
            together = (*reserved, *(wish for wish in kept if wish.order is None), *own)
            found = self._searched(material, [wish.need for wish in together], shelved, whole=whole)
        return Matched(together, found)

    def _kept(self, material: int, others: Sequence[Wish], shelved: Sequence[Shelved], *, whole: bool) -> list[Wish]:
        """What others get that come first: as much as is there without any condition, and nobody waits for the rest.

        What is reserved comes before what is only planned.
        """
        reserved = self._as_far(material, self.reserved.get(material, ()), shelved, whole=whole)
        if not reserved:
            return self._as_far(material, others, shelved, whole=whole)
        ordered = sorted(others, key=lambda wish: wish.need.day)
        # The most of them, the nearest first, that can be kept beside all that is reserved.
        low, high = 0, len(ordered)
        while low < high:
            middle = (low + high + 1) // 2
            needs = [wish.need for wish in (*reserved, *ordered[:middle])]
            if self._searched(material, needs, shelved, whole=whole).outcome == Outcome.YES:
                low = middle
            else:
                high = middle - 1
        kept = [*reserved, *ordered[:low]]
        if whole or low == len(ordered):
            return kept
        # Of the first that is not kept whole, what there is.
        next_one = ordered[low]
        needs = [wish.need for wish in (*kept, next_one)]
        missing = sum(amount for _, amount in self._searched(material, needs, shelved, whole=whole).missing)
        rest = next_one.need.size - missing
        return [*kept, _sized(next_one, rest)] if rest > 0 else kept

    def _as_far(self, material: int, others: Sequence[Wish], shelved: Sequence[Shelved], *, whole: bool) -> list[Wish]:
        if not others:
            return []
        missing = dict(self._searched(material, [wish.need for wish in others], shelved, whole=whole).missing)
        sizes = [wish.need.size - missing.get(index, 0) for index, wish in enumerate(others)]
        return [_sized(wish, size) for wish, size in zip(others, sizes, strict=True) if size > 0]

    def _searched(self, material: int, needs: Sequence[Need], shelved: Sequence[Shelved], *, whole: bool) -> Found:
        key = (material, tuple(needs), whole)
        if key not in self._known:
            stocks = [one.stock for one in shelved]
            self._known[key] = search(needs, stocks, whole=whole, limit_s=self.limit_s, rank=rank)
        return self._known[key]

    def match_cloth(self, cuts: Sequence[tuple[Cloth, Wish]], shelved: Sequence[Shelved]) -> Matched:
        """A layout for each part on one roll; else its pieces cut one by one; a no only where neither, and what is
        less than any layout, will do. ``cuts`` are parts, each with a wish that lacks its size."""
        number = cuts[0][0].material.id
        theirs = [
            _sized(wish, size)
            for cloth, wish in cuts
            if wish.line is None
            for size in ((cloth.length_mm,) if cloth.length_mm is not None else cloth.strips_mm)
        ]
        kept = self._kept(number, theirs, shelved, whole=True)
        cuts = [(cloth, wish) for cloth, wish in cuts if wish.line is not None]
        unknown = any(cloth.unknown for cloth, _ in cuts)
        strips = [_sized(wish, strip) for cloth, wish in cuts for strip in cloth.strips_mm]
        tries = []
        if all(cloth.length_mm is not None for cloth, _ in cuts):
            kits = [_sized(wish, cloth.length_mm or 0) for cloth, wish in cuts]
            tries.append(self._beside(number, kept, kits, shelved, whole=True))
        if not tries or tries[0].found.outcome != Outcome.YES:
            tries.append(self._beside(number, kept, strips, shelved, whole=True))
        good = [one for one in tries if one.found.outcome in (Outcome.YES, Outcome.YES_IF)]
        stocks = [one.stock for one in shelved]
        alone = all(cloth.strips_alone for cloth, _ in cuts)
        areas = [wish.need for wish in kept]
        areas += [_sized(wish, cloth.area_mm).need for cloth, wish in cuts if cloth.area_mm]
        if good:
            best = min(good, key=lambda one: len(one.found.conditions))
            shown = best.found.smallest and (
                alone or (len(best.found.conditions) == 1 and crowd(areas, ungranted(stocks)) is not None)
            )
            if unknown:
                return Matched(best.wishes, Found(Outcome.NOT_SHOWN))
            return best if not best.found.conditions else replace(best, found=replace(best.found, smallest=shown))
        least = min(tries, key=lambda one: sum(amount for _, amount in one.found.missing))
        proved = (
            crowd(areas, granted(stocks)) is not None
            or (alone and not unknown and tries[-1].found.outcome == Outcome.NO)
            or any(not _lies_somewhere(wish.need, granted(stocks)) for wish in strips)
        )
        return replace(least, found=replace(least.found, outcome=Outcome.NO if proved else Outcome.NOT_SHOWN))


def _reserved_in(wishes: Sequence[Wish]) -> int:
    return sum(wish.need.size for wish in wishes if wish.order is not None)


def _sized(wish: Wish, size: int) -> Wish:
    return replace(wish, need=replace(wish.need, size=size))


def _lies_somewhere(need: Need, stocks: Sequence[Stock]) -> bool:
    return any(stock.free >= need.size and stock.gives(need, conditions=True) for stock in stocks)


def told(material: Material, matched: Matched, shelved: Sequence[Shelved], *, today: date) -> BuildMaterial:
    """The answer for one material, its draws those of what was asked and not of what is kept for others."""
    found, by_length = matched.found, material.kind == MaterialKind.FABRIC
    own = [wish for wish in matched.wishes if wish.line is not None]
    needed = sum(wish.need.size for wish in own)
    kept = sum(wish.need.size for wish in matched.wishes) - needed
    reserved = sum(wish.need.size for wish in matched.wishes if wish.order is not None)
    orders = list(dict.fromkeys(wish.order for wish in matched.wishes if wish.order is not None))
    days = [wish.need.day for wish in own]
    plain = ungranted([one.stock for one in shelved])
    free = sum(s.free for s in plain if s.first <= max(days) and s.last >= min(days))
    short = sum(amount for _, amount in found.missing)
    first_short = min((matched.wishes[index].need.day for index, _ in found.missing), default=None)
    short_by = None if first_short is None else today + timedelta(days=first_short)

    def by_mass(amount: int) -> int | None:
        return None if by_length else amount

    def by_mm(amount: int) -> int | None:
        return amount if by_length else None

    draws = []
    for draw in found.draws:
        wish, taken = matched.wishes[draw.need], shelved[draw.stock]
        if wish.line is not None:
            on = today + timedelta(days=wish.need.day)
            draws.append(
                BuildDraw(
                    line=wish.line,
                    part_in_line=wish.part,
                    purpose=wish.purpose,
                    pot=wish.pot,
                    component=wish.component,
                    container=taken.code,
                    lot=taken.lot,
                    used_on=on,
                    mass_mg=by_mass(draw.amount),
                    length_mm=by_mm(draw.amount),
                )
            )
    return BuildMaterial(
        material=material.id,
        name=material.name,
        answer=answer_of(found.outcome),
        needed_mg=by_mass(needed),
        needed_mm=by_mm(needed),
        free_mg=by_mass(free),
        free_mm=by_mm(free),
        kept_for_others_mg=by_mass(kept),
        kept_for_others_mm=by_mm(kept),
        reserved_for_others_mg=by_mass(reserved),
        reserved_for_others_mm=by_mm(reserved),
        short_mg=by_mass(short),
        short_mm=by_mm(short),
        short_by=short_by,
        draws=tuple(sorted(draws, key=lambda d: (d.used_on, d.line, d.part_in_line, d.purpose or "", d.pot or 0))),
        sentence=_sentence(material, found, short, short_by, today=today)
        + _reserved(material, found, reserved, orders),
    )


def _amount(material: Material, amount: int) -> str:
    return said(amount, counted_in(material.kind))


def _sentence(material: Material, found: Found, short: int, short_by: date | None, *, today: date) -> str:
    name = material.name
    if found.outcome == Outcome.YES:
        return f"There is enough {name}."
    if found.outcome == Outcome.YES_IF:
        count = len(found.conditions)
        return f"There is enough {name} if {count} thing{'s come' if count > 1 else ' comes'} first."
    missing = f"{_amount(material, short)} is missing from {short_by:%-d %b %Y} on." if short_by is not None else ""
    if found.outcome == Outcome.NOT_SHOWN:
        return f"{name}: no way was found, and none was ruled out. {missing}".strip()
    if found.crowd is not None:
        first, last = (today + timedelta(days=day) for day in (found.crowd.first, found.crowd.last))
        span = f"on {first:%-d %b %Y}" if first == last else f"from {first:%-d %b} to {last:%-d %b %Y}"
        needed, free = _amount(material, found.crowd.needed), _amount(material, found.crowd.free)
        return f"{name}: {span} {needed} is needed, and {free} is free that is good on any of these days. {missing}"
    return f"{name}: there is no way to share out what is there over what needs it. {missing}"


def _reserved(material: Material, found: Found, reserved: int, orders: Sequence[int]) -> str:
    """For whom, where it is missing."""
    if not reserved or found.outcome in (Outcome.YES, Outcome.YES_IF):
        return ""
    more = f" and {len(orders) - 1} more" if len(orders) > 1 else ""
    return f" {_amount(material, reserved)} is reserved for order {orders[0]}{more}."


def answer_of(outcome: Outcome) -> BuildAnswer:
    return BuildAnswer(str(outcome))


def order_of(one: BuildMaterial) -> BuildOrder | None:
    """What to order, by when; it would be enough whatever else comes true."""
    if one.short_by is None:
        return None
    return BuildOrder(one.material, one.name, one.short_mg, one.short_mm, one.short_by)


def saves_of(one: BuildMaterial, shelved: Sequence[Shelved], *, until: date) -> list[BuildSaves]:
    """Cans and rolls that are past their date by ``until``, and that are used before."""
    by_length = one.needed_mm is not None
    found = []
    for thing in shelved:
        used = sum((d.length_mm if by_length else d.mass_mg) or 0 for d in one.draws if d.container == thing.code)
        if thing.code is None or thing.good_until is None or thing.good_until > until or not used:
            continue
        left = thing.stock.free - used
        found.append(
            BuildSaves(
                container=thing.code,
                material=one.material,
                name=one.name,
                good_until=thing.good_until,
                used_mg=None if by_length else used,
                used_mm=used if by_length else None,
                left_mg=None if by_length else left,
                left_mm=left if by_length else None,
            )
        )
    return found
