"""The QR symbol of a label: what it says, and its modules.

Everything is in capitals, so that the symbol stays in the alphanumeric mode of ISO/IEC 18004 (45 characters: digits,
capitals, space and $ % * + - . / :). Modules are 4 dots of a 203 dpi printer, 0.5005 mm, above the 0.396 mm that
GS1 asks of a symbol at a point of sale (GS1 General Specifications 5.12.3.1).
"""

import re
from dataclasses import dataclass

from labels.codes import parse
from labels.errors import BadFact, DoesNotFit

DOT_MM = 25.4 / 203
MODULE_MM = 4 * DOT_MM
QUIET_MODULES = 4

MAX_PAYLOAD = 87
"""Alphanumeric characters of version 5 at level Q (ISO/IEC 18004); the small label has no room for a larger symbol."""

MAX_ISSUE = 999_999

# Of the eight masks this one has the fewest penalty points on average over such addresses (591, the worst 838;
# 60 addresses, version 3, level Q). Trying all eight for each label would cost six times the encoding.
_MASK = 0

ORIGIN = re.compile(r"HTTPS?://[A-Z0-9](?:[A-Z0-9.-]*[A-Z0-9])?(?::[0-9]{1,5})?")
"""Scheme, host and port, in capitals: what a code leads to (the origin of RFC 6454)."""


@dataclass(frozen=True)
class Symbol:
    """A QR symbol without its quiet zone."""

    matrix: tuple[tuple[bool, ...], ...]
    version: int
    level: str

    @property
    def modules(self) -> int:
        """Modules along one side."""
        return len(self.matrix)

    @property
    def side_mm(self) -> float:
        """Side of the symbol with its quiet zone [mm]."""
        return (self.modules + 2 * QUIET_MODULES) * MODULE_MM


def payload(origin: str, code: str, issue: int) -> str:
    """What the symbol says: an address that opens the item's page.

    >>> payload("https://potmark.example", "C003183", 2)
    'HTTPS://POTMARK.EXAMPLE/I/C003183/2'
    >>> payload("http://192.0.2.17:8000", "C003183", 2)
    'HTTP://192.0.2.17:8000/I/C003183/2'

    Raises:
        BadFact: the origin can't stand in a QR symbol's alphanumeric mode, or the issue is out of range.
        Misread: the code is none of ours.
        DoesNotFit: the address is too long for the largest symbol that labels carry.
    """
    if not 1 <= issue <= MAX_ISSUE:
        raise BadFact(f"issue must be from 1 to {MAX_ISSUE}, not {issue}.")
    text = f"{address(origin, code)}/{issue}"
    if len(text) > MAX_PAYLOAD:
        raise DoesNotFit(
            f"The address in the QR code has {len(text)} characters and {MAX_PAYLOAD} fit: use a shorter host name."
        )
    return text


def address(origin: str, code: str) -> str:
    """The address of an item's page, in the capitals that a symbol takes.

    >>> address("https://potmark.example", "C003183")
    'HTTPS://POTMARK.EXAMPLE/I/C003183'

    Raises:
        BadFact: the origin can't stand in a QR symbol's alphanumeric mode.
        Misread: the code is none of ours.
    """
    capitals = origin.upper()
    if not origin.isascii() or not ORIGIN.fullmatch(capitals):
        raise BadFact(
            f"origin must be http:// or https:// and a plain host name of letters, digits, dots and hyphens, "
            f"not “{origin[:60]}”."
        )
    return f"{capitals}/I/{parse(code).text}"


def symbol(text: str) -> Symbol:
    """Encode an address: level H where that takes no larger version than level Q does, else level Q.

    Raises:
        DoesNotFit: the text isn't in the alphanumeric set or is longer than the largest symbol holds.
    """
    from qrcode import QRCode, constants, util

    if not util.RE_ALPHA_NUM.match(text.encode()):
        raise DoesNotFit(f"“{text[:90]}” has a character outside the alphanumeric mode of QR codes.")
    if len(text) > MAX_PAYLOAD:
        raise DoesNotFit(f"The text has {len(text)} characters and {MAX_PAYLOAD} fit in a label's QR code.")

    def encoder(level: int) -> QRCode:
        code = QRCode(error_correction=level, mask_pattern=_MASK, border=0)
        code.add_data(util.QRData(text, mode=util.MODE_ALPHA_NUM))
        code.best_fit()
        return code

    chosen, level = encoder(constants.ERROR_CORRECT_Q), "Q"
    strong = encoder(constants.ERROR_CORRECT_H)
    if strong.version == chosen.version:
        chosen, level = strong, "H"
    chosen.make(fit=False)
    return Symbol(
        matrix=tuple(tuple(bool(module) for module in row) for row in chosen.modules),
        version=chosen.version,
        level=level,
    )


def path(made: Symbol) -> str:
    """The dark modules as one SVG path, in module units from the symbol's corner: one run of modules, one rectangle."""
    drawn = []
    for y, row in enumerate(made.matrix):
        x = 0
        while x < len(row):
            run = x
            while run < len(row) and row[run]:
                run += 1
            if run > x:
                drawn.append(f"M{x} {y}h{run - x}v1h{x - run}z")
            x = run + 1
    return "".join(drawn)
