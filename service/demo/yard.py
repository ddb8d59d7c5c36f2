"""The yard at work: acts in the names of its people, at times of its own, always through the operations."""

import random
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from schemas.words import Role, Unit
from service.demo.cast import PRODUCTS, ZONE
from service.operations.door.act import Act
from service.operations.door.signatures import Signing
from service.operations.door.signing import set_secret, signing_by
from service.operations.stock.containers import scrap_container
from service.operations.stock.lots import release_lot
from service.operations.stock.receiving import receive_delivery
from service.records.base import known
from service.records.items import Item
from service.records.people import AccessKey

_SEED = 114


@dataclass
class Can:
    """A container on the shelf, as the yard sees it."""

    code: str
    left: int
    good_until: date | None


@dataclass
class Yard:
    """Everybody and everything that a day needs to know."""

    site: int
    people: dict[str, int]
    roles: dict[str, frozenset[Role]]
    dice: random.Random = field(default_factory=lambda: random.Random(_SEED))
    # By role, the code of a badge whose holder has it.
    badges: dict[str, str] = field(default_factory=dict)
    # Whoever has set a secret, and so can sign.
    signers: dict[str, Signing] = field(default_factory=dict)
    suppliers: list[int] = field(default_factory=list)
    materials: dict[str, int] = field(default_factory=dict)
    places: dict[str, str] = field(default_factory=dict)
    shelf: dict[str, list[Can]] = field(default_factory=dict)
    systems: dict[str, int] = field(default_factory=dict)
    designs: list[int] = field(default_factory=list)
    moulds: list[str] = field(default_factory=list)
    scale: str = ""
    logger: int = 0
    # The hardener can of the story, the last day on which it was good, and whether it is put aside by now.
    old_can: str = ""
    old_can_good_until: date = date.min
    old_can_aside: bool = False
    notes_received: int = 0
    now: datetime = datetime(2000, 1, 1, tzinfo=ZoneInfo("UTC"))

    def act(self, who: str, at: datetime, *, why: str | None = None, recorded_at: datetime | None = None) -> Act:
        self.now = max(self.now, at)
        return Act(
            person=self.people[who],
            roles=self.roles[who],
            site=self.site,
            occurred_at=at,
            recorded_at=recorded_at or at,
            device="tablet 2" if who == "ida" else "office",
            why=why,
            signing=self.signers.get(who),
            code_only=True,
        )

    def sign_on(self, who: str, at: datetime, secret: str) -> str:
        """They make the key that they were handed their own and set a secret; the key as it is from then on."""
        key = AccessKey.get(AccessKey.person == self.people[who]).id
        made = set_secret(replace(self.act(who, at), key=key), secret=secret)
        self.signers[who] = known(signing_by(known(made.token), access_key=key, at=at))
        return known(made.secret)

    def at(self, day: date, clock: str, plus_min: float = 0) -> datetime:
        """A local time of that day, in UTC."""
        hour, minute = clock.split(":")
        local = datetime.combine(day, time(int(hour), int(minute)), tzinfo=ZoneInfo(ZONE))
        return (local + timedelta(minutes=plus_min)).astimezone(ZoneInfo("UTC"))

    def near(self, value: float, spread: float) -> float:
        return self.dice.gauss(value, spread)

    def receive(self, key: str, day: date, clock: str, *, packs: int | None = None) -> None:
        """A delivery of one lot, released the same morning."""
        product = PRODUCTS[key]
        self.notes_received += 1
        number = self.notes_received
        unit = Unit.MILLIMETRE if key in ("twill", "biax", "peel") else Unit.MILLIGRAM
        unit = Unit.PIECE if key == "peel" else unit
        dates = {"made_on": day - timedelta(days=20 + number % 9)} if "shelf_life_days" in product.facts else {}
        lot = receive_delivery(
            self.act("marit", self.at(day, clock)),
            material=self.materials[key],
            supplier=self.suppliers[product.supplier],
            makers_lot=f"{product.prefix}-{day:%y}{number:03d}",
            delivery_note=f"DN {4400 + number}",
            place=self.places["rolls" if unit == Unit.MILLIMETRE else "store"],
            containers=[{"amount": product.pack, "unit": unit, "count": packs or product.packs}],
            dates=dates or {"no_expiry": True},
        )
        release_lot(self.act("marit", self.at(day, clock, 20)), lot=lot.code)
        for code in lot.containers:
            self.shelf.setdefault(key, []).append(Can(code=code, left=product.pack, good_until=lot.expires_on))

    def reorder(self, day: date) -> None:
        """What ran low yesterday comes this morning."""
        for key, product in PRODUCTS.items():
            left = sum(can.left for can in self.shelf.get(key, ()) if can.code != self.old_can)
            if product.reorder_below and left < product.reorder_below and not self._old_can_suffices(key, day):
                self.receive(key, day, "07:05")

    def _old_can_suffices(self, key: str, day: date) -> bool:
        return key == "slow" and day < self.old_can_good_until - timedelta(days=3)

    def take(self, key: str, amount: int, *, can: str | None = None) -> list[tuple[str, int]]:
        """Which containers an amount is taken from: the first on the shelf first, what it lacks from the next."""
        taken = []
        for one in [o for o in self.shelf[key] if o.code == can] if can is not None else self.usable(key):
            share = min(amount, one.left)
            if share <= 0:
                continue
            taken.append((one.code, share))
            amount -= share
            if amount == 0:
                return taken
        raise RuntimeError(f"The demo ran out of {key}.")

    def usable(self, key: str) -> list[Can]:
        """What stands on the shelf, without the can that was put aside."""
        return [one for one in self.shelf[key] if not (self.old_can_aside and one.code == self.old_can)]

    def scrap_heel(self, key: str) -> None:
        """What is too little for a pot goes out, weighed by the book."""
        heel = self.usable(key)[0]
        scrap_container(
            self.act("marit", self.now, why="heel too small for a pot"),
            container=heel.code,
            method="cured out in a thin layer, then waste by local rules",
        )
        self.settle([heel.code])

    def settle(self, codes: Sequence[str]) -> None:
        """Read back from the book what is left in these containers, and put the empty ones away."""
        rows = {item.code: item for item in Item.select().where(Item.code.in_(list(codes)))}
        for cans in self.shelf.values():
            for one in cans:
                if one.code in rows:
                    one.left = rows[one.code].balance
            cans[:] = [one for one in cans if one.left > 0]
