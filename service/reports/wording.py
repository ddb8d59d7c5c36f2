"""How numbers, dates and codes are written in the reports."""

import re
from collections.abc import Sequence
from datetime import date, datetime
from zoneinfo import ZoneInfo

from labels.codes import grouped
from service.operations.door.shop import span as span

# The font has a narrow space that does not break; it stands between a number and its unit.
NARROW = "\u202f"
MINUS = "−"
_WORDS = ("none", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
# Where a sentence ends, and not an abbreviation.
_SENTENCE = re.compile(r"(.{20,}(?<!\brev)(?<!\bNo))\. (?=[A-Z0-9])")
_ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth")


def code(text: str) -> str:
    """A code in its groups.

    >>> code("P00087K")
    'P00087 K'
    """
    return grouped(text)


def number(value: float, decimals: int = 1) -> str:
    """A number with its sign as printed, of as many decimals.

    >>> number(-2.84)
    '−2.8'
    """
    return f"{value:.{decimals}f}".replace("-", MINUS)


def figure(value: float, unit: str = "") -> str:
    """What was measured or counted, in no more figures than are known of it, and all that stand before the point.

    Per cent are whole ones, below ten in two figures: a pot's scale knows its ratio to no more. Shares are in three.

    >>> figure(0.398058), figure(18.5), figure(-25.0), figure(208.5), figure(12345.6)
    ('0.398', '18.5', '−25', '208.5', '12346')
    >>> figure(47.32, "% of its tolerance"), figure(-4.732, "% of its tolerance"), figure(153.8, "%")
    ('47', '−4.7', '154')
    """
    size = abs(value)
    if unit.startswith("%"):
        said = f"{value:.0f}" if size >= 9.95 else f"{value:.2g}"
    else:
        said = f"{value:.0f}" if size >= 1000 else f"{value:.4g}" if size >= 1 else f"{value:.3g}"
    return said.replace("-", MINUS)


def signed(value: float, decimals: int = 1) -> str:
    """A number that always shows its sign.

    >>> signed(2.14), signed(-0.04)
    ('+2.1', '0.0')
    """
    text = f"{value:+.{decimals}f}"
    return text[1:] if float(text) == 0 else text.replace("-", MINUS)


def grams(mg: int | None) -> str:
    """Milligrams as grams, as the book has them: at least one decimal, at most three.

    >>> grams(310200), grams(46500), grams(13824), grams(None)
    ('310.2\u202fg', '46.5\u202fg', '13.824\u202fg', '–')
    """
    if mg is None:
        return "–"
    text = f"{mg / 1000:.3f}".rstrip("0")
    return f"{text + '0' if text.endswith('.') else text}{NARROW}g"


def metres(mm: int | None) -> str:
    """Millimetres as metres, with every digit that the book has.

    >>> metres(12345), metres(50000), metres(None)
    ('12.345\u202fm', '50\u202fm', '–')
    """
    return "–" if mm is None else f"{f'{mm / 1000:.3f}'.rstrip('0').rstrip('.')}{NARROW}m"


def day(value: date | None) -> str:
    """A day: 3 Nov 2026."""
    return "–" if value is None else f"{value.day} {value:%b %Y}"


def local_day(at: datetime | None, zone: str) -> str:
    return "–" if at is None else day(at.astimezone(ZoneInfo(zone)).date())


def local_time(at: datetime | None, zone: str) -> str:
    """A moment on the shop's clock: 3 Nov 2026 09:12."""
    if at is None:
        return "–"
    there = at.astimezone(ZoneInfo(zone))
    return f"{day(there.date())} {there:%H:%M}"


def count(value: int) -> str:
    """A count in a sentence: none, one, then figures.

    >>> count(0), count(1), count(6)
    ('none', 'one', '6')
    """
    return _WORDS[value] if value < 2 else str(value)


def in_words(value: int) -> str:
    """A count at the head of a sentence, in words up to twelve.

    >>> in_words(3), in_words(15)
    ('three', '15')
    """
    return _WORDS[value] if 0 < value < len(_WORDS) else ("no" if value == 0 else str(value))


def ordinal(place: int) -> str:
    """The place in a row, from 1.

    >>> ordinal(2), ordinal(11)
    ('second', '11th')
    """
    return _ORDINALS[place - 1] if place <= len(_ORDINALS) else f"{place}th"


def p_value(p: float) -> str:
    """A chance as it is printed; very small ones only say so.

    >>> p_value(0.00003), p_value(0.0234), p_value(0.4)
    ('p < 0.0001', 'p = 0.023', 'p = 0.40')
    """
    if p < 0.0001:
        return "p < 0.0001"
    return f"p = {p:.2g}" if p < 0.1 else f"p = {p:.2f}"


def p_number(p: float) -> str:
    """A chance without its letter, for a column or a second figure.

    >>> p_number(0.00003), p_number(0.0234)
    ('< 0.0001', '0.023')
    """
    return p_value(p).removeprefix("p ").removeprefix("= ")


def one_of(p: float) -> str:
    """The smallest chance of all as the ways that there are.

    >>> one_of(1 / 12870), one_of(0.0), one_of(1.0)
    ('one of 12,870 ways', 'less than one of a million ways', '1: there is no other way')
    """
    if p > 0.999:
        return "1: there is no other way"
    return f"one of {1 / p:,.0f} ways" if p >= 1e-6 else "less than one of a million ways"


def odds(value: float | None) -> str:
    """An odds ratio in two figures, without an exponent; nothing known is without end.

    >>> odds(9.13), odds(1240.0), odds(None)
    ('9.1', '1200', '∞')
    """
    if value is None:
        return "∞"
    return f"{round(value, -2):.0f}" if value >= 1000 else f"{value:.0f}" if value >= 100 else f"{value:.2g}"


# How the name of a figure ends, and the unit that is printed for it.
_UNITS = {"_c": " °C", "_g": " g", "_mm": " mm", "_um": " µm", "_mbar": " mbar", "_min": " min", "_pct": " %",
          "_k": " K", "_deg": "°", "_m2": " m²", "_g_m3": " g/m³", "_hpa": " hPa"}  # fmt: skip


def fact(name: str, value: object) -> str:
    """A figure of a step in words: its name, its value, its unit.

    >>> fact("trimmed_off_g", 62.0), fact("until_gel", True), fact("drop_mbar", -3.5), fact("mass_mg", 1050200)
    ('trimmed off 62\u202fg', 'until gel: yes', 'drop −3.5\u202fmbar', 'mass 1050.2\u202fg')
    """
    ending = next((e for e in _UNITS if name.endswith(e)), "")
    words = name.removesuffix(ending).replace("_", " ")
    if isinstance(value, bool):
        return f"{words}: {'yes' if value else 'no'}"
    if isinstance(value, int) and name.endswith("_mg"):
        return f"{words.removesuffix(' mg')} {grams(value)}"
    if isinstance(value, int | float):
        return f"{words} {value:g}{_UNITS.get(ending, '').replace(' ', NARROW)}".replace("-", MINUS)
    if isinstance(value, list | tuple):
        said = [listed([fact(k, v) for k, v in one.items()]) if isinstance(one, dict) else str(one) for one in value]
        return f"{words} {'; '.join(said) if any(isinstance(one, dict) for one in value) else listed(said)}"
    return str(value) if words in ("sentence", "remark", "text", "note") else f"{words}: {value}"


def shortened(text: str, longest: int = 90) -> str:
    """A text cut after a sentence, or else at a word, where the whole of it stands elsewhere.

    >>> shortened("soft behind the gel coat", 16)
    'soft behind the…'
    >>> shortened("Soft behind the gel coat. 2.30 % of the resin", 40)
    'Soft behind the gel coat'
    """
    if len(text) <= longest:
        return text
    sentence = _SENTENCE.match(text[: longest + 1])
    return sentence[1] if sentence else text[: longest + 1].rsplit(" ", 1)[0].rstrip(".,;:") + "…"


def plural(value: int, one: str, many: str | None = None) -> str:
    """A count with its noun.

    >>> plural(1, "day"), plural(3, "day")
    ('1 day', '3 days')
    """
    return f"{value} {one if value == 1 else many or one + 's'}"


def listed(words: Sequence[str]) -> str:
    """Words in a sentence.

    >>> listed(["a", "b", "c"])
    'a, b and c'
    """
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} and {words[-1]}"


def first_of(words: Sequence[str], most: int) -> str:
    """The first of several things, and how many more there are.

    >>> first_of(["lot A", "lot B", "lot C"], 2), first_of(["lot A", "lot B"], 2)
    ('lot A, lot B and 1 more', 'lot A and lot B')
    """
    return listed(words) if len(words) <= most else f"{', '.join(words[:most])} and {len(words) - most} more"


def capital(text: str) -> str:
    """A sentence's first letter in capital.

    >>> capital("roll C00318 3")
    'Roll C00318 3'
    """
    return text[:1].upper() + text[1:]


def second_component(catalyst: str | None) -> str:
    """What the second component of a pot is called; ``catalyst`` is what is told of its peroxide, if one starts it."""
    return "hardener" if catalyst is None else "catalyst"


def runs(numbers: Sequence[int]) -> str:
    """Numbers in their order, those that follow each other as from and to.

    >>> runs([12, 13, 14, 17, 20, 21])
    '12–14, 17, 20–21'
    """
    told: list[list[int]] = []
    for number in numbers:
        if told and number == told[-1][-1] + 1:
            told[-1] = [told[-1][0], number]
        else:
            told.append([number])
    return ", ".join("–".join(str(n) for n in one) for one in told)
