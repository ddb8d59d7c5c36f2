"""The paper form has the same fields in the same order as the calls that it stands in for."""

from typing import Any

import pypdfium2
import pytest

from schemas.mixes import PourIn
from service.api.forms import FORMS, steps_of


def test_a_pours_line_has_the_fields_of_the_call_in_its_order() -> None:
    pour = next(step for step in steps_of("pot") if step.title == "Pour")
    first = ("container", "scale", "reading, g", "reading ml", "density g ml", "zeroed", "source")
    assert pour.fields[: len(first)] == first
    asked = [name for name in PourIn().fields if name not in ("occurred_at", "why")]
    assert len(pour.fields) == len(asked)


@pytest.mark.parametrize("form", list(FORMS))
def test_a_form_is_printed_with_every_field(api: Any, form: str) -> None:
    pdf = api.call("GET", f"/v1/forms/{form}.pdf").get_data()
    text = " ".join(page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(pdf))
    flat = " ".join(text.split())
    for step in steps_of(form):
        for field in step.fields:
            assert field in flat, field


def test_there_is_no_other_form(api: Any) -> None:
    assert "delivery, pot" in api.call("GET", "/v1/forms/tax.pdf").get_json()["detail"]
