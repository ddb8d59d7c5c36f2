"""What was measured or counted on each part and may go with its failure: ratio, clocks, cure, climate, ages, fractions.

One figure a part: where a part has several pots or cures, that of the one nearest to its limit. All are as they were at
use; what was never measured is left out, and a number that only one of the parts has tells nothing.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import datetime
from math import inf

from schemas.words import Kind, MovementKind, TreatmentKind
from service.database import each
from service.operations.ledger.failing import stands, words_in
from service.records.base import read_all
from service.reports.finding.given import Number
from service.reports.finding.inspected import Measurement, numbers_of
from service.reports.finding.outcomes import NEVER_BEGUN
from service.reports.finding.rows import Rows
from service.reports.reading.ages import Ages, noun_of

_MINUTE = 60_000_000
_LEAST_PARTS = 4

_DEVIATION, _DISTANCE = "deviation from the ratio", "distance from the ratio to either side"

Values = dict[int, float]
# A pot: its deviation and tolerance, its temperature, when its components first touched.
_Mix = tuple[int, float | None, float, float | None, int | None]


def read_numbers(
    rows: Rows,
    ages: Ages,
    used: Mapping[int, Mapping[int, datetime]],
    own: set[int],
    measured: Sequence[Measurement],
) -> tuple[Number, ...]:
    """All numbers that at least four of the parts have, and that differ among them."""
    mixes = rows.of(
        "SELECT x.item_id, x.deviation_pct, x.tolerance_pct, x.temperature_c, x.contact_at FROM made"
        f" {each('mix', 'x', 'x.item_id = made.id')}",
        Kind.MIX,
    )
    found = _pots(rows, mixes) | _clocks(rows, mixes)
    for read in (_stirring, _cures, _steps, _fibre, _pulls):
        found |= read(rows)
    found |= numbers_of(measured) | _ages_at_use(ages, used, own)
    return tuple(
        Number(
            name,
            unit,
            dict(zip(map(rows.code.__getitem__, values), values.values(), strict=True)),
            size_of=_DEVIATION if name == _DISTANCE else "",
        )
        for (name, unit), values in found.items()
        if len(values) >= _LEAST_PARTS and len(set(values.values())) > 1
    )


class _Worst:
    """For each part the one value that counts: the largest, the smallest, or by another order."""

    def __init__(self, rows: Rows, *, key: Callable[[float], float]) -> None:
        self.rows, self.key = rows, key
        self.values: Values = {}
        self._keys: Values = {}

    def add(self, thing: int, value: float) -> None:
        key, keys = self.key(value), self._keys
        for part in self.rows.reached[thing]:
            if key > keys.get(part, -inf):
                keys[part], self.values[part] = key, value


def _largest(rows: Rows) -> _Worst:
    return _Worst(rows, key=lambda value: value)


def _smallest(rows: Rows) -> _Worst:
    return _Worst(rows, key=lambda value: -value)


def _pots(rows: Rows, mixes: Iterable[_Mix]) -> dict[tuple[str, str], Values]:
    """The deviation from the ratio as a share of its tolerance, of the pot that is farthest off; the temperature."""
    ratio, cold = _Worst(rows, key=abs), _smallest(rows)
    for mix, deviation, tolerance, temperature, _ in mixes:
        if deviation is not None:
            ratio.add(mix, round(100 * deviation / tolerance, 3))
        if temperature is not None:
            cold.add(mix, temperature)
    return {
        (_DEVIATION, "% of its tolerance"): ratio.values,
        # Who weighs badly errs to either side.
        (_DISTANCE, "% of its tolerance"): {part: abs(share) for part, share in ratio.values.items()},
        ("temperature of the coldest pot", "°C"): cold.values,
    }


def _clocks(rows: Rows, mixes: Iterable[_Mix]) -> dict[tuple[str, str], Values]:
    """Minutes from first contact until the last of a pot was on the part, of the slowest; and to the end of the lay-up.

    A pot for several parts is on one of them before it is on the next. What is laid last lies on the mould until the
    last ply is down.
    """
    contacts = {mix: contact for mix, *_, contact in mixes if contact is not None}
    closed = dict(
        rows.of(
            f"SELECT p.item_id, p.laid_up_at FROM made {each('part', 'p', 'p.item_id IN (made.id)')}"
            " WHERE p.laid_up_at IS NOT NULL",
            Kind.PART,
        )
    )
    slow, newest = _largest(rows), dict[int, int]()
    applied = str(MovementKind.APPLICATION)
    for part, mix, kind, at, _, _, _ in rows.moved:
        if kind != applied or (contact := contacts.get(mix)) is None:
            continue
        slow.add(part, round((at - contact) / _MINUTE, 2))
        if contact < closed.get(part, contact):
            newest[part] = max(contact, newest.get(part, contact))
    on_mould = _largest(rows)
    for part, contact in newest.items():
        on_mould.add(part, round((closed[part] - contact) / _MINUTE, 2))
    return {
        ("time from first contact to the last of the film", "min"): slow.values,
        ("time of the last film until the lay-up was closed", "min"): on_mould.values,
    }


def _stirring(rows: Rows) -> dict[tuple[str, str], Values]:
    """Minutes of stirring, of the pot that was stirred least."""
    least = _smallest(rows)
    stirred: dict[int, float] = defaultdict(float)
    for mix, begun, ended in rows.of(
        "SELECT made.id, s.started_at, s.ended_at FROM made"
        f" {each('stirring', 's', 's.mix_id IN (made.id)')} WHERE {stands('s')}",
        Kind.MIX,
    ):
        stirred[mix] += (ended - begun) / _MINUTE
    for mix, minutes in stirred.items():
        least.add(mix, round(minutes, 2))
    return {("stirring of the pot stirred least", "min"): least.values}


def _cures(rows: Rows) -> dict[tuple[str, str], Values]:
    """Time proved in band over what was asked, of the poorest stage; how far inside the band, and how warm at most."""
    short, inside, warm = _smallest(rows), _smallest(rows), _smallest(rows)
    judged = rows.of(
        f"SELECT r.verdict, r.item_id FROM made {each('cure', 'r', 'r.item_id IN (made.id)')}"
        " WHERE r.verdict IS NOT NULL",
        Kind.CURE,
    )
    for (_, cure), verdict in zip(judged, read_all(text for text, _ in judged), strict=True):
        stages = verdict.get("stages", ())
        shares = [s["proved_min"] / s["minimum_min"] for s in stages if s["minimum_min"]]
        if shares:
            short.add(cure, round(100 * min(shares), 2))
        # Verdicts from before the mean was kept have none.
        above = [s["mean_c"] - s["low_c"] for s in stages if s.get("mean_c") is not None]
        if above:
            inside.add(cure, round(min(above), 2))
    logs = rows.of(
        "SELECT g.summary, g.part_probes, made.id FROM made"
        f" {each('cure_log', 'g', 'g.cure_id IN (made.id)')} WHERE {stands('g')}",
        Kind.CURE,
    )
    summaries, probes = (read_all(log[column] for log in logs) for column in (0, 1))
    for (_, _, cure), summary, on_part in zip(logs, summaries, probes, strict=True):
        seen = summary.get("probes", {})
        highest = [seen[name]["highest_c"] for name in on_part if name in seen]
        if highest and None not in highest:
            warm.add(cure, min(highest))
    return {
        ("time in band", "% of what the schedule asks"): short.values,
        ("temperature of the cure within its band", "K over its low edge"): inside.values,
        ("warmest that the coolest probe became in the cure", "°C"): warm.values,
    }


def _steps(rows: Rows) -> dict[tuple[str, str], Values]:
    """The least margin over the dew point, the air, and the wet gel coat."""
    names = {
        "climate": {"margin_k": ("margin over the dew point", "K"), "air_c": ("air at the mould", "°C"),
                    "humidity_pct": ("humidity at the mould", "%")},
        "gel coat thickness": {"thickness_mm": ("wet gel coat", "mm")},
    }  # fmt: skip
    found: dict[tuple[str, str], Values] = defaultdict(dict)
    steps = rows.of(
        "SELECT s.facts, parts.id, s.kind, s.occurred_at FROM parts"
        f" {each('part_step', 's', 's.part_id IN (parts.id)')}"
        f" WHERE s.kind IN ('climate', 'gel coat thickness') AND {stands('s')} ORDER BY s.id"
    )
    for (_, part, kind, at), said in zip(steps, read_all(text for text, *_ in steps), strict=True):
        if rows.was_reworked(part, at):
            continue
        for key, name in names[kind].items():
            if isinstance(said.get(key), int | float):
                before = found[name].get(part, said[key])
                found[name][part] = max(before, said[key]) if key == "humidity_pct" else min(before, said[key])
    return found


def _fibre(rows: Rows) -> dict[tuple[str, str], Values]:
    """Fibre by mass: the kits that were weighed over the trimmed part."""
    fabric: dict[int, float] = defaultdict(float)
    for kit, mass in rows.of(
        f"SELECT made.id, k.mass_mg FROM made {each('kit', 'k', 'k.item_id IN (made.id)')} WHERE k.mass_mg IS NOT NULL",
        Kind.KIT,
    ):
        for part in rows.reached[kit]:
            fabric[part] += mass
    values = {
        number: round(fabric[number] / mass, 5)
        for number, part in rows.parts.items()
        if (mass := part.mass_mg) and number in fabric
    }
    return {("fabric cut for it over the mass of the trimmed part", ""): values}


def _pulls(rows: Rows) -> dict[tuple[str, str], Values]:
    """Which pull it was since its mould was last given release, those counted too that nobody compares."""
    released = (
        "SELECT t.occurred_at FROM mould_treatment t WHERE t.mould_id = p.mould_id"
        f" AND t.kind = '{TreatmentKind.RELEASE_COAT}' AND t.occurred_at <= p.started_at AND {stands('t')}"
        " ORDER BY t.occurred_at DESC LIMIT 1"
    )
    begun = (
        f"SELECT p.mould_id AS mould, p.started_at AS at, ({released}) AS since FROM parts"
        f" {each('part', 'p', 'p.item_id IN (parts.id)')} WHERE p.mould_id IS NOT NULL"
    )
    pulled = each("part", "q", "q.mould_id IN (u.mould) AND q.started_at >= u.since AND q.started_at <= u.last")
    values = rows.of(
        "SELECT pull.id, pull.place FROM (SELECT q.item_id AS id,"
        " count(*) OVER (PARTITION BY u.mould, u.since ORDER BY q.started_at) AS place"
        f" FROM (SELECT mould, since, max(at) AS last FROM ({begun}) b GROUP BY mould, since) u {pulled}"
        f" {each('item', 'i', 'i.id IN (q.item_id)')} WHERE i.state NOT IN ({words_in(NEVER_BEGUN)})) pull"
        " WHERE pull.id IN (SELECT id FROM parts)"
    )
    return {("pulls since the mould's release", ""): {part: float(place) for part, place in values}}


def _ages_at_use(
    ages: Ages, used: Mapping[int, Mapping[int, datetime]], own: set[int]
) -> dict[tuple[str, str], Values]:
    """For each material of this part: days open, and days left to the date, of the oldest that went into each part."""
    materials = {ages.containers[container].material_id for container in own}
    nouns = {m: f"{noun_of(ages.materials[m])} of {ages.materials[m].name}" for m in materials}
    opened: dict[int, Values] = defaultdict(dict)
    left: dict[int, Values] = defaultdict(dict)
    for container, uses in used.items():
        material = ages.containers[container].material_id
        if material not in materials:
            continue
        longest, least = opened[material], left[material]
        for part, at in uses.items():
            days_open, days = ages.days(container, at)
            if days_open is not None and days_open >= longest.get(part, 0.0):
                longest[part] = float(days_open)
            if days is not None and days <= least.get(part, days):
                least[part] = float(days)
    return {(f"days open at use, {nouns[m]}", "d"): values for m, values in opened.items()} | {
        (f"days left at use, {nouns[m]}", "d"): values for m, values in left.items()
    }
