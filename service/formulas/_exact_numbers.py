"""Numbers read and written without binary rounding."""

import re
from decimal import Context, Decimal
from fractions import Fraction

from service.formulas.ranges import OutOfRange

# Beyond these a value is a slip, and its exact fraction could fill the memory.
MOST_EXPONENT = 12
MOST_DIGITS = 40

_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?", re.ASCII)

_TO_DECIMAL = Context(prec=28)


def _readable(value: object) -> bool:
    # Long integers and texts are refused unread: reading them takes time that grows with the square of their length.
    if isinstance(value, int):
        return not isinstance(value, bool) and abs(value) <= 10**MOST_EXPONENT
    if isinstance(value, str):
        return len(value) <= 2 * MOST_DIGITS and _NUMBER.fullmatch(value) is not None
    return isinstance(value, float | Decimal)


def as_fraction(argument: str, value: Decimal | int | float | str) -> Fraction:
    """Hand back ``value`` exactly, or refuse it. A float stands for the shortest decimal that reads back as it."""
    allowed = f"a number of up to {MOST_DIGITS} digits, 0 or from 1e-{MOST_EXPONENT} to 1e{MOST_EXPONENT} in size"
    if not _readable(value):
        raise OutOfRange(argument, "too large" if type(value) is int else repr(value)[:40], allowed)
    number = Decimal(repr(float(value)) if isinstance(value, float) else value)
    fits = number.is_finite() and len(number.as_tuple().digits) <= MOST_DIGITS
    if not fits or (number and not -MOST_EXPONENT <= number.adjusted() <= MOST_EXPONENT):
        raise OutOfRange(argument, str(value)[:40], allowed)
    return Fraction(number) if number else Fraction(0)


def as_decimal(exact: Fraction) -> Decimal:
    """Hand back ``exact`` as a decimal of at most 28 digits, written without an exponent where it is whole."""
    quotient = _TO_DECIMAL.divide(Decimal(exact.numerator), Decimal(exact.denominator)).normalize(_TO_DECIMAL)
    return quotient.quantize(Decimal(1)) if quotient == quotient.to_integral_value() else quotient
