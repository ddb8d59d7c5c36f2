"""What was measured out in a graduated cup or dropper instead of weighed (shop rules 23 and 23a)."""

from dataclasses import dataclass

from schemas.words import ScaleForm
from service.formulas.catalysts import measured_u_g
from service.operations.door.refusals import Unprocessable
from service.records.materials import Material, Scale


@dataclass(frozen=True, slots=True)
class Measured:
    """A reading as a mass; of a measure with the volume and the standard uncertainty of the mass."""

    mass_mg: int
    volume_ul: int | None = None
    uncertainty_mg: float | None = None


def read_measure(
    on: Scale, material: Material, reading_mg: int | None, reading_ml: float | None, density_g_ml: float | None
) -> Measured:
    """Grams from a scale, millilitres from a measure; a volume needs the density of the liquid at its temperature."""
    if (reading_mg is None) == (reading_ml is None):
        raise Unprocessable(
            "Give one reading: grams from a scale, or millilitres from a measure.", pointer="/reading_g"
        )
    if on.form == ScaleForm.PUMP:
        raise Unprocessable("A pump gives strokes: record them as strokes of this pot.", pointer="/scale")
    if (on.form == ScaleForm.MEASURE) != (reading_ml is not None):
        read, wrong = ("reading_ml", "reading_g") if on.form == ScaleForm.MEASURE else ("reading_g", "reading_ml")
        raise Unprocessable(f"This is a {on.form}: it gives {read}.", pointer=f"/{wrong}")
    if reading_ml is None:
        return Measured(reading_mg or 0)
    density = density_g_ml if density_g_ml is not None else material.density_g_ml
    if density is None:
        raise Unprocessable(
            f"A volume of {material.name} needs its density; give it with the reading, or enter it with the material.",
            pointer="/density_g_ml",
        )
    u_g = measured_u_g(step_ml=on.interval_mg / 1000, volume_ml=reading_ml, density_g_ml=density)
    return Measured(max(1, round(reading_ml * density * 1000)), max(1, round(reading_ml * 1000)), u_g * 1000)


def millilitres(microlitres: int) -> str:
    """Millilitres as a graduated measure shows them."""
    return f"{microlitres / 1000:g} ml"
