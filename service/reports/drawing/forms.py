"""The paper form for when nothing works: the steps and fields of the calls in their order, to be typed in later.

An act that is entered from it carries the time at which it happened, and is marked late by itself (shop rule 3).
"""

from collections.abc import Sequence
from dataclasses import dataclass

from service.reports.drawing.paper import drawing_tools, pages, templates


@dataclass(frozen=True, slots=True)
class Step:
    """One call as lines to be written on: its title, its fields, and how often it may be needed on one sheet.

    What is done over and over is ``one_below_the_other``: a table, a line each time.
    """

    title: str
    fields: tuple[str, ...]
    times: int = 1
    one_below_the_other: bool = False


@dataclass(frozen=True, slots=True)
class Pair:
    """What is printed on a pot's form, so that it can be weighed right when nothing else says how.

    Attributes
    ----------
    pots
        For pots of some sizes: pot, resin, hardener, hardener from and to [g].
    lives
        Mass [g], temperature [°C] and life in the cup [min].
    """

    resin: str
    hardener: str
    system: str
    ratio: str
    tolerance_pct: float
    pots: tuple[tuple[float, float, float, float, float], ...]
    stir_min: float | None
    lives: tuple[tuple[float, float, float], ...]


def form_pdf(*, title: str, steps: Sequence[Step], shop: str, pair: Pair | None = None) -> bytes:
    """The form as an A4 PDF, for a pot with the pair that it is weighed from."""
    page = (
        templates().get_template("form.html").render(title=title, steps=steps, shop=shop, pair=pair, **drawing_tools())
    )
    return pages(page, {})
