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
from service.api.calculation_docs import formulas, modules, read_docstring
from service.api.shop_rules import RULES, written_out

UNIT = re.compile(r"\[[^\[\]]+\]")


def _exported(module: ModuleType, kind: Callable[[Any], bool]) -> dict[str, Any]:
    """What a module defines and exports."""
    members = {name: getattr(module, name) for name in module.__all__}
    return {name: one for name, one in members.items() if kind(one) and one.__module__ == module.__name__}


MODULES = modules()
FUNCTIONS = [
    pytest.param(function, id=f"{module.__name__.removeprefix('service.formulas.')}.{name}")
    for module in MODULES
    for name, function in _exported(module, inspect.isfunction).items()
]
RESULTS = [
    pytest.param(result, id=f"{module.__name__.removeprefix('service.formulas.')}.{name}")
    for module in MODULES
    for name, result in _exported(module, inspect.isclass).items()
]


def test_the_sweep_finds_the_formulas() -> None:
    found = {module.__name__.removeprefix("service.formulas.") for module in MODULES}
    assert {"ratio", "scales", "stoichiometry", "climate", "statistics", "shelf_life", "units"} <= found
    assert len(FUNCTIONS) > 50


@pytest.mark.parametrize("function", FUNCTIONS)
def test_every_parameter_is_keyword_only_and_has_its_unit(function: Callable[..., Any]) -> None:
    parameters = inspect.signature(function).parameters
    positional = [name for name, p in parameters.items() if p.kind is not inspect.Parameter.KEYWORD_ONLY]
    assert positional == []
    described = read_docstring(function).parameters
    assert list(described) == list(parameters), "the Parameters section must list the signature, in its order"
    assert [name for name, one in described.items() if not UNIT.search(one.meaning)] == []


@pytest.mark.parametrize("function", FUNCTIONS)
def test_every_section_is_there_and_says_something(function: Callable[..., Any]) -> None:
    said = read_docstring(function)
    assert said.summary.endswith("."), "the first line is a sentence"
    assert [heading for heading in ("Valid range", "Examples", "Source") if not said.sections.get(heading)] == []
    assert said.returns
    assert said.refused


def test_a_rule_that_is_cited_by_number_is_written_out_for_whoever_reads_it() -> None:
    for formula in formulas():
        cited = "hop rule" in formula.source
        assert cited == ("[rule " in formula.source), formula.source
    assert written_out("Shop rules 15 and 17 to 19; by hand.").count("rule 1") == 4
    assert written_out("Shop rules 17 and 23a.").endswith(f"rule 23a: {RULES['23a']}]")
    assert written_out("WMO-No. 8.") == "WMO-No. 8."


@pytest.mark.parametrize("function", FUNCTIONS)
def test_every_example_is_run(function: Callable[..., Any]) -> None:
    assert ">>> " in read_docstring(function).sections["Examples"]


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
    described = read_docstring(result).attributes
    assert list(described) == [field.name for field in dataclasses.fields(result)]
    assert [name for name, one in described.items() if not UNIT.search(one.meaning)] == []


@pytest.mark.parametrize("module", [pytest.param(module, id=module.__name__) for module in MODULES])
def test_every_module_lists_its_functions_in_all_and_in_its_docstring(module: ModuleType) -> None:
    exported = module.__all__
    assert len(set(exported)) == len(exported)
    for name in exported:
        home = getattr(getattr(module, name), "__module__", module.__name__)
        assert home.startswith("service.formulas."), f"{name} comes from outside"
    functions = _exported(module, inspect.isfunction)
    assert [name for name in functions if name not in (module.__doc__ or "")] == []


def test_nothing_that_is_described_as_a_formula_is_left_out() -> None:
    """A helper that several modules share is not exported; a docstring with a source belongs to a formula."""
    forgotten = []
    for found in pkgutil.iter_modules(service.formulas.__path__, "service.formulas."):
        module = importlib.import_module(found.name)
        for name, member in inspect.getmembers(module, inspect.isfunction):
            described = member.__module__ == module.__name__ and "\nSource\n------\n" in (inspect.getdoc(member) or "")
            if described and name not in getattr(module, "__all__", ()):
                forgotten.append(f"{found.name}.{name}")
    assert forgotten == []
