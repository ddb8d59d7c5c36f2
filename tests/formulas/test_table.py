"""The table of formulas in DEVELOPERS.md says what the docstrings say, and names a test for each."""

from pathlib import Path

from service.api.calculation_docs import formulas
from tests.formulas.table import file_of_tests, formula_table

DEVELOPERS = Path(__file__).resolve().parents[2] / "DEVELOPERS.md"
BEGIN, END = "<!-- formulas -->", "<!-- /formulas -->"


def test_the_table_in_the_developers_page_is_that_of_the_docstrings() -> None:
    text = DEVELOPERS.read_text(encoding="utf-8")
    assert (text.count(BEGIN), text.count(END)) == (1, 1)
    assert text.partition(BEGIN)[2].partition(END)[0].strip() == formula_table()


def test_every_formula_has_one_row_and_a_test_that_calls_it() -> None:
    rows = formula_table().splitlines()[2:]
    assert len(rows) == len(formulas())
    for formula, row in zip(formulas(), rows, strict=True):
        assert f".{formula.name}`" in row
        assert (DEVELOPERS.parent / file_of_tests(formula)).exists()
