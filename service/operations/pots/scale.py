"""A scale loaded once: what it can show, its last check, may it be used, and the smallest pot that it can judge."""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum
from typing import Any

from peewee import JOIN

from schemas.words import ScaleForm, State
from service.formulas.scales import smallest_honest_pot_g
from service.formulas.weighing import reading_uncertainty_g
from service.operations.door.formerly import called_then
from service.operations.door.refusals import ScaleOverdue, WrongState
from service.operations.door.shop import day_in_shop
from service.operations.ledger.flags import stands
from service.records.items import Item
from service.records.journal import Deed
from service.records.lookups import another
from service.records.materials import Scale, ScaleCheck
from service.records.people import Person, Site


def smallest_honest_g(
    ratio: float, tolerance_pct: float, resin_on: Scale, hardener_on: Scale | None = None, *, zeroed: bool = True
) -> float:
    """The smallest pot whose ratio these scales can judge; on two scales each pour is zeroed anyway."""
    other = hardener_on or resin_on
    return smallest_honest_pot_g(
        ratio=ratio,
        tolerance_pct=tolerance_pct,
        resin_reading_u_g=reading_u_g(resin_on),
        hardener_reading_u_g=reading_u_g(other),
        zeroed=zeroed or other.item_id != resin_on.item_id,
    )


def up_to_mg(mass_g: float) -> int:
    """Whole milligrams that are not less."""
    return math.ceil(mass_g * 1000 - 1e-6)


class CheckStanding(StrEnum):
    """How a scale stands with its check weights."""

    IN_ORDER = "in order"
    OVERDUE = "overdue"
    FAILED = "failed"
    NOT_ASKED = "not asked"


@dataclass(frozen=True, slots=True)
class CheckState:
    """How a scale stands with its checks at an instant."""

    state: CheckStanding
    sentence: str
    due_on: date | None
    last: ScaleCheck | None

    @property
    def stops(self) -> bool:
        return self.state in (CheckStanding.OVERDUE, CheckStanding.FAILED)


@dataclass(frozen=True, slots=True)
class LoadedScale:
    """A scale, what it can show, its last check by some time that nobody has corrected, and who made that."""

    item: Item
    row: Scale
    last: ScaleCheck | None
    by: str | None


def load_scales(items: Iterable[Item], *, at: datetime) -> dict[int, LoadedScale]:
    """These scales with their last checks, in one statement; by the number of the item."""
    known = {item.id: item for item in items}
    checks = another(ScaleCheck, "checks")
    newest = (
        checks.select(checks.id)
        .where((checks.scale == Scale.item) & (checks.occurred_at <= at) & stands(checks.deed))
        .order_by(checks.occurred_at.desc(), checks.id.desc())
        .limit(1)
    )
    query = (
        Scale.select(Scale, ScaleCheck, called_then(Person, Deed.occurred_at).alias("checked_by"))
        .join(ScaleCheck, JOIN.LEFT_OUTER, on=(ScaleCheck.id == newest), attr="last")
        .join(Deed, JOIN.LEFT_OUTER)
        .join(Person, JOIN.LEFT_OUTER)
        .where(Scale.item.in_(list(known)))
        .order_by(Scale.item)
    )
    found = {}
    rows: Any = query
    for row in rows:
        last = getattr(row, "last", None)
        found[row.item_id] = LoadedScale(known[row.item_id], row, last, row.checked_by)
    return found


def check_state(row: Scale, last: ScaleCheck | None, *, at: datetime, site: Site) -> CheckState:
    """How a scale stands with its checks at an instant, by the last of what had happened until then."""
    if last is not None and not last.passed:
        day = day_in_shop(last.occurred_at, site)
        return CheckState(CheckStanding.FAILED, f"It failed its check on {day:%-d %b %Y}.", None, last)
    if row.changed_at is not None and row.changed_at <= at and (last is None or last.occurred_at <= row.changed_at):
        return CheckState(CheckStanding.OVERDUE, "A hose was changed since its last check.", None, last)
    if row.check_every_days is None:
        return CheckState(CheckStanding.NOT_ASKED, "The shop asks for no checks of this scale.", None, last)
    if last is None:
        return CheckState(CheckStanding.OVERDUE, "It has not been checked yet.", None, None)
    day = day_in_shop(last.occurred_at, site)
    due = day + timedelta(days=row.check_every_days)
    if day_in_shop(at, site) > due:
        return CheckState(CheckStanding.OVERDUE, f"Its check was due by {due:%-d %b %Y}.", due, last)
    return CheckState(CheckStanding.IN_ORDER, f"Passed on {day:%-d %b %Y}; next check by {due:%-d %b %Y}.", due, last)


_WEIGHT_ON_IT = "Put the check weight on it and record the check"
_CHECKED_BY = {str(ScaleForm.PUMP): "Weigh at least six pairs of its shots and record the check"}


def require_able(loaded: LoadedScale, *, at: datetime, site: Site) -> Scale:
    """Before a weighing: the scale is in use and its check is neither overdue nor failed."""
    scale, row = loaded.item, loaded.row
    named = f"{row.form.capitalize()} {scale.code} {scale.name}"
    if scale.state != State.IN_USE:
        raise WrongState(f"{named} is {scale.state}.", way_out=f"Take another {row.form}.")
    stands = check_state(row, loaded.last, at=at, site=site)
    if stands.stops:
        raise ScaleOverdue(
            f"{named}: {stands.sentence}",
            way_out=f"{_CHECKED_BY.get(row.form, _WEIGHT_ON_IT)}, or take another {row.form}.",
            scale=scale.code,
            check_state=stands.state,
            due_on=stands.due_on.isoformat() if stands.due_on else None,
        )
    return row


def able_scales(
    *, at: datetime, site: Site, forms: tuple[ScaleForm, ...] = (ScaleForm.SCALE,)
) -> list[tuple[Item, Scale]]:
    """Every scale on which a pot could be started now, or what else may measure it."""
    usable = (Item.state == State.IN_USE) & (Item.holds == 0)
    items = Item.select(Item).join(Scale, on=(Scale.item == Item.id)).where(usable).order_by(Item.id)
    return [
        (one.item, one.row)
        for one in load_scales(items, at=at).values()
        if one.row.form in forms and not check_state(one.row, one.last, at=at, site=site).stops
    ]


def reading_u_g(row: Scale) -> float:
    """Standard uncertainty of one reading."""
    return reading_uncertainty_g(interval_g=row.interval_mg / 1000, repeatability_g=row.repeatability_mg / 1000)
