"""What the examples in the docstrings call the formulas with, so that a test can change one argument of it."""

import contextlib
import dataclasses
import doctest
import inspect
import io
from collections.abc import Iterator, Mapping
from functools import cache
from typing import Any

from service.api.calculation_docs import Formula, formulas


@cache
def calls() -> dict[str, tuple[Any, dict[str, Any]]]:
    """For each formula, by module and name, the function and the arguments of its first example."""
    return {f"{formula.home.__name__.rpartition('.')[2]}.{formula.name}": _call(formula) for formula in formulas()}


def _call(formula: Formula) -> tuple[Any, dict[str, Any]]:
    function = getattr(formula.home, formula.name)
    heard: list[dict[str, Any]] = []

    def listening(**given: Any) -> Any:
        heard.append(given)
        return function(**given)

    names = {**vars(formula.home), formula.name: listening}
    for example in doctest.DocTestParser().get_examples(inspect.getdoc(function) or ""):
        with contextlib.redirect_stdout(io.StringIO()):
            exec(compile(example.source, formula.name, "single"), names)
    return function, heard[0]


@cache
def forms() -> dict[str, Any]:
    """One of each dataclass that the examples hand over, by module and name."""
    found: dict[str, Any] = {}
    for _, given in calls().values():
        for one in _within(given):
            found.setdefault(f"{type(one).__module__.rpartition('.')[2]}.{type(one).__name__}", one)
    return found


def _within(value: Any) -> Iterator[Any]:
    if dataclasses.is_dataclass(value):
        yield value
        yield from (inner for one in dataclasses.fields(value) for inner in _within(getattr(value, one.name)))
    elif isinstance(value, Mapping):
        yield from (inner for one in value.values() for inner in _within(one))
    elif isinstance(value, list | tuple):
        yield from (inner for one in value for inner in _within(one))
