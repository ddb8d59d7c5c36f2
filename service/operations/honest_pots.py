"""For each scale the smallest pot that it can weigh honestly, system by system."""

import math
from dataclasses import dataclass

from service.formulas.scales import smallest_honest_pot_g
from service.formulas.weighing import minimum_mass_g
from service.operations.systems import ratio_and_tolerance
from service.records.materials import Material, ResinSystem, Scale, SystemHardener

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
