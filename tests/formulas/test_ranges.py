"""Every argument is taken up to the very ends of its range, and refused by its name right beyond them.

`lengths.txt` says how few and how many a list may hold; `ranges.txt` says of each formula and of each form handed
over: the argument, and its interval, whose round brackets leave the end itself out. The rest of a call is that of the
docstring's first example.
"""

import dataclasses
import inspect
import math
import re
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import pytest

from service.formulas.ranges import OutOfRange
from tests.formulas.examples import calls, forms

# In the example another argument ends the range before its own end.
NARROWER = "…"
ROW = re.compile(r"(\S+) (\w+)(?:\[(\w+)\])? ([\[(])(\S+), (\S+)([\])])")
ROWS = [
    found.groups()
    for line in Path(__file__).with_name("ranges.txt").read_text("utf-8").splitlines()
    if (found := ROW.fullmatch(line))
]


def _setter(subject: str, argument: str, place: str | None) -> tuple[Callable[[Any], Any], bool]:
    """What calls the formula, or makes the form, with one argument changed; and whether that takes whole numbers."""
    if subject in forms():
        form = forms()[subject]
        whole = isinstance(getattr(form, argument), int) and _is_whole(type(form), argument)
        return lambda value: dataclasses.replace(form, **{argument: value}), whole
    function, given = calls()[subject]

    def called(value: Any) -> Any:
        return function(**{**given, argument: value if place is None else _changed(given[argument], place, value)})

    return called, _is_whole(function, argument)


def _is_whole(of: Any, argument: str) -> bool:
    return inspect.signature(of).parameters[argument].annotation in (int, "int")


def _changed(values: Any, place: str, value: Any) -> Any:
    if not isinstance(values, Sequence):
        return {**values, place: value}
    return [value if at == int(place) else one for at, one in enumerate(values)]


def _refused(call: Callable[[Any], Any], value: float, name: str) -> bool:
    """Whether this argument is refused; another one may be, which no longer fits to it."""
    try:
        call(value)
    except OutOfRange as wrong:
        return wrong.argument == name
    except (ZeroDivisionError, OverflowError):
        return False
    return False


@pytest.mark.parametrize(
    ("subject", "argument", "place", "opens", "low", "high", "closes"),
    ROWS,
    ids=[f"{row[0]}-{row[1]}{row[2] or ''}" for row in ROWS],
)
def test_an_argument_is_taken_up_to_the_ends_of_its_range(
    subject: str, argument: str, place: str | None, opens: str, low: str, high: str, closes: str
) -> None:
    call, whole = _setter(subject, argument, place)
    name = argument if place is None else f"{argument}[{place}]"
    for text, way, held in ((low, -1, opens == "["), (high, 1, closes == "]")):
        if text == NARROWER:
            continue
        end = float(text)
        at = int(end) if whole else end
        beyond = at + way if whole else math.nextafter(end, way * math.inf)
        assert _refused(call, at, name) is not held, f"{at:g}"
        assert _refused(call, beyond, name), f"{beyond!r}"


def test_the_list_is_read_whole() -> None:
    assert len(ROWS) == len(Path(__file__).with_name("ranges.txt").read_text("utf-8").splitlines()) > 200


LENGTHS = [line.split() for line in Path(__file__).with_name("lengths.txt").read_text("utf-8").splitlines()]


@pytest.mark.parametrize(("subject", "argument", "least", "most"), LENGTHS, ids=[" ".join(row[:2]) for row in LENGTHS])
def test_a_list_holds_as_few_and_as_many_as_it_may(subject: str, argument: str, least: str, most: str) -> None:
    function, given = calls()[subject]
    own = list(given[argument])

    def refused(count: int) -> bool:
        try:
            function(**{**given, argument: [own[place % len(own)] for place in range(count)]})
        except OutOfRange as wrong:
            return wrong.argument == argument and str(wrong.given).startswith("a list of")
        return False

    assert not refused(int(least))
    assert least == "0" or refused(int(least) - 1)
    if most != NARROWER:
        assert not refused(int(most))
        assert refused(int(most) + 1)
