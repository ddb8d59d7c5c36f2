"""Codes on labels: kind letter, item number of at least five digits, check character.

The check character is ISO/IEC 7064 MOD 37-2 over the letter and the digits. That system catches every single wrong
character and every swap of two neighbours. A typed O is read as 0 and a typed I as 1, so numbers whose check
character would be O, I or `*` are never given out: an O in a code is always a misread 0, an I always a misread 1.
Separators (spaces, hyphens) are ignored; a lost or doubled character is caught only as often as chance allows.
"""

import re
from dataclasses import dataclass

from stdnum.iso7064 import mod_37_2

from labels.errors import Misread

KINDS = "LCKMPTSRAB"
"""Lot, container, kit, mix, part, mould (tool), scale, cure run, place (area), badge."""

MIN_DIGITS = 5
MAX_NUMBER = 999_999_999_999
UNUSED_CHECKS = "*OI"

_SEPARATORS = re.compile(r"[\s\u00ad\u2010-\u2015\u2212-]+")
_URL = re.compile(r"https?://(?P<host>[^/?#]+)/I/(?P<code>[^/?#]+)(?:/(?P<issue>[0-9]{1,6}))?/?", re.IGNORECASE)
_CODE = re.compile(r"(?P<kind>[A-Z])(?P<digits>[0-9OI]{5,12})(?P<check>[0-9A-Z])")
_AS_DIGITS = str.maketrans("OI", "01")


@dataclass(frozen=True)
class Code:
    """A code that was read: what it names, its canonical text, and what a scanned address added."""

    kind: str
    number: int
    text: str
    issue: int | None = None
    host: str | None = None


def _body(kind: str, number: int) -> str:
    if len(kind) != 1 or kind not in KINDS:
        raise ValueError(f"kind must be one of {', '.join(KINDS)}, not {kind!r}.")
    if not 1 <= number <= MAX_NUMBER:
        raise ValueError(f"number must be from 1 to {MAX_NUMBER}, not {number}.")
    return f"{kind}{number:0{MIN_DIGITS}d}"


def usable(kind: str, number: int) -> bool:
    """Whether this number may be given to an item of this kind.

    >>> usable("C", 318)
    True
    """
    return mod_37_2.calc_check_digit(_body(kind, number)) not in UNUSED_CHECKS


def next_usable(kind: str, after: int) -> int:
    """The smallest number above `after` that may be given to an item of this kind.

    >>> next_usable("C", 317)
    318
    """
    number = after + 1
    while not usable(kind, number):
        number += 1
    return number


def make(kind: str, number: int) -> str:
    """The code of an item.

    >>> make("C", 318)
    'C003183'

    Raises:
        ValueError: kind isn't a kind letter, number is out of range, or the number is one that is skipped.
    """
    body = _body(kind, number)
    check = mod_37_2.calc_check_digit(body)
    if check in UNUSED_CHECKS:
        raise ValueError(f"number {number} is skipped for kind {kind}: its check character would be {check}.")
    return body + check


def grouped(code: str) -> str:
    """The code as it is printed and read aloud, check character apart.

    >>> grouped("C003183")
    'C00318 3'
    """
    return f"{code[:-1]} {code[-1]}"


def parse(text: str) -> Code:
    """Read a code as typed, as printed, or as scanned with its address.

    >>> parse("c-oo318 3")
    Code(kind='C', number=318, text='C003183', issue=None, host=None)
    >>> parse("HTTPS://POTMARK.HERON-YARD.EXAMPLE/I/C003183/2").issue
    2

    The host of a scanned address is handed back in capitals and not judged: the caller knows its own.

    Raises:
        Misread: with one sentence for the person who typed or scanned it.
    """
    address = _URL.fullmatch(text.strip())
    raw = address["code"] if address else text
    shown = raw.strip()[:40]
    compact = _SEPARATORS.sub("", raw)
    # ASCII first: upper-casing a dotless or long letter would turn it into one of ours.
    found = _CODE.fullmatch(compact.upper()) if compact.isascii() else None
    if found is None or found["kind"] not in KINDS:
        raise Misread(
            f"“{shown}” is not a code of this shop: a code is a letter, at least five digits and a check character."
        )
    digits, check = found["digits"].translate(_AS_DIGITS), found["check"].translate(_AS_DIGITS)
    number = int(digits)
    canonical = f"{found['kind']}{digits}{check}"
    if not mod_37_2.is_valid(canonical) or number == 0 or len(digits) != max(MIN_DIGITS, len(str(number))):
        raise Misread(f"“{shown}” was misread: its check character does not fit. Read the code again.")
    issue = int(address["issue"]) if address and address["issue"] else None
    if issue == 0:
        raise Misread(f"“{shown}” was misread: labels are numbered from 1.")
    return Code(
        kind=found["kind"],
        number=number,
        text=canonical,
        issue=issue,
        host=address["host"].upper() if address else None,
    )
