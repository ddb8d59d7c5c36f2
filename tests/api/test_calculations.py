"""Every formula over HTTP: each example gives what its docstring says, and nonsense is refused in a sentence."""

import dataclasses
import doctest
import importlib
import inspect
import json
import math
import pkgutil
import re
import types
import typing
from collections.abc import Iterator, Mapping
from datetime import date, datetime
from decimal import Decimal
from typing import Any, Literal, Union, get_args, get_origin

import pytest

import service.formulas
from service.api.calculation_docs import Formula, formulas
from service.api.calculation_schemas import as_json
from service.api.calculations import CALCULATIONS, example_of
from service.database import connected, database
from tests.calculation_door import Door, opened, strict

FORMULAS = [pytest.param(formula, id=formula.name) for formula in CALCULATIONS]


@pytest.fixture(scope="module")
def door(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Door]:
    yield from opened(tmp_path_factory)


@pytest.fixture(scope="module")
def described(door: Door) -> Any:
    """The paths of the API's description."""
    return door.client.get("/openapi.json").get_json()["paths"]


def test_every_public_function_of_the_formulas_has_its_route(door: Door, described: Any) -> None:
    listed = {row["name"]: row for row in door.client.get("/v1/calculations", headers=door.headers).get_json()}
    for found in pkgutil.iter_modules(service.formulas.__path__, "service.formulas."):
        module = importlib.import_module(found.name)
        for name in getattr(module, "__all__", ()):
            if inspect.isfunction(getattr(module, name)):
                route = described[f"/v1/calculations/{name}"]["post"]
                assert route["operationId"] == f"calculate_{name}"
                assert listed[name]["source"] in route["description"]
                assert listed[name]["valid_range"] in route["description"]
                assert "**Refused.** If " in route["description"]
    assert len({formula.name for formula in CALCULATIONS}) == len(CALCULATIONS), "two functions of one name"


def test_the_twelve_subjects_are_all_there() -> None:
    assert {formula.home.__name__.rpartition(".")[2] for formula in formulas()} >= {
        "ratio", "stoichiometry", "weighing", "scales", "laminate", "kits", "symmetry", "clocks", "planner", "exotherm",
        "cure_verdicts", "kinetics", "shelf_life", "climate", "statistics", "control_charts", "units",
    }  # fmt: skip


@pytest.mark.parametrize("formula", FORMULAS)
def test_the_example_in_the_api_description_is_the_docstrings_first(
    door: Door, described: Any, formula: Formula
) -> None:
    example = described[f"/v1/calculations/{formula.name}"]["post"]["requestBody"]["content"]["application/json"][
        "example"
    ]
    assert example == json.loads(json.dumps(example_of(formula)))
    door.result(formula.name, example)


@pytest.mark.parametrize("formula", FORMULAS)
def test_every_example_of_a_docstring_holds_over_http(door: Door, formula: Formula) -> None:
    hints = {argument.described.name: argument.hint for argument in formula.arguments}

    def over_http(**arguments: Any) -> Any:
        body = {name: as_json(hints[name], value) for name, value in arguments.items()}
        return _rebuilt(formula.answer_hint, door.result(formula.name, body))

    names = {**vars(formula.home), formula.name: over_http}
    examples = doctest.DocTestParser().get_doctest(formula.example_text, names, formula.name, None, None)
    said: list[str] = []
    flags = doctest.ELLIPSIS | doctest.NORMALIZE_WHITESPACE
    outcome = doctest.DocTestRunner(checker=_Digits(), optionflags=flags).run(examples, out=said.append)
    assert (outcome.attempted > 0, outcome.failed) == (True, 0), "".join(said)


class _Digits(doctest.OutputChecker):
    """Numbers count to the digits that the docstring gives; all else word for word."""

    _NUMBER = re.compile(r"-?\d+(?:\.\d*)?(?:e[+-]?\d+)?")

    def check_output(self, want: str, got: str, optionflags: int) -> bool:
        wanted, given = self._NUMBER.findall(want), self._NUMBER.findall(got)
        close = len(wanted) == len(given) and all(map(self._close, wanted, given))
        return close and super().check_output(self._NUMBER.sub("#", want), self._NUMBER.sub("#", got), optionflags)

    @staticmethod
    def _close(want: str, got: str) -> bool:
        exponent = Decimal(want).as_tuple().exponent
        return abs(Decimal(want) - Decimal(got)) <= Decimal(10) ** int(exponent)


def _rebuilt(hint: Any, value: Any) -> Any:
    """The answer as the formula itself would have handed it back."""
    if value is None:
        return None
    if get_origin(hint) in (Union, types.UnionType):
        return _rebuilt(next(member for member in get_args(hint) if member is not type(None)), value)
    if dataclasses.is_dataclass(hint):
        hints = typing.get_type_hints(hint)
        assert set(value) == set(hints)
        return typing.cast(Any, hint)(**{name: _rebuilt(hints[name], inner) for name, inner in value.items()})
    origin, members = get_origin(hint), get_args(hint)
    if origin is Literal:
        assert value in members
    elif origin is tuple and members[1:] != (...,):
        return tuple(map(_rebuilt, members, value))
    elif origin is tuple:
        return tuple(_rebuilt(members[0], inner) for inner in value)
    elif origin is Mapping:
        return {name: _rebuilt(members[1], inner) for name, inner in value.items()}
    elif hint in (date, datetime):
        return hint.fromisoformat(value)
    elif hint is Decimal:
        return Decimal(repr(value))
    return value


BAD = [-1, 0, 1e300, 10**400, "5", True, None, [], {"value": 1, "unit": "furlong"}]


@pytest.mark.parametrize("formula", FORMULAS)
def test_no_value_of_any_argument_is_an_error_of_the_server(door: Door, formula: Formula) -> None:
    example = example_of(formula)
    refused = 0
    for at in _places(example):
        for bad in BAD:
            answer = door.ask(formula.name, _with(example, at, bad))
            _assert_clear(answer, at, formula, bad)
            refused += answer.status_code == 422
        answer = door.ask_text(formula.name, json.dumps(_with(example, at, math.nan)))
        assert answer.status_code in (400, 422), "NaN is not JSON"
    assert refused, "no bad value at all was refused"


def _places(value: Any, at: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """The way to every value of an example: members of its lists are looked at by the first alone."""
    if at:
        yield at
    if isinstance(value, dict):
        for name, inner in value.items():
            yield from _places(inner, (*at, name))
    elif isinstance(value, list) and value:
        yield from _places(value[0], (*at, 0))


def _with(example: Any, at: tuple[Any, ...], value: Any) -> Any:
    if not at:
        return value
    changed = dict(example) if isinstance(example, dict) else list(example)
    changed[at[0]] = _with(changed[at[0]], at[1:], value)
    return changed


def _assert_clear(answer: Any, at: tuple[Any, ...], formula: Formula, bad: Any) -> None:
    where = f"{formula.name} {at} {str(bad)[:20]}: {answer.get_data(as_text=True)[:500]}"
    assert answer.status_code in (200, 422), where
    if answer.status_code == 422:
        problem = strict(answer)
        assert problem["type"] in ("/problems/invalid", "/problems/out-of-range"), where
        named = [error["pointer"] for error in problem.get("errors", [])]
        arguments = {f"/{argument.described.name}" for argument in formula.arguments}
        assert problem.get("argument") or any(f"/{pointer.split('/')[1]}" in arguments for pointer in named), where
        assert problem["detail"].endswith("."), where


@pytest.mark.parametrize("formula", FORMULAS)
def test_arguments_that_are_missing_or_unknown_are_named(door: Door, formula: Formula) -> None:
    example = example_of(formula)
    for argument in formula.arguments:
        if argument.required:
            without = {name: value for name, value in example.items() if name != argument.described.name}
            problem = door.ask(formula.name, without)
            assert problem.status_code == 422
            assert problem.get_json()["errors"][0]["pointer"] == f"/{argument.described.name}"
    problem = door.ask(formula.name, {**example, "colour": 3})
    assert problem.status_code == 422
    assert "/colour" in [error["pointer"] for error in problem.get_json()["errors"]]


def test_a_value_out_of_range_names_the_argument_the_value_and_the_range(door: Door) -> None:
    problem = door.ask("deviation_pct", {"resin_g": 0, "hardener_g": 30, "ratio": 0.3}).get_json()
    assert problem["type"] == "/problems/out-of-range"
    assert problem["detail"] == "resin_g is 0; it must be a number at least 0.001 and at most 1e+06 g."
    assert [error["pointer"] for error in problem["errors"]] == ["/resin_g"]


def test_a_value_out_of_range_deep_inside_is_pointed_at(door: Door) -> None:
    body = example_of(next(formula for formula in formulas() if formula.name == "life_min"))
    body["points"][2]["life_min"] = -3
    problem = door.ask("life_min", body).get_json()
    assert problem["argument"] == "points[2].life_min"
    assert [error["pointer"] for error in problem["errors"]] == ["/points/2/life_min"]


@pytest.mark.parametrize("number", ["Infinity", "-Infinity", "NaN", "1e999", "1" * 5000])
def test_no_number_that_is_none_gets_through(door: Door, number: str) -> None:
    answer = door.ask_text("epoxy_number", f'{{"eew": {number}}}')
    assert answer.status_code in (400, 422)


def test_text_for_a_number_is_answered_with_the_range(door: Door) -> None:
    problem = door.ask("deviation_pct", {"resin_g": "5", "hardener_g": 30, "ratio": 0.3}).get_json()
    assert problem["errors"][0]["pointer"] == "/resin_g"
    assert "Masses 0.001 g to 1e6 g" in problem["detail"]


_WARM = {"temperatures_c": [20, 30, 40], "reference_c": 23, "activation_energy_kj_mol": 50}


# NIST SP 811, appendix B (from memory): 1 oz is 28.349 523 125 g, 1 oz/yd² is 33.905 747 474 882 3 g/m².
@pytest.mark.parametrize(
    ("name", "body", "same"),
    [
        (
            "hardener_target_g",
            {"resin_g": {"value": 2, "unit": "oz"}, "ratio": 0.3},
            {"resin_g": 56.69904625, "ratio": 0.3},
        ),
        ("saturation_pressure_hpa", {"temperature_c": {"value": 68, "unit": "°F"}}, {"temperature_c": 20}),
        (
            "ply_thickness_mm",
            {
                "areal_weight_g_m2": {"value": 6, "unit": "oz/yd²"},
                "fibre_density_g_cm3": {"value": 1780, "unit": "kg/m³"},
                "fibre_volume_fraction": 0.5,
            },
            {"areal_weight_g_m2": 203.4344848492938, "fibre_density_g_cm3": 1.78, "fibre_volume_fraction": 0.5},
        ),
        (
            "equivalent_age_min",
            {**_WARM, "times_min": [0, {"value": 600, "unit": "s"}, {"value": 1, "unit": "h"}]},
            {**_WARM, "times_min": [0, 10, 60]},
        ),
    ],
)
def test_a_number_may_come_with_another_unit_and_is_converted_exactly(
    door: Door, name: str, body: Any, same: Any
) -> None:
    assert door.result(name, body) == pytest.approx(door.result(name, same), rel=1e-14)


@pytest.mark.parametrize(
    ("sent", "said"),
    [
        ({"value": 5, "unit": "mm"}, "mg, g, kg, oz, lb"),
        ({"value": 5, "unit": ["g"]}, "mg, g, kg, oz, lb"),
        ({"value": -5, "unit": "oz"}, "at least 0"),
        ({"value": 1e300, "unit": "oz"}, "1e12"),
        ({"value": True, "unit": "oz"}, "Give a number"),
        ({"value": 5, "unit": "g", "more": 1}, "Give a number"),
    ],
)
def test_a_unit_of_another_kind_is_refused_and_the_right_ones_are_named(door: Door, sent: Any, said: str) -> None:
    problem = door.ask("hardener_target_g", {"resin_g": sent, "ratio": 0.3})
    assert problem.status_code == 422
    assert said in problem.get_json()["detail"]
    assert problem.get_json()["errors"][0]["pointer"].startswith("/resin_g")


def test_a_difference_of_temperatures_takes_no_other_unit(door: Door) -> None:
    body = {"air_c": 20, "surface_c": 20, "margin_k": {"value": 37, "unit": "°F"}}
    assert door.ask("highest_humidity_pct", body).status_code == 422


def test_units_of_answers_are_said(door: Door) -> None:
    answer = door.ask("deviation_pct", {"resin_g": 100, "hardener_g": 30.6, "ratio": 0.3}).get_json()
    assert answer["unit"] == "%"
    assert answer["result"] == pytest.approx(2.0)


def test_what_may_be_null_is_described_so(door: Door) -> None:
    described = door.client.get("/openapi.json").get_json()["components"]["schemas"]
    assert described["LifeOut"]["properties"]["minutes"]["type"] == ["number", "null"]
    assert described["CalculationPlyIn"]["properties"]["face"]["enum"] == ["up", "down", None]
    assert described["CalculateEffectiveExpiryIn"]["properties"]["opened_life_days"]["type"] == ["integer", "null"]


def test_a_calculation_needs_a_key(door: Door) -> None:
    assert door.client.post("/v1/calculations/epoxy_number", json={"eew": 190}).status_code == 401


def test_a_calculation_writes_nothing(door: Door) -> None:
    before = _rows()
    door.result("epoxy_number", {"eew": 190})
    assert _rows() == before
    assert before["person"] == 2  # the service itself and the administrator


def _rows() -> dict[str, int]:
    with connected():
        return {
            name: database.execute_sql(f'SELECT COUNT(*) FROM "{name}"').fetchone()[0] for name in database.get_tables()
        }
