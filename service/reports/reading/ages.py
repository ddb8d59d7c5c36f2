"""How old containers were on the day of use: the date that counted then, and for how long they had been open.

A jug that was filled up again later from an older can, or a lot that was extended later, looks different now from what
it was on that day; both are undone here.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from schemas.words import MaterialKind, MovementKind, State
from service.formulas.shelf_life import Expiry, days_left, effective_expiry
from service.operations.door.formerly import Formerly
from service.operations.door.shop import day_in_shop
from service.operations.stock.extending import extensions, retest_date_then
from service.records.base import known
from service.records.items import Movement, StateChange
from service.records.lookups import among
from service.records.materials import Container, Lot, Material
from service.records.people import Site


@dataclass(frozen=True, slots=True)
class Fill:
    """One filling of a container from another."""

    source: int
    at: datetime


class Ages:
    """Containers with all that bears on their age; loaded once for any number of them.

    Limits are those of the card as it stood at each use; with ``by_todays_cards`` an investigation takes what is known
    by now where no limit was known then.
    """

    def __init__(self, site: Site, containers: Iterable[int], *, by_todays_cards: bool = False) -> None:
        self.site = site
        self._by_todays_cards = by_todays_cards
        self._days: dict[datetime, date] = {}
        self._of_steady: dict[tuple[int, bool], tuple[date | None, Expiry]] = {}
        self._expiries: dict[tuple[date | None, date | None, date | None, int | None], Expiry] = {}
        ids = list(containers)
        self.containers: dict[int, Container] = {
            c.item_id: c for c in Container.select().where(among(Container.item, ids))
        }
        self.lots: dict[int, Lot] = {
            lot.item_id: lot
            for lot in Lot.select().where(among(Lot.item, {c.lot_id for c in self.containers.values()}))
        }
        self._materials = Formerly(Material, Material.id.in_({c.material_id for c in self.containers.values()}))
        # As they are known now.
        self.materials = self._materials.rows
        self._fills: dict[int, list[Fill]] = {}
        filled = Movement.select(Movement.source, Movement.target, Movement.occurred_at).where(
            among(Movement.target, ids) & (Movement.kind == MovementKind.DECANT) & Movement.cancelled_by.is_null()
        )
        for row in filled.order_by(Movement.occurred_at):
            self._fills.setdefault(known(row.target_id), []).append(Fill(known(row.source_id), row.occurred_at))
        self._extended = extensions(self.lots)
        self._opened: dict[int, datetime | None] = {n: c.opened_at for n, c in self.containers.items()}
        # Opened lives that a card gave before the one that it gives now, each until when.
        self._lives = {m: self._materials.said(m, "opened_life_days") for m in self.materials}
        always_so = {m for m in self.materials if by_todays_cards and self._always_so(m)}
        # Of these nothing but their opening tells one use from another.
        self._steady = {
            n
            for n, c in self.containers.items()
            if c.material_id in always_so and n not in self._fills and not self._extended.get(c.lot_id)
        }
        self._first_open: dict[int, datetime] = {}
        changed = StateChange.select(StateChange.item, StateChange.occurred_at).where(
            among(StateChange.item, self._fills) & (StateChange.state == State.OPEN)
        )
        for change in changed.order_by(StateChange.occurred_at.desc()):
            self._first_open[change.item_id] = change.occurred_at

    def material_of(self, container: int, at: datetime | None = None) -> Material:
        """What it holds, as its card said for a use at ``at``, or as it says now."""
        return self._materials.at(self.containers[container].material_id, None if self._by_todays_cards else at)

    def _always_so(self, material: int) -> bool:
        now = self.materials[material].opened_life_days
        return all(life in (None, now) for _, life in self._lives[material])

    def opened_life(self, container: int, at: datetime) -> int | None:
        """For how many days it keeps once opened, by its card at a use; by now, where an investigation has to ask."""
        material = self.containers[container].material_id
        now: int | None = self.materials[material].opened_life_days
        then: int | None = next((life for until, life in self._lives[material] if until > at), now)
        return now if then is None and self._by_todays_cards else then

    def was_filled(self, container: int) -> bool:
        """That it was ever filled from another."""
        return container in self._fills

    def ancestors(self, container: int, at: datetime) -> set[int]:
        """The container itself and those that it had been filled from by then."""
        found = {container}
        for fill in self._fills.get(container, ()):
            if fill.at <= at and fill.source in self.containers:
                found |= self.ancestors(fill.source, fill.at)
        return found

    def opened_at(self, container: int, at: datetime) -> datetime | None:
        """When it was opened, as far as that counted for a use at ``at``."""
        fills = self._fills.get(container, ())
        if not fills or all(fill.at <= at for fill in fills):
            opened = self._opened[container]
            return opened if opened is None or opened <= at else None
        known = [
            o for f in fills if f.at <= at and f.source in self.containers and (o := self.opened_at(f.source, f.at))
        ]
        own = self._first_open.get(container)
        return min([*known, *([own] if own is not None and own <= at else [])], default=None)

    def opened_on(self, container: int, at: datetime) -> date | None:
        opened = self.opened_at(container, at)
        return None if opened is None else self.day(opened)

    def days(self, container: int, at: datetime) -> tuple[int | None, int | None]:
        """For how many days it had been open at a use, and how many were left to its last good day."""
        today, (since, expiry) = self.day(at), self._opened_and_good(container, at)
        return (
            None if since is None else (today - since).days,
            None if expiry.on is None else days_left(on=expiry.on, today=today),
        )

    def day(self, at: datetime) -> date:
        """The shop's day: a thousand uses of one can ask for the one of its opening."""
        found = self._days.get(at)
        if found is None:
            found = self._days[at] = day_in_shop(at, self.site)
        return found

    def good_until(self, container: int, at: datetime) -> Expiry:
        """The last good day of a container, as it was for a use at ``at``."""
        return self._opened_and_good(container, at)[1]

    def _opened_and_good(self, container: int, at: datetime) -> tuple[date | None, Expiry]:
        """The day of its opening and its last good day, as they were for a use at ``at``."""
        if container not in self._steady:
            return self.opened_on(container, at), self._good_until(container, at)
        opened = self._opened[container]
        key = (container, opened is not None and opened <= at)
        found = self._of_steady.get(key)
        if found is None:
            found = self._of_steady[key] = self.opened_on(container, at), self._good_until(container, at)
        return found

    def good_until_by_now(self, container: int, at: datetime) -> Expiry:
        """The same by the opened life that its card gives now."""
        return self._limited(container, at, self.materials[self.containers[container].material_id].opened_life_days)

    def _good_until(self, container: int, at: datetime) -> Expiry:
        return self._limited(container, at, self.opened_life(container, at))

    def _limited(self, container: int, at: datetime, life: int | None) -> Expiry:
        expires, retest = self._expires_on(container, at), self._retest_on(self.containers[container].lot_id, at)
        opened = self.opened_on(container, at)
        given = (expires, retest, opened, life)
        if given not in self._expiries:
            self._expiries[given] = effective_expiry(
                expires_on=expires, retest_on=retest, opened_on=opened, opened_life_days=life
            )
        return self._expiries[given]

    def _expires_on(self, container: int, at: datetime) -> date | None:
        row = self.containers[container]
        fills = self._fills.get(container, [])
        if all(fill.at <= at for fill in fills):
            expires: date | None = row.expires_on
            return expires
        dates = [self.lots[row.lot_id].expires_on]
        dates += [self._expires_on(f.source, f.at) for f in fills if f.at <= at and f.source in self.containers]
        return min((d for d in dates if d is not None), default=None)

    def _retest_on(self, lot: int, at: datetime) -> date | None:
        return retest_date_then(self.lots[lot].retest_on, self._extended.get(lot, ()), at)


def noun_of(material: Material) -> str:
    """What people call such a container: a hardener can, a roll of fabric."""
    if material.kind == MaterialKind.FABRIC:
        return "roll"
    return f"{material.kind} can"
