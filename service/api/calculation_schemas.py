"""Schemas of the calculations, derived from signatures, result dataclasses and the units in their docstrings."""

import dataclasses
import types
import typing
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal
from functools import cache, partial
from typing import Any, Literal, Union, get_args, get_origin

import marshmallow as ma

from schemas.answers import without_none
from schemas.base import In
from schemas.calculation_fields import Choice, Exact, Finite, Measure, Row, Variant
from schemas.fields import LARGEST_WHOLE, Day, Moment, Text, Whole, Yes
from service.api.calculation_docs import Argument, Described, Formula, read_docstring
from service.formulas.ranges import OutOfRange
from service.formulas.units import UNITS, convert

# How long a list may be over HTTP, so that an answer comes within seconds. Formulas have limits of their own.
MOST_NUMBERS = 10_000
MOST_ROWS = 1_000
MOST_NAMED = 12
LONGER_TAKES_TOO_LONG = {
    "degree_of_cure": {"times_min": 3_000, "temperatures_c": 3_000},
    "equivalent_time_min": {"times_min": 3_000, "temperatures_c": 3_000},
    "cure_verdict": {"times_min": 10_000},
    "stage_verdict": {"times_min": 10_000},
}

# Names of the docstrings for units that the table of units knows by another.
_SAME_UNIT = {"g/cm³": "g/ml"}


def request_schema(formula: Formula) -> type[In]:
    """What the formula takes."""
    fields = {
        argument.described.name: _field_in(
            argument.hint,
            argument.described,
            required=argument.required,
            holds=formula.valid_range,
            most=LONGER_TAKES_TOO_LONG.get(formula.name, {}).get(argument.described.name),
            left_out=_left_out(argument),
        )
        for argument in formula.arguments
    }
    return typing.cast(type[In], In.from_dict(fields, name=f"Calculate{_camel(formula.name)}In"))


def answer_class(formula: Formula) -> type:
    """What it gives: the result, and the unit of a plain number."""
    fields: list[tuple[str, Any]] = [("result", formula.answer_hint)]
    unit = unit_of_answer(formula)
    if unit is not None:
        fields.append(("unit", Literal[unit]))
    text = f"The answer.\n\nAttributes\n----------\nresult\n    {' '.join(formula.answer.split())}\n"
    return dataclasses.make_dataclass(f"Calculate{_camel(formula.name)}", fields, namespace={"__doc__": text})


def unit_of_answer(formula: Formula) -> str | None:
    """The unit of a plain number, or of a list of them; a result of several fields carries its units in their names."""
    hint = formula.answer_hint
    if get_origin(hint) is tuple and get_args(hint)[1:] == (...,):
        hint = get_args(hint)[0]
    return formula.answer_unit if hint in (float, int, Decimal) else None


def _left_out(argument: Argument) -> str:
    if argument.required or argument.default is None:
        return ""
    return f" If it is left out: {as_json(argument.hint, argument.default)}.".replace("[]", "none")


def _camel(name: str) -> str:
    return "".join(word.capitalize() for word in name.split("_"))


def kind_of(cls: type) -> str:
    """The word by which a form of a model is told from the others: NthOrder is nth_order."""
    return "".join(f"_{letter.lower()}" if letter.isupper() else letter for letter in cls.__name__).lstrip("_")


def _models(hint: Any) -> tuple[type, ...]:
    """The dataclasses of a union of them, or none."""
    members = get_args(hint) if get_origin(hint) in (Union, types.UnionType) else ()
    return members if members and all(dataclasses.is_dataclass(member) for member in members) else ()


def _is_exact(hint: Any) -> bool:
    return hint is Decimal or (get_origin(hint) in (Union, types.UnionType) and Decimal in get_args(hint))


def _field_in(
    hint: Any,
    described: Described,
    *,
    required: bool = True,
    holds: str = "",
    most: int | None = None,
    left_out: str = "",
) -> Any:
    hint, allow_none = without_none(hint)
    facts: dict[str, Any] = {"required": required, "allow_none": allow_none, "metadata": {}}
    if described.meaning:
        facts["metadata"]["description"] = described.meaning + left_out
    inner = partial(_field_in, described=dataclasses.replace(described, meaning=""), holds=holds)
    origin = get_origin(hint)
    if models := _models(hint):
        return Variant({kind_of(model): _form_in(model, kind_of(model)) for model in models}, **facts)
    if dataclasses.is_dataclass(hint):
        return ma.fields.Nested(_form_in(typing.cast(type, hint), None), **facts)
    if origin is Literal:
        return Choice(get_args(hint), **facts)
    if origin is tuple and get_args(hint)[1:] != (...,):
        return Row([inner(place) for place in get_args(hint)], **facts)
    if origin in (tuple, Sequence):
        member = inner(get_args(hint)[0])
        longest = most or (MOST_NUMBERS if isinstance(member, Finite | Row) else MOST_ROWS)
        return ma.fields.List(member, validate=ma.validate.Length(max=longest), **facts)
    if origin is Mapping:
        named = ma.validate.Length(max=MOST_NAMED)
        return ma.fields.Dict(keys=Text(longest=60), values=inner(get_args(hint)[1]), validate=named, **facts)
    return _leaf_in(hint, described.unit, holds, facts)


def _leaf_in(hint: Any, unit: str, holds: str, facts: dict[str, Any]) -> Any:
    if hint is float:
        own = _SAME_UNIT.get(unit, unit)
        # K as the field's own unit is a difference of temperatures, which no point on another scale can stand for.
        if own in UNITS and own != "K":
            units = [name for name, kind in UNITS.items() if kind == UNITS[own]]
            return Measure(units=units, own=partial(_in_own_unit, own), unit=unit, holds=holds, **facts)
        return Finite(unit=unit, holds=holds, **facts)
    if _is_exact(hint):
        return Exact(**facts)
    leaves: dict[Any, Any] = {
        bool: Yes,
        int: partial(Whole, -LARGEST_WHOLE),
        str: partial(Text, longest=200),
        date: Day,
        datetime: Moment,
    }
    return leaves[hint](**facts)


def _in_own_unit(own: str, value: Any, unit: str) -> float:
    return float(convert(value=value, unit=unit, to=own))


@cache
def _form_in(cls: type, kind: str | None) -> type[ma.Schema]:
    """A dataclass that comes in as an object; ``kind`` is the word that tells it from others, if it has to be told."""
    fields: dict[str, Any] = {} if kind is None else {"kind": Choice([kind], required=True)}
    for name, hint, described, required in _attributes(cls):
        fields[name] = _field_in(hint, described, required=required)
    return In.from_dict(fields, name=f"Calculation{cls.__name__}In")


def _attributes(cls: type) -> list[tuple[str, Any, Described, bool]]:
    hints = typing.get_type_hints(cls)
    described = read_docstring(cls).attributes
    missing = dataclasses.MISSING
    return [
        (field.name, hints[field.name], described[field.name], field.default is missing)
        for field in dataclasses.fields(cls)
    ]


# Of these there may be a hundred thousand, and nothing is left to do to them.
_AS_LOADED = (float, int, str)


def build(hint: Any, value: Any, at: str) -> Any:
    """What a schema loaded, as the formula wants it; a refusal says where in the body it arose."""
    hint, _ = without_none(hint)
    if value is None:
        return None
    if models := _models(hint):
        hint = next(model for model in models if kind_of(model) == value["kind"])
        value = {name: inner for name, inner in value.items() if name != "kind"}
    if dataclasses.is_dataclass(hint):
        hints = typing.get_type_hints(hint)
        facts = {name: build(hints[name], inner, f"{at}.{name}") for name, inner in value.items()}
        try:
            return typing.cast(Any, hint)(**facts)
        except OutOfRange as refusal:
            raise OutOfRange(f"{at}.{refusal.argument}", refusal.given, refusal.allowed) from None
    origin, members = get_origin(hint), get_args(hint)
    if origin is tuple and members[1:] != (...,):
        return tuple(build(member, inner, at) for member, inner in zip(members, value, strict=True))
    if origin in (tuple, Sequence):
        if without_none(members[0])[0] in _AS_LOADED:
            return list(value)
        return [build(members[0], inner, f"{at}[{index}]") for index, inner in enumerate(value)]
    if origin is Mapping:
        return {name: build(members[1], inner, f"{at}[{name}]") for name, inner in value.items()}
    return value


def as_json(hint: Any, value: Any) -> Any:
    """A formula's argument as it is sent."""
    hint, _ = without_none(hint)
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        hints = typing.get_type_hints(type(value))
        kind = {"kind": kind_of(type(value))} if _models(hint) else {}
        return kind | {name: as_json(inner, getattr(value, name)) for name, inner in hints.items()}
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Mapping):
        return {name: as_json(get_args(hint)[1], inner) for name, inner in value.items()}
    if isinstance(value, list | tuple):
        members = get_args(hint)
        return [as_json(members[0] if members[1:] in ((), (...,)) else members[i], v) for i, v in enumerate(value)]
    return value
