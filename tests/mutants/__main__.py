"""Does a test fail when the code is wrong? Mutants of formulas and rules, and the tests that concern each.

    python -m tests.mutants                     200 of them, as the seed draws them
    python -m tests.mutants --count 60 --seed 3
    python -m tests.mutants --file service/formulas/clocks.py

A mutant that no test notices is printed with its line. It is either a hole in the tests or the same program written
another way; same.toml beside this says of which the second was shown, and why. Those are tried like the others, counted
and printed apart, and one that a test notices after all, or whose line is no longer there, is an error.

mutmut and cosmic-ray start the tests anew for each mutant, several seconds long. Here the tests of a file are
collected once and, where there are several mutants, run once, to see which lines each of them reaches; then each
mutant gets a copy of that process in which the changed functions and constants are put in the place of the others,
meets the tests that reach its line, the quickest first, and is dead with the first that fails.
"""

import argparse
import os
import random
import sys
import time
import tomllib
from collections.abc import Sequence
from pathlib import Path

from tests.mutants.changes import ROOT, Mutant, mutants_of
from tests.mutants.trials import FORMULAS, OPERATIONS, survivors

SAME = Path(__file__).with_name("same.toml")
# Rules that stand in functions of their own, which tests ask without an account.
RULES = ("stock/fitness.py", "stock/storage.py", "pots/verdict.py", "pots/next_number.py")


def judged_files() -> list[Path]:
    """All formulas, and the rules that are told by plain tests."""
    formulas = [path for path in sorted(FORMULAS.glob("*.py")) if path.name != "__init__.py"]
    return [*formulas, *(OPERATIONS / rule for rule in RULES)]


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
