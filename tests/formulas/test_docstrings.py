"""Every public formula says what it computes, in which units, within which range and after which source."""

import dataclasses
import importlib
import inspect
import pkgutil
import re
from collections.abc import Callable
from types import ModuleType
from typing import Any

import pytest

import service.formulas

UNIT = re.compile(r"\[[^\[\]]+\]")
SECTIONS_OF_A_FORMULA = ("Parameters", "Returns", "Raises", "Valid range", "Examples", "Source")


def _modules() -> list[ModuleType]:
    found = pkgutil.walk_packages(service.formulas.__path__, "service.formulas.")
    names = [module.name for module in found]
    kept = [name for name in names if not name.rsplit(".", 1)[1].startswith("_") and not name.endswith(".ranges")]
    return [importlib.import_module(name) for name in kept]


def _defined_in(module: ModuleType, kind: Callable[[Any], bool]) -> dict[str, Any]:
    return {
        name: member
        for name, member in vars(module).items()
        if not name.startswith("_") and kind(member) and member.__module__ == module.__name__
    }


def _is_function(member: Any) -> bool:
    return callable(member) and not inspect.isclass(member)


MODULES = _modules()
FUNCTIONS = [
    pytest.param(function, id=f"{module.__name__.removeprefix('service.formulas.')}.{name}")
    for module in MODULES
    for name, function in _defined_in(module, _is_function).items()
]
RESULTS = [
    pytest.param(result, id=f"{module.__name__.removeprefix('service.formulas.')}.{name}")
    for module in MODULES
    for name, result in _defined_in(module, inspect.isclass).items()
]


def _sections(thing: Any) -> dict[str, str]:
    """Heading -> text of each underlined section of a docstring."""
    lines = (inspect.getdoc(thing) or "").splitlines()
    sections: dict[str, list[str]] = {}
    current: list[str] = []
    for line, below in zip(lines, [*lines[1:], ""], strict=True):
        if line and below == "-" * len(line):
            current = sections.setdefault(line, [])
        elif not (line and set(line) == {"-"}):
            current.append(line)
    return {heading: "\n".join(text).strip() for heading, text in sections.items()}


def _entries(section: str) -> dict[str, str]:
    """Name -> description of each entry of a Parameters or Attributes section."""
    entries: dict[str, list[str]] = {}
    for line in section.splitlines():
        heading = re.fullmatch(r"(\w+) : (.+)", line)
        if heading:
            entries[heading[1]] = []
        elif entries:
            next(reversed(entries.values())).append(line)
    return {name: " ".join(text) for name, text in entries.items()}


def test_the_sweep_finds_the_formulas() -> None:
    found = {module.__name__.removeprefix("service.formulas.") for module in MODULES}
    assert {"ratio", "scales", "stoichiometry", "climate", "statistics", "shelf_life", "units"} <= found
    assert len(FUNCTIONS) > 50


@pytest.mark.parametrize("function", FUNCTIONS)
def test_every_parameter_is_keyword_only_and_has_its_unit(function: Callable[..., Any]) -> None:
    parameters = inspect.signature(function).parameters
    positional = [name for name, p in parameters.items() if p.kind is not inspect.Parameter.KEYWORD_ONLY]
    assert positional == []
    described = _entries(_sections(function).get("Parameters", ""))
    assert list(described) == list(parameters), "the Parameters section must list the signature, in its order"
    assert [name for name, text in described.items() if not UNIT.search(text)] == []


@pytest.mark.parametrize("function", FUNCTIONS)
def test_every_section_is_there_and_says_something(function: Callable[..., Any]) -> None:
    sections = _sections(function)
    assert [heading for heading in SECTIONS_OF_A_FORMULA if not sections.get(heading)] == []
    assert (inspect.getdoc(function) or "").splitlines()[0].endswith("."), "the first line is a sentence"


@pytest.mark.parametrize("function", FUNCTIONS)
def test_every_example_is_run(function: Callable[..., Any]) -> None:
    assert ">>> " in _sections(function).get("Examples", "")


@pytest.mark.parametrize("function", FUNCTIONS)
def test_every_parameter_and_result_is_typed(function: Callable[..., Any]) -> None:
    signature = inspect.signature(function)
    untyped = [name for name, p in signature.parameters.items() if p.annotation is inspect.Parameter.empty]
    assert untyped == []
    assert signature.return_annotation is not inspect.Signature.empty


@pytest.mark.parametrize("result", RESULTS)
def test_every_result_is_frozen_and_its_fields_have_units(result: type) -> None:
    assert dataclasses.is_dataclass(result), "a result of several numbers is a dataclass"
    assert result.__dataclass_params__.frozen  # type: ignore[attr-defined]
    assert "__slots__" in vars(result)
    described = _entries(_sections(result).get("Attributes", ""))
    assert list(described) == [field.name for field in dataclasses.fields(result)]
    assert [name for name, text in described.items() if not UNIT.search(text)] == []


@pytest.mark.parametrize("module", [pytest.param(module, id=module.__name__) for module in MODULES])
def test_every_module_lists_its_functions_in_all_and_in_its_docstring(module: ModuleType) -> None:
    exported = module.__all__
    assert len(set(exported)) == len(exported)
    here = {**_defined_in(module, _is_function), **_defined_in(module, inspect.isclass)}
    assert set(here) <= set(exported), "every public name is exported"
    for name in exported:
        home = getattr(getattr(module, name), "__module__", module.__name__)
        assert home.startswith("service.formulas."), f"{name} comes from outside"
    functions = _defined_in(module, _is_function)
    assert [name for name in functions if name not in (module.__doc__ or "")] == []
