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
RESIN_CAN, SECOND_RESIN_CAN, HARDENER_CAN, SECOND_HARDENER_CAN, FAST_CAN, FILLER_CAN, PIGMENT_CAN = range(1, 8)
# Numbers of materials.
ALDER_10, ALDER_32, ALDER_31, SPHERES, WHITE = range(31, 36)
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
    RESIN_CAN: Named("C000018", "Alder 10 resin", material=ALDER_10, kind="resin"),
    SECOND_RESIN_CAN: Named("C000021", "Alder 10 resin", material=ALDER_10, kind="resin"),
    HARDENER_CAN: Named("C00003Z", "Alder 32 slow hardener", material=ALDER_32, kind="hardener"),
    SECOND_HARDENER_CAN: Named("C00004X", "Alder 32 slow hardener", material=ALDER_32, kind="hardener"),
    FAST_CAN: Named("C00005V", "Alder 31 fast hardener", material=ALDER_31, kind="hardener"),
    FILLER_CAN: Named("C00006T", "Microspheres", material=SPHERES, kind="filler"),
    PIGMENT_CAN: Named("C00007R", "White paste", material=WHITE, kind="pigment"),
    BENCH_SCALE: Named("S000011", "Bench scale", scale=scale()),
    FINE_SCALE: Named("S00002Y", "Fine scale", scale=scale(FINE_SCALE, interval_mg=10, maximum_mg=600_000)),
}


def poured(
    component: Component, mass_mg: int, *, on: int = BENCH_SCALE, reading_mg: int | None = None, zeroed: bool = True,
    after_min: float = 0, out_of: int | None = None,
) -> Pour:  # fmt: skip
    return Pour(
        component=component,
        container=out_of or (RESIN_CAN if component == Component.RESIN else HARDENER_CAN),
        movement=Movement(id=1, amount=mass_mg),
        scale=on,
        reading_mg=mass_mg if reading_mg is None else reading_mg,
        zeroed=zeroed,
        occurred_at=CONTACT + timedelta(minutes=after_min),
    )


def planned(component: Component, container: int, mass_mg: int, *, settled: bool = False) -> PlannedPour:
    return PlannedPour(
        component=component, container=container, amount_mg=mass_mg, settled_at=CONTACT if settled else None
    )


def moved(kind: MovementKind, mass_mg: int | None, *, out_of: int = FILLER_CAN) -> Movement:
    return Movement(id=2, kind=kind, amount=mass_mg, source=out_of)


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
        system={"resin": ALDER_10, "largest_pot_mg": 1_000_000, "stir_min": 2, **(system or {})},
        hardener={"material": ALDER_32, "cup_life": list(cup_life), "tray_life": list(tray_life), "film_life": []},
        frozen_sha256="",
        started_by="Laminator",
        weighed=list(pours),
        plans=list(plans),
        movements=list(movements),
        stirrings=list(stirrings),
        named=dict(NAMED),
    )
