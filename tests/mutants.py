"""Does a test fail when the code is wrong? Mutants of formulas and rules, and the tests that concern each.

    python -m tests.mutants                     200 of them, as the seed draws them
    python -m tests.mutants --count 60 --seed 3
    python -m tests.mutants --file service/formulas/clocks.py

A mutant that no test notices is printed with its line. It is either a hole in the tests or the same program written
another way; tests/mutants.toml says of which the second was shown, and why. Those are tried like the others, counted
and printed apart, and one that a test notices after all, or whose line is no longer there, is an error.

mutmut and cosmic-ray start the tests anew for each mutant, several seconds long. Here the tests of a file are
collected once and, where there are several mutants, run once, to see which lines each of them reaches; then each
mutant gets a copy of that process in which the changed functions and constants are put in the place of the others,
meets the tests that reach its line, the quickest first, and is dead with the first that fails.
"""

import argparse
import ast
import gc
import json
import math
import os
import random
import signal
import sys
import time
import tomllib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, fields, is_dataclass
from functools import cache
from pathlib import Path
from types import CodeType, FrameType, FunctionType, ModuleType
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
FORMULAS = ROOT / "service/formulas"
OPERATIONS = ROOT / "service/operations"
RANGES = ROOT / "tests/formulas/test_ranges.py"
SAME = ROOT / "tests/mutants.toml"
# Of processor time, since others may be at work on the same machine.
_LONGEST_S = 90
# From so many mutants of a file on it is quicker to see first which of its tests reach what.
_WORTH_A_LOOK = 5
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
        return f"{self.path.relative_to(ROOT)}:{self.line}: {self.was} => {self.becomes}"

    def _around(self, middle: bytes) -> str:
        raw = self.path.read_bytes()
        begin, end = raw.rfind(b"\n", 0, self.begin) + 1, raw.find(b"\n", self.end)
        return b" ".join((raw[begin : self.begin] + middle + raw[self.end : end]).split()).decode()

    @property
    def was(self) -> str:
        """The line as it stands."""
        return self._around(self.old.encode())

    @property
    def becomes(self) -> str:
        return self._around(self.new.encode())


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
    """The tests that concern a file: those that import it, then those that import what is made of it; of a formula
    its examples and its ranges too."""
    tests = [
        *sorted((ROOT / "tests/formulas").glob("test_*.py")),
        *sorted((ROOT / "tests/operations").rglob("test_*.py")),
    ]
    sources = [*FORMULAS.glob("*.py")] if path.is_relative_to(FORMULAS) else [*OPERATIONS.rglob("*.py")]
    reach, chosen = {module_name(path)}, []
    for _ in range(2):
        chosen += [test for test in tests if test not in chosen and _imports(test) & reach]
        reach |= {module_name(source) for source in sources if _imports(source) & reach}
    formula = path.is_relative_to(FORMULAS)
    return [*([str(path)] if formula else []), *(str(test) for test in chosen), *([str(RANGES)] if formula else [])]


# Rules that stand in functions of their own, which tests ask without an account.
RULES = ("stock/fitness.py", "stock/storage.py", "pots/verdict.py", "pots/next_number.py")


def judged_files() -> list[Path]:
    """All formulas, and the rules that are told by plain tests."""
    formulas = [path for path in sorted(FORMULAS.glob("*.py")) if path.name != "__init__.py"]
    return [*formulas, *(OPERATIONS / rule for rule in RULES)]


class Changed:
    """Puts a mutant in the place of what a module holds: code, defaults and constants, wherever they are held."""

    def __init__(self, path: Path) -> None:
        self.path, self.name = path, module_name(path)
        self.raw = path.read_bytes()
        self.module = sys.modules[self.name]
        self.functions = [
            one for one in gc.get_objects() if isinstance(one, FunctionType) and one.__code__.co_filename == str(path)
        ]

    def put(self, mutant: Mutant) -> None:
        raw = self.raw[: mutant.begin] + mutant.new.encode() + self.raw[mutant.end :]
        whole = compile(raw, str(self.path), "exec")
        codes = dict(_codes(whole))
        fresh = ModuleType(self.name)
        fresh.__file__ = str(self.path)
        there, sys.modules[self.name] = sys.modules[self.name], fresh
        try:
            exec(whole, fresh.__dict__)
        finally:
            sys.modules[self.name] = there
        # Methods of any kind too: whatever was made in the fresh module, by where it stands.
        made = {_place(one): one for one in gc.get_objects() if _is_of(one, fresh)}
        for function in self.functions:
            other = made.get(_place(function))
            if other is not None:
                function.__defaults__, function.__kwdefaults__ = other.__defaults__, other.__kwdefaults__
            code = codes.get((function.__code__.co_qualname, function.__code__.co_firstlineno))
            if code is not None and code.co_freevars == function.__code__.co_freevars:
                function.__code__ = code
        for name, new in fresh.__dict__.items():
            self._replace(name, self.module.__dict__.get(name), new)

    def _replace(self, name: str, old: Any, new: Any) -> None:
        """What stands in the module itself: defaults of functions and of fields, constants here and where imported."""
        if isinstance(old, type) and isinstance(new, type):
            if old.__module__ == self.name:
                _like(old, new)
        elif not name.startswith("__") and not isinstance(new, ModuleType) and not callable(new) and _differs(old, new):
            for module in list(sys.modules.values()):
                if isinstance(module, ModuleType) and module.__dict__.get(name) is old:
                    setattr(module, name, new)


def _is_of(one: Any, module: ModuleType) -> bool:
    return isinstance(one, FunctionType) and one.__globals__ is module.__dict__


def _place(function: FunctionType) -> tuple[str, int]:
    return function.__code__.co_qualname, function.__code__.co_firstlineno


def _differs(old: Any, new: Any) -> bool:
    try:
        return bool(old != new)
    except (TypeError, ValueError):
        return old is not new


def _like(old: type, new: type) -> None:
    """A class takes the defaults and constants of another."""
    for name, value in vars(new).items():
        before = vars(old).get(name)
        if type(value) in (int, float, bool, tuple) and before != value:
            setattr(old, name, value)
    made, other_made = vars(old).get("__init__"), vars(new).get("__init__")
    if is_dataclass(old) and is_dataclass(new) and made is not None and other_made is not None:
        # Where a field has its default from as an instance is made.
        pairs = zip(made.__defaults__ or (), other_made.__defaults__ or (), strict=True)
        made.__defaults__ = tuple(two if type(two) in (int, float, bool) else one for one, two in pairs)
    if is_dataclass(old) and is_dataclass(new):
        for one, other in zip(fields(old), fields(new), strict=True):
            one.default = other.default


def _codes(code: CodeType) -> Iterator[tuple[tuple[str, int], CodeType]]:
    for constant in code.co_consts:
        if isinstance(constant, CodeType):
            yield (constant.co_qualname, constant.co_firstlineno), constant
            yield from _codes(constant)


def span(mutant: Mutant) -> frozenset[int] | None:
    """The lines that are run where a mutant makes a difference: of its innermost statement, without what stands
    indented under it; nothing for what is run as the module is imported."""
    lines: frozenset[int] | None = None
    nodes: list[ast.AST] = [ast.parse(mutant.path.read_text("utf-8"))]
    functions = 0
    while nodes:
        for node in ast.iter_child_nodes(nodes.pop()):
            if not isinstance(node, ast.stmt):
                if isinstance(node, ast.excepthandler | ast.match_case):
                    nodes.append(node)
                continue
            if not node.lineno <= mutant.line <= (node.end_lineno or node.lineno):
                continue
            body = getattr(node, "body", None)
            last = node.end_lineno if not body or isinstance(node, ast.Match) else max(body[0].lineno - 1, node.lineno)
            inside = functions > 0
            functions += isinstance(node, ast.FunctionDef)
            if mutant.line <= (last or node.lineno):
                return frozenset(range(node.lineno, (last or node.lineno) + 1)) if inside else None
            nodes = [node]
            break
    return lines


@dataclass(frozen=True)
class Reach:
    """How long a test takes, and which lines of the file it runs; all where that is not known."""

    seconds: float
    lines: frozenset[int] | None


class Trials:
    """A plugin of pytest that has the tests of one file collected and meets each mutant with them."""

    def __init__(self, path: Path, mutants: Sequence[Mutant]) -> None:
        self.path, self.mutants = path, mutants
        self.alive: list[Mutant] = []
        # Tests that pass without any mutant.
        self._trusted: set[Any] = set()
        self.sound = False
        self._reach: dict[Any, Reach] = {}

    def pytest_collection_modifyitems(self, items: list[Any]) -> None:
        """Of all ranges those of the file itself are about it."""
        about = f"[{self.path.stem}."
        items[:] = [item for item in items if item.path != RANGES or about in item.name]

    def pytest_runtestloop(self, session: Any) -> bool:
        changed = Changed(self.path)
        self.sound = bool(session.items)
        session.items.sort(key=_is_long)
        if len(self.mutants) >= _WORTH_A_LOOK:
            self._reach = self._reached([item for item in session.items if not _is_long(item)])
        unknown = Reach(math.inf, None)
        self._reach = {item: self._reach.get(item, unknown) for item in session.items}
        session.items.sort(key=lambda item: self._reach[item].seconds)
        for mutant in self.mutants:
            while (
                killer := self._killer(session, self._concerned(session.items, mutant), mutant, changed)
            ) is not None:
                if killer in self._trusted or self._killer(session, [killer], None, changed) is None:
                    self._trusted.add(killer)
                    break
                # A test that fails as it is kills nothing; the mutant meets the others.
                os.write(2, f"fails as it is: {killer.nodeid}\n".encode())
                session.items.remove(killer)
            else:
                self.alive.append(mutant)
                os.write(2, f"lives: {mutant}\n".encode())
        return True

    def _concerned(self, items: list[Any], mutant: Mutant) -> list[Any]:
        lines = span(mutant)
        if lines is None:
            return items
        reached = [(item, self._reach[item].lines) for item in items]
        return [item for item, run in reached if run is None or run & lines]

    def _reached(self, items: list[Any]) -> dict[Any, Reach]:
        """Every test once, in a copy of this process, so that nothing that it keeps is kept for the mutants."""
        reads, writes = os.pipe()
        child = os.fork()
        if child == 0:
            with os.fdopen(writes, "w") as told:
                for place, item in enumerate(items):
                    following = items[place + 1] if place + 1 < len(items) else None
                    run: set[int] = set()
                    failed, began = item.session.testsfailed, time.process_time()
                    sys.settrace(_tracer(str(self.path), run))
                    try:
                        item.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
                    finally:
                        sys.settrace(None)
                    whole = item.session.testsfailed == failed
                    print(json.dumps([time.process_time() - began, sorted(run) if whole else None]), file=told)
            os._exit(0)
        os.close(writes)
        with os.fdopen(reads) as told:
            found = [Reach(seconds, None if run is None else frozenset(run)) for seconds, run in map(json.loads, told)]
        os.waitpid(child, 0)
        return dict(zip(items, found, strict=True))

    def _killer(self, session: Any, items: list[Any], mutant: Mutant | None, changed: Changed) -> Any:
        """The first of these tests that fails, in a copy of this process; nothing if all pass."""
        reads, writes = os.pipe()
        child = os.fork()
        if child == 0:
            self._tried(session, items, mutant, changed, writes)
            os._exit(0)
        os.close(writes)
        with os.fdopen(reads, "rb") as told:
            began = told.read()
        _, status = os.waitpid(child, 0)
        # Each test that begins writes a byte; a copy that ended badly did so within the last that began.
        return items[max(len(began) - 1, 0)] if status and items else None

    @staticmethod
    def _tried(session: Any, items: list[Any], mutant: Mutant | None, changed: Changed, tell: int) -> None:
        try:
            signal.setitimer(signal.ITIMER_PROF, _LONGEST_S)
            if mutant is not None:
                changed.put(mutant)
            for place, item in enumerate(items):
                os.write(tell, b".")
                following = items[place + 1] if place + 1 < len(items) else None
                item.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
                if session.testsfailed:
                    os._exit(1)
        except BaseException:
            os._exit(1)


def _is_long(item: Any) -> bool:
    return item.get_closest_marker("long") is not None


def _tracer(path: str, run: set[int]) -> Callable[..., Any]:
    """Notes the lines of one file that are run."""

    def line(frame: FrameType, event: str, argument: object) -> Any:
        run.add(frame.f_lineno)
        return line

    def call(frame: FrameType, event: str, argument: object) -> Any:
        return line(frame, event, argument) if frame.f_code.co_filename == path else None

    return call


def survivors(path: Path, mutants: Sequence[Mutant]) -> list[Mutant] | None:
    """Of the mutants of one file those that all its tests let live; nothing if it has no tests. In a process of its
    own, so that no file's tests see what those of another have left behind."""
    reads, writes = os.pipe()
    child = os.fork()
    if child == 0:
        import pytest

        quiet = os.open(os.devnull, os.O_WRONLY)
        os.dup2(quiet, 1)
        trials = Trials(path, mutants)
        chosen = [*tests_of(path), "-q", "-p", "no:cacheprovider", "--hypothesis-seed=0"]
        pytest.main([*chosen, "-k", "not postgresql", "-m", "not account"], plugins=[trials])
        alive = [str(mutants.index(one)) for one in trials.alive] if trials.sound else ["unsound"]
        os.write(writes, " ".join(alive).encode())
        os._exit(0)
    os.close(writes)
    with os.fdopen(reads) as told:
        answer = told.read().split()
    os.waitpid(child, 0)
    return None if answer == ["unsound"] else [mutants[int(place)] for place in answer]


def sample(paths: Sequence[Path], count: int, seed: int, lines: range) -> list[Mutant]:
    every = [mutant for path in paths for mutant in mutants_of(path) if mutant.line in lines]
    return random.Random(seed).sample(every, min(count, len(every)))


def same_programs() -> dict[tuple[str, str, str], str]:
    """Why a change changes nothing: by file, line and what the line becomes."""
    told = tomllib.loads(SAME.read_text("utf-8"))
    return {(one["file"], one["line"], one["becomes"]): one["why"] for one in told["same"]}


def _key(mutant: Mutant) -> tuple[str, str, str]:
    return str(mutant.path.relative_to(ROOT)), mutant.was, mutant.becomes


def main() -> int:
    asked = argparse.ArgumentParser(description="Mutants of formulas and rules that no test notices.")
    asked.add_argument("--count", type=int, default=200)
    asked.add_argument("--seed", type=int, default=8)
    asked.add_argument("--file", type=Path, action="append")
    asked.add_argument("--lines", default="1-100000", help="only mutants of these lines: 148 or 140-160")
    given = asked.parse_args()
    os.chdir(ROOT)
    paths = [path.resolve() for path in given.file] if given.file else judged_files()
    began, alive, wrong = time.monotonic(), [], 0
    first, _, last = given.lines.partition("-")
    drawn = sample(paths, given.count, given.seed, range(int(first), int(last or first) + 1))
    same = same_programs()
    there = {_key(mutant) for path in judged_files() for mutant in mutants_of(path)}
    for file, line, becomes in same:
        if (file, line, becomes) not in there:
            print(f"{SAME.name}: {file} has no such line: {line} => {becomes}", file=sys.stderr)
            wrong += 1
    for path in sorted({mutant.path for mutant in drawn}):
        tried = [mutant for mutant in drawn if mutant.path == path]
        living = survivors(path, tried)
        if living is None:
            print(f"There are no tests of {path.relative_to(ROOT)}.", file=sys.stderr)
            wrong += 1
            continue
        alive += living
        for mutant in tried:
            if mutant not in living and _key(mutant) in same:
                print(f"{SAME.name} calls this the same program, but a test tells it apart: {mutant}", file=sys.stderr)
                wrong += 1
    for mutant in alive:
        if _key(mutant) in same:
            print(f"the same program: {mutant}\n    {same[_key(mutant)]}")
    other = [mutant for mutant in alive if _key(mutant) not in same]
    for mutant in other:
        print(f"lives: {mutant}")
    print(
        f"{len(alive)} of {len(drawn)} live: {len(alive) - len(other)} are the same program, {len(other)} are not"
        f" ({100 * len(other) / len(drawn):.1f} %); {time.monotonic() - began:.0f} s."
    )
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
