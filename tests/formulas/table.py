"""Writes service/formulas/README.md, the table of all formulas, from their docstrings.

python -m tests.formulas.table
"""

import re
from pathlib import Path

import service.formulas
from service.api.calculation_docs import Formula, formulas

TESTS = Path(__file__).resolve().parent
PAGE = Path(service.formulas.__path__[0]) / "README.md"

HEAD = """\
# Formulas

Numbers from numbers: no database, no clock, nothing of the service. Each function says in its docstring what it
computes, in which units, within which range, when it refuses, and after which source; each is open at
`POST /v1/calculations/<name>`. Sources that nobody has read are marked "from memory".

This page is written by `python -m tests.formulas.table`.
"""


def page() -> str:
    """What stands in the page."""
    return f"{HEAD}\n{formula_table()}\n"


def formula_table() -> str:
    """One row a public function: what it computes, its source, its valid range, the file that tests it."""
    rows = ["| formula | source | valid range | test |", "| --- | --- | --- | --- |"]
    rows += [_row(formula) for formula in formulas()]
    return "\n".join(rows)


def file_of_tests(formula: Formula) -> str:
    """The file of tests that calls the function: the one named for its module, or else the first that does."""
    called = re.compile(rf"\b{formula.name}\(")
    own = TESTS / f"test_{formula.home.__name__.rpartition('.')[2]}.py"
    for file in [own, *sorted(TESTS.glob("test_*.py"))]:
        if file.exists() and called.search(file.read_text(encoding="utf-8")):
            return f"tests/formulas/{file.name}"
    raise LookupError(f"No test in tests/formulas calls {formula.name}.")


def _row(formula: Formula) -> str:
    module = formula.home.__name__.rpartition(".")[2]
    cells = [f"`{module}.{formula.name}`: {formula.formula}", formula.source, formula.valid_range]
    return "| " + " | ".join(_cell(text) for text in [*cells, file_of_tests(formula)]) + " |"


def _cell(text: str) -> str:
    return " ".join(text.split()).replace("|", r"\|")


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
