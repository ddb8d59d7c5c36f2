"""The page beside the formulas says what the docstrings say, and names a test for each."""

from pathlib import Path

from service.api.calculation_docs import formulas
from tests.formulas.table import PAGE, file_of_tests, formula_table, page

ROOT = Path(__file__).resolve().parents[2]


def test_the_page_beside_the_formulas_is_that_of_the_docstrings() -> None:
    assert PAGE.read_text(encoding="utf-8") == page(), "write it anew: python -m tests.formulas.table"


def test_every_formula_has_one_row_and_a_test_that_calls_it() -> None:
    rows = formula_table().splitlines()[2:]
    assert len(rows) == len(formulas())
    for formula, row in zip(formulas(), rows, strict=True):
        assert f".{formula.name}`" in row
        assert (ROOT / file_of_tests(formula)).exists()
