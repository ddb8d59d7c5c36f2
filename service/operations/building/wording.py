"""A build check in words: lines, parts, pots, conditions, and what it says nothing about."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

from schemas.words import BuildAnswer, BuildConditionKind, Purpose
from service.formulas._mould_days import Begun
from service.operations.building.forms import Forms
from service.operations.building.recipes import Bench, Pots, Way, pots_for
from service.operations.building.timeline import Unit
from service.operations.building.view import BuildCondition, BuildLine, BuildPart, BuildPots
from service.operations.building.wanted import Line, cores_of
from service.operations.stock.shelf import Shelf, rank
from service.records.materials import Material
from service.records.people import Site


def told_line(line: Line, units: Sequence[Unit], forms: Mapping[str, Forms], against: Sequence[str]) -> BuildLine:
    own = [unit.begun for unit in units if unit.line.number == line.number]
    begins = [one.begins.date() for one in own if one.begins is not None]
    outs = [one.out.date() for one in own if one.out is not None and one.mould is not None]
    late = sum(one.late is True for one in own)
    answer, sentences = BuildAnswer.NO, barred_by(line, forms, against)
    if not sentences:
        answer, sentences = _by_moulds(line, own, forms[line.design.part_number], units, late)
    return BuildLine(
        number=line.number,
        design=line.ref,
        quantity=line.quantity,
        due_on=line.due_on,
        answer=answer,
        first_begins_on=min(begins, default=None),
        last_begins_on=max(begins) if len(begins) == len(own) and begins else None,
        last_out_on=max(outs) if len(outs) == len(own) and outs else None,
        late=late,
        sentences=tuple(sentences),
    )


def barred_by(line: Line, forms: Mapping[str, Forms], against: Sequence[str]) -> list[str]:
    """What lets none of a line be begun on any day, as things stand."""
    if line.refused is not None or against:
        return [*([line.refused] if line.refused is not None else []), *against]
    own = forms[line.design.part_number]
    if not own.usable and own.barred:
        return [f"No mould of {line.design.part_number} may be used now: {own.barred} on hold."]
    return []


def _by_moulds(
    line: Line, own: Sequence[Begun], forms: Forms, units: Sequence[Unit], late: int
) -> tuple[BuildAnswer, list[str]]:
    """What the moulds and the calendar say of a line."""
    name = line.design.part_number
    waiting = [one for one in own if one.begins is None]
    if waiting and forms.no_hours:
        said = (
            f"How long a part of {name} takes its mould is not known: set the hours of its mould, or those of the shop."
        )
        return BuildAnswer.NOT_SHOWN, [said]
    if waiting:
        return BuildAnswer.NO, ["The shop does not open again by its calendar."]
    if late and line.due_on is not None:
        which = f"{late} of {line.quantity}" if line.quantity > 1 else "it"
        last = max(one.out for one in own if one.out is not None)
        said = (
            f"By {line.due_on:%-d %b %Y} the moulds of {name} do not give all of them: {which} would be late, the last "
            f"is out on {last:%-d %b %Y}."
            if own[0].mould is not None
            else f"By {line.due_on:%-d %b %Y} there is no working day to begin {name}."
        )
        begun_from = {unit.line.not_before for unit in units if unit.line.design.part_number == name}
        return (BuildAnswer.NO if len(begun_from) == 1 else BuildAnswer.NOT_SHOWN), [said]
    if line.due_on is not None and any(one.late is None for one in own):
        return BuildAnswer.NOT_SHOWN, [f"When {name} is out of its mould is not known: set the hours of its mould."]
    if not forms.usable:
        return BuildAnswer.YES, [f"There is no mould of {name}; its day is the first working day."]
    return BuildAnswer.YES, []


def told_part(unit: Unit, kit: str | None, site: Site) -> BuildPart:
    def instant(when: datetime | None) -> datetime | None:
        return None if when is None else when.replace(tzinfo=ZoneInfo(site.zone)).astimezone(UTC)

    one = unit.begun
    out = one.out if one.mould is not None else None
    return BuildPart(unit.line.number, unit.part, one.mould, instant(one.begins), instant(out), one.late, kit)


def told_pots(lines: Sequence[Line], ways: Mapping[str, Way], bench: Bench) -> Iterable[BuildPots]:
    for line in lines:
        for need in line.design.resin_need:
            way = ways.get(need["system"])
            pots = pots_for(round(need["mass_g"] * 1000), way, bench) if way is not None else None
            if way is not None and isinstance(pots, Pots):
                yield BuildPots(
                    line=line.number,
                    purpose=Purpose(need["purpose"]),
                    system_id=way.system.id,
                    system_name=way.system.name,
                    hardener=way.hardener.material,
                    hardener_name=way.hardener.name,
                    need_mg=round(need["mass_g"] * 1000),
                    pots=pots.count,
                    pot_mg=pots.pot_mg,
                    scale=pots.scale,
                )


def told_conditions(keys: Iterable[str], shelf: Shelf, materials: Mapping[int, Material]) -> list[BuildCondition]:
    found = []
    for key in sorted(dict.fromkeys(keys), key=lambda one: (rank(one), one)):
        word, _, what = key.partition("/")
        kind = BuildConditionKind(word)
        if key in shelf.sentences:
            item = None if kind == BuildConditionKind.DELIVERY else what
            found.append(BuildCondition(kind, item, shelf.sentences[key]))
        elif kind == BuildConditionKind.HARDENER:
            found.append(BuildCondition(kind, None, f"It is mixed with {materials[int(what)].name}."))
        elif kind == BuildConditionKind.SCALE_CHECK:
            sentence = "A scale is checked with its check weight; none may be used now."
            found.append(BuildCondition(kind, None, sentence))
        else:
            sentence = f"A deviation permit for a {what}, under what the scale can judge."
            found.append(BuildCondition(kind, None, sentence))
    return found


def told_sentence(
    answer: BuildAnswer, units: Sequence[Unit], reasons: Sequence[str], conditions: Sequence[BuildCondition]
) -> str:
    if answer == BuildAnswer.YES:
        days = [unit.begun.begins.date() for unit in units if unit.begun.begins is not None]
        when = f"on {days[0]:%-d %b %Y}" if len(set(days)) == 1 else f"from {min(days):%-d %b} to {max(days):%-d %b %Y}"
        return f"Yes: {len(units)} part{'s' if len(units) > 1 else ''} can be begun {when}."
    if answer == BuildAnswer.YES_IF:
        return f"Yes, if: {' '.join(one.sentence for one in conditions)}"
    start = "No" if answer == BuildAnswer.NO else "Not shown"
    return f"{start}: {' '.join(dict.fromkeys(reasons))}"


def told_not_checked(
    designs: Sequence[Any], materials: Mapping[int, Material], cloths: Mapping[int, Any], site: Site, beyond: int
) -> Iterable[str]:
    yield "Release agents, bagging materials and other consumables: no design says how much of them a part takes."
    for name in cores_of(designs):
        yield f"{name}: no design says how much of a core a part takes."
    for material in materials.values():
        if material.out_time is not None:
            yield f"{material.name}: its lives out of the cold are asked as they stand now."
    for design in designs:
        for cloth in cloths[design.id]:
            if cloth.unknown:
                plies = ", ".join(map(str, cloth.unknown))
                yield f"{design.part_number}: how long ply {plies} is nobody knows; give it an outline or a length."
        if not design.resin_need:
            yield f"{design.part_number} names no resin."
    if any(cloths.values()):
        yield "Kits that are cut already: their cloth is counted as still to be cut."
    if beyond:
        yield f"{beyond} more planned parts of open orders, which are due last of those that come first."
    if site.weekdays is None:
        yield "The shop has set no calendar: every day counts as a working day."
