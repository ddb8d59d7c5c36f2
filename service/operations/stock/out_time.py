"""The two clocks of a prepreg or film adhesive out of the cold: tack life to lay-up, out life to the start of cure.

Both run while it stands in no cold place, by the material's table and by what was measured there, and stop when it goes
back (shop rule 14). What is cut or taken off begins with what its parent had used.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from service.database import each, each_or_none, listed, looked_up, rows_of
from service.formulas.out_time import Row, allowed_hours, hours_left, used_share
from service.operations.door.operation import Work
from service.operations.door.shop import time_in_shop
from service.operations.ledger.failing import stands
from service.operations.stock.places import COLD_BELOW_C
from service.operations.stock.storage import DAYS_BETWEEN_READINGS
from service.records.base import instant, microseconds
from service.records.items import Item
from service.records.materials import Container, Material
from service.records.parts import Cut
from service.records.storage import OutTimeStart

# A share that stands for one that nobody can tell; a database and JSON know no infinity.
NOT_KNOWN = 1e9


@dataclass(frozen=True, slots=True)
class Sheet:
    """What the data sheet says of a material's life out of the cold; it may have no tack life of its own."""

    out: tuple[Row, ...]
    tack: tuple[Row, ...] = ()


@dataclass(frozen=True, slots=True)
class Clocks:
    """How far both clocks have run at an instant, as shares of the whole; `NOT_KNOWN` where it stood too warm to tell.

    Attributes
    ----------
    tack_used
        Nothing where the data sheet gives no tack life.
    here_c
        What was measured where it stands; nothing where nobody measured, and the warmest of the table counts.
    tack_until
        If it stays where it is; nothing in the cold.
    """

    out_used: float
    tack_used: float | None
    cold: bool
    here_c: float | None
    out_left_h: float | None
    tack_left_h: float | None
    out_until: datetime | None
    tack_until: datetime | None
    # The whole out life at the temperature of the place, the warmest of the table where nobody measured.
    out_life_h: float | None

    def sentence(self, *, now: datetime, zone: str) -> str:
        """Both clocks in a sentence, the one that ends first before the other."""
        lives = [("Tack life", self.tack_until, self.tack_left_h)] if self.tack_used is not None else []
        lives.append(("out life" if lives else "Out life", self.out_until, self.out_left_h))
        said = "; ".join(_life(*life, now=now, zone=zone) for life in lives)
        where = " once it is out of the cold" if self.cold else ""
        unknown = "" if self.cold or self.here_c is not None else " The air is not measured: the warmest row counts."
        return f"{said}{where}.{unknown}"


def _life(name: str, until: datetime | None, left_h: float | None, *, now: datetime, zone: str) -> str:
    if left_h is None:
        return f"{name} not known: warmer than its table"
    if left_h == 0:
        return f"{name} over"
    return f"{name} until {time_in_shop(until, now=now, zone=zone)}" if until is not None else f"{name} {left_h:.0f} h"


def sheet_of(material: Any) -> Sheet | None:
    """The table of a material that has one."""
    return sheet_from(material.out_time)


def sheet_from(told: Any) -> Sheet | None:
    if not told:
        return None
    rows = {
        name: tuple((row["temperature_c"], row["hours"]) for row in told.get(name) or ()) for name in ("out", "tack")
    }
    return Sheet(out=rows["out"], tack=rows["tack"])


def clocks_of(sheets: Mapping[int, Sheet | None], *, at: datetime) -> dict[int, Clocks]:
    """The clocks of all of these that have a table, in one query."""
    asked = {number: sheet for number, sheet in sheets.items() if sheet is not None}
    if not asked:
        return {}
    until = microseconds(at)
    rows: dict[int, list[tuple[Any, ...]]] = {number: [] for number in asked}
    for number, *row in rows_of(_stays_text(), until, until, until, listed(asked), until):
        rows[number].append(tuple(row))
    return {number: _clocks(sheet, rows[number], at) for number, sheet in asked.items()}


def _clocks(sheet: Sheet, rows: Sequence[tuple[Any, ...]], at: datetime) -> Clocks:
    spans: list[tuple[float, float | None]] = []
    tack, out, begins = 0.0, 0.0, None
    cold, here_c = False, None
    for begun, tack_used, out_used, since, left, marked, last_c, last_at, every, highest_c in rows:
        if begun is not None:
            tack, out, begins = tack_used, out_used, instant(begun)
        if since is None:
            # It was never put anywhere: it lies about since it was made.
            spans.append(((at - (begins or at)) / timedelta(hours=1), None))
            cold, here_c = False, None
            continue
        fresh = last_at is not None and at - instant(last_at) <= timedelta(days=every or DAYS_BETWEEN_READINGS)
        cold = bool(marked) if marked is not None else last_c is not None and last_c < COLD_BELOW_C
        here_c = highest_c if highest_c is not None else (last_c if fresh else None)
        from_then = max(instant(since), begins) if begins is not None else instant(since)
        to = at if left is None else min(instant(left), at)
        if not cold:
            spans.append(((to - from_then) / timedelta(hours=1), here_c))
    out = min(out + used_share(sheet.out, spans), NOT_KNOWN)
    tack_share = min(tack + used_share(sheet.tack, spans), NOT_KNOWN) if sheet.tack else None
    out_left = _left(sheet.out, out, here_c, cold)
    tack_left = _left(sheet.tack, tack_share, here_c, cold) if tack_share is not None else None
    return Clocks(
        out_used=out,
        tack_used=tack_share,
        cold=cold,
        here_c=here_c,
        out_left_h=out_left,
        tack_left_h=tack_left,
        out_until=None if cold or not out_left else at + timedelta(hours=out_left),
        tack_until=None if cold or not tack_left else at + timedelta(hours=tack_left),
        out_life_h=allowed_hours(sheet.out, None if cold else here_c),
    )


def _left(rows: Sequence[Row], used: float, here_c: float | None, cold: bool) -> float | None:
    """Hours left where it stands; in the cold those that it has once it is out, at the coolest row of its table."""
    if used >= NOT_KNOWN:
        return None
    return hours_left(rows, used, min(rows)[0] if cold else here_c)


def _stays_text() -> str:
    """Of some things: what they began with, and each stay with its place's mark, its last reading, and the highest of
    the readings that speak for it: those during it, and the first after it."""
    left = "(SELECT min(n.since) FROM stay n WHERE n.item_id = y.item_id AND n.since > y.since)"
    reading = f"FROM storage_reading r WHERE r.place_id = y.place_id AND {stands('r')} AND r.occurred_at"
    last = "<= ? ORDER BY r.occurred_at DESC, r.id DESC LIMIT 1)"
    after = f"coalesce((SELECT r.occurred_at {reading} >= {left} ORDER BY r.occurred_at LIMIT 1), {left})"
    return (
        "SELECT i.id, o.since, o.tack_used, o.out_used, y.since, "
        f"{left}, g.cold, (SELECT r.temperature_c {reading} {last}, (SELECT r.occurred_at {reading} {last},"
        f" g.read_every_days, (SELECT max(r.highest_c) {reading} >= y.since AND r.occurred_at <= coalesce({after}, ?))"
        f" FROM {looked_up()} {each('item', 'i', 'i.id = given.id')}"
        f" {each_or_none('out_time_start', 'o', 'o.item_id = i.id')}"
        f" {each_or_none('stay', 'y', 'y.item_id = i.id AND y.since <= ?')}"
        f" {each_or_none('place_setting', 'g', 'g.item_id = y.place_id')}"
        " ORDER BY i.id, y.since, y.id"
    )


def begin_with(work: Work, items: Iterable[Item], had: Iterable[Clocks]) -> None:
    """What is cut, taken off or filled begins with the most that one of its parents had used."""
    clocks = list(had)
    if not clocks:
        return
    _begin(work, items, tack=max(c.tack_used or 0.0 for c in clocks), out=max(c.out_used for c in clocks))


def begin_after_transport(
    work: Work, items: Iterable[Item], sheet: Sheet, *, hours: float, temperature_c: float | None
) -> None:
    """What transport has used is entered at the receipt."""
    spans = [(hours, temperature_c)]
    _begin(work, items, tack=used_share(sheet.tack, spans) if sheet.tack else 0.0, out=used_share(sheet.out, spans))


def _begin(work: Work, items: Iterable[Item], *, tack: float, out: float) -> None:
    kept = {"tack_used": min(tack, NOT_KNOWN), "out_used": min(out, NOT_KNOWN)}
    row = {**kept, "since": work.act.occurred_at, "deed": work.deed}
    OutTimeStart.insert_many([{"item": item.id, **row} for item in items]).execute()


def kit_sheets(kits: Iterable[int]) -> dict[int, Sheet | None]:
    """For each kit the shortest of the tables of its cloths; most have none."""
    found: dict[int, Sheet | None] = {}
    query = Cut.select(Cut.kit, Material.out_time).join(Container, on=(Cut.roll == Container.item)).join(Material)
    for kit, told in query.where(Cut.kit.in_(list(kits)) & Material.out_time.is_null(False)).tuples():
        sheet, known = sheet_from(told), found.get(kit)
        if sheet is not None and (known is None or _shortest(sheet) < _shortest(known)):
            found[kit] = sheet
    return found


def _shortest(sheet: Sheet) -> float:
    return min((hours for _, hours in (*sheet.out, *sheet.tack)), default=math.inf)
