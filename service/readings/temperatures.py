"""One cell as a temperature, or as a pressure: decimal sign, sign, a unit written beside the number."""

import re

from .profile import DecimalSign, PressureUnit, Unit
from .text import shown

LOWEST_C = -100.0
HIGHEST_C = 600.0
LOWEST_MBAR = -1100.0
HIGHEST_MBAR = 100_000.0

# NIST SP 811, appendix B.8, as service/formulas/units.py has it; the inch of mercury is the conventional one.
MBAR: dict[PressureUnit, float] = {"mbar": 1.0, "bar": 1000.0, "kPa": 10.0, "psi": 68.94757, "inHg": 33.86389}

_DEGREE = r"(?:°|º|ø|˚|Â°|deg\.?)?\s*"
_NUMBER = re.compile(
    r"(?P<sign>[+\-−]?)(?P<digits>\d{1,15}(?:[.,]\d{0,15})?|[.,]\d{1,15})(?P<power>[eE][+-]?\d{1,2})?"
    rf"(?:\s*{_DEGREE}(?P<unit>[CFK]))?",
    re.ASCII,
)


def number(cell: str, decimal: DecimalSign) -> tuple[float, Unit | None]:
    """The number in a cell, and the unit if one is written beside it. ValueError with a sentence otherwise."""
    found = _NUMBER.fullmatch(cell.strip())
    if not found:
        raise ValueError(f"{shown(cell)} is not a number.")
    digits = found["digits"]
    other = "," if decimal == "." else "."
    if other in digits:
        names = {".": "a point", ",": "a comma"}
        raise ValueError(f"{shown(cell)} has {names[other]} where this profile's decimal sign is {names[decimal]}.")
    value = float(digits.replace(",", ".") + (found["power"] or ""))
    unit: Unit | None = found["unit"]  # type: ignore[assignment]
    return (-value if found["sign"] in ("-", "−") else value), unit


def celsius(value: float, unit: Unit) -> float:
    """The temperature in °C; converted values are rounded to 0.0001 K, far below what a logger resolves.

    °C = (°F − 32)/1.8 and °C = K − 273.15, exact by definition of the units.

    >>> celsius(140.0, "F"), celsius(328.15, "K"), celsius(55.0, "C")
    (60.0, 55.0, 55.0)
    """
    if unit == "F":
        return round((value - 32.0) / 1.8, 4)
    if unit == "K":
        return round(value - 273.15, 4)
    return value


def temperature_c(cell: str, decimal: DecimalSign, unit: Unit) -> float:
    """A cell as °C, refused with a sentence if it is no number, in another unit, or absurd."""
    value, written = number(cell, decimal)
    if written is not None and written != unit:
        raise ValueError(f"{shown(cell)} is written in {written} where this profile's unit is {unit}.")
    converted = celsius(value, unit)
    if not LOWEST_C <= converted <= HIGHEST_C:
        raise ValueError(
            f"{shown(cell)} would be {converted:.5g} °C; a cure lies from {LOWEST_C:g} to {HIGHEST_C:g} °C. "
            "If the logger writes this for a dropped probe, add it to the profile's words for no value."
        )
    return converted


def pressure_mbar(cell: str, decimal: DecimalSign, unit: PressureUnit) -> float:
    """A cell as mbar, as the gauge counts it: from the air's pressure up or down, or from zero.

    >>> pressure_mbar("-27,5", ",", "inHg"), pressure_mbar("6.2", ".", "bar")
    (-931.257, 6200.0)
    """
    value, written = number(cell, decimal)
    if written is not None:
        raise ValueError(f"{shown(cell)} is written in {written} where this column is in {unit}.")
    converted = round(value * MBAR[unit], 4)
    if not LOWEST_MBAR <= converted <= HIGHEST_MBAR:
        raise ValueError(
            f"{shown(cell)} would be {converted:.6g} mbar; a gauge shows {LOWEST_MBAR:g} to {HIGHEST_MBAR:g} mbar. "
            "If the logger writes this for a dropped gauge, add it to the profile's words for no value."
        )
    return converted
