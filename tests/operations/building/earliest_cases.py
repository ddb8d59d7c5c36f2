"""Small shops at random, and the earliest day on which their parts are ready found out by trying every day for each.

python -m tests.operations.building.earliest_cases 500        compare so many, and say how many answers were proved
"""

import random
import sys
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from datetime import time as clock
from functools import cache
from itertools import combinations_with_replacement, product
from typing import Any

from schemas.words import MaterialKind, SystemKind, ToleranceKind
from service.formulas._mould_days import Form
from service.formulas._stock import Need, Stock
from service.operations.building.earliest import find_earliest
from service.operations.building.earliest_plans import Read
from service.operations.building.forms import Forms, hours_of
from service.operations.building.matching import Wish
from service.operations.building.recipes import Bench, Way
from service.operations.building.timeline import plan_units
from service.operations.building.view import BuildEarliest
from service.operations.building.wanted import Cloth, Line
from service.operations.pots.system import HardenerView, SystemView, ToleranceView
from service.operations.stock.shelf import Shelf, Shelved
from service.records.materials import Material
from service.records.parts import Design
from service.records.people import Site
from tests.formulas.stock_cases import _met

RESIN, HARDENER, CLOTH = 1, 2, 3
HORIZON = 6
MONDAY = date(2026, 11, 23)
G = 1000

_HARDENER = HardenerView(
    material=HARDENER, name="Slow", speed="slow", parts_by_weight=100, parts_by_volume=None, weight_worked_out=False,
    volume_worked_out=False, ratio=1.0, tolerance_pct=5, tray_life=(), film_life=(), catalyst=None, blend=None,
    cup_life=({"mass_g": 100, "temperature_c": 20, "life_min": 600},),
)  # fmt: skip
_SYSTEM = SystemView(
    id=1, name="Alder", kind=next(iter(SystemKind)), revision_number=1, data_sheet="",
    resin=RESIN, resin_name="Alder resin", hardeners=(_HARDENER,),
    tolerance=ToleranceView(next(iter(ToleranceKind)), 5, ""), largest_pot_mg=10**6,
    stir_min=None, life_uncertainty_pct=0, work_low_c=None, work_high_c=None, work_high_humidity_pct=None,
    constants=None, approved_at=None, approved_by=None, replaced_by_id=None, document=None, document_sha256=None,
    sentences=(), version=1,
)  # fmt: skip


@dataclass(frozen=True)
class Case:
    """What is read, and what the trial of everything needs beside it."""

    read: Read
    stocks: dict[int, list[Stock]]
    reserved: dict[int, list[Need]]


def drawn(seed: int) -> Case:
    """One or two part numbers with their moulds, resin and cloth that are scarce, deliveries, opened lives."""
    rng = random.Random(seed)
    lines = []
    forms: dict[str, Forms] = {}
    cloths: dict[int, Any] = {}
    cloth = Material(id=CLOTH, name="Twill", kind=MaterialKind.FABRIC, width_mm=1000)
    shared = rng.random() < 0.2
    for number in range(1, 3 if rng.random() < 0.4 else 2):
        name = "A" if shared else "AB"[number - 1]
        need = (
            [{"system": "Alder", "purpose": "wet-out", "mass_g": rng.choice((4, 8, 12))}] if rng.random() < 0.9 else []
        )
        design = Design(id=number, part_number=name, revision="A", resin_need=need, plies=[], schedule="cure",
                        traceable=rng.random() < 0.8)  # fmt: skip
        strip = rng.choice((2, 3, 4))
        cloths[number] = (Cloth(cloth, strip, (strip,), strip, True),) if rng.random() < 0.5 or not need else ()
        later = MONDAY + timedelta(days=rng.randint(1, 3)) if rng.random() < 0.2 else None
        lines.append(Line(number, design, rng.randint(1, 3) if number == 1 else 1, later, None, None))
        if name not in forms:
            usable = tuple(_form(rng, f"{name}{n}") for n in range(rng.choice((0, 1, 1, 2))))
            forms[name] = Forms(usable, 0, no_hours=False)
    stocks = {material: _stocks(rng, lines, cloths, material) for material in (RESIN, HARDENER, CLOTH)}
    reserved = _reserved(rng, stocks)
    closed = [str(MONDAY + timedelta(days=n)) for n in range(1, HORIZON) if rng.random() < 0.1]
    site = Site(id=1, name="Shop", zone="Europe/Paris", weekdays=None, opens_at="07:00", closes_at="16:00",
                closed_on=closed, mould_hours=None)  # fmt: skip
    way = Way(_SYSTEM, _HARDENER, apart=False, small=False, conditions=())
    read = Read(
        lines=lines,
        others=[],
        forms=forms,
        cloths=cloths,
        ways={"Alder": [way]},
        bench=Bench(20, 100, 0.5, ()),
        shelf=_shelf(stocks),
        materials={RESIN: Material(id=RESIN, name="Alder resin", kind=MaterialKind.RESIN),
                   HARDENER: Material(id=HARDENER, name="Slow", kind=MaterialKind.HARDENER), CLOTH: cloth},
        reserved={m: [Wish(need, order=7) for need in needs] for m, needs in reserved.items()},
        kits={},
        cures={"cure": timedelta(hours=rng.choice((1, 8, 30)))},
        at=datetime(2026, 11, 23, 7, tzinfo=UTC),
        site=site,
        today=MONDAY,
    )  # fmt: skip
    return Case(read, stocks, reserved)


def _form(rng: random.Random, code: str) -> Form:
    free_at = datetime.combine(MONDAY, clock(8)) + timedelta(hours=rng.choice((0, 0, 30)))
    return Form(
        code, free_at, rng.choice((3, 8, 20, 44)), rng.randint(0, 2), None, rng.choice((1, 5)), rng.choice((0, 0, 300))
    )


def _stocks(rng: random.Random, lines: Sequence[Line], cloths: dict[int, Any], material: int) -> list[Stock]:
    """About as much as is needed, in a few cans or rolls, each with its limits now and then."""
    whole = material == CLOTH
    total = sum(
        line.quantity
        * (
            sum(cloth.length_mm for cloth in cloths[line.design.id])
            if whole
            else sum(need["mass_g"] // 2 for need in line.design.resin_need)
        )
        for line in lines
    )
    count = rng.randint(1, 3)
    found = []
    for _ in range(count):
        free = max(1, int(total / count * rng.uniform(0.8, 2.2)))
        comes = rng.random() < 0.4
        opened = not comes and rng.random() < 0.3
        found.append(
            Stock(
                free=free if whole else free * G,
                first=rng.randint(1, HORIZON - 3) if comes else 0,
                last=rng.choice((rng.randint(1, 9), 99)),
                life=rng.choice((1, 3)) if not opened and not whole and rng.random() < 0.4 else None,
                opened=opened,
                known_lot=rng.random() < 0.95,
                needs=("delivery/1",) if comes else (),
            )
        )
    return found


def _reserved(rng: random.Random, stocks: dict[int, list[Stock]]) -> dict[int, list[Need]]:
    """Now and then something is reserved for somebody else, of what can be had without any delivery."""
    if rng.random() < 0.7:
        return {}
    need = Need(rng.randint(0, 5), G * rng.randint(1, 4))
    return {RESIN: [need]} if _met_in_g([need], stocks[RESIN], whole=False, scale=G) else {}


def _shelf(stocks: dict[int, list[Stock]]) -> Shelf:
    things = {m: [Shelved(f"C{m}{n}", "L1", None, one) for n, one in enumerate(some)] for m, some in stocks.items()}
    return Shelf(things, {"delivery/1": "The delivery comes."})


def by_trying_everything(case: Case) -> int | None:
    """The earliest day by which all can be ready, each part begun on any day within the horizon; none if there is no
    such plan."""
    read = case.read
    best: int | None = None
    own = [combinations_with_replacement(range(HORIZON + 1), line.quantity) for line in read.lines]

    @cache
    def kept(days: tuple[tuple[int, ...], ...]) -> bool:
        return all(_enough(case, material, days) for material in (RESIN, HARDENER, CLOTH))

    for starts in product(*own):
        since = {
            (line.number, part): MONDAY + timedelta(days=day)
            for line, days in zip(read.lines, starts, strict=True)
            for part, day in enumerate(days, 1)
        }
        units = plan_units(read.lines, read.forms, at=read.at, site=read.site, today=MONDAY, since=since)
        ready = max(_ready(case, unit) for unit in units)
        days = tuple(tuple(unit.day for unit in units if unit.line is line) for line in read.lines)
        if ready <= HORIZON and (best is None or ready < best) and kept(days):
            best = ready
    return best


def _ready(case: Case, unit: Any) -> int:
    ends = unit.begun.begins + case.read.cures["cure"]
    if unit.begun.mould is not None:
        ends = max(ends, unit.begun.out)
    at_work = hours_of(case.read.site).at_work(ends)
    assert at_work is not None
    return (at_work.date() - MONDAY).days


def _enough(case: Case, material: int, days: tuple[tuple[int, ...], ...]) -> bool:
    needs = list(case.reserved.get(material, ()))
    for line, own in zip(case.read.lines, days, strict=True):
        for day in own:
            if material == CLOTH:
                sizes = [cloth.length_mm for cloth in case.read.cloths[line.design.id]]
            else:
                sizes = [need["mass_g"] // 2 * G for need in line.design.resin_need]
            needs += [Need(day, size, line.design.traceable) for size in sizes]
    whole = material == CLOTH
    return _met_in_g(needs, case.stocks[material], whole=whole, scale=1 if whole else G)


def _met_in_g(needs: Sequence[Need], stocks: Sequence[Stock], *, whole: bool, scale: int) -> bool:
    small = [Need(need.day, need.size // scale, need.known_lot) for need in needs]
    return any(_met(small, windows, whole=whole) for windows in _windows(small, stocks, scale))


def _windows(needs: Sequence[Need], stocks: Sequence[Stock], scale: int) -> Iterator[list[tuple[int, int, int, bool]]]:
    days = sorted({need.day for need in needs}) or [0]
    choices = []
    for one in stocks:
        openings = [None] if one.life is None else days
        choices.append(
            [
                (one.free // scale, one.first, one.last, one.known_lot)
                if day is None
                else (one.free // scale, max(one.first, day), min(one.last, day + (one.life or 0)), one.known_lot)
                for day in openings
            ]
        )
    yield from (list(one) for one in product(*choices))


def compare(seed: int) -> tuple[str, str | None]:
    """How the answer stands beside the trial of everything, and what is wrong with it."""
    case = drawn(seed)
    found: BuildEarliest = find_earliest(case.read, HORIZON, ())
    expected = by_trying_everything(case)
    told = f"shop {seed}: {found.sentence} {found.answer}, proved: {found.proved}; expected day {expected}"
    if found.ready_on is None:
        if expected is None:
            return ("no, proved" if found.proved else "none found, none there"), None
        return "missed", told if found.proved else None
    day = (found.ready_on - MONDAY).days
    if expected is None or day < expected:
        return "impossible", told
    if day > expected:
        return "later than could be", told if found.proved else None
    return ("earliest, proved" if found.proved else "earliest, not proved"), None


def main() -> int:
    begun, count = time.process_time(), int(sys.argv[1]) if len(sys.argv) > 1 else 300
    answers = [compare(seed) for seed in range(count)]
    wrong = [told for _, told in answers if told is not None]
    print(f"{count} shops: {dict(Counter(kind for kind, _ in answers))}")
    print(f"{len(wrong)} wrong, {(time.process_time() - begun) / count * 1000:.0f} ms each, the trial of all included")
    print("\n".join(wrong[:5]))
    return 1 if wrong else 0


if __name__ == "__main__":
    raise SystemExit(main())
