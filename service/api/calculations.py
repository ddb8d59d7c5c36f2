"""Every formula, open to be asked: nothing here is stored, and none of it needs a part or a pot on the book."""

import dataclasses
import inspect
from collections.abc import Callable
from typing import Any

from flask import request

from service.api.base import Blueprint
from service.api.calculation_docs import Formula, first_example, formulas
from service.api.calculation_schemas import answer_class, as_json, build, request_schema, unit_of_answer
from service.operations.door.refusals import Unprocessable

blp = Blueprint("calculations", "Formulas, each with its range and its source. Nothing is stored.")

LARGEST_BODY = 1_000_000
CALCULATIONS = formulas()


@blp.before_request
def small_bodies_only() -> None:
    """A calculation takes numbers, not documents."""
    request.max_content_length = LARGEST_BODY


@dataclasses.dataclass(frozen=True, slots=True)
class ArgumentView:
    """What a calculation takes.

    Attributes
    ----------
    unit
        Unit of the plain number; - for none.
    """

    name: str
    type: str
    unit: str
    meaning: str
    required: bool


@dataclasses.dataclass(frozen=True, slots=True)
class CalculationView:
    """One formula that can be asked without storing anything.

    Attributes
    ----------
    source
        What the formula was checked against.
    example
        A body that works.
    example_text
        The example with its documented answer.
    """

    name: str
    path: str
    subject: str
    summary: str
    formula: str
    valid_range: str
    source: str
    arguments: tuple[ArgumentView, ...]
    answer: str
    example: dict[str, Any]
    example_text: str


def list_calculations() -> list[CalculationView]:
    """All calculations, with formula, valid range, source, arguments and an example."""
    return [_row(formula) for formula in CALCULATIONS]


def example_of(formula: Formula) -> dict[str, Any]:
    """The first example of the docstring as a body."""
    hints = {argument.described.name: argument.hint for argument in formula.arguments}
    return {name: as_json(hints[name], value) for name, value in first_example(formula).items()}


def _row(formula: Formula) -> CalculationView:
    return CalculationView(
        name=formula.name,
        path=f"/v1/calculations/{formula.name}",
        subject=formula.subject,
        summary=formula.summary,
        formula=formula.formula,
        valid_range=formula.valid_range,
        source=formula.source,
        arguments=tuple(
            ArgumentView(
                name=argument.described.name,
                type=argument.described.type_text,
                unit=argument.described.unit,
                meaning=argument.described.meaning,
                required=argument.required,
            )
            for argument in formula.arguments
        ),
        answer=formula.answer,
        example=example_of(formula),
        example_text=formula.example_text,
    )


def _asked(formula: Formula) -> Callable[..., Any]:
    hints = {argument.described.name: argument.hint for argument in formula.arguments}
    answer, unit = answer_class(formula), unit_of_answer(formula)

    def calculate(**fields: Any) -> Any:
        try:
            result = formula.function(**{name: build(hints[name], value, name) for name, value in fields.items()})
        except ArithmeticError:
            # Within the ranges one by one, and yet a quotient that no number holds, such as a share of 1e-310 %.
            raise Unprocessable(
                "These values together lead beyond what can be counted: one is far too small beside the others.",
                way_out="Look at the smallest value again, and at its unit.",
            ) from None
        return answer(result) if unit is None else answer(result, unit)

    calculate.__name__ = f"calculate_{formula.name}"
    calculate.__doc__ = _text(formula)
    calculate.__annotations__["return"] = answer
    calculate.__signature__ = inspect.signature(formula.function)  # type: ignore[attr-defined]
    return calculate


def _text(formula: Formula) -> str:
    parts = [
        formula.summary,
        formula.prose,
        f"**Valid range.** {formula.valid_range}",
        f"**Refused.** {formula.refused}",
        f"**Gives.** {formula.answer}",
        f"**Source.** {formula.source}",
        f"**Example.**\n\n```\n{formula.example_text}\n```",
    ]
    return "\n\n".join(part for part in parts if part)


blp.read("/calculations", list_calculations)
for _formula in CALCULATIONS:
    blp.ask(f"/calculations/{_formula.name}", _asked(_formula), request_schema(_formula))


def add_bodies(described: dict[str, Any]) -> None:
    """Write into the description the body that each formula's own example is: to read them all runs them all."""
    for formula in CALCULATIONS:
        asked = described["paths"][f"/v1/calculations/{formula.name}"]["post"]["requestBody"]
        asked["content"]["application/json"]["example"] = example_of(formula)
