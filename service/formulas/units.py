"""Units of the workshop, converted exactly.

A closed table: a unit that is not in it is refused, so is a conversion between kinds. Cloth is sold in oz/yd², chopped
strand mat in oz/ft²: the two differ by a factor of nine, so "oz" alone is never an areal weight.

- :func:`convert`: any unit of the table to another of its kind.
- :func:`to_grams`, :func:`to_milligrams`, :func:`to_areal_weight_g_m2`, :func:`to_millilitres`,
  :func:`to_millimetres`, :func:`to_square_metres`, :func:`to_celsius`: to the unit that the account uses.

Factors are those of pint, worked in fractions; no binary rounding comes in. A float is read as the shortest decimal
that stands for it, so that 0.1 is one tenth.
"""

from decimal import Decimal
from fractions import Fraction
from functools import cache
from typing import Any

from service.formulas._exact_numbers import as_decimal, as_fraction
from service.formulas._unit_table import UNIT_TABLE
from service.formulas.ranges import OutOfRange

__all__ = [
    "UNITS",
    "convert",
    "to_areal_weight_g_m2",
    "to_celsius",
    "to_grams",
    "to_millilitres",
    "to_milligrams",
    "to_millimetres",
    "to_square_metres",
]

UNITS: dict[str, str] = {unit: kind for unit, kind, _ in UNIT_TABLE}
"""Every unit that is understood, and its kind."""

_PINT_NAMES = {unit: pint_name for unit, _, pint_name in UNIT_TABLE}

MOST_MG = 10**12

NOISE_MG = Fraction(1, 1000)
"""Binary rounding of a sum of grams stays far below a microgram; what is smaller than that was never weighed."""


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


def _exact(value: Decimal | int | float | str, unit: str, to: str) -> Fraction:
    kind = _kind("unit", unit)
    _kind("to", to, kind)
    number = as_fraction("value", value)
    if kind != "temperature" and number < 0:
        raise OutOfRange("value", f"{value} {unit}", f"at least 0 for a {kind}")
    quantity = _registry().Quantity(number, _PINT_NAMES[unit])
    if kind == "temperature" and quantity.to("kelvin").magnitude < 0:
        raise OutOfRange("value", f"{value} {unit}", "at least absolute zero, -273.15 °C")
    return Fraction(quantity.to(_PINT_NAMES[to]).magnitude)


def _to(value: Decimal | int | float | str, unit: str, to: str) -> Fraction:
    _kind("unit", unit, UNITS[to])
    return _exact(value, unit, to)


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
    NIST SP 811, appendix B (from memory); inHg is the conventional inch of mercury.
    """
    return as_decimal(_exact(value, unit, to))


def to_grams(*, value: Decimal | int | float | str, unit: str) -> Decimal:
    """Mass in grams.

    Formula: the exact factor of the unit.

    Parameters
    ----------
    value : Decimal, int, float or str
        The number [in the unit given].
    unit : str
        A unit of mass in :data:`UNITS` [text].

    Returns
    -------
    Decimal
        Mass [g].

    Raises
    ------
    OutOfRange
        If the number is outside its range or the unit is not one of mass.

    Valid range
    -----------
    0, or 1e-12 to 1e12 of the unit, up to 40 digits.

    Examples
    --------
    >>> to_grams(value=1, unit="oz")
    Decimal('28.349523125')

    Source
    ------
    NIST SP 811, appendix B (from memory): 1 lb is 453.59237 g.
    """
    return as_decimal(_to(value, unit, "g"))


def to_milligrams(*, value: Decimal | int | float | str, unit: str, rounded: bool = False) -> int:
    """Mass in whole milligrams, as the account keeps it.

    Formula: the exact factor of the unit; less than a microgram beside a whole milligram is taken as the noise of a
    binary sum. A mass that really is finer than a milligram is refused, unless rounding (half to even) is asked for.

    Parameters
    ----------
    value : Decimal, int, float or str
        The number [in the unit given].
    unit : str
        A unit of mass in :data:`UNITS` [text].
    rounded : bool, optional
        True to round to the nearest milligram [-].

    Returns
    -------
    int
        Mass [mg].

    Raises
    ------
    OutOfRange
        If the number is outside its range, the unit is not one of mass, or the mass is finer than a milligram.

    Valid range
    -----------
    0 to 1e9 g, up to 40 digits.

    Examples
    --------
    >>> to_milligrams(value=13.8, unit="g")
    13800
    >>> to_milligrams(value=1, unit="oz", rounded=True)
    28350

    Source
    ------
    NIST SP 811, appendix B (from memory): 1 oz is 28 349.523125 mg.
    """
    exact = _to(value, unit, "mg")
    if exact > MOST_MG:
        raise OutOfRange("value", f"{value} {unit}", "at most 1e9 g")
    nearest = round(exact)
    if not rounded and abs(exact - nearest) > NOISE_MG:
        raise OutOfRange("value", f"{value} {unit}, which is {as_decimal(exact)} mg", "a whole number of milligrams")
    return nearest


def to_areal_weight_g_m2(*, value: Decimal | int | float | str, unit: str) -> Decimal:
    """Areal weight of a fabric or mat in grams per square metre.

    Formula: the exact factor of the unit.

    Parameters
    ----------
    value : Decimal, int, float or str
        The number [in the unit given].
    unit : str
        A unit of areal weight in :data:`UNITS` [text].

    Returns
    -------
    Decimal
        Areal weight [g/m²].

    Raises
    ------
    OutOfRange
        If the number is outside its range or the unit is not one of areal weight.

    Valid range
    -----------
    0, or 1e-12 to 1e12 of the unit, up to 40 digits.

    Examples
    --------
    >>> round(to_areal_weight_g_m2(value=6, unit="oz/yd²"), 2)
    Decimal('203.43')

    Source
    ------
    NIST SP 811, appendix B (from memory): 1 oz/yd² is 33.9057474748823 g/m².
    """
    return as_decimal(_to(value, unit, "g/m²"))


def to_millilitres(*, value: Decimal | int | float | str, unit: str) -> Decimal:
    """Volume in millilitres.

    Formula: the exact factor of the unit.

    Parameters
    ----------
    value : Decimal, int, float or str
        The number [in the unit given].
    unit : str
        A unit of volume in :data:`UNITS` [text].

    Returns
    -------
    Decimal
        Volume [ml].

    Raises
    ------
    OutOfRange
        If the number is outside its range or the unit is not one of volume.

    Valid range
    -----------
    0, or 1e-12 to 1e12 of the unit, up to 40 digits.

    Examples
    --------
    >>> to_millilitres(value=1, unit="US fl oz")
    Decimal('29.5735295625')

    Source
    ------
    NIST SP 811, appendix B (from memory): 1 US gal is 231 in³, 1 imp gal is 4.54609 l.
    """
    return as_decimal(_to(value, unit, "ml"))


def to_millimetres(*, value: Decimal | int | float | str, unit: str) -> Decimal:
    """Length in millimetres.

    Formula: the exact factor of the unit.

    Parameters
    ----------
    value : Decimal, int, float or str
        The number [in the unit given].
    unit : str
        A unit of length in :data:`UNITS` [text].

    Returns
    -------
    Decimal
        Length [mm].

    Raises
    ------
    OutOfRange
        If the number is outside its range or the unit is not one of length.

    Valid range
    -----------
    0, or 1e-12 to 1e12 of the unit, up to 40 digits.

    Examples
    --------
    >>> to_millimetres(value=15, unit="mil")
    Decimal('0.381')

    Source
    ------
    NIST SP 811, appendix B (from memory): 1 in is 25.4 mm.
    """
    return as_decimal(_to(value, unit, "mm"))


def to_square_metres(*, value: Decimal | int | float | str, unit: str) -> Decimal:
    """Area in square metres.

    Formula: the exact factor of the unit.

    Parameters
    ----------
    value : Decimal, int, float or str
        The number [in the unit given].
    unit : str
        A unit of area in :data:`UNITS` [text].

    Returns
    -------
    Decimal
        Area [m²].

    Raises
    ------
    OutOfRange
        If the number is outside its range or the unit is not one of area.

    Valid range
    -----------
    0, or 1e-12 to 1e12 of the unit, up to 40 digits.

    Examples
    --------
    >>> to_square_metres(value=1, unit="yd²")
    Decimal('0.83612736')

    Source
    ------
    NIST SP 811, appendix B (from memory): 1 in is 25.4 mm.
    """
    return as_decimal(_to(value, unit, "m²"))


def to_celsius(*, value: Decimal | int | float | str, unit: str) -> Decimal:
    """Temperature in degrees Celsius.

    Formula: the exact factor of the unit and its zero.

    Parameters
    ----------
    value : Decimal, int, float or str
        The number [in the unit given].
    unit : str
        A unit of temperature in :data:`UNITS` [text].

    Returns
    -------
    Decimal
        Temperature [°C].

    Raises
    ------
    OutOfRange
        If the number is outside its range or the unit is not one of temperature.

    Valid range
    -----------
    0, or 1e-12 to 1e12 of the unit, up to 40 digits; not below absolute zero.

    Examples
    --------
    >>> to_celsius(value=77, unit="°F")
    Decimal('25')

    Source
    ------
    NIST SP 811, appendix B (from memory): ``(F - 32)/1.8``.
    """
    return as_decimal(_to(value, unit, "°C"))
