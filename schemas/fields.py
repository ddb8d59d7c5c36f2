"""Fields of the API: each reads one kind of value exactly, or says in one sentence what it wants."""

import math
import re
import unicodedata
from collections.abc import Mapping
from datetime import UTC, datetime
from decimal import Decimal
from enum import StrEnum
from typing import Any

import marshmallow as ma

from labels.codes import Code as Read
from labels.codes import parse
from labels.errors import Misread
from schemas.other_units import in_own_unit
from schemas.words import Kind

# The largest whole number that every JSON reader keeps exactly.
LARGEST_WHOLE = 2**53 - 1
# RFC 3339; Python's own reader takes any character for the T, weeks for days, and what follows a NUL.
_RFC_3339 = re.compile(r"\d{4}-\d\d-\d\d[Tt ]\d\d:\d\d(:\d\d(\.\d{1,12})?)?(Z|[+-]\d\d:\d\d)", re.ASCII)


def _from_query(field: ma.fields.Field[Any], value: Any) -> Any:
    """A number in a query arrives as text."""
    if isinstance(value, str) and len(value) <= 40 and getattr(field.root, "in_query", False):
        try:
            return float(value)
        except ValueError:
            return value
    return value


def _given(field: ma.fields.Field[Any], value: Any) -> tuple[Any, bool]:
    """The value in the field's own unit, exactly, and whether it was converted from a unit that is not metric."""
    return in_own_unit(field.name, _from_query(field, value))


class Grams(ma.fields.Field[int]):
    """Whole milligrams inside, a JSON number of grams outside: `mass_g` is kept as `mass_mg`.

    From ounces and pounds it is rounded to the nearest milligram.
    """

    default_error_messages = {
        "invalid": "Give grams as a number.",
        "places": "Give at most three decimals of a gram.",
        "range": "Give grams from {low} to {high}.",
    }

    def __init__(self, *, low: float = 0.001, high: float = 2_000_000, **kwargs: Any) -> None:
        self.low, self.high = low, high
        super().__init__(**kwargs)

    def _bind_to_schema(self, field_name: str, parent: Any) -> None:
        if self.attribute is None and field_name.endswith("_g"):
            self.attribute = f"{field_name[:-2]}_mg"
        super()._bind_to_schema(field_name, parent)

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> int:
        value, converted = _given(self, value)
        if isinstance(value, bool) or not isinstance(value, int | float | Decimal):
            raise self.make_error("invalid")
        if isinstance(value, float) and not math.isfinite(value):
            raise self.make_error("invalid")
        if not self.low <= value <= self.high:
            raise self.make_error("range", low=self.low, high=self.high)
        exact = (value if isinstance(value, Decimal) else Decimal(repr(value))) * 1000
        # Noise of binary fractions below a microgram is not a fourth decimal that somebody weighed.
        nearest = exact.quantize(Decimal(1))
        if not converted and abs(exact - nearest) > Decimal("0.001"):
            raise self.make_error("places")
        return int(nearest)

    def _serialize(self, value: Any, attr: str | None, obj: Any, **kwargs: Any) -> float | None:
        return None if value is None else value / 1000


class Text(ma.fields.String):
    """Printable text, normalised (NFC), of at most `longest` characters.

    Without control characters, and without those that are there and cannot be seen: format and direction marks, line
    and paragraph separators. On paper a right-to-left override turns the dates and limits after it round.
    """

    default_error_messages = {
        "invalid": "Give text.",
        "control": "Leave out characters that cannot be printed.",
        "unseen": "Leave out the character {name} (U+{number:04X}): nobody sees it, and it can turn a line round.",
        "empty": "This must not be empty.",
        "long": "Give at most {longest} characters.",
    }

    def __init__(self, *, longest: int = 200, lines: bool = False, empty: bool = False, **kwargs: Any) -> None:
        self.longest, self.lines, self.empty = longest, lines, empty
        super().__init__(**kwargs)

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> str:
        if not isinstance(value, str):
            raise self.make_error("invalid")
        text = unicodedata.normalize("NFC", value).strip()
        allowed = "\n" if self.lines else ""
        for character in text:
            category = unicodedata.category(character)
            if category in ("Cf", "Zl", "Zp"):
                name = unicodedata.name(character, "without a name")
                raise self.make_error("unseen", name=name, number=ord(character))
            if category in ("Cc", "Cs", "Cn", "Co") and character not in allowed:
                raise self.make_error("control")
        if not text and not self.empty:
            raise self.make_error("empty")
        if len(text) > self.longest:
            raise self.make_error("long", longest=self.longest)
        return text


# The letters of all that goes into something, comes of it or is used on it: a badge is none of these.
ANY_ITEM = "".join(kind for kind in Kind if kind != Kind.BADGE)


class Code(ma.fields.Field[str]):
    """A code as typed, printed or scanned; handed on in its canonical form."""

    default_error_messages = {
        "invalid": "Give a code such as C003183.",
        "kind": "This is the code of another kind of thing; its first letter must be {letters}.",
    }

    def __init__(self, letters: str, **kwargs: Any) -> None:
        self.letters = letters
        super().__init__(**kwargs)

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> str:
        if not isinstance(value, str) or len(value) > 200:
            raise self.make_error("invalid")
        try:
            code = parse(value)
        except Misread as misread:
            raise ma.ValidationError(str(misread)) from None
        if code.kind not in self.letters:
            raise self.make_error("kind", letters=" or ".join(self.letters))
        return self._handed_on(code)

    def _handed_on(self, code: Read) -> str:
        return code.text


class Scanned(Code):
    """A code of which it matters which label was read: with the label's number behind it, where an address gave one."""

    def _handed_on(self, code: Read) -> str:
        return code.text if code.issue is None else f"{code.text}/{code.issue}"


class Number(ma.fields.Field[float]):
    """A finite number within a stated range."""

    default_error_messages = {"invalid": "Give a number.", "range": "Give a number from {low} to {high}."}

    def __init__(self, low: float, high: float, **kwargs: Any) -> None:
        self.low, self.high = low, high
        super().__init__(**kwargs)

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> float:
        value, _ = _given(self, value)
        if isinstance(value, bool) or not isinstance(value, int | float | Decimal):
            raise self.make_error("invalid")
        if isinstance(value, float) and not math.isfinite(value):
            raise self.make_error("invalid")
        if not self.low <= value <= self.high:
            raise self.make_error("range", low=self.low, high=self.high)
        return float(value)


class Whole(ma.fields.Field[int]):
    """A whole number within a stated range; 3.0 counts, 3.5 and true do not. From inches to the nearest millimetre."""

    default_error_messages = {
        "invalid": "Give a whole number.",
        "range": "Give a whole number from {low} to {high}.",
    }

    def __init__(self, low: int, high: int = LARGEST_WHOLE, **kwargs: Any) -> None:
        self.low, self.high = low, high
        super().__init__(**kwargs)

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> int:
        if isinstance(value, str) and self.parent is not None and self.context_is_query():
            value = int(value) if value.isascii() and value.isdigit() and len(value) < 17 else value
        value, converted = in_own_unit(self.name, value)
        if converted:
            value = round(value)
        if isinstance(value, bool) or not isinstance(value, int | float | Decimal):
            raise self.make_error("invalid")
        if isinstance(value, float | Decimal) and (not math.isfinite(value) or value != int(value)):
            raise self.make_error("invalid")
        if not self.low <= value <= self.high:
            raise self.make_error("range", low=self.low, high=self.high)
        return int(value)

    def context_is_query(self) -> bool:
        return bool(getattr(self.root, "in_query", False))


class Yes(ma.fields.Field[bool]):
    """True or false and nothing else; in a query the words true and false."""

    default_error_messages = {"invalid": "Give true or false."}

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> bool:
        if isinstance(value, str) and getattr(self.root, "in_query", False):
            value = {"true": True, "false": False}.get(value, value)
        if not isinstance(value, bool):
            raise self.make_error("invalid")
        return value


def held_or_free() -> Yes:
    """Of the query of a list of items."""
    return Yes(metadata={"description": "Reached by a standing hold (true) or free (false)."})


def taken_despite() -> Yes:
    """The answer to the question whether something is taken that leaves a reserved order short."""
    return Yes(
        metadata={"description": "It is taken all the same, though an order that has it reserved is left short."}
    )


class Shaped(ma.fields.String):
    """Text of one shape: a regular expression that Python and JavaScript read alike, for the whole of the text."""

    default_error_messages = {"invalid": "Give text.", "shape": "{wanted}"}

    def __init__(self, shape: str, *, wanted: str, **kwargs: Any) -> None:
        self.shape, self.wanted = shape, wanted
        super().__init__(**kwargs)

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> str:
        if not isinstance(value, str):
            raise self.make_error("invalid")
        if not re.fullmatch(self.shape, value):
            raise self.make_error("shape", wanted=self.wanted)
        return value


class Word(ma.fields.Field[StrEnum]):
    """One of the shop's words; in an answer it may be of one of several vocabularies."""

    default_error_messages = {"invalid": "Give one of: {words}."}

    def __init__(self, words: type[StrEnum], *more: type[StrEnum], **kwargs: Any) -> None:
        self.words, self.vocabularies = words, (words, *more)
        super().__init__(**kwargs)

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> StrEnum:
        if isinstance(value, str) and value in set(self.words):
            return self.words(value)
        raise self.make_error("invalid", words=", ".join(self.words))

    def _serialize(self, value: Any, attr: str | None, obj: Any, **kwargs: Any) -> str | None:
        return None if value is None else str(value)


class Day(ma.fields.Date):
    """A calendar day, YYYY-MM-DD, from 1970 to 2199."""

    default_error_messages = {"invalid": "Give a day as YYYY-MM-DD.", "range": "Give a day from 1970 to 2199."}

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> Any:
        if not isinstance(value, str) or len(value) != 10:
            raise self.make_error("invalid")
        day = super()._deserialize(value, attr, data, **kwargs)
        if not 1970 <= day.year <= 2199:
            raise self.make_error("range")
        return day


class Moment(ma.fields.Field[datetime]):
    """An instant in RFC 3339 with its offset; UTC inside and out."""

    default_error_messages = {
        "invalid": "Give a time with its offset, such as 2026-11-03T14:20:00Z.",
        "range": "Give a time from 1970 to 2199.",
    }

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> datetime:
        if not isinstance(value, str) or not _RFC_3339.fullmatch(value):
            raise self.make_error("invalid")
        try:
            at = datetime.fromisoformat(value).astimezone(UTC)
        except (ValueError, OverflowError):
            raise self.make_error("invalid") from None
        if not 1970 <= at.year <= 2199:
            raise self.make_error("range")
        return at

    def _serialize(self, value: Any, attr: str | None, obj: Any, **kwargs: Any) -> str | None:
        return None if value is None else value.astimezone(UTC).isoformat().replace("+00:00", "Z")


def describe(field: Any) -> dict[str, Any]:
    """What OpenAPI is to say of a field, beyond its type."""
    if isinstance(field, Grams):
        return {"type": "number", "minimum": field.low, "maximum": field.high}
    if isinstance(field, Number):
        return {"type": "number", "minimum": field.low, "maximum": field.high}
    if isinstance(field, Whole):
        return {"type": "integer", "minimum": field.low, "maximum": field.high}
    if isinstance(field, Code):
        return {"type": "string", "maxLength": 200, "pattern": f"^[{field.letters}][0-9]{{5,12}}[0-9A-Z]$"}
    if isinstance(field, Shaped):
        return {"type": "string", "pattern": f"^{field.shape}$"}
    if isinstance(field, Text):
        return {"type": "string", "minLength": 0 if field.empty else 1, "maxLength": field.longest}
    if isinstance(field, Yes):
        return {"type": "boolean"}
    if isinstance(field, Moment):
        return {"type": "string", "format": "date-time"}
    return {}
