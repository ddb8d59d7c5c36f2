"""A line that a scale sends over its cable: the number that it shows, in which unit, and whether it has settled.

Nothing is known of makers. A scale's own format may be said with its record: `ST,*,{number}{unit}` is how a line of a
settled reading is written, with `*` for anything. Without one, a line is read as most are written: a number, its unit,
and somewhere a word for settled or not (common practice, no source).
"""

import re
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal
from functools import cache

LONGEST_LINE = 100
LONGEST_FORMAT = 80
_MOST_WILD = 4
_MG = {"g": Decimal(1000), "kg": Decimal(1_000_000), "mg": Decimal(1)}
_NUMBER = r"(?P<number>[+-]?\s{0,12}\d{1,9}(?:[.,]\d{1,6})?)"
_UNIT = r"(?P<unit>kg|mg|g)"
_USUAL = re.compile(rf"(?<![\d.])(?<!\d,){_NUMBER}\s{{0,6}}{_UNIT}?(?![\w.,]*\d)", re.IGNORECASE)
_WORDS = re.compile(r"[a-z~?]+", re.IGNORECASE)
_MOVES = frozenset({"us", "sd", "d", "m", "mot", "dyn", "unstable", "dynamic", "motion", "?", "~"})
_NOT_A_MASS = frozenset({"ol", "ul", "err", "error", "over", "under", "hi", "lo"})


@dataclass(frozen=True, slots=True)
class ScaleLine:
    """What a line says.

    Attributes
    ----------
    mass_mg
        As shown, in whole milligrams.
    settled
        Whether the display stood still, as far as the line says so.
    """

    mass_mg: int
    settled: bool


class NoFormat(ValueError):
    """What was given is no format of a line; the sentence says why."""


@cache
def compiled(line_format: str) -> re.Pattern[str]:
    """The pattern of a format of its own; `NoFormat` where it is none.

    >>> compiled("ST,*,{number}{unit}").fullmatch("ST,GS,+  13.80 g")["number"]
    '+  13.80'
    """
    if line_format.count("{number}") != 1 or line_format.count("{unit}") > 1:
        raise NoFormat("A format has {number} once, and {unit} once at most.")
    pieces = re.split(r"(\{number\}|\{unit\}|\*|\s+)", line_format)
    if pieces.count("*") > _MOST_WILD or len(line_format) > LONGEST_FORMAT:
        raise NoFormat(f"A format has at most {_MOST_WILD} asterisks and {LONGEST_FORMAT} characters.")
    if any("{" in piece or "}" in piece for piece in pieces if piece not in ("{number}", "{unit}")):
        raise NoFormat("Only {number} and {unit} stand in braces.")
    written = [_piece(piece) for piece in pieces if piece]
    return re.compile(r"\s*" + "".join(written) + r"\s*", re.IGNORECASE)


def _piece(piece: str) -> str:
    if piece.isspace():
        return r"\s{0,20}"
    return {"{number}": _NUMBER, "{unit}": rf"\s{{0,6}}{_UNIT}?", "*": r".{0,40}?"}.get(piece, re.escape(piece))


def read_line(line: str, line_format: str | None = None) -> ScaleLine | None:
    """What a line of a scale says, or nothing where there is no mass in it.

    With a format of its own, what is written so has settled, and every other line has not.

    >>> read_line("ST,13.80g"), read_line("US,GS,+  13,7 g")
    (ScaleLine(mass_mg=13800, settled=True), ScaleLine(mass_mg=13700, settled=False))
    >>> [read_line(line).mass_mg for line in ("     0.2600 kg", "S S     100.00 g", "  12.31")]
    [260000, 100000, 12310]
    >>> read_line("OL"), read_line("hello"), read_line("2026-11-03 09:00"), read_line("-  1.5 g")
    (None, None, None, ScaleLine(mass_mg=-1500, settled=True))
    >>> read_line("  230.0 g ok", "{number} {unit} ok"), read_line("  230.0 g", "{number} {unit} ok")
    (ScaleLine(mass_mg=230000, settled=True), ScaleLine(mass_mg=230000, settled=False))
    """
    if len(line) > LONGEST_LINE or not line.isprintable():
        return None
    own = compiled(line_format).fullmatch(line) if line_format else None
    found = own or next(iter(_USUAL.finditer(line)), None)
    words = {word.lower() for word in _WORDS.findall(line)}
    if found is None or (own is None and (words & _NOT_A_MASS or len(list(_USUAL.finditer(line))) > 1)):
        return None
    number = re.sub(r"\s", "", found["number"]).replace(",", ".")
    mass = Decimal(number) * _MG[(found["unit"] or "g").lower()]
    settled = own is not None if line_format else not words & _MOVES
    return ScaleLine(int(mass.to_integral_value(ROUND_HALF_EVEN)), settled)
