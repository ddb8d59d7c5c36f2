"""The one refusal of a formula: an argument outside the range in which the formula holds."""

import math


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
