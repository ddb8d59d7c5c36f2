"""What is tested, measured and noted on a part and takes nothing from stock: each on a page, and one to choose from."""

from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Any

from schemas.parts import PartStepIn
from schemas.words import StepKind, Tack
from service.operations.parts.checks_at_bench import checks_at_bench
from service.operations.parts.steps import record_part_step
from service.pages.base import Pages, code_of
from service.pages.telling import plain

# What the gloved finger finds, in the words of who puts it there.
_FOUND = {
    Tack.LIFTS: "it comes off on the glove",
    Tack.MARKS: "it leaves a mark, nothing comes off",
    Tack.DRY: "no mark at all",
}
# Kind -> what its page is called, and when it is due.
_ABOUT = {
    StepKind.TACK_TEST: ("Tack test", "A gloved finger on the gel coat, before the first ply"),
    StepKind.GEL_COAT_THICKNESS: ("Gel coat thickness", "Wet, as the comb shows it"),
    StepKind.CLIMATE: ("Air and surface", "How near the dew point is"),
    StepKind.BACKERS: ("Backing films", "Counted when they have come off"),
    StepKind.BAG: ("The bag is on", "Sealed, nothing read yet"),
    StepKind.DROP_TEST: ("Drop test", "Pump off: what the bag loses"),
    StepKind.VACUUM: ("Vacuum of the night", "The least there was, until the resin had gelled"),
    StepKind.MASS: ("Weigh the part", "As it is now"),
    StepKind.NOTE: ("Note something", "In your own words"),
}
# What was found, as it is told afterwards.
_TOLD = {
    "result": "{}", "temperature_c": "{} °C", "thickness_mm": "{} mm", "air_c": "air {} °C", "humidity_pct": "{} %",
    "surface_c": "surface {} °C", "counted": "{} counted", "expected": "{} expected", "start_mbar": "from {} mbar",
    "end_mbar": "to {} mbar", "minutes": "in {} min", "gauge": "gauge {}", "least_mbar": "at least {} mbar",
    "mass_g": "{} g", "trimmed_off_g": "{} g cut off", "damage": "damage: {}", "remark": "{}",
}  # fmt: skip
TESTS = {kind: (kind.replace(" ", "-"), *about) for kind, about in _ABOUT.items()}


def told(facts: Mapping[str, Any]) -> str:
    """What a step found, in a line.

    >>> told({"start_mbar": 900.0, "end_mbar": 880.5, "minutes": 10, "gauge": "P4", "drop_mbar": 19.5})
    'from 900 mbar, to 880.5 mbar, in 10 min, gauge P4'
    """
    known = [(words, facts[name]) for name, words in _TOLD.items() if facts.get(name) is not None]
    line = ", ".join(words.format(plain(fact) if isinstance(fact, int | float) else fact) for words, fact in known)
    return f"{line}. {facts['sentence']}" if facts.get("sentence") else line


def _to_test(kind: StepKind | None) -> Callable[..., dict[str, Any]]:
    def shown(code: str, *, at: datetime) -> dict[str, Any]:
        return {"seen": checks_at_bench(code), "kind": kind, "tests": TESTS, "found": _FOUND, "told": told}

    return shown


def add_testing(pages: Pages) -> Pages:
    """The pages of a part on which something is tested, and their forms."""
    pages.show("tests", _to_test(None), "tests.html")
    for kind, (step, _, _) in TESTS.items():
        pages.show(step, _to_test(kind), f"tests/{step}.html")
        pages.act(step, record_part_step, PartStepIn, page=step, then=lambda part: f"/I/{code_of(part)}/tests")
    return pages
