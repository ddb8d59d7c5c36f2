"""Can these parts be built by those dates? A reading: it writes nothing and keeps nothing free.

Dates come first, by the moulds and the shop's calendar; then each material is asked alone, on these days. What needs no
search is told by the rules that a start goes by, so that the two agree.
"""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime, timedelta
from typing import Any

from schemas.words import BuildAnswer, MaterialKind
from service.operations.building.earliest import find_earliest
from service.operations.building.earliest_plans import Read
from service.operations.building.forms import least_cures, read_forms
from service.operations.building.kits import kits_for
from service.operations.building.matching import LIMIT_S, Matcher, Wish, order_of, saves_of, told
from service.operations.building.mixing import cuts_of, mixed_by
from service.operations.building.others import read_others
from service.operations.building.recipes import (
    Way,
    bench_of,
    current_systems,
    materials_of_ways,
    not_approved,
    ways_of,
)
from service.operations.building.timeline import plan_units
from service.operations.building.view import BuildCheck
from service.operations.building.wanted import Line, cloths_of, find_lines
from service.operations.building.wording import (
    barred_by,
    told_conditions,
    told_line,
    told_not_checked,
    told_part,
    told_pots,
    told_sentence,
)
from service.operations.door.refusals import Unprocessable
from service.operations.door.rows import find_row
from service.operations.door.shop import day_in_shop, the_site
from service.operations.pots.system import SystemView
from service.operations.stock.reserved import expected_of, standing
from service.operations.stock.shelf import read_shelf
from service.records.base import known
from service.records.materials import Material
from service.records.orders import Order


def check_build(
    *,
    at: datetime,
    lines: Sequence[Mapping[str, Any]],
    temperature_c: float,
    wet_out_rate_g_min: float,
    working_share: float = 0.5,
    hardeners: Sequence[int] = (),
    expected: Sequence[Mapping[str, Any]] = (),
    gap_mm: int = 10,
    soon_days: int = 30,
    within_days: int = 92,
    order: int | None = None,
) -> BuildCheck:
    """Can these parts be built? Yes with what from where, no with its proof, "yes, if" with the fewest conditions.

    Days are as early as the moulds allow; each material is then asked on these days. What other orders have reserved is
    kept for them; what is planned for open orders that are due no later is given its days and its materials first; of
    `order` itself neither. Deliveries that are expected here count beside those that are named. Nothing is reserved.
    Besides: the earliest day on which all of it can be ready.
    """
    site = the_site()
    today = day_in_shop(at, site)
    if order is not None:
        find_row(Order, order, "order", pointer="/order")
    asked = find_lines(lines)
    built = [line for line in asked if line.refused is None]
    until = None if any(line.due_on is None for line in built) else max((known(b.due_on) for b in built), default=None)
    others, beyond = read_others(until=until, but_order=order, at=at) if built else ([], 0)
    designs = list({line.design.id: line.design for line in (*built, *others)}.values())
    forms = read_forms({design.part_number for design in designs}, at=at, site=site)
    planned = plan_units([*others, *built], forms, at=at, site=site, today=today)
    units = [unit for unit in planned if not unit.is_others]
    cloths = cloths_of(designs, gap_mm=gap_mm)
    systems = current_systems({need["system"] for design in designs for need in design.resin_need})
    bench = bench_of(
        at=at,
        site=site,
        temperature_c=temperature_c,
        wet_out_rate_g_min=wet_out_rate_g_min,
        working_share=working_share,
    )
    if len(systems) == len({need["system"] for design in designs for need in design.resin_need}) and built:
        _require_hardeners(hardeners, systems)
    ways, no_way = {}, {}
    for name, system in systems.items():
        ways[name], no_way[name] = ways_of(system, frozenset(hardeners), bench)
    wanted = {cloth.material.id for some in cloths.values() for cloth in some} | materials_of_ways(ways)
    materials = _materials(wanted, expected)
    lives = {number: material.opened_life_days for number, material in materials.items()}
    coming = [*(line for line in expected if line["material"] in wanted), *expected_of(wanted)]
    shelf = read_shelf(wanted, coming, lives, at=at, site=site)
    reserved = _reserved(wanted, order, at=at, today=today)
    own_systems = {need["system"] for line in built for need in line.design.resin_need}
    ways = {name: some if name in own_systems else some[:1] for name, some in ways.items()}
    against = _blocked(built, ways, no_way)
    matcher = Matcher(LIMIT_S / max(1, len(wanted)), reserved)
    kits = kits_for(planned, cloths, at=at)
    cuts = cuts_of([unit for unit in planned if (unit.line.number, unit.part) not in kits], cloths)
    cut = {number: matcher.match_cloth(some, shelf.of(number)) for number, some in cuts.items()}
    ways = {name: some for name, some in ways.items() if some}
    mixed, all_tried = mixed_by(planned, ways, bench, shelf, matcher)
    answers = [told(materials[n], one, shelf.of(n), today=today) for n, one in {**mixed.matched, **cut}.items()]
    line_answers = [told_line(line, planned, forms, against.get(line.number, ())) for line in asked]
    conditions = told_conditions(
        [*mixed.conditions, *(c for one in cut.values() for c in one.found.conditions)], shelf, materials
    )
    said = [line.answer for line in line_answers]
    # Of what is mixed a way that was not tried may be one.
    open_still = () if all_tried else tuple(mixed.matched)
    said += [
        BuildAnswer.NOT_SHOWN if one.answer == BuildAnswer.NO and one.material in open_still else one.answer
        for one in answers
    ]
    if mixed.against:
        said.append(BuildAnswer.NO if all_tried else BuildAnswer.NOT_SHOWN)
    if conditions:
        said.append(BuildAnswer.YES_IF)
    answer = next(a for a in (BuildAnswer.NO, BuildAnswer.NOT_SHOWN, BuildAnswer.YES_IF, BuildAnswer.YES) if a in said)
    possible = answer in (BuildAnswer.YES, BuildAnswer.YES_IF)
    told_lines = [s for line in line_answers for s in line.sentences if line.answer != BuildAnswer.YES]
    told_stock = [one.sentence for one in answers if one.answer in (BuildAnswer.NO, BuildAnswer.NOT_SHOWN)]
    reasons = [*told_lines, *mixed.against, *told_stock]
    smallest = all(one.found.smallest for one in (*mixed.matched.values(), *cut.values())) and all_tried
    return BuildCheck(
        answer=answer,
        sentence=told_sentence(answer, units, reasons, conditions),
        lines=tuple(line_answers),
        parts=tuple(told_part(unit, kits.get((unit.line.number, unit.part)), site) for unit in units),
        pots=tuple(told_pots(built, mixed.ways, bench)),
        materials=tuple(answers),
        conditions=tuple(conditions) if possible else (),
        smallest=smallest,
        to_order=tuple(due for one in answers if (due := order_of(one)) is not None),
        saves=tuple(
            saved
            for one in answers
            for saved in saves_of(one, shelf.of(one.material), until=today + timedelta(days=soon_days))
        ),
        earliest=find_earliest(
            Read(
                lines=built,
                others=others,
                forms=forms,
                cloths=cloths,
                ways=ways,
                bench=bench,
                shelf=shelf,
                materials=materials,
                reserved=reserved,
                kits=kits,
                cures=least_cures({line.design.schedule for line in built if line.design.schedule is not None}),
                at=at,
                site=site,
                today=today,
            ),
            within_days,
            [said for line in asked for said in barred_by(line, forms, against.get(line.number, ()))],
        )
        if within_days
        else None,
        others_first=sum(unit.is_others for unit in planned),
        not_checked=tuple(told_not_checked(designs, materials, cloths, site, beyond)),
    )


def _reserved(wanted: Iterable[int], order: int | None, *, at: datetime, today: date) -> dict[int, list[Wish]]:
    """What other orders have reserved of these materials, whenever they are due."""
    found: dict[int, list[Wish]] = {}
    for row in standing(wanted, at=at, but_order=order):
        if row.left:
            found.setdefault(row.material, []).append(Wish(row.need(today), order=row.order))
    return found


def _materials(wanted: Iterable[int], expected: Sequence[Mapping[str, Any]]) -> dict[int, Material]:
    numbers = {*wanted, *(line["material"] for line in expected)}
    found = {row.id: row for row in Material.select().where(Material.id.in_(numbers))}
    for index, line in enumerate(expected):
        row = found.get(line["material"])
        if row is None:
            raise Unprocessable(f"There is no material {line['material']} here.", pointer=f"/expected/{index}/material")
        right = "length_mm" if row.kind == MaterialKind.FABRIC else "mass_mg"
        if line.get(right) is None or (line.get("mass_mg") is None) == (line.get("length_mm") is None):
            shown = "length_mm" if right == "length_mm" else "mass_g"
            raise Unprocessable(
                f"Give how much {row.name} is expected as {shown}.", pointer=f"/expected/{index}/{shown}"
            )
    return found


def _require_hardeners(named: Sequence[int], systems: Mapping[str, SystemView]) -> None:
    known_ones = {hardener.material for system in systems.values() for hardener in system.hardeners}
    for index, number in enumerate(named):
        if number not in known_ones:
            told = ", ".join(sorted(systems)) or "no resin system"
            raise Unprocessable(
                f"Material {number} is no hardener of what these designs take: {told}.", pointer=f"/hardeners/{index}"
            )


def _blocked(
    lines: Sequence[Line], ways: Mapping[str, Sequence[Way]], no_way: Mapping[str, Sequence[str]]
) -> dict[int, list[str]]:
    """Lines whose resin cannot be mixed at all, and why."""
    found: dict[int, list[str]] = {}
    needs = {line.number: dict.fromkeys(need["system"] for need in line.design.resin_need) for line in lines}
    without = not_approved({name: None for names in needs.values() for name in names if name not in ways})
    for line in lines:
        for name in needs[line.number]:
            if name not in ways:
                found.setdefault(line.number, []).append(without[name])
            elif not ways[name]:
                found.setdefault(line.number, []).extend(no_way[name])
    return found
