"""The curves of cures as the plots need them; a document names their files instead."""

from collections.abc import Iterable

from service.operations.cures.curves import CurePlot, cure_plot
from service.operations.door.refusals import UnknownThing
from service.reports.reading.cures import CureAccount


def read_curves(cures: Iterable[CureAccount]) -> dict[str, CurePlot]:
    """By the code of the cure; those without a log have none."""
    found = {}
    for cure in cures:
        if not cure.logs:
            continue
        try:
            found[cure.code] = cure_plot(cure.code)
        except UnknownThing:
            continue
    return found
