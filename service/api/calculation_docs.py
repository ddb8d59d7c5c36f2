"""The formulas as their docstrings describe them, read once, so that code, documentation and API cannot drift apart."""

import dataclasses
import doctest
import importlib
import inspect
import pkgutil
import re
import typing
from collections.abc import Callable
from functools import cache
from types import ModuleType
from typing import Any

from docstring_parser import DocstringMeta, DocstringParam, numpydoc

import service.formulas
from service.api.shop_rules import written_out

_UNIT = re.compile(r"\[([^\[\]]+)\]")
_LIST_OF = re.compile(r"list of (.+)")


@dataclasses.dataclass(frozen=True, slots=True)
class Described:
    """A parameter, or a field of a result, in the words of its docstring."""

    name: str
    type_text: str
    meaning: str
    unit: str


@dataclasses.dataclass(frozen=True, slots=True)
class Docstring:
    """A docstring taken apart."""

    summary: str
    prose: str
    parameters: dict[str, Described]
    attributes: dict[str, Described]
    returns: str
    refused: str
    sections: dict[str, str]


@dataclasses.dataclass(frozen=True, slots=True)
class Argument:
    described: Described
    hint: Any
    required: bool
    default: Any


@dataclasses.dataclass(frozen=True, slots=True)
class Formula:
    """One calculation: a public function of service.formulas."""

    name: str
    home: ModuleType
    subject: str
    function: Callable[..., Any]
    summary: str
    prose: str
    formula: str
    valid_range: str
    refused: str
    source: str
    arguments: tuple[Argument, ...]
    answer: str
    answer_hint: Any
    answer_unit: str | None
    example_text: str


@cache
def formulas() -> tuple[Formula, ...]:
    """Every function that a module exports, where it is defined and in that order."""
    return tuple(
        read_formula(module, member)
        for module in modules()
        for name, member in vars(module).items()
        if name in module.__all__ and inspect.isfunction(member) and member.__module__ == module.__name__
    )


def modules() -> list[ModuleType]:
    """The modules of formulas: those that say what they export; the others only serve them."""
    names = sorted(found.name for found in pkgutil.iter_modules(service.formulas.__path__))
    found = [importlib.import_module(f"service.formulas.{name}") for name in names]
    return [module for module in found if hasattr(module, "__all__")]


def read_formula(home: ModuleType, function: Callable[..., Any]) -> Formula:
    """A function as its docstring describes it."""
    said = read_docstring(function)
    hints = typing.get_type_hints(function)
    arguments = tuple(
        Argument(
            described=said.parameters[parameter],
            hint=hints[parameter],
            required=facts.default is inspect.Parameter.empty,
            default=facts.default,
        )
        for parameter, facts in inspect.signature(function).parameters.items()
    )
    unit = _UNIT.search(said.returns)
    return Formula(
        name=function.__name__,
        home=home,
        subject=_plain((home.__doc__ or "").partition("\n")[0]),
        function=function,
        summary=said.summary,
        prose=_plain(said.prose),
        formula=_formula_line(said),
        valid_range=_plain(said.sections["Valid range"]),
        refused=said.refused,
        source=written_out(_plain(said.sections["Source"])),
        arguments=arguments,
        answer=said.returns,
        answer_hint=hints["return"],
        answer_unit=unit[1] if unit else None,
        example_text=said.sections["Examples"],
    )


def _parser() -> numpydoc.NumpydocParser:
    parser = numpydoc.NumpydocParser()
    # Two headings of our own, and the examples kept whole, as doctest reads them.
    for heading in ("Valid range", "Examples", "Source"):
        parser.add_section(numpydoc.Section(heading, heading))
    return parser


_PARSER = _parser()


def read_docstring(thing: Any) -> Docstring:
    """What a docstring in the numpydoc form says of a function or a class."""
    found = _PARSER.parse(inspect.getdoc(thing) or "")
    described = {
        kind: {
            one.arg_name: _described(one.arg_name, _type_text(one), one.description or "")
            for one in found.params
            if one.args[0] == kind
        }
        for kind in ("param", "attribute")
    }
    return Docstring(
        summary=_plain(found.short_description or ""),
        prose=found.long_description or "",
        parameters=described["param"],
        attributes=described["attribute"],
        returns=_plain(found.returns.description or "") if found.returns else "",
        refused=" ".join(_plain(one.description or "") for one in found.raises),
        sections={one.args[0]: one.description or "" for one in found.meta if type(one) is DocstringMeta},
    )


def _type_text(one: DocstringParam) -> str:
    return f"{one.type_name or ''}{', optional' if one.is_optional else ''}"


def _described(name: str, type_text: str, text: str) -> Described:
    meaning = _plain(text)
    unit = _UNIT.search(meaning)
    found = unit[1] if unit else "-"
    listed = _LIST_OF.fullmatch(found)
    return Described(name=name, type_text=type_text, meaning=meaning, unit=listed[1] if listed else found)


def _formula_line(said: Docstring) -> str:
    paragraphs = said.prose.split("\n\n") if said.prose else []
    stated = [p for p in paragraphs if p.startswith("Formula")]
    return _plain((stated or paragraphs or [said.summary])[0].removeprefix("Formula: "))


def _plain(text: str) -> str:
    """Unwrapped, with Markdown's marks instead of those of the docstrings; paragraphs are kept."""
    marked = re.sub(r":\w+:`([^`]+)`", r"`\1`", text.replace("``", "`"))
    return "\n\n".join(" ".join(paragraph.split()) for paragraph in marked.split("\n\n"))


class _FirstCall(Exception):
    """Ends the reading of an example at the call that it is about."""

    def __init__(self, arguments: dict[str, Any]) -> None:
        self.arguments = arguments


def first_example(formula: Formula) -> dict[str, Any]:
    """The arguments of the first example of a formula.

    The example is run as far as the call itself, in the names of its module, as doctest would run it.
    """

    def call(**arguments: Any) -> Any:
        raise _FirstCall(arguments)

    names = {**vars(formula.home), formula.name: call}
    for example in doctest.DocTestParser().get_examples(formula.example_text):
        try:
            exec(compile(example.source, f"<example of {formula.name}>", "single"), names)
        except _FirstCall as reached:
            return reached.arguments
    raise ValueError(f"The example of {formula.name} never calls it.")
