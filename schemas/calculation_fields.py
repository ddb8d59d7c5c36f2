"""Fields for calculations: the formula itself knows its ranges, so these only see that a value is of the right kind."""

import math
from collections.abc import Callable, Mapping, Sequence
from decimal import Decimal, InvalidOperation
from typing import Any

import marshmallow as ma

Described = Callable[[Any], dict[str, Any]]


class Finite(ma.fields.Field[float]):
    """Any finite number. ``holds`` says where the formula holds, for the one who gave something else."""

    default_error_messages = {"invalid": "Give {wanted}.{holds}", "null": "Give a number, not null."}
    wanted = "a number"

    def __init__(self, *, unit: str = "", holds: str = "", **kwargs: Any) -> None:
        self.unit, self.holds = unit, holds
        super().__init__(**kwargs)

    def _refusal(self) -> ma.ValidationError:
        wanted = f"{self.wanted} ({self.unit})" if self.unit not in ("", "-") else self.wanted
        return self.make_error("invalid", wanted=wanted, holds=f" Valid range: {self.holds}" if self.holds else "")

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise self._refusal()
        try:
            number = float(value)
        except OverflowError:
            raise self._refusal() from None
        if not math.isfinite(number):
            raise self._refusal()
        return number

    def openapi(self, described: Described) -> dict[str, Any]:
        return {"type": ["number", "null"] if self.allow_none else "number"}


class Measure(Finite):
    """A number in the field's own unit, or ``{"value": 5.2, "unit": "oz"}`` in another unit of the same kind.

    ``own`` converts a number and a unit exactly into the field's unit, and raises ``ValueError`` with a sentence.
    """

    def __init__(self, *, units: Sequence[str], own: Callable[[Any, str], float], **kwargs: Any) -> None:
        self.units, self.own = tuple(units), own
        super().__init__(**kwargs)
        self.wanted = 'a number, or {"value": 1, "unit": "' + self.units[0] + '"}'

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> float:
        if not isinstance(value, dict):
            return super()._deserialize(value, attr, data, **kwargs)
        if set(value) != {"value", "unit"}:
            raise self._refusal()
        number = super()._deserialize(value["value"], attr, data, **kwargs)
        if value["unit"] not in self.units:
            raise ma.ValidationError({"unit": [f"Give one of: {', '.join(self.units)}."]})
        try:
            return self.own(number if isinstance(value["value"], float) else value["value"], value["unit"])
        except ValueError as refusal:
            raise ma.ValidationError({"value": [str(refusal)]}) from None

    def openapi(self, described: Described) -> dict[str, Any]:
        return {"type": ["number", "null"] if self.allow_none else "number"}


class Exact(ma.fields.Field[Any]):
    """A number, or its decimal text where a binary fraction would lose digits."""

    default_error_messages = {
        "invalid": "Give a number, or a decimal number as text.",
        "null": "Give a number, not null.",
    }

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> Any:
        if isinstance(value, bool) or not isinstance(value, int | float | str):
            raise self.make_error("invalid")
        if isinstance(value, str):
            try:
                if len(value) > 60 or not Decimal(value).is_finite():
                    raise self.make_error("invalid")
            except InvalidOperation:
                raise self.make_error("invalid") from None
        elif isinstance(value, float) and not math.isfinite(value):
            raise self.make_error("invalid")
        return value

    def openapi(self, described: Described) -> dict[str, Any]:
        return {"type": ["number", "string", *(["null"] if self.allow_none else [])]}


class Choice(ma.fields.Field[str]):
    """One of a few words."""

    default_error_messages = {"invalid": "Give one of: {words}.", "null": "Give a word, not null."}

    def __init__(self, words: Sequence[str], **kwargs: Any) -> None:
        self.words = tuple(words)
        super().__init__(**kwargs)

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> str:
        if not isinstance(value, str) or value not in self.words:
            raise self.make_error("invalid", words=", ".join(self.words))
        return value

    def openapi(self, described: Described) -> dict[str, Any]:
        if self.allow_none:
            return {"type": ["string", "null"], "enum": [*self.words, None]}
        if len(self.words) == 1:
            return {"type": "string", "const": self.words[0]}
        return {"type": "string", "enum": list(self.words)}


class Row(ma.fields.Field[tuple[Any, ...]]):
    """A short list whose places each have their own meaning, such as x and y."""

    default_error_messages = {"invalid": "Give a list of {count} values.", "null": "Give a list, not null."}

    def __init__(self, places: Sequence[Any], **kwargs: Any) -> None:
        self.places = tuple(places)
        super().__init__(**kwargs)

    def _deserialize(
        self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any
    ) -> tuple[Any, ...]:
        if not isinstance(value, list) or len(value) != len(self.places):
            raise self.make_error("invalid", count=len(self.places))
        row, errors = [], {}
        for index, (field, inner) in enumerate(zip(self.places, value, strict=True)):
            try:
                row.append(field.deserialize(inner))
            except ma.ValidationError as error:
                errors[index] = error.messages
        if errors:
            raise ma.ValidationError(errors)
        return tuple(row)

    def openapi(self, described: Described) -> dict[str, Any]:
        count = len(self.places)
        places = [described(field) for field in self.places]
        kind = ["array", "null"] if self.allow_none else "array"
        return {"type": kind, "prefixItems": places, "minItems": count, "maxItems": count}


class Variant(ma.fields.Field[dict[str, Any]]):
    """An object of one of several forms, told apart by its field ``kind``."""

    default_error_messages = {
        "invalid": "Give an object with a field kind, one of: {kinds}.",
        "null": "Give an object, not null.",
    }

    def __init__(self, forms: Mapping[str, type[ma.Schema]], **kwargs: Any) -> None:
        self.forms = {kind: ma.fields.Nested(form) for kind, form in forms.items()}
        super().__init__(**kwargs)

    def _deserialize(
        self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any
    ) -> dict[str, Any]:
        kind = value.get("kind") if isinstance(value, dict) else None
        if not isinstance(kind, str) or kind not in self.forms:
            raise self.make_error("invalid", kinds=", ".join(self.forms))
        loaded: dict[str, Any] = self.forms[kind].deserialize(value)
        return loaded

    def openapi(self, described: Described) -> dict[str, Any]:
        null = [{"type": "null"}] if self.allow_none else []
        return {"oneOf": [described(form) for form in self.forms.values()] + null}
