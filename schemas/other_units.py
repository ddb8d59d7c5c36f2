"""Amounts in another unit than the field's own: ``{"value": 5.2, "unit": "oz"}`` where a plain number means grams.

The exact conversion is handed in when the service is put together; without it a field takes plain numbers alone.
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

import marshmallow as ma

# How a field's name ends -> its unit. The longer ending comes first: g/m² is no area.
_ENDINGS = (
    ("_g_m2", "g/m²"),
    ("_g_cm3", "g/ml"),
    ("_g_ml", "g/ml"),
    ("_mbar", "mbar"),
    ("_m2", "m²"),
    ("_mm", "mm"),
    ("_g", "g"),
    ("_c", "°C"),
)
# In these an amount finer than the account keeps was really given so; from any other unit it comes of the conversion.
METRIC = frozenset({"mg", "g", "kg", "mm", "cm", "m"})


@dataclass(frozen=True, slots=True)
class Converter:
    """The units that are understood, each with its kind, and the exact conversion between two of a kind.

    ``convert(value, unit, to)`` raises ``ValueError`` with a sentence.
    """

    kinds: Mapping[str, str]
    convert: Callable[[int | float, str, str], Decimal]


_converters: list[Converter] = []


def set_converter(converter: Converter) -> None:
    """Hand in the conversion that all fields use from now on."""
    _converters[:] = [converter]


def unit_of(name: str | None) -> str | None:
    """The unit that a field of this name is in; nothing where it has none that can be told otherwise."""
    return next((unit for ending, unit in _ENDINGS if name is not None and name.endswith(ending)), None)


def units_of(name: str | None) -> tuple[str, ...]:
    """The units in which a field of this name may be given, its own first."""
    own = unit_of(name)
    if own is None or not _converters:
        return ()
    kinds = _converters[0].kinds
    return (own, *(unit for unit, kind in kinds.items() if kind == kinds[own] and unit != own))


def in_own_unit(name: str | None, value: Any) -> tuple[Any, bool]:
    """The value in the field's own unit, and whether it may be finer than the account because it was converted."""
    units = units_of(name)
    if not isinstance(value, dict) or not units:
        return value, False
    example = f'{{"value": 1, "unit": "{units[-1]}"}}'
    if set(value) != {"value", "unit"}:
        raise ma.ValidationError(f"Give a number, or a number and its unit such as {example}.")
    number, unit = value["value"], value["unit"]
    if isinstance(number, bool) or not isinstance(number, int | float) or not math.isfinite(_as_float(number)):
        raise ma.ValidationError({"value": ["Give a number."]})
    if not isinstance(unit, str) or unit not in units:
        raise ma.ValidationError({"unit": [f"Give one of: {', '.join(units)}."]})
    try:
        return _converters[0].convert(number, unit, units[0]), unit not in METRIC
    except ValueError as refusal:
        raise ma.ValidationError({"value": [str(refusal)]}) from None


def _as_float(number: int | float) -> float:
    try:
        return float(number)
    except OverflowError:
        return math.inf
