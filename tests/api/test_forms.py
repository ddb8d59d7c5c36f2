"""The paper form has the same fields in the same order as the calls that it stands in for."""

from typing import Any

import pypdfium2
import pytest

from schemas.mixes import PourIn
from service.api.form_words import WORDS
from service.api.forms import FORMS, names_of, steps_of
from tests import makers


def test_a_pours_line_has_the_fields_of_the_call_in_its_order() -> None:
    pour = next(step for step in steps_of("pot") if step.title == "Pour")
    first = ("from can (code)", "scale (code)", "the scale shows, g", "or the measure shows, ml")
    assert pour.fields[: len(first)] == first
    worded = [WORDS["PourIn"][name] for name in PourIn().fields if name not in ("occurred_at", "why")]
    assert list(pour.fields) == [words for words in worded if words is not None]


@pytest.mark.parametrize("form", list(FORMS))
def test_every_field_of_a_form_has_words_or_is_left_out_on_purpose(form: str) -> None:
    for _, schema, _ in FORMS[form][1]:
        assert set(WORDS[schema.__name__]) == set(names_of(schema))
        for name, words in WORDS[schema.__name__].items():
            assert words is None or ("_" not in words and words.strip() == words), name


def test_a_pots_form_bears_its_pair_its_ratio_and_what_belongs_into_pots_of_some_sizes(api: Any) -> None:
    mixing = makers.mixing(api)
    system = api.get("/v1/resin-systems")[0]
    where = f"/v1/forms/pot.pdf?system={system['id']}&hardener={system['hardeners'][0]['material']}"
    pages = pypdfium2.PdfDocument(api.call("GET", where).get_data())
    flat = " ".join(" ".join(page.get_textpage().get_text_range() for page in pages).split())
    assert "Alder 10 resin with Alder 32 slow hardener: 100 : 30 by weight, ± 2 %" in flat
    # 400 g of pot: 307.7 g and 92.3 g; 2 % of 92.31 g leave 90.5 to 94.1 g, rounded inward.
    assert "400 307.7 92.3 90.5 94.1" in flat
    assert mixing.slow_can not in flat
    for wrong in ("system=1", "system=1&hardener=x", "system=1&hardener=999", "system=999&hardener=1"):
        assert api.call("GET", f"/v1/forms/pot.pdf?{wrong}").status_code in (404, 422), wrong
    assert api.call("GET", "/v1/forms/part.pdf?system=1&hardener=1").status_code == 422


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
