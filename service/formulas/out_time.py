"""How much of its life a prepreg or a film adhesive has used up out of the cold (shop rule 14). Serves the stock rooms.

A data sheet gives hours at one or more temperatures. Hours at a temperature count by the row of the next warmer
temperature, never by a cooler one: a cautious reading that needs no law for what lies between two rows. Spans add up as
shares of the hours of their row (a linear sum, as Palmgren and Miner add up fatigue; common practice here, no source).
Warmer than the warmest row nothing is known.
"""

import math
from collections.abc import Iterable, Sequence

from service.formulas.ranges import within

Row = tuple[float, float]
"""A temperature [°C] and the hours [h] that the life lasts at it."""


def allowed_hours(rows: Sequence[Row], temperature_c: float | None) -> float | None:
    """Hours that the whole life lasts at a temperature; nothing where the table does not go so far.

    A temperature that nobody measured counts as the warmest of the table.

    >>> sheet = [(21.0, 480.0), (27.0, 240.0)]
    >>> allowed_hours(sheet, 18), allowed_hours(sheet, 21.5), allowed_hours(sheet, None), allowed_hours(sheet, 30)
    (480.0, 240.0, 240.0, None)
    """
    for temperature, hours in rows:
        within("hours", hours, 0, 100_000, above=True, unit="h")
        within("temperature_c", temperature, -60, 100, unit="°C")
    if temperature_c is None:
        return max(rows)[1]
    covering = [row for row in rows if row[0] >= temperature_c]
    return min(covering)[1] if covering else None


def used_share(rows: Sequence[Row], spans: Iterable[tuple[float, float | None]]) -> float:
    """Share of the life that these spans use, each hours and temperature; 1 is all, infinity where it is not known.

    >>> used_share([(21.0, 480.0), (27.0, 240.0)], [(48.0, 20.0), (24.0, 25.0), (12.0, None)])
    0.25
    >>> used_share([(21.0, 480.0)], [(1.0, 22.0)])
    inf
    """
    share = 0.0
    for hours, temperature_c in spans:
        if hours <= 0:
            continue
        allowed = allowed_hours(rows, temperature_c)
        share += math.inf if allowed is None else hours / allowed
    return share


def hours_left(rows: Sequence[Row], used: float, temperature_c: float | None) -> float | None:
    """Hours that are left at a temperature; nothing where the table does not say.

    >>> hours_left([(21.0, 480.0)], 0.25, 20.0), hours_left([(21.0, 480.0)], 1.5, None)
    (360.0, 0.0)
    """
    allowed = allowed_hours(rows, temperature_c)
    if allowed is None or math.isinf(used):
        return None
    return max(allowed * (1 - used), 0.0)
