"""The tests that concern a file, and each of its mutants met with them."""

import ast
import json
import math
import os
import signal
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import FrameType
from typing import Any

from tests.mutants.changes import ROOT, Mutant, module_name, span
from tests.mutants.putting import Changed

FORMULAS = ROOT / "service/formulas"
OPERATIONS = ROOT / "service/operations"
RANGES = ROOT / "tests/formulas/test_ranges.py"
# Of processor time, since others may be at work on the same machine.
_LONGEST_S = 90
# From so many mutants of a file on it is quicker to see first which of its tests reach what.
_WORTH_A_LOOK = 5


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
