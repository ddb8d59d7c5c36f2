"""Answers, said once: the dataclass that an operation returns gives the schema that describes it and its writer.

marshmallow only describes an answer. What writes it is compiled from the dataclass, and orjson makes the bytes. An
amount in whole milligrams (`mass_mg`) leaves in grams (`mass_g`); one that is counted in its item's unit (annotated
``Annotated[int, Unit]``, beside a field `unit`) leaves under the name of that unit.
"""

import dataclasses
import re
import types
import typing
from collections.abc import Callable, Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum
from functools import cache
from typing import Annotated, Any, Literal, NamedTuple, NotRequired, Union, get_args, get_origin

import docstring_parser
import marshmallow as ma
import orjson

from schemas.base import Out
from schemas.calculation_fields import Choice, Row
from schemas.fields import LARGEST_WHOLE, Moment, Word
from schemas.words import Unit

Write = Callable[[Any], Any]

# Docstrings of formulas say the unit in brackets; in an answer the field's name says it.
_UNIT = re.compile(r" \[[^\[\]]+\]")
_SUFFIX = {Unit.MILLIGRAM: "g", Unit.MILLIMETRE: "mm", Unit.PIECE: "pieces"}
_PLAIN: dict[Any, type[ma.fields.Field[Any]]] = {
    bool: ma.fields.Boolean,
    int: ma.fields.Integer,
    float: ma.fields.Float,
    Decimal: ma.fields.Float,
    str: ma.fields.String,
    date: ma.fields.Date,
    datetime: Moment,
}
# Name of a schema -> the dataclass that it describes: two of one name would be one component of the description.
_described: dict[str, type] = {}


class Member(NamedTuple):
    """One field of an answer: its name in the class, its type, whether it may be null and whether it may be missing."""

    name: str
    hint: Any
    none: bool
    by_unit: bool
    required: bool

    @property
    def in_grams(self) -> bool:
        return self.hint is int and self.name.endswith("_mg")

    @property
    def said(self) -> str:
        """Its name in JSON."""
        return f"{self.name[:-3]}_g" if self.in_grams else self.name


def answer_of(function: Callable[..., Any]) -> tuple[type, bool]:
    """The dataclass that a function says it returns, and whether it returns many of them."""
    hint = typing.get_type_hints(function).get("return")
    many = False
    while not is_form(hint) and get_args(hint):
        many, hint = True, get_args(hint)[0]
    if not is_form(hint):
        raise TypeError(f"{function.__name__} does not say which dataclass it returns")
    return typing.cast(type, hint), many


def to_bytes(value: Any) -> bytes:
    """JSON of what a writer made."""
    return orjson.dumps(value, default=_number, option=orjson.OPT_UTC_Z)


def _number(value: Any) -> Any:
    """Numbers that orjson does not know: those of a numerical library, and decimal ones."""
    if isinstance(value, Decimal):
        return int(value) if abs(value) <= LARGEST_WHOLE and value == int(value) else float(value)
    if isinstance(value, float):
        return float(value)
    raise TypeError(f"{type(value)} has no place in an answer")


# Describing


@cache
def schema_of(cls: type) -> type[Out]:
    """What such an answer looks like. Every field is required, if only to be null."""
    name = cls.__name__.removesuffix("View") + "Out"
    if _described.setdefault(name, cls) is not cls:
        raise TypeError(f"{cls} and {_described[name]} would both be described as {name}")
    about, meanings = meaning_of(cls)
    fields: dict[str, Any] = {}
    for member in members(cls):
        meaning = meanings.pop(member.name, "")
        if member.by_unit:
            fields |= _amounts(member, meaning)
        else:
            fields[member.said] = _field(
                member.hint, none=member.none, meaning=meaning, grams=member.in_grams, required=member.required
            )
    if meanings:
        raise TypeError(f"the docstring of {cls} tells of {', '.join(meanings)}, which it has not")
    meta = type("Meta", (Out.Meta,), {"register": False, **({"description": about} if about else {})})
    return typing.cast(type[Out], ma.schema.SchemaMeta(name, (Out,), {**fields, "Meta": meta}))


def described_answers() -> tuple[type, ...]:
    """Every dataclass that has been described as an answer, or as a part of one."""
    return tuple(_described.values())


def meaning_of(cls: type) -> tuple[str, dict[str, str]]:
    """What the docstring says of the class, and of each field in its section Attributes; a parent's first."""
    about, meanings = "", dict[str, str]()
    for each in reversed([c for c in cls.__mro__ if is_form(c)]):
        text = each.__dict__.get("__doc__") or ""
        if text.startswith(f"{each.__name__}("):  # What dataclass writes where nobody wrote anything.
            continue
        parsed = docstring_parser.parse(text, docstring_parser.DocstringStyle.NUMPYDOC)
        about = " ".join((parsed.short_description or "").split())
        meanings |= {p.arg_name: _UNIT.sub("", " ".join((p.description or "").split())) for p in parsed.params}
    return about, meanings


def members(cls: type) -> list[Member]:
    """The fields that are answered. One with ``metadata={"document": False}`` stays inside."""
    hints = typing.get_type_hints(cls, include_extras=True)
    # Of a dictionary that is kept as JSON, what may be missing: all of one that is not total, too.
    may_lack: frozenset[str] = getattr(cls, "__optional_keys__", frozenset())
    fields = dataclasses.fields(cls) if _is_record(cls) else ()
    hidden = {field.name for field in fields if not field.metadata.get("document", True)}
    found = []
    for name, told in hints.items():
        if name not in hidden:
            hint, none = without_none(get_args(told)[0] if get_origin(told) is NotRequired else told)
            by_unit = get_origin(hint) is Annotated and get_args(hint)[1] is Unit
            found.append(Member(name, _bare(hint), none, by_unit, name not in may_lack))
    amounts = {m.name for m in found if m.by_unit}
    return [m for m in found if not (amounts and m.name == "unit")]


def is_form(hint: Any) -> bool:
    """A dataclass, or the typed dictionary of something that is kept as JSON."""
    return _is_record(hint) or typing.is_typeddict(hint)


def _is_record(hint: Any) -> bool:
    return isinstance(hint, type) and dataclasses.is_dataclass(hint)


def without_none(hint: Any) -> tuple[Any, bool]:
    """The hint without None, and whether None was allowed."""
    if get_origin(hint) not in (Union, types.UnionType):
        return hint, False
    left = [member for member in get_args(hint) if member is not type(None)]
    return (left[0] if len(left) == 1 else Union[tuple(left)]), len(left) < len(get_args(hint))  # noqa: UP007


def _bare(hint: Any) -> Any:
    return get_args(hint)[0] if get_origin(hint) is Annotated else hint


def _field(hint: Any, *, none: bool = False, meaning: str = "", grams: bool = False, required: bool = True) -> Any:
    facts: dict[str, Any] = {"required": required, "allow_none": none}
    if meaning:
        facts["metadata"] = {"description": meaning}
    origin, inside = get_origin(hint), get_args(hint)
    if is_form(hint):
        return ma.fields.Nested(schema_of(hint), **facts)
    if origin is tuple and inside[1:] != (...,):
        return Row([_inner(place) for place in inside], **facts)
    if origin in (tuple, list, Sequence):
        return ma.fields.List(_inner(inside[0]), **facts)
    if origin in (dict, Mapping):
        values = {} if inside[1] is Any else {"values": _inner(inside[1])}
        return ma.fields.Dict(keys=ma.fields.String(), **values, **facts)
    if origin is Literal:
        return Choice(inside, **facts)
    vocabularies = inside if origin in (Union, types.UnionType) else (hint,)
    if all(isinstance(each, type) and issubclass(each, StrEnum) for each in vocabularies):
        return Word(*vocabularies, **facts)
    return ma.fields.Float(**facts) if grams else _PLAIN[hint](**facts)


def _inner(hint: Any) -> Any:
    hint, none = without_none(hint)
    return _field(hint, none=none, required=False)


def _amounts(member: Member, meaning: str) -> dict[str, Any]:
    """One of these stands in the answer: the one in the item's own unit."""
    meaning = f"{meaning} Only where it is kept in this unit.".strip()
    return {
        f"{member.name}_{suffix}": _field(float if unit == Unit.MILLIGRAM else int, meaning=meaning, required=False)
        for unit, suffix in _SUFFIX.items()
    }


# Writing


@cache
def writer_of(cls: type, *, kept: bool = False) -> Write:
    """A function that says one such answer in what orjson writes; ``kept``: from the dictionary kept of it."""
    if _as_it_is(cls):
        return _itself
    names: dict[str, Any] = {"by_unit": _by_unit}
    said = []
    for member in members(cls):
        value = f"v[{member.name!r}]" if kept else f"v.{member.name}"
        if member.by_unit:
            unit = "v['unit']" if kept else "v.unit"
            said.append(f"**by_unit({member.name!r}, {value}, {unit})")
        else:
            said.append(f"{member.said!r}: {_expression(member, value, names, kept)}")
    # Compiled, as dataclasses compile their own methods: looking the fields up at each row costs several times as much.
    exec(f"def write(v): return {{{', '.join(said)}}}", names)
    return typing.cast(Write, names["write"])


def _itself(value: Any) -> Any:
    return value


def _as_it_is(hint: Any) -> bool:
    """Whether orjson can write it without our help: nothing in it changes its name."""
    hint, _ = without_none(_bare(hint))
    if is_form(hint):
        found = members(hint)
        return len(found) == len(typing.get_type_hints(hint)) and all(
            not m.in_grams and not m.by_unit and _as_it_is(m.hint) for m in found
        )
    return all(_as_it_is(inside) for inside in get_args(hint) if get_origin(hint) is not Literal)


def _expression(member: Member, value: str, names: dict[str, Any], kept: bool) -> str:
    if member.in_grams:
        said = f"{value} / 1000"
    else:
        said = _nested(member.hint, value, names, kept)
    return f"None if {value} is None else {said}" if member.none and said != value else said


def _nested(hint: Any, value: str, names: dict[str, Any], kept: bool) -> str:
    hint, none = without_none(hint)
    if _as_it_is(hint):
        return value
    if is_form(hint):
        name = f"write_{hint.__name__}"
        names[name] = writer_of(hint, kept=kept or typing.is_typeddict(hint))
        said = f"{name}({value})"
    elif get_origin(hint) in (dict, Mapping):
        said = f"{{k: {_nested(get_args(hint)[1], 'x', names, kept)} for k, x in {value}.items()}}"
    else:
        said = f"[{_nested(get_args(hint)[0], 'x', names, kept)} for x in {value}]"
    return f"None if {value} is None else {said}" if none else said


def _by_unit(name: str, amount: int | None, unit: str | None) -> dict[str, float]:
    """The amount under the name of its unit; nothing where nothing was measured."""
    if amount is None or unit is None:
        return {}
    return {f"{name}_{_SUFFIX[Unit(unit)]}": amount / 1000 if unit == Unit.MILLIGRAM else amount}
