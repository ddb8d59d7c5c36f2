"""Units of the workshop, converted exactly.

A closed table: a unit that is not in it is refused, so is a conversion between kinds. Cloth is sold in oz/yd², chopped
strand mat in oz/ft²: the two differ by a factor of nine, so "oz" alone is never an areal weight.

- :func:`convert`: any unit of the table to another of its kind.

Factors are those of pint, worked in fractions; no binary rounding comes in. A float is read as the shortest decimal
that stands for it, so that 0.1 is one tenth.
"""

import re
from decimal import Context, Decimal
from fractions import Fraction
from functools import cache
from typing import Any

from service.formulas.ranges import OutOfRange

__all__ = ["UNITS", "convert"]

# A US and an imperial ounce of volume differ by 4 %, so each says whose it is.
UNIT_TABLE = (
    ("mg", "mass", "milligram"),
    ("g", "mass", "gram"),
    ("kg", "mass", "kilogram"),
    ("oz", "mass", "ounce"),
    ("lb", "mass", "pound"),
    ("g/m²", "areal weight", "gram/meter**2"),
    ("kg/m²", "areal weight", "kilogram/meter**2"),
    ("oz/yd²", "areal weight", "ounce/yard**2"),
    ("oz/ft²", "areal weight", "ounce/foot**2"),
    ("ml", "volume", "milliliter"),
    ("l", "volume", "liter"),
    ("US fl oz", "volume", "US_fluid_ounce"),
    ("US gal", "volume", "US_liquid_gallon"),
    ("imp fl oz", "volume", "imperial_fluid_ounce"),
    ("imp gal", "volume", "imperial_gallon"),
    ("µm", "length", "micrometer"),
    ("mm", "length", "millimeter"),
    ("cm", "length", "centimeter"),
    ("m", "length", "meter"),
    ("mil", "length", "thou"),
    ("in", "length", "inch"),
    ("ft", "length", "foot"),
    ("yd", "length", "yard"),
    ("mm²", "area", "millimeter**2"),
    ("cm²", "area", "centimeter**2"),
    ("m²", "area", "meter**2"),
    ("in²", "area", "inch**2"),
    ("ft²", "area", "foot**2"),
    ("yd²", "area", "yard**2"),
    ("g/ml", "density", "gram/milliliter"),
    ("kg/l", "density", "kilogram/liter"),
    ("kg/m³", "density", "kilogram/meter**3"),
    ("lb/ft³", "density", "pound/foot**3"),
    ("lb/US gal", "density", "pound/US_liquid_gallon"),
    ("Pa", "pressure", "pascal"),
    ("hPa", "pressure", "hectopascal"),
    ("mbar", "pressure", "millibar"),
    ("kPa", "pressure", "kilopascal"),
    ("bar", "pressure", "bar"),
    ("psi", "pressure", "pound_force_per_square_inch"),
    ("mmHg", "pressure", "millimeter_Hg"),
    ("inHg", "pressure", "inch_Hg"),
    ("s", "time", "second"),
    ("min", "time", "minute"),
    ("h", "time", "hour"),
    ("d", "time", "day"),
    ("°C", "temperature", "degree_Celsius"),
    ("°F", "temperature", "degree_Fahrenheit"),
    ("K", "temperature", "kelvin"),
)

UNITS: dict[str, str] = {unit: kind for unit, kind, _ in UNIT_TABLE}
"""Every unit that is understood, and its kind."""

_PINT_NAMES = {unit: pint_name for unit, _, pint_name in UNIT_TABLE}

# Beyond these a value is a slip, and its exact fraction could fill the memory.
MOST_EXPONENT = 12
MOST_DIGITS = 40

_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?", re.ASCII)

_TO_DECIMAL = Context(prec=28)


@cache
def _registry() -> Any:
    from pint import UnitRegistry

    return UnitRegistry(non_int_type=Fraction)


def _kind(argument: str, unit: str, kind: str | None = None) -> str:
    wanted = [name for name, its_kind in UNITS.items() if kind in (None, its_kind)]
    if not isinstance(unit, str) or unit not in UNITS:
        raise OutOfRange(argument, repr(unit)[:40], f"one of {', '.join(wanted)}")
    if kind is not None and UNITS[unit] != kind:
        raise OutOfRange(argument, f"{unit!r}, a unit of {UNITS[unit]}", f"a unit of {kind}: {', '.join(wanted)}")
    return UNITS[unit]


def _readable(value: object) -> bool:
    # Long integers and texts are refused unread: reading them takes time that grows with the square of their length.
    if isinstance(value, int):
        return not isinstance(value, bool) and abs(value) <= 10**MOST_EXPONENT
    if isinstance(value, str):
        return len(value) <= 2 * MOST_DIGITS and _NUMBER.fullmatch(value) is not None
    return isinstance(value, float | Decimal)


def _as_fraction(argument: str, value: Decimal | int | float | str) -> Fraction:
    """Hand back ``value`` exactly, or refuse it. A float stands for the shortest decimal that reads back as it."""
    allowed = f"a number of up to {MOST_DIGITS} digits, 0 or from 1e-{MOST_EXPONENT} to 1e{MOST_EXPONENT} in size"
    if not _readable(value):
        raise OutOfRange(argument, "too large" if type(value) is int else repr(value)[:40], allowed)
    number = Decimal(repr(float(value)) if isinstance(value, float) else value)
    fits = number.is_finite() and len(number.as_tuple().digits) <= MOST_DIGITS
    if not fits or (number and not -MOST_EXPONENT <= number.adjusted() <= MOST_EXPONENT):
        raise OutOfRange(argument, str(value)[:40], allowed)
    return Fraction(number) if number else Fraction(0)


def _as_decimal(exact: Fraction) -> Decimal:
    """Hand back ``exact`` as a decimal of at most 28 digits, written without an exponent where it is whole."""
    quotient = _TO_DECIMAL.divide(Decimal(exact.numerator), Decimal(exact.denominator)).normalize(_TO_DECIMAL)
    return quotient.quantize(Decimal(1)) if quotient == quotient.to_integral_value() else quotient


def _exact(value: Decimal | int | float | str, unit: str, to: str) -> Fraction:
    kind = _kind("unit", unit)
    _kind("to", to, kind)
    number = _as_fraction("value", value)
    if kind != "temperature" and number < 0:
        raise OutOfRange("value", f"{value} {unit}", f"at least 0 for a {kind}")
    quantity = _registry().Quantity(number, _PINT_NAMES[unit])
    if kind == "temperature" and quantity.to("kelvin").magnitude < 0:
        raise OutOfRange("value", f"{value} {unit}", "at least absolute zero, -273.15 °C")
    return Fraction(quantity.to(_PINT_NAMES[to]).magnitude)


def convert(*, value: Decimal | int | float | str, unit: str, to: str) -> Decimal:
    """Convert a number from one unit to another of the same kind.

    Formula: the exact factor (and zero, for temperatures) between the two, as a fraction; the result is rounded to 28
    digits only where it has no end. Temperatures are points on a scale, not differences.

    Parameters
    ----------
    value : Decimal, int, float or str
        The number [in the unit given].
    unit : str
        Its unit, one of :data:`UNITS` [text].
    to : str
        The unit wanted, of the same kind [text].

    Returns
    -------
    Decimal
        The number in the unit wanted.

    Raises
    ------
    OutOfRange
        If the number is outside its range, a unit is unknown, or the kinds differ.

    Valid range
    -----------
    0, or 1e-12 to 1e12 of the unit, up to 40 digits; below 0 for temperatures alone, to absolute zero.

    Examples
    --------
    >>> convert(value="1.5", unit="oz/ft²", to="oz/yd²")
    Decimal('13.5')
    >>> convert(value=1, unit="inHg", to="mbar")
    Decimal('33.86388640341')

    Source
    ------
    NIST SP 811, appendix B.8, read in a reprint (3.386 389 E+03 Pa: https://www.coursehero.com/file/6112116/01-08-88/);
    inHg is the conventional inch of mercury.
    """
    return _as_decimal(_exact(value, unit, to))
