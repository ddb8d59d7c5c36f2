"""Scales, their check weights, what follows for pots when a check fails, and the smallest pot that each can judge."""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from schemas.words import Component, Kind, State
from service.formulas.pot_weighings import possible_ratio_error_pct
from service.formulas.scales import smallest_honest_pot_g
from service.formulas.weighing import minimum_mass_g, reading_uncertainty_g
from service.operations.door.operation import Work, operation
from service.operations.door.refusals import AlreadyThere, ScaleOverdue, Unprocessable, WrongState
from service.operations.door.shop import day_in_shop, the_site
from service.operations.door.views import Page, page
from service.operations.ledger import ledger
from service.operations.ledger.flags import raise_flag, stands
from service.operations.ledger.graph import HoldView, hold_views, standing_holds
from service.operations.pots.systems import ratio_and_tolerance
from service.records.base import known
from service.records.items import Item, Movement
from service.records.journal import Deed
from service.records.materials import Material, ResinSystem, Scale, ScaleCheck, SystemHardener
from service.records.mixes import Mix, Pour
from service.records.people import Site

# A single mass that is known to one per cent, two standard deviations.
MINIMUM_MASS_PCT = 1.0


@dataclass(frozen=True, slots=True)
class HonestPot:
    """The smallest pot of one approved resin system with one of its hardeners, zeroed between the pours."""

    system: int
    system_name: str
    hardener: int
    hardener_name: str
    smallest_pot_mg: int
    too_large: bool


def approved_hardeners() -> list[SystemHardener]:
    """Every hardener of every resin system that is approved and not replaced."""
    return list(
        SystemHardener.select(SystemHardener, ResinSystem, Material)
        .join(ResinSystem)
        .switch(SystemHardener)
        .join(Material)
        .where(ResinSystem.approved_at.is_null(False) & ResinSystem.replaced_by.is_null())
        .order_by(ResinSystem.name, SystemHardener.id)
    )


def honest_pots(row: Scale, *, reading_u_g: float, hardeners: list[SystemHardener]) -> tuple[HonestPot, ...]:
    """What the scale can weigh of each: a pot that is too large for the scale or for the system is told as such."""
    found = []
    for one in hardeners:
        ratio, tolerance_pct = ratio_and_tolerance(one)
        smallest = smallest_honest_pot_g(
            ratio=ratio,
            tolerance_pct=tolerance_pct,
            resin_reading_u_g=reading_u_g,
            hardener_reading_u_g=reading_u_g,
            zeroed=True,
        )
        smallest_mg = math.ceil(smallest * 1000 - 1e-6)
        largest_mg = min(row.maximum_mg, one.system.largest_pot_mg)
        found.append(
            HonestPot(
                system=one.system.id,
                system_name=one.system.name,
                hardener=one.material.id,
                hardener_name=one.material.name,
                smallest_pot_mg=smallest_mg,
                too_large=smallest_mg > largest_mg,
            )
        )
    return tuple(found)


def minimum_mass_mg(row: Scale) -> int:
    """The smallest net mass that the scale knows to one per cent: filler, pigment, what is left in a cup."""
    found = minimum_mass_g(
        interval_g=row.interval_mg / 1000,
        repeatability_g=row.repeatability_mg / 1000,
        tolerance_pct=MINIMUM_MASS_PCT,
    )
    return math.ceil(found * 1000 - 1e-6)


IN_ORDER, OVERDUE, FAILED, NOT_ASKED = "in order", "overdue", "failed", "not asked"


@dataclass(frozen=True, slots=True)
class CheckView:
    weight: str
    nominal_mg: int
    reading_mg: int
    limit_mg: int
    passed: bool
    occurred_at: datetime
    by: str


@dataclass(frozen=True, slots=True)
class CheckState:
    """How a scale stands with its checks at an instant."""

    state: str
    sentence: str
    due_on: date | None
    last: ScaleCheck | None

    @property
    def stops(self) -> bool:
        return self.state in (OVERDUE, FAILED)


@dataclass(frozen=True, slots=True)
class ScaleView:
    code: str
    name: str
    state: str
    interval_mg: int
    repeatability_mg: int
    maximum_mg: int
    minimum_mass_mg: int
    honest_pots: tuple[HonestPot, ...]
    check_every_days: int | None
    check_state: str
    check_sentence: str
    check_due_on: date | None
    last_check: CheckView | None
    usable: bool
    affected: tuple[str, ...]
    holds: tuple[HoldView, ...]
    version: int


@operation
def add_scale(
    work: Work,
    *,
    name: str,
    interval_mg: int,
    repeatability_mg: int,
    maximum_mg: int,
    check_every_days: int | None = None,
) -> ScaleView:
    """Add a scale with its step, its repeatability and the largest load that it takes."""
    if Item.select().where((Item.kind == Kind.SCALE) & (Item.name == name)).exists():
        raise AlreadyThere(f"There is a scale {name} already.")
    if interval_mg >= maximum_mg:
        raise Unprocessable("The step of the display has to be smaller than the largest load.", pointer="/interval_g")
    item = ledger.new_item(work, Kind.SCALE, name=name, state=State.IN_USE)
    Scale.create(
        item=item,
        interval_mg=interval_mg,
        repeatability_mg=repeatability_mg,
        maximum_mg=maximum_mg,
        check_every_days=check_every_days,
    )
    return view_scale(item, at=work.act.occurred_at, site=work.site)


@operation
def check_scale(work: Work, *, scale: str, weight: str, nominal_mg: int, reading_mg: int, limit_mg: int) -> ScaleView:
    """Check a scale with a check weight. If it fails, the pots weighed on it since its last passed check go on hold."""
    item = ledger.find(scale, Kind.SCALE)
    row = Scale.get_by_id(item.id)
    if nominal_mg > row.maximum_mg:
        raise Unprocessable(f"{item.code} takes {row.maximum_mg / 1000:g} g at most.", pointer="/nominal_g")
    if limit_mg >= nominal_mg:
        raise Unprocessable("The limit has to be smaller than the check weight.", pointer="/limit_g")
    passed = abs(reading_mg - nominal_mg) <= limit_mg
    suspects = [] if passed else _weighed_since_passed(item, work.act.occurred_at)
    locked = ledger.lock(work, item.code, *(mix.code for mix in suspects))
    item = locked[scale]
    if not passed:
        # A pour may have slipped in before the scale's lock was had.
        later = [mix for mix in _weighed_since_passed(item, work.act.occurred_at) if mix.code not in locked]
        locked |= ledger.lock(work, *(mix.code for mix in later)) if later else {}
    check = ScaleCheck.create(
        scale=row,
        weight=weight,
        nominal_mg=nominal_mg,
        reading_mg=reading_mg,
        limit_mg=limit_mg,
        passed=passed,
        occurred_at=work.act.occurred_at,
        deed=work.deed,
    )
    work.touch(item)
    affected = sorted((mix for code, mix in locked.items() if code != item.code), key=lambda mix: mix.id)
    for mix in affected:
        _doubt(work, mix, item, check)
    work.note(scale=item.code, weight=weight, passed=passed, affected=[mix.code for mix in affected])
    codes = tuple(mix.code for mix in affected)
    return view_scale(item, at=work.act.occurred_at, site=work.site, affected=codes)


def _weighed_since_passed(scale: Item, at: datetime) -> list[Item]:
    """The pots weighed on a scale since its last passed check; those given up before anything was made are left out."""
    passed = (
        ScaleCheck.select()
        .where((ScaleCheck.passed == True) & _checks_of(scale, at))  # noqa: E712
        .order_by(ScaleCheck.occurred_at.desc(), ScaleCheck.id.desc())
        .first()
    )
    weighed = Pour.select(Pour.mix).join(Movement).where((Pour.scale == scale.id) & Movement.cancelled_by.is_null())
    if passed is not None:
        weighed = weighed.where(Pour.occurred_at >= passed.occurred_at)
    return list(Item.select().where(Item.id.in_(weighed) & (Item.state != State.ABANDONED)).order_by(Item.id))


def _doubt(work: Work, mix: Item, scale: Item, check: ScaleCheck) -> None:
    row = Mix.get_by_id(mix.id)
    masses = dict.fromkeys(Component, 0)
    for pour in Pour.select(Pour, Movement).join(Movement).where((Pour.mix == mix.id) & (Pour.scale == scale.id)):
        if pour.movement.cancelled_by_id is None:
            masses[Component(pour.component)] += known(pour.movement.amount)
    error = possible_ratio_error_pct(
        error_g=(check.reading_mg - check.nominal_mg) / 1000,
        nominal_g=check.nominal_mg / 1000,
        resin_g=masses[Component.RESIN] / 1000 or None,
        hardener_g=masses[Component.HARDENER] / 1000 or None,
    )
    raise_flag(
        work,
        mix,
        "scale-check-failed",
        f"Scale {scale.code} read {check.reading_mg / 1000:g} g for {check.nominal_mg / 1000:g} g "
        f"(limit {check.limit_mg / 1000:g} g): the ratio may be out by up to {error:.1f} %, "
        f"the tolerance is {row.tolerance_pct:.3g} %.",
        stops=True,
        hold=True,
        scale=scale.code,
        possible_error_pct=error,
        tolerance_pct=row.tolerance_pct,
    )


def _checks_of(scale: Item, at: datetime) -> Any:
    """The checks of a scale that had been made by then and that nobody has corrected."""
    return (ScaleCheck.scale == scale.id) & (ScaleCheck.occurred_at <= at) & stands(ScaleCheck.deed)


def check_state(scale: Item, row: Scale, *, at: datetime, site: Site) -> CheckState:
    """How a scale stands with its checks at an instant, by what had happened until then."""
    newest_first = (
        ScaleCheck.select().where(_checks_of(scale, at)).order_by(ScaleCheck.occurred_at.desc(), ScaleCheck.id.desc())
    )
    last = newest_first.first()
    if last is not None and not last.passed:
        day = day_in_shop(last.occurred_at, site)
        return CheckState(FAILED, f"It failed its check on {day:%-d %b %Y}.", None, last)
    if row.check_every_days is None:
        return CheckState(NOT_ASKED, "The shop asks for no checks of this scale.", None, last)
    if last is None:
        return CheckState(OVERDUE, "It has not been checked yet.", None, None)
    day = day_in_shop(last.occurred_at, site)
    due = day + timedelta(days=row.check_every_days)
    if day_in_shop(at, site) > due:
        return CheckState(OVERDUE, f"Its check was due by {due:%-d %b %Y}.", due, last)
    return CheckState(IN_ORDER, f"Passed on {day:%-d %b %Y}; next check by {due:%-d %b %Y}.", due, last)


def require_able(scale: Item, *, at: datetime, site: Site) -> Scale:
    """Before a weighing: the scale is in use and its check is neither overdue nor failed."""
    row = Scale.get_by_id(scale.id)
    if scale.state != State.IN_USE:
        raise WrongState(f"Scale {scale.code} {scale.name} is {scale.state}.", way_out="Take another scale.")
    stands = check_state(scale, row, at=at, site=site)
    if stands.stops:
        raise ScaleOverdue(
            f"Scale {scale.code} {scale.name}: {stands.sentence}",
            way_out="Put the check weight on it and record the check, or take another scale.",
            scale=scale.code,
            check_state=stands.state,
            due_on=stands.due_on.isoformat() if stands.due_on else None,
        )
    return row


def able_scales(*, at: datetime, site: Site) -> list[tuple[Item, Scale]]:
    """Every scale on which a pot could be started now."""
    found = []
    for row in Scale.select(Scale, Item).join(Item).where((Item.state == State.IN_USE) & (Item.holds == 0)):
        item = Item.get_by_id(row.item_id)
        if not check_state(item, row, at=at, site=site).stops:
            found.append((item, row))
    return found


def reading_u_g(row: Scale) -> float:
    """Standard uncertainty of one reading."""
    return reading_uncertainty_g(interval_g=row.interval_mg / 1000, repeatability_g=row.repeatability_mg / 1000)


def read_scale(scale: str, *, at: datetime) -> ScaleView:
    """One scale: its step, its checks, and whether it may be used now."""
    return view_scale(ledger.find(scale, Kind.SCALE), at=at, site=the_site())


def list_scales(*, at: datetime, after: int | None, limit: int) -> Page[ScaleView]:
    """List scales, each with its next check."""
    site = the_site()
    query = Item.select().where(Item.kind == Kind.SCALE)
    hardeners = approved_hardeners()
    return page(
        query,
        Item.id,
        after=after,
        limit=limit,
        view=lambda item: view_scale(item, at=at, site=site, hardeners=hardeners),
    )


def list_checks(scale: str, *, after: int | None, limit: int) -> Page[CheckView]:
    """List the checks of a scale, newest first."""
    item = ledger.find(scale, Kind.SCALE)
    query = ScaleCheck.select().where(ScaleCheck.scale == item.id)
    return page(query, ScaleCheck.id, after=after, limit=limit, view=view_check, newest_first=True)


def view_check(row: ScaleCheck) -> CheckView:
    return CheckView(
        weight=row.weight,
        nominal_mg=row.nominal_mg,
        reading_mg=row.reading_mg,
        limit_mg=row.limit_mg,
        passed=row.passed,
        occurred_at=row.occurred_at,
        by=Deed.get_by_id(row.deed_id).person.name,
    )


def view_scale(
    item: Item,
    *,
    at: datetime,
    site: Site,
    affected: Iterable[str] = (),
    hardeners: list[SystemHardener] | None = None,
) -> ScaleView:
    row = Scale.get_by_id(item.id)
    hardeners = approved_hardeners() if hardeners is None else hardeners
    stands = check_state(item, row, at=at, site=site)
    holds = standing_holds([item.id], at=at)[item.id]
    return ScaleView(
        code=item.code,
        name=item.name,
        state=item.state,
        interval_mg=row.interval_mg,
        repeatability_mg=row.repeatability_mg,
        maximum_mg=row.maximum_mg,
        minimum_mass_mg=minimum_mass_mg(row),
        honest_pots=honest_pots(row, reading_u_g=reading_u_g(row), hardeners=hardeners),
        check_every_days=row.check_every_days,
        check_state=stands.state,
        check_sentence=stands.sentence,
        check_due_on=stands.due_on,
        last_check=view_check(stands.last) if stands.last is not None else None,
        usable=item.state == State.IN_USE and not stands.stops and not holds,
        affected=tuple(affected),
        holds=hold_views(holds),
        version=item.version,
    )
