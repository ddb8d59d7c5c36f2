"""Scales, their check weights, what follows for pots when a check fails, and the smallest pot that each can judge."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from peewee import chunked, fn

from schemas.words import Component, Kind, ScaleForm, State, ToolState
from service.formulas.pot_weighings import possible_ratio_error_pct
from service.formulas.weighing import minimum_mass_g
from service.operations.door.formerly import called_then
from service.operations.door.operation import AT_ONCE, Work, operation
from service.operations.door.refusals import AlreadyThere, Unprocessable
from service.operations.door.shop import the_site
from service.operations.door.views import Page, page, page_of
from service.operations.ledger import ledger
from service.operations.ledger.flags import Stop, stands, stop
from service.operations.ledger.graph import HoldView, StandingHold, hold_views, standing_holds
from service.operations.ledger.tracing import FlagView, flag_views, flags_with_items
from service.operations.pots.scale import (
    CheckStanding,
    LoadedScale,
    check_state,
    load_scales,
    smallest_honest_g,
    up_to_mg,
)
from service.operations.pots.system import ratio_and_tolerance
from service.records.base import as_word
from service.records.items import Flag, Item, Movement
from service.records.journal import Deed
from service.records.materials import Material, ResinSystem, Scale, ScaleCheck, SystemHardener
from service.records.mixes import Mix, Pour
from service.records.people import Person, Site

# A single mass that is known to one per cent, two standard deviations.
MINIMUM_MASS_PCT = 1.0
MOST_AFFECTED = 20
"""Of the pots that a failed check stops so many are named in its answer; the list of them has all."""


@dataclass(frozen=True, slots=True)
class HonestPot:
    """The smallest pot of one approved resin system with one of its hardeners, zeroed between the pours.

    Attributes
    ----------
    smallest_pot_mg
        From here on the scale knows the ratio to a third of its tolerance, zeroed.
    too_large
        The scale or the system takes no pot of that size: take a finer scale.
    """

    system_id: int
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


def honest_pots(row: Scale, *, hardeners: list[SystemHardener]) -> tuple[HonestPot, ...]:
    """What the scale can weigh of each: a pot that is too large for the scale or for the system is told as such."""
    found = []
    for one in hardeners:
        ratio, tolerance_pct = ratio_and_tolerance(one)
        smallest_mg = up_to_mg(smallest_honest_g(ratio, tolerance_pct, row))
        largest_mg = min(row.maximum_mg, one.system.largest_pot_mg)
        found.append(
            HonestPot(
                system_id=one.system.id,
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
    return up_to_mg(found)


@dataclass(frozen=True, slots=True)
class ShotsView:
    """What weighed pairs of shots said of a pump.

    Attributes
    ----------
    pairs
        Those that counted, without the first after standing.
    deviation_pct
        Of the means from the stated ratio; above zero: more hardener.
    uncertainty_pct
        Of it by the spread of the shots, k = 2.
    """

    pairs: int
    resin_g: float
    hardener_g: float
    resin_spread_g: float
    hardener_spread_g: float
    ratio: float
    deviation_pct: float
    uncertainty_pct: float
    tolerance_pct: float


@dataclass(frozen=True, slots=True)
class ScaleCheckView:
    weight: str
    nominal_mg: int
    reading_mg: int
    limit_mg: int
    passed: bool
    shots: ShotsView | None
    occurred_at: datetime
    by: str


@dataclass(frozen=True, slots=True)
class ScaleView:
    """A scale, its last check, and the smallest masses that it can be trusted with.

    Attributes
    ----------
    form
        Of a graduated measure, step and size are what they hold of water: a gram is a millilitre.
    minimum_mass_mg
        Smallest single mass that it knows to 1 %, k = 2.
    honest_pots
        The smallest pot it can weigh honestly, of each approved system and hardener.
    check_state
        Its last check.
    usable
        Whether a pot may be started on it now.
    affected
        Pots put on hold because its check failed, in that answer only: the newest 20;
        GET /v1/scales/{scale}/affected lists all.
    affected_count
        How many they are.
    line_format
        How a line of a settled reading is written; none: in the usual way.
    """

    code: str
    name: str
    state: ToolState
    form: ScaleForm
    interval_mg: int
    repeatability_mg: int
    maximum_mg: int
    minimum_mass_mg: int
    honest_pots: tuple[HonestPot, ...]
    check_every_days: int | None
    check_state: CheckStanding
    check_sentence: str
    check_due_on: date | None
    last_check: ScaleCheckView | None
    usable: bool
    affected: tuple[str, ...]
    affected_count: int
    line_format: str | None
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
    known = Item.get_or_none((Item.kind == Kind.SCALE) & (Item.name == name))
    if known is not None:
        raise AlreadyThere(f"There is a scale {name} already.", way_out=f"Use {known.code}.", scale=known.code)
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
    locked = lock_suspects(work, item, passed=passed)
    item = locked[scale]
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
    stop(work, _doubted(affected, item, check))
    work.note(scale=item.code, weight=weight, passed=passed, affected=len(affected))
    return view_scale(item, at=work.act.occurred_at, site=work.site, affected=affected)


def lock_suspects(work: Work, scale: Item, *, passed: bool) -> dict[str, Item]:
    """The scale, and if its check failed the pots weighed on it since its last passed one, all of them locked."""
    suspects = [] if passed else _weighed_since_passed(scale, work.act.occurred_at)
    locked = ledger.lock(work, scale.code, *(mix.code for mix in suspects))
    if not passed:
        # A pour may have slipped in before the scale's lock was had.
        later = [mix for mix in _weighed_since_passed(scale, work.act.occurred_at) if mix.code not in locked]
        locked |= ledger.lock(work, *(mix.code for mix in later)) if later else {}
    return locked


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


def _doubted(mixes: Sequence[Item], scale: Item, check: ScaleCheck) -> Iterator[Stop]:
    """Each of these pots, with how far its ratio may be out by the error of the scale."""
    for some in chunked(mixes, AT_ONCE):
        ids = [mix.id for mix in some]
        tolerances = dict(Mix.select(Mix.item, Mix.tolerance_pct).where(Mix.item.in_(ids)).tuples())
        weighed: dict[tuple[int, str], int] = {}
        masses = (
            Pour.select(Pour.mix, Pour.component, fn.SUM(Movement.amount))
            .join(Movement)
            .where(Pour.mix.in_(ids) & (Pour.scale == scale.id) & Movement.cancelled_by.is_null())
            .group_by(Pour.mix, Pour.component)
        )
        for mix, component, mass_mg in masses.tuples():
            weighed[mix, component] = int(mass_mg)
        for mix in some:
            error = possible_ratio_error_pct(
                error_g=(check.reading_mg - check.nominal_mg) / 1000,
                nominal_g=check.nominal_mg / 1000,
                resin_g=weighed.get((mix.id, Component.RESIN), 0) / 1000 or None,
                hardener_g=weighed.get((mix.id, Component.HARDENER), 0) / 1000 or None,
            )
            yield Stop(
                mix,
                f"Scale {scale.code} read {check.reading_mg / 1000:g} g for {check.nominal_mg / 1000:g} g "
                f"(limit {check.limit_mg / 1000:g} g): the ratio may be out by up to {error:.1f} %, "
                f"the tolerance is {tolerances[mix.id]:.3g} %.",
                "scale-check-failed",
                {"scale": scale.code, "possible_error_pct": error, "tolerance_pct": tolerances[mix.id]},
            )


def _checks_of(scale: Item, at: datetime) -> Any:
    """The checks of a scale that had been made by then and that nobody has corrected."""
    return (ScaleCheck.scale == scale.id) & (ScaleCheck.occurred_at <= at) & stands(ScaleCheck.deed)


def read_scale(scale: str, *, at: datetime) -> ScaleView:
    """One scale: its step, its checks, and whether it may be used now."""
    return view_scale(ledger.find(scale, Kind.SCALE), at=at, site=the_site())


def list_scales(*, at: datetime, after: int | None, limit: int) -> Page[ScaleView]:
    """List scales, each with its next check."""
    query = Item.select(Item).join(Scale, on=(Scale.item == Item.id))
    views = lambda items: view_scales(items, at=at, site=the_site())  # noqa: E731
    return page_of(query, Scale.item, after=after, limit=limit, views=views)


def list_checks(scale: str, *, after: int | None, limit: int) -> Page[ScaleCheckView]:
    """List the checks of a scale, newest first."""
    item = ledger.find(scale, Kind.SCALE)
    by = called_then(Person, Deed.occurred_at).alias("by")
    query = ScaleCheck.select(ScaleCheck, by).join(Deed).join(Person).where(ScaleCheck.scale == item.id)
    view = lambda row: view_check(row, row.by)  # noqa: E731
    return page(query, ScaleCheck.id, after=after, limit=limit, view=view, newest_first=True)


def list_affected(scale: str, *, after: int | None, limit: int) -> Page[FlagView]:
    """List the flags of the pots that failed checks of a scale, measure or pump put on hold, newest first."""
    item = ledger.find(scale, Kind.SCALE)
    query = flags_with_items().join_from(Flag, ScaleCheck, on=(Flag.deed == ScaleCheck.deed))
    query = query.where((ScaleCheck.scale == item.id) & ~ScaleCheck.passed)
    return page_of(query, Flag.id, after=after, limit=limit, views=flag_views, newest_first=True)


def view_check(row: ScaleCheck, by: str) -> ScaleCheckView:
    return ScaleCheckView(
        weight=row.weight,
        nominal_mg=row.nominal_mg,
        reading_mg=row.reading_mg,
        limit_mg=row.limit_mg,
        passed=row.passed,
        shots=None if row.shots is None else ShotsView(**{name: row.shots[name] for name in ShotsView.__slots__}),
        occurred_at=row.occurred_at,
        by=by,
    )


def view_scale(item: Item, *, at: datetime, site: Site, affected: Sequence[Item] = ()) -> ScaleView:
    """One scale; ``affected`` are the pots that its check put on hold, oldest first."""
    return view_scales([item], at=at, site=site, affected=affected)[0]


def view_scales(
    items: Sequence[Item], *, at: datetime, site: Site, affected: Sequence[Item] = ()
) -> tuple[ScaleView, ...]:
    """Any number of scales in a fixed number of statements."""
    loaded, hardeners = load_scales(items, at=at), approved_hardeners()
    holds = standing_holds([item.id for item in items], at=at)
    return tuple(_scale(loaded[i.id], hardeners, holds[i.id], affected, at=at, site=site) for i in items)


def _scale(
    loaded: LoadedScale,
    hardeners: list[SystemHardener],
    holds: list[StandingHold],
    affected: Sequence[Item],
    *,
    at: datetime,
    site: Site,
) -> ScaleView:
    item, row, last = loaded.item, loaded.row, loaded.last
    stands = check_state(row, last, at=at, site=site)
    return ScaleView(
        code=item.code,
        name=item.name,
        state=as_word(ToolState, item.state),
        form=as_word(ScaleForm, row.form),
        interval_mg=row.interval_mg,
        repeatability_mg=row.repeatability_mg,
        maximum_mg=row.maximum_mg,
        minimum_mass_mg=minimum_mass_mg(row),
        honest_pots=honest_pots(row, hardeners=hardeners) if row.form == ScaleForm.SCALE else (),
        check_every_days=row.check_every_days,
        check_state=stands.state,
        check_sentence=stands.sentence,
        check_due_on=stands.due_on,
        last_check=view_check(last, loaded.by or "") if last is not None else None,
        usable=item.state == State.IN_USE and not stands.stops and not holds,
        affected=tuple(mix.code for mix in affected[-MOST_AFFECTED:]),
        affected_count=len(affected),
        line_format=row.line_format,
        holds=hold_views(holds),
        version=item.version,
    )
