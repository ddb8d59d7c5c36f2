"""What was drawn for parts: what went into each, what was lost on the way to it and why, and the work on it."""

import json
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from schemas.words import Kind, MovementKind, OwnStep, State, Verdict, WasteCause
from service.database import each, rows_of
from service.formulas._money import Held, split, total
from service.operations.costs.flow import Flow, Moved, Thing, Value, good_until, read_flow
from service.operations.costs.labour import Clockwork, Labour, LaidUp, Mixed, clockwork, labour_of
from service.operations.door.shop import day_in_shop
from service.records.base import instant
from service.records.closures import steps
from service.records.people import Site


@dataclass(frozen=True, slots=True)
class PartRow:
    """A part as it matters here."""

    id: int
    code: str
    name: str
    state: str
    design: int
    part_number: str
    revision: str
    line: int | None
    laid: LaidUp
    mass_mg: int | None


@dataclass(slots=True)
class Figures:
    """Of one part: what is in it, what was lost for it by cause, what was trimmed off, its work."""

    row: PartRow
    inside: Value = field(default_factory=Held)
    lost: dict[WasteCause, Value] = field(default_factory=dict)
    trimmed_mg: int | None = None
    trimmed_at: datetime | None = None
    components: list[int] = field(default_factory=list)
    not_measured: set[str] = field(default_factory=set)
    waiting: set[str] = field(default_factory=set)
    labour: Labour = field(default_factory=lambda: Labour(0, 0, 0, 0))

    @property
    def drawn(self) -> Value:
        return total([self.inside, *self.lost.values()])


@dataclass(slots=True)
class Reckoning:
    """A flow, and the figures of all parts in it by their numbers."""

    site: Site
    flow: Flow
    clock: Clockwork
    parts: dict[int, Figures]

    def with_components(self, roots: Iterable[int]) -> list[int]:
        """These parts and all that were fitted into them, each once."""
        found: dict[int, None] = {}
        waiting = list(roots)
        while waiting:
            number = waiting.pop()
            if number in self.parts and number not in found:
                found[number] = None
                waiting += self.parts[number].components
        return list(found)


def reckon(start: str, *values: Any, site: Site) -> Reckoning:
    """The figures of all parts among what ``start`` selects and what that was made of, in six statements."""
    flow = read_flow(start, *values, site=site)
    reach = f"WITH RECURSIVE {steps(start, back=True)}"
    parts = {row[0]: Figures(_part(row)) for row in rows_of(_parts(reach), *values)}
    for number, facts, at in rows_of(_trims(reach), *values):
        parts[number].trimmed_at = instant(at)
        mass = (json.loads(facts) if isinstance(facts, str) else facts).get("trimmed_off_g")
        if mass is not None:
            parts[number].trimmed_mg = (parts[number].trimmed_mg or 0) + round(mass * 1000)
    made = Reckoning(site, flow, clockwork(site), parts)
    for one in parts.values():
        _into(made, one)
    for thing in flow.things.values():
        if thing.kind in (Kind.MIX, Kind.KIT):
            _lose(made, thing)
    mixed = _mixed(made)
    for number, one in parts.items():
        one.labour = labour_of(one.row.laid, mixed.get(number, ()), made.clock)
    return made


def _parts(reach: str) -> str:
    return (
        f"{reach} SELECT i.id, i.code, i.name, i.state, p.design_id, d.part_number, d.revision, p.line_id,"
        f" p.started_at, p.laid_up_at, p.mass_mg FROM reach r {each('part', 'p', 'p.item_id = r.id')}"
        f" {each('item', 'i', 'i.id = r.id')} {each('design', 'd', 'd.id = p.design_id')}"
    )


def _part(row: tuple[Any, ...]) -> PartRow:
    number, code, name, state, design, part_number, revision, line, started, closed, mass_mg = row
    laid = LaidUp(*(None if at is None else instant(at) for at in (started, closed)))
    return PartRow(number, code, name, state, design, part_number, revision, line, laid, mass_mg)


def _trims(reach: str) -> str:
    return (
        f"{reach} SELECT s.part_id, s.facts, s.occurred_at FROM reach r {each('part_step', 's', 's.part_id = r.id')}"
        f" WHERE s.kind = '{OwnStep.TRIMMING}' ORDER BY s.id"
    )


def _into(made: Reckoning, one: Figures) -> None:
    """What went into a part by itself, from a pot or a kit; and what other parts were fitted into it."""
    flow = made.flow
    for moved in flow.into.get(one.row.id, ()):
        source = moved.source
        if flow.is_kind(source, Kind.PART) and source is not None:
            one.components.append(source)
        elif moved.amount is None and flow.is_kind(source, Kind.CONTAINER, Kind.MIX) and source is not None:
            thing = flow.things[source]
            if thing.state in (State.WEIGHING, State.RUNNING):
                one.waiting.add(thing.name)
            elif thing.state != State.CLOSED:  # what a closed pot gave was shared out then
                one.not_measured.add(thing.name)
        elif moved.id in flow.took:
            one.inside.add(flow.took[moved.id])


def _lose(made: Reckoning, thing: Thing) -> None:
    """Share what a pot or a kit lost among the parts that it went into, by mass; without a part it is nobody's."""
    flow = made.flow
    given = [m for m in flow.out_of.get(thing.id, ()) if m.amount and m.target is not None]
    weights = [m.amount or 0 for m in given]
    lost = [m for m in flow.out_of.get(thing.id, ()) if m.target is None and m.id in flow.took]
    if thing.kind == Kind.KIT:
        lost += _cut_away(flow, thing)
    for moved in lost:
        cause = cause_of(flow, moved, made.site)
        for to, its in zip(given, split(flow.took[moved.id], weights), strict=True):
            if to.target in made.parts and cause is not None:
                made.parts[to.target].lost.setdefault(cause, Held()).add(its)


def _cut_away(flow: Flow, kit: Thing) -> list[Moved]:
    """The waste that was booked with the cuts of a kit."""
    cuts = [m for m in flow.into.get(kit.id, ()) if m.kind == MovementKind.CUTTING]
    acts, rolls = {m.act for m in cuts}, {m.source for m in cuts}
    return [
        m
        for roll in rolls
        if roll is not None
        for m in flow.out_of.get(roll, ())
        if m.kind == MovementKind.WASTE and m.act in acts and m.id in flow.took
    ]


def cause_of(flow: Flow, moved: Moved, site: Site) -> WasteCause | None:
    """Why it is in no part; nothing if it went somewhere."""
    if moved.target is not None or moved.source is None:
        return None
    thing = flow.things[moved.source]
    if thing.kind == Kind.PART:
        return None
    if moved.kind == MovementKind.SCRAP:
        until = good_until(thing, site) if thing.kind == Kind.CONTAINER else None
        return WasteCause.EXPIRED if until is not None and day_in_shop(moved.at, site) > until else WasteCause.SCRAPPED
    if thing.kind == Kind.MIX and thing.state == State.ABANDONED:
        return WasteCause.GIVEN_UP
    if thing.kind == Kind.MIX and thing.state == State.DISCARDED:
        return WasteCause.OFF_RATIO if thing.verdict == Verdict.OUTSIDE else WasteCause.DISCARDED
    return {
        str(MovementKind.LEFT): WasteCause.LEFT,
        str(MovementKind.LOSS): WasteCause.SPILLED,
        str(MovementKind.WASTE): WasteCause.CUTTING,
        str(MovementKind.FOUND_LESS): WasteCause.NOT_FOUND,
    }.get(moved.kind)


def _mixed(made: Reckoning) -> dict[int, list[Mixed]]:
    """Of each part the pots that were mixed for it."""
    found: dict[int, list[Mixed]] = {}
    flow = made.flow
    for thing in flow.things.values():
        if thing.kind != Kind.MIX or thing.started_at is None:
            continue
        given = [m for m in flow.out_of.get(thing.id, ()) if m.amount and m.target is not None]
        whole = sum(m.amount or 0 for m in given)
        for one in given:
            if one.target is not None and one.target in made.parts:
                first = min(m.at for m in given)
                found.setdefault(one.target, []).append(Mixed(thing.started_at, first, one.amount or 0, whole))
    return found
