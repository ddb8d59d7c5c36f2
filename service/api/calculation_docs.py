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

import service.formulas

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
class Argument:
    described: Described
    hint: Any
    required: bool
    default: Any


@dataclasses.dataclass(frozen=True, slots=True)
class Formula:
    """One calculation: a public function of service.formulas, or one that is put together from several."""

    name: str
    home: ModuleType
    subject: str
    function: Callable[..., Any]
    summary: str
    prose: str
    formula: str
    valid_range: str
    source: str
    arguments: tuple[Argument, ...]
    answer: str
    answer_hint: Any
    answer_unit: str | None
    example_text: str


@cache
def formulas() -> tuple[Formula, ...]:
    """Every public function of every public module, where it is defined."""
    found = []
    for module in modules():
        for name, member in vars(module).items():
            if inspect.isfunction(member) and member.__module__ == module.__name__ and not name.startswith("_"):
                found.append(read_formula(module, member))
    return tuple(found)


def modules() -> list[ModuleType]:
    names = sorted(found.name for found in pkgutil.iter_modules(service.formulas.__path__))
    kept = [name for name in names if not name.startswith("_") and name != "ranges"]
    return [importlib.import_module(f"service.formulas.{name}") for name in kept]


def read_formula(home: ModuleType, function: Callable[..., Any]) -> Formula:
    """A function as its docstring describes it."""
    prose, sections = sections_of(function)
    summary, _, rest = prose.partition("\n\n")
    hints = typing.get_type_hints(function)
    described = entries(sections["Parameters"])
    arguments = tuple(
        Argument(
            described=described[parameter],
            hint=hints[parameter],
            required=facts.default is inspect.Parameter.empty,
            default=facts.default,
        )
        for parameter, facts in inspect.signature(function).parameters.items()
    )
    answer = _plain("\n".join(line for line in sections["Returns"].splitlines() if line.startswith(" ")))
    unit = _UNIT.search(answer)
    return Formula(
        name=function.__name__,
        home=home,
        subject=_plain((home.__doc__ or "").partition("\n")[0]),
        function=function,
        summary=_plain(summary),
        prose=_plain(rest),
        formula=_formula_line(summary, rest),
        valid_range=_plain(sections["Valid range"]),
        source=_plain(sections["Source"]),
        arguments=arguments,
        answer=answer,
        answer_hint=hints["return"],
        answer_unit=unit[1] if unit else None,
        example_text=sections["Examples"],
    )


def sections_of(thing: Any) -> tuple[str, dict[str, str]]:
    """What stands before the first heading, and heading -> text of each underlined section."""
    lines = (inspect.getdoc(thing) or "").splitlines()
    current: list[str] = []
    before, sections = current, dict[str, list[str]]()
    for line, below in zip(lines, [*lines[1:], ""], strict=True):
        if line and below == "-" * len(line):
            current = sections.setdefault(line, [])
        elif not (line and set(line) == {"-"}):
            current.append(line)
    return "\n".join(before).strip(), {heading: "\n".join(text).strip("\n") for heading, text in sections.items()}


def entries(section: str) -> dict[str, Described]:
    """The entries of a Parameters or Attributes section."""
    found: dict[str, tuple[str, list[str]]] = {}
    for line in section.splitlines():
        heading = re.fullmatch(r"(\w+) : (.+)", line)
        if heading:
            found[heading[1]] = (heading[2], [])
        elif found:
            next(reversed(found.values()))[1].append(line)
    return {name: _described(name, type_text, "\n".join(text)) for name, (type_text, text) in found.items()}


def _described(name: str, type_text: str, text: str) -> Described:
    meaning = _plain(text)
    unit = _UNIT.search(meaning)
    found = unit[1] if unit else "-"
    listed = _LIST_OF.fullmatch(found)
    return Described(name=name, type_text=type_text, meaning=meaning, unit=listed[1] if listed else found)


def _formula_line(summary: str, rest: str) -> str:
    paragraphs = rest.split("\n\n") if rest else []
    stated = [p for p in paragraphs if p.startswith("Formula")]
    return _plain((stated or paragraphs or [summary])[0].removeprefix("Formula: "))


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
