"""A pot on the bench, of rows that no database has seen."""

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from typing import Any

from schemas.words import Component, MovementKind, State
from service.operations.pots.pot import Named, Pot
from service.records.items import Item, Movement
from service.records.materials import Scale
from service.records.mixes import Mix, PlannedPour, Pour, Stirring

CONTACT = datetime(2026, 11, 3, 9, 0, tzinfo=UTC)
RESIN_CAN, SECOND_RESIN_CAN, HARDENER_CAN, SECOND_HARDENER_CAN = 1, 2, 3, 4
BENCH_SCALE, FINE_SCALE = 11, 12

CUP_LIFE = [
    {"mass_g": 100, "temperature_c": 20, "life_min": 70},
    {"mass_g": 100, "temperature_c": 30, "life_min": 35},
    {"mass_g": 1000, "temperature_c": 20, "life_min": 40},
    {"mass_g": 1000, "temperature_c": 30, "life_min": 20},
]


def scale(
    number: int = BENCH_SCALE, *, interval_mg: int = 100, repeatability_mg: int = 0, maximum_mg: int = 6_000_000
) -> Scale:
    return Scale(item=number, interval_mg=interval_mg, repeatability_mg=repeatability_mg, maximum_mg=maximum_mg)


NAMED = {
    RESIN_CAN: Named("C000018", "Alder 10 resin"),
    SECOND_RESIN_CAN: Named("C000021", "Alder 10 resin"),
    HARDENER_CAN: Named("C00003Z", "Alder 32 slow hardener"),
    SECOND_HARDENER_CAN: Named("C00004X", "Alder 32 slow hardener"),
    BENCH_SCALE: Named("S000011", "Bench scale", scale=scale()),
    FINE_SCALE: Named("S00002Y", "Fine scale", scale=scale(FINE_SCALE, interval_mg=10, maximum_mg=600_000)),
}


def poured(
    component: Component, mass_mg: int, *, on: int = BENCH_SCALE, reading_mg: int | None = None, zeroed: bool = True,
    after_min: float = 0,
) -> Pour:  # fmt: skip
    return Pour(
        component=component,
        movement=Movement(amount=mass_mg),
        scale=on,
        reading_mg=mass_mg if reading_mg is None else reading_mg,
        zeroed=zeroed,
        occurred_at=CONTACT + timedelta(minutes=after_min),
    )


def planned(component: Component, container: int, mass_mg: int, *, settled: bool = False) -> PlannedPour:
    return PlannedPour(
        component=component, container=container, amount_mg=mass_mg, settled_at=CONTACT if settled else None
    )


def moved(kind: MovementKind, mass_mg: int | None) -> Movement:
    return Movement(kind=kind, amount=mass_mg)


def stirred(after_min: float, for_min: float = 2, *, scraped: bool = True) -> Stirring:
    begins = CONTACT + timedelta(minutes=after_min)
    ends = begins + timedelta(minutes=for_min)
    return Stirring(started_at=begins, ended_at=ends, scraped=scraped, second_cup=False)


def pot(
    *pours: Pour,
    plans: Sequence[PlannedPour] = (),
    movements: Sequence[Movement] = (),
    stirrings: Sequence[Stirring] = (),
    state: State = State.WEIGHING,
    balance_mg: int | None = None,
    cup_life: Sequence[dict[str, float]] = CUP_LIFE,
    tray_life: Sequence[dict[str, float]] = (),
    plan: dict[str, Any] | None = None,
    system: dict[str, Any] | None = None,
    **mix: Any,
) -> Pot:
    """A pot of 100:30 ± 2 % at 20 °C, on the bench scale, planned as 500 g of resin; everything else is said."""
    usual = {"resin_mg": 500_000, "hardener_mg": 150_000, "scale": BENCH_SCALE, "hardener_scale": BENCH_SCALE,
             "zeroed": True}  # fmt: skip
    known = {"ratio": 0.3, "tolerance_pct": 2.0, "temperature_c": 20.0, "temperature_of_air": False,
             "separate_cups": False}  # fmt: skip
    inside = sum(p.movement.amount for p in pours) if balance_mg is None else balance_mg
    return Pot(
        item=Item(id=9, code="M000019", state=state, balance=inside),
        mix=Mix(plan={**usual, **(plan or {})}, **{**known, **mix}),
        system={"largest_pot_mg": 1_000_000, "stir_min": 2, **(system or {})},
        hardener={"cup_life": list(cup_life), "tray_life": list(tray_life), "film_life": []},
        frozen_sha256="",
        started_by="Laminator",
        weighed=list(pours),
        plans=list(plans),
        movements=list(movements),
        stirrings=list(stirrings),
        named=dict(NAMED),
    )
