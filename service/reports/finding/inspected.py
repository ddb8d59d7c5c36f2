"""What inspections measured on the parts that are compared: hardness, by which a failure shows, and all the rest."""

from collections import defaultdict
from collections.abc import Iterable
from typing import NamedTuple

from service.database import each
from service.operations.ledger.failing import stands
from service.records.base import read_all
from service.reports.finding.rows import Rows

# Hardness is how a failure shows, not what leads to it.
_OUTCOME = ("hardness", "barcol", "shore")


class Measurement(NamedTuple):
    """One figure of one inspection of a part."""

    part: int
    name: str
    unit: str
    value: float


def measurements(rows: Rows) -> list[Measurement]:
    """All of them in the order of their entry, but for those of a part that was worked on again before."""
    inspections = rows.of(
        "SELECT s.measurements, s.part_id, s.occurred_at FROM parts"
        f" {each('inspection', 's', 's.part_id IN (parts.id)')} WHERE {stands('s')} ORDER BY s.id"
    )
    return [
        Measurement(part, one["name"], one.get("unit") or "", one["value"])
        for (_, part, at), measured in zip(inspections, read_all(text for text, *_ in inspections), strict=True)
        if not rows.was_reworked(part, at)
        for one in measured
    ]


def hardness_of(measured: Iterable[Measurement]) -> dict[int, tuple[float, str]]:
    """The hardness that the last inspection of each part measured, in the unit that most have."""
    found = {
        one.part: (one.value, f"{one.name} {one.unit}".rstrip())
        for one in measured
        if "hardness" in one.name.casefold()
    }
    names = [name for _, name in found.values()]
    usual = max(set(names), key=names.count) if names else None
    return {part: (value, name) for part, (value, name) in found.items() if name == usual}


def numbers_of(measured: Iterable[Measurement]) -> dict[tuple[str, str], dict[int, float]]:
    """Hardness apart, by name and unit, of each part the last: thickness, fibre fraction, whatever a shop measures."""
    found: dict[tuple[str, str], dict[int, float]] = defaultdict(dict)
    for one in measured:
        if not any(word in f"{one.name} {one.unit}".casefold() for word in _OUTCOME):
            found[f"{one.name}, measured", one.unit][one.part] = one.value
    return found
