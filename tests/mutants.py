"""Does a test fail when the code is wrong? Mutants of formulas and rules, and the tests that concern each.

    python -m tests.mutants                     200 of them, as the seed draws them
    python -m tests.mutants --count 60 --seed 3
    python -m tests.mutants --file service/formulas/clocks.py

A mutant that no test notices is printed with its line. It is either a hole in the tests or the same program written
another way. mutmut and cosmic-ray start the tests anew for each mutant, several seconds long; here the libraries are
loaded once, each mutant gets a copy of the process, and it meets its own tests first and stops at the first that fails.
"""

import argparse
import ast
import contextlib
import importlib
import importlib.abc
import importlib.machinery
import os
import random
import signal
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import ModuleType

ROOT = Path(__file__).resolve().parents[1]
FORMULAS = ROOT / "service/formulas"
OPERATIONS = ROOT / "service/operations"
_LONGEST_S = 400

_COMPARED: dict[type[ast.cmpop], str] = {
    ast.Lt: "<=", ast.LtE: "<", ast.Gt: ">=", ast.GtE: ">", ast.Eq: "!=", ast.NotEq: "==", ast.Is: "is not",
    ast.IsNot: "is", ast.In: "not in", ast.NotIn: "in",
}  # fmt: skip
_COUNTED: dict[type[ast.operator], str] = {
    ast.Add: "-", ast.Sub: "+", ast.Mult: "/", ast.Div: "*", ast.FloorDiv: "/", ast.Mod: "*", ast.Pow: "*",
}  # fmt: skip
_NAMES = {"min": "max", "max": "min", "all": "any", "any": "all", "floor": "ceil", "ceil": "floor"}
# Said to the library or to the reader, not to the result.
_SAID = {"slots", "frozen", "kw_only", "strict", "full_output", "rtol", "atol", "epsrel", "mxstep", "limit", "maxsize"}


@dataclass(frozen=True)
class Mutant:
    """One change in one file."""

    path: Path
    line: int
    begin: int
    end: int
    new: str
    old: str

    def __str__(self) -> str:
        return f"{self.path.relative_to(ROOT)}:{self.line}: {self.old.strip()} -> {self.new.strip()}"


def mutants_of(path: Path) -> list[Mutant]:
    """All changes that are tried in a file: of comparisons, signs, numbers, and/or, not, min/max."""
    text = path.read_text("utf-8")
    raw, starts = text.encode(), [0]
    for line in text.encode().splitlines(keepends=True):
        starts.append(starts[-1] + len(line))
    found: list[Mutant] = []

    def place(node: ast.AST) -> tuple[int, int]:
        begin = starts[node.lineno - 1] + node.col_offset  # type: ignore[attr-defined]
        return begin, starts[node.end_lineno - 1] + node.end_col_offset  # type: ignore[attr-defined]

    def change(node: ast.AST, begin: int, end: int, new: str) -> None:
        found.append(Mutant(path, node.lineno, begin, end, new, raw[begin:end].decode()))  # type: ignore[attr-defined]

    def between(left: ast.AST, right: ast.AST) -> tuple[int, int]:
        return place(left)[1], place(right)[0]

    def visit(node: ast.AST) -> None:
        if isinstance(node, ast.Raise | ast.JoinedStr | ast.Import | ast.ImportFrom):
            return
        if isinstance(node, ast.Compare):
            for left, operator, right in zip([node.left, *node.comparators], node.ops, node.comparators, strict=False):
                begin, end = between(left, right)
                change(node, begin, end, _around(raw[begin:end].decode(), f" {_COMPARED[type(operator)]} "))
        elif isinstance(node, ast.BinOp) and type(node.op) in _COUNTED and not _is_text(node):
            begin, end = between(node.left, node.right)
            change(node, begin, end, _around(raw[begin:end].decode(), f" {_COUNTED[type(node.op)]} "))
        elif isinstance(node, ast.BoolOp):
            begin, end = between(node.values[0], node.values[1])
            other = " or " if isinstance(node.op, ast.And) else " and "
            change(node, begin, end, _around(raw[begin:end].decode(), other))
        elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
            begin, end = place(node)
            change(node, begin, end, f"({raw[begin:end].decode().removeprefix('not').strip()})")
        elif isinstance(node, ast.Constant) and type(node.value) in (int, float):
            change(node, *place(node), repr(node.value + 1))
        elif isinstance(node, ast.Constant) and type(node.value) is bool:
            change(node, *place(node), repr(not node.value))
        elif isinstance(node, ast.Name) and node.id in _NAMES and isinstance(node.ctx, ast.Load):
            change(node, *place(node), _NAMES[node.id])
        for name, child in ast.iter_fields(node):
            if name in ("annotation", "returns", "decorator_list", "slice") and not isinstance(node, ast.Subscript):
                continue
            for one in child if isinstance(child, list) else [child]:
                if isinstance(one, ast.keyword) and one.arg in _SAID:
                    continue
                if isinstance(one, ast.AST):
                    visit(one)

    visit(ast.parse(text))
    return found


def _around(there: str, operator: str) -> str:
    """The operator in the place of the one between two operands, with the brackets that stand there."""
    before = there[: len(there) - len(there.lstrip(" )\n"))].rstrip(" \n")
    after = there[len(there.rstrip(" (\n")) :].lstrip(" \n")
    return f"{before}{operator}{after}"


def _is_text(node: ast.BinOp) -> bool:
    return any(
        isinstance(one, ast.JoinedStr) or (isinstance(one, ast.Constant) and isinstance(one.value, str))
        for one in ast.walk(node)
    )


def module_name(path: Path) -> str:
    return ".".join(path.relative_to(ROOT).with_suffix("").parts)


@cache
def _imports(path: Path) -> frozenset[str]:
    """What a file imports, by the whole names of modules, things of a module counted as that module."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found |= {node.module, *(f"{node.module}.{alias.name}" for alias in node.names)}
    return frozenset(found)


def tests_of(path: Path) -> list[str]:
    """The tests that concern a file: those that import it, then those that import what is made of it."""
    tests = [
        *sorted((ROOT / "tests/formulas").glob("test_*.py")),
        *sorted((ROOT / "tests/operations").rglob("test_*.py")),
    ]
    sources = [*FORMULAS.glob("*.py")] if path.is_relative_to(FORMULAS) else [*OPERATIONS.rglob("*.py")]
    reach, chosen = {module_name(path)}, []
    for _ in range(3):
        chosen += [test for test in tests if test not in chosen and _imports(test) & reach]
        reach |= {module_name(source) for source in sources if _imports(source) & reach}
    own = [str(path)] if path.is_relative_to(FORMULAS) else []
    return [*own, *(str(test) for test in chosen)]


# Rules that stand in functions of their own, which tests ask without an account.
RULES = ("stock/fitness.py", "stock/storage.py", "pots/verdict.py", "pots/next_number.py")


def judged_files() -> list[Path]:
    """All formulas, and the rules that are told by plain tests."""
    formulas = [path for path in sorted(FORMULAS.glob("*.py")) if path.name != "__init__.py"]
    return [*formulas, *(OPERATIONS / rule for rule in RULES)]


class _Changed(importlib.abc.MetaPathFinder, importlib.abc.SourceLoader):
    """Gives one module with its mutant in it."""

    def __init__(self, mutant: Mutant) -> None:
        self.name, self.path = module_name(mutant.path), str(mutant.path)
        raw = mutant.path.read_bytes()
        self.source = raw[: mutant.begin] + mutant.new.encode() + raw[mutant.end :]

    def find_spec(self, fullname: str, path: object, target: ModuleType | None = None) -> object:
        if fullname != self.name:
            return None
        return importlib.machinery.ModuleSpec(fullname, self, origin=self.path)

    def get_filename(self, fullname: str) -> str:
        return self.path

    def get_data(self, path: str) -> bytes:
        return self.source if path == self.path else Path(path).read_bytes()


def survives(mutant: Mutant) -> bool:
    """Whether all tests that concern it pass with the mutant in place, in a copy of this process."""
    child = os.fork()
    if child == 0:
        os._exit(_tried(mutant))
    _, status = os.waitpid(child, 0)
    return status == 0


def _tried(mutant: Mutant) -> int:
    signal.alarm(_LONGEST_S)
    quiet = os.open(os.devnull, os.O_WRONLY)
    os.dup2(quiet, 1)
    os.dup2(quiet, 2)
    with contextlib.suppress(Exception):
        sys.meta_path.insert(0, _Changed(mutant))
        # Before pytest collects the file itself for its examples, which would bring the unchanged one in.
        importlib.import_module(module_name(mutant.path))
        import pytest

        chosen = [*tests_of(mutant.path), "-x", "-q", "-p", "no:cacheprovider", "--hypothesis-seed=0"]
        return int(pytest.main([*chosen, "-k", "not postgresql", "-m", "not long and not account"]))
    return 1


def sample(paths: list[Path], count: int, seed: int) -> Iterator[Mutant]:
    every = [mutant for path in paths for mutant in mutants_of(path)]
    yield from random.Random(seed).sample(every, min(count, len(every)))


def main() -> int:
    asked = argparse.ArgumentParser(description="Mutants of formulas and rules that no test notices.")
    asked.add_argument("--count", type=int, default=200)
    asked.add_argument("--seed", type=int, default=8)
    asked.add_argument("--file", type=Path, action="append")
    given = asked.parse_args()
    # What every copy needs is loaded once.
    import numpy
    import pytest
    import scipy.integrate
    import scipy.optimize
    import scipy.stats

    assert all((numpy, pytest, scipy))
    os.chdir(ROOT)
    paths = [path.resolve() for path in given.file] if given.file else judged_files()
    began, alive, tried = time.monotonic(), [], 0
    drawn = list(sample(paths, given.count, given.seed))
    for path in sorted({mutant.path for mutant in drawn}):
        # Tests that fail anyway would kill every mutant.
        if not survives(Mutant(path, 1, 0, 0, "", "")):
            print(f"The tests of {path.relative_to(ROOT)} fail as it is.", file=sys.stderr)
            return 1
    for mutant in drawn:
        tried += 1
        if survives(mutant):
            alive.append(mutant)
            print(f"lives: {mutant}", flush=True)
    print(f"{len(alive)} of {tried} mutants live, {time.monotonic() - began:.0f} s.")
    return 0


if __name__ == "__main__":
    sys.exit(main())
