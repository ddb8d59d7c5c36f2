"""The moulds of what is to be built: when each is free, its release; the shop's hours of work; how long cures take."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from peewee import fn

from schemas.words import State, TreatmentKind, Weekday
from service.formulas._mould_days import Form, Hours
from service.operations.ledger.flags import stands
from service.operations.ledger.graph import standing_holds
from service.operations.parts.moulds import IN_MOULD
from service.records.base import known
from service.records.cures import Schedule
from service.records.items import Item
from service.records.materials import Container, Material
from service.records.parts import Mould, MouldTreatment, Part
from service.records.people import Site

_LAST_MINUTE = time(23, 59)


@dataclass(frozen=True, slots=True)
class Forms:
    """The moulds of a part number that may be used, how many more there are that may not, and what is not known."""

    usable: tuple[Form, ...]
    barred: int
    no_hours: bool


def hours_of(site: Site) -> Hours:
    """The shop's calendar as it is set; a shop that has set none works on all days."""
    names = list(Weekday)
    return Hours(
        weekdays=frozenset(range(7) if site.weekdays is None else (names.index(Weekday(day)) for day in site.weekdays)),
        opens=time.min if site.opens_at is None else time.fromisoformat(site.opens_at),
        closes=_LAST_MINUTE if site.closes_at is None else time.fromisoformat(site.closes_at),
        closed=frozenset(date.fromisoformat(day) for day in site.closed_on or ()),
    )


def local(at: datetime, site: Site) -> datetime:
    """As the shop's clock shows it."""
    return at.astimezone(ZoneInfo(site.zone)).replace(tzinfo=None)


def read_forms(part_numbers: Iterable[str], *, at: datetime, site: Site) -> dict[str, Forms]:
    """The moulds made for each of these part numbers, in a fixed number of statements."""
    wanted = list(part_numbers)
    rows: list[Any] = list(
        Mould.select(Mould, Item)
        .join(Item, on=(Mould.item == Item.id), attr="known")
        .where(Mould.part_number.in_(wanted))
    )
    ids = [row.item_id for row in rows]
    holds = standing_holds(ids, at=at)
    lying = _begun_in(ids)
    agents = _last_agents(ids)
    found: dict[str, Forms] = {}
    for name in wanted:
        usable: list[Form] = []
        barred, no_hours = 0, False
        for row in (one for one in rows if one.part_number == name):
            if row.known.state != State.IN_USE or holds[row.item_id]:
                barred += 1
                continue
            form = _form(row, lying.get(row.item_id), agents.get(row.item_id), at=at, site=site)
            no_hours = no_hours or (row.hours is None and site.mould_hours is None)
            if form is not None:
                usable.append(form)
        found[name] = Forms(tuple(sorted(usable, key=lambda form: form.code)), barred, no_hours)
    return found


def _form(row: Any, begun: datetime | None, agent: Material | None, *, at: datetime, site: Site) -> Form | None:
    """A mould as the plan sees it; one with a part in it for nobody knows how long takes none."""
    now, hours = local(at, site), row.hours if row.hours is not None else site.mould_hours
    free_at = now
    pulls = max(0, (row.release_until_pull or row.pulls + 1) - row.pulls) if row.ready_at is not None else 0
    if row.coats_asked is not None and (row.coats_on or 0) < row.coats_asked:
        pulls = 0
    if begun is not None:
        if hours is None:
            return None
        free_at = max(now, local(begun, site) + timedelta(hours=hours))
        # The part that lies in it takes one of the pulls with it.
        pulls = max(0, pulls - 1)
    return Form(
        code=row.known.code,
        free_at=free_at,
        hours=hours,
        pulls=pulls,
        ready_at=None if row.ready_at is None or pulls == 0 else local(row.ready_at, site),
        lasts=row.release_pulls or (agent.release_pulls if agent is not None else None) or 1,
        wait_min=(agent.release_wait_min if agent is not None else None) or 0,
    )


def _begun_in(moulds: Sequence[int]) -> dict[int, datetime]:
    """When the part was begun that still lies in each of these moulds."""
    query = (
        Part.select(Part.mould, Part.started_at)
        .join(Item, on=(Part.item == Item.id))
        .where(Part.mould.in_(list(moulds)) & Part.demoulded_at.is_null() & Item.state.in_(IN_MOULD))
        .order_by(Part.started_at)
    )
    return {known(row.mould_id): known(row.started_at) for row in query}


def _last_agents(moulds: Sequence[int]) -> dict[int, Material]:
    """The release agent that was laid on each of these moulds last: the next coat is taken to be of it too."""
    newest = (
        MouldTreatment.select(fn.MAX(MouldTreatment.id))
        .where(
            MouldTreatment.mould.in_(list(moulds))
            & (MouldTreatment.kind == TreatmentKind.RELEASE_COAT)
            & stands(MouldTreatment.deed)
        )
        .group_by(MouldTreatment.mould)
    )
    query = (
        MouldTreatment.select(MouldTreatment, Container, Material)
        .join(Container)
        .join(Material)
        .where(MouldTreatment.id.in_(newest))
    )
    return {row.mould_id: known(row.container).material for row in query}


def least_cures(names: Iterable[str]) -> dict[str, timedelta]:
    """The least times of the stages of each schedule together, by the revision that was approved last."""
    wanted = sorted(names)
    query = Schedule.select().where(Schedule.name.in_(wanted) & Schedule.approved_at.is_null(False))
    return {
        row.name: timedelta(minutes=sum(stage["minimum_min"] for stage in row.stages))
        for row in query.order_by(Schedule.revision)
    }
