"""The one refusal of a formula, and the ranges that several share: masses on a bench, ratios, densities, lists."""

import math
from collections.abc import Iterable
from typing import Any

LEAST_MASS_G = 0.001
"""The smallest mass that the account keeps, 1 mg."""

MOST_MASS_G = 1e6
"""One tonne: more than any bench mixes."""


class OutOfRange(ValueError):
    """An argument lies outside the range in which the formula holds.

    The sentence names the argument, what was given and the range, so that it can be shown as it is.
    """

    def __init__(self, argument: str, given: object, allowed: str) -> None:
        self.argument = argument
        self.given = given
        self.allowed = allowed
        super().__init__(f"{argument} is {given}; it must be {allowed}.")


def within(
    argument: str,
    value: float,
    low: float,
    high: float,
    *,
    above: bool = False,
    below: bool = False,
    unit: str = "",
) -> float:
    """Hand back ``value`` as a float, or refuse it.

    ``above`` makes the lower end exclusive, ``below`` the upper one. Booleans, text, NaN and infinities are refused.
    """
    text = f"{'above' if above else 'at least'} {low:g} and {'below' if below else 'at most'} {high:g}"
    allowed = f"a number {text}{' ' + unit if unit else ''}"
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise OutOfRange(argument, repr(value)[:40], allowed)
    if isinstance(value, float) and not math.isfinite(value):
        raise OutOfRange(argument, value, allowed)
    if isinstance(value, int) and abs(value) > 10**300:
        raise OutOfRange(argument, "too large", allowed)
    number = float(value)
    too_low = number <= low if above else number < low
    too_high = number >= high if below else number > high
    if too_low or too_high:
        raise OutOfRange(argument, f"{number:g}", allowed)
    return number


def mass(argument: str, value: float) -> float:
    """Hand back a mass between one milligram and one tonne [g], or refuse it."""
    return within(argument, value, LEAST_MASS_G, MOST_MASS_G, unit="g")


def mix_ratio(argument: str, value: float) -> float:
    """Hand back a ratio of hardener to resin between 0.001 and 10 [-], or refuse it."""
    return within(argument, value, 0.001, 10)


def density(argument: str, value: float) -> float:
    """Hand back a density of a liquid between 0.5 and 5 g/ml, or refuse it."""
    return within(argument, value, 0.5, 5, unit="g/ml")


def tolerance(argument: str, value: float) -> float:
    """Hand back a tolerance above 0 and below 100 %, or refuse it."""
    return within(argument, value, 0, 100, above=True, below=True, unit="%")


def whole_number(argument: str, value: int, low: int, high: int) -> int:
    """Hand back a whole number from ``low`` to ``high``, or refuse it."""
    if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
        # The text of a very long integer is itself an error in Python, so it is not written out.
        given = "too far off" if type(value) is int and abs(value) > 10**18 else repr(value)[:40]
        raise OutOfRange(argument, given, f"a whole number from {low} to {high}")
    return value


def series(argument: str, values: Iterable[Any], *, least: int, most: int) -> tuple[Any, ...]:
    """Hand back ``values`` as a tuple of ``least`` to ``most`` members, or refuse them; members are not looked at."""
    allowed = f"a list of {least} to {most} values"
    if isinstance(values, str | bytes) or not isinstance(values, Iterable):
        raise OutOfRange(argument, repr(values)[:40], allowed)
    members = tuple(values)
    if not least <= len(members) <= most:
        raise OutOfRange(argument, f"a list of {len(members)}", allowed)
    return members
