"""Answers made from dataclasses: what describes them, what writes them, and that a repeated act is answered alike."""

import json
import math
from dataclasses import dataclass
from datetime import UTC, date, datetime
from decimal import Decimal
from enum import StrEnum
from typing import Annotated, Any

import pytest

from schemas.answers import answer_of, schema_of, to_bytes, writer_of
from schemas.words import Unit
from service.operations.door.plain import dump_result, load_result
from service.operations.door.views import Page
from tests import makers


class Colour(StrEnum):
    RED = "red"


@dataclass(frozen=True, slots=True)
class Row:
    mass_mg: int | None
    colour: Colour


@dataclass(frozen=True, slots=True)
class HeapView:
    """A heap.

    Attributes
    ----------
    rows
        What lies in it.
    """

    left: Annotated[int, Unit] | None
    unit: str | None
    net_mg: int
    rows: tuple[Row, ...]
    first: Row | None
    made_on: date
    seen_at: datetime | None
    facts: dict[str, Any]
    share: float


HEAP = HeapView(
    left=1500,
    unit="mg",
    net_mg=2,
    rows=(Row(1, Colour.RED), Row(None, Colour.RED)),
    first=None,
    made_on=date(2026, 11, 3),
    seen_at=datetime(2026, 11, 3, 9, 0, 0, 250_000, tzinfo=UTC),
    facts={"mass_mg": 3, "said": ["ä"]},
    share=0.25,
)


def test_the_writer_says_what_the_schema_describes_in_grams_and_in_the_items_unit() -> None:
    said = json.loads(to_bytes(writer_of(HeapView)(HEAP)))
    assert said == {
        "left_g": 1.5,
        "net_g": 0.002,
        "rows": [{"mass_g": 0.001, "colour": "red"}, {"mass_g": None, "colour": "red"}],
        "first": None,
        "made_on": "2026-11-03",
        "seen_at": "2026-11-03T09:00:00.250000Z",
        "facts": {"mass_mg": 3, "said": ["ä"]},
        "share": 0.25,
    }
    fields = schema_of(HeapView)().fields
    assert set(fields) - set(said) == {"left_mm", "left_pieces"}
    assert {name for name, field in fields.items() if not field.required} == {"left_g", "left_mm", "left_pieces"}
    assert fields["rows"].metadata["description"] == "What lies in it."


def test_a_kept_answer_is_written_byte_for_byte_like_the_first() -> None:
    kept = load_result(dump_result(HEAP))
    assert isinstance(kept, dict)
    assert to_bytes(writer_of(HeapView, kept=True)(kept)) == to_bytes(writer_of(HeapView)(HEAP))


def test_numbers_leave_as_json_can_say_them() -> None:
    numbers = [Decimal("5"), Decimal("0.25"), Decimal("1e30"), math.inf, math.nan, 0.1]
    assert json.loads(to_bytes(numbers)) == [5, 0.25, 1e30, None, None, 0.1]


def test_two_answers_of_one_name_are_refused() -> None:
    other = dataclass(type("HeapView", (), {"__annotations__": {"code": str}}))
    schema_of(HeapView)
    with pytest.raises(TypeError, match="would both be described as HeapOut"):
        schema_of(other)


def test_a_description_of_a_field_that_is_not_there_is_refused() -> None:
    text = "A box.\n\nAttributes\n----------\ncolur\n    Of its lid.\n"
    box = dataclass(type("BoxView", (), {"__annotations__": {"colour": str}, "__doc__": text}))
    with pytest.raises(TypeError, match="tells of colur"):
        schema_of(box)


def test_what_a_function_returns_is_read_from_its_annotation_or_refused() -> None:
    def one() -> HeapView: ...
    def several() -> Page[HeapView]: ...
    def listed() -> tuple[HeapView, ...]: ...
    def untold() -> Any: ...

    assert [answer_of(f) for f in (one, several, listed)] == [(HeapView, False), (HeapView, True), (HeapView, True)]
    with pytest.raises(TypeError, match="untold does not say"):
        answer_of(untold)


def test_an_act_that_is_sent_again_is_answered_in_the_same_bytes(api: Any) -> None:
    bench = makers.mixing(api)
    lot = api.get(f"/v1/containers/{bench.fast_can}")["lot"]
    acts = (
        ("/v1/mixes", {"system": bench.system, "hardener": bench.slow, "purpose": "wet-out", "total_g": 500,
                       "containers": [{"container": bench.resin_can}, {"container": bench.slow_can}],
                       "scale": bench.scale, "temperature_c": 20}),
        (f"/v1/containers/{bench.fast_can}/opening", {}),
        (f"/v1/lots/{lot}/labels", {"size": "62"}),
    )  # fmt: skip
    for path, body in acts:
        one, two = (api.call("POST", path, body, Idempotency_Key=path) for _ in range(2))
        assert one.status_code == 201, one.get_data(as_text=True)
        assert "Idempotency-Replayed" not in one.headers
        assert two.headers["Idempotency-Replayed"] == "true"
        assert two.data == one.data
        assert two.headers.get("ETag") == one.headers.get("ETag")
