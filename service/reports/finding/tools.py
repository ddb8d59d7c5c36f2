"""What was used on the parts without going into them: moulds, scales between their checks, ovens; who did what."""

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable
from itertools import chain

from schemas.words import Kind
from service.database import each
from service.operations.door.acts import ACTS, called
from service.operations.door.formerly import Formerly
from service.operations.door.shop import day_in_shop
from service.operations.ledger.done_with import THE_SAME_TASK
from service.operations.ledger.failing import stands
from service.records.base import instant
from service.records.items import Item
from service.records.lookups import rows_among
from service.records.people import Person
from service.reports.finding.given import Factor
from service.reports.finding.rows import Rows
from service.reports.wording import code, day

# What is worked on: a tool or a person there bears on the part.
_WORKED_ON = frozenset((Kind.MIX, Kind.KIT, Kind.CURE, Kind.PART))


def made_with(rows: Rows) -> list[Factor]:
    """Moulds, scales, ovens and gauges; people by what they did; and entries that came late.

    Of those that bear on this part; each with the things that it was used or done on, and so with their parts.
    """
    own = rows.upstream[rows.root]
    used: dict[int, set[int]] = defaultdict(set)
    people: dict[tuple[int, str], set[int]] = defaultdict(set)
    late: set[int] = set()
    weighed = []
    for thing, tool, person, role, at in rows.of(
        f"SELECT w.item_id, w.used_id, w.person_id, w.role, w.occurred_at FROM made"
        f" {each('made_with', 'w', 'w.item_id = made.id')}"
    ):
        if rows.kinds[thing] not in _WORKED_ON or rows.came_after(thing, at):
            continue
        if tool is None:
            people[person, THE_SAME_TASK.get(role, role)].add(thing)
            continue
        used[tool].add(thing)
        if role == "scale":
            weighed.append((thing, tool, at))
    by_act: dict[tuple[int, str], set[int]] = defaultdict(set)
    for thing, kind, _, _, at, person, operation, was_late in rows.moved:
        if rows.came_after(thing, at):
            continue
        if kind in _WORKED_ON:
            by_act[person, operation].add(thing)
        if was_late:
            late.add(thing)
    for (person, operation), things in by_act.items():
        people[person, ACTS[operation].did or called(operation)] |= things
    words = {Kind.MOULD: "mould", Kind.SCALE: "scale"}
    found = [
        Factor(words.get(Kind(i.kind), "tool"), f"{i.name} ({code(i.code)})", i.code, rows.codes_with(used[i.id]))
        for i in rows_among(Item, Item.id, [tool for tool, things in used.items() if not own.isdisjoint(things)])
    ]
    names = Formerly(Person).all_at(instant(rows.parts[rows.root].started_at))
    found += [
        Factor("person", f"{task}, {names[n].name}", None, rows.codes_with(things))
        for (n, task), things in people.items()
        if not own.isdisjoint(things)
    ]
    found += _between_checks(rows, weighed)
    return [*found, Factor("flag", "an entry made late", "late", rows.codes_with(late))]


def _between_checks(rows: Rows, weighed: Iterable[tuple[int, int, int]]) -> list[Factor]:
    """For each scale that weighed for this part: the parts that it weighed for between the same two of its checks.

    ``weighed`` says for which thing, on which scale, when; each pour has its own as well.
    """
    poured = rows.of(f"SELECT made.id, r.scale_id, r.occurred_at FROM made {each('pour', 'r', 'r.mix_id = made.id')}")
    checks: dict[int, list[int]] = defaultdict(list)
    for scale, at in rows.of(
        "SELECT k.scale_id, k.occurred_at FROM (SELECT DISTINCT w.used_id AS id FROM made"
        f" {each('made_with', 'w', 'w.item_id = made.id')} WHERE w.role = 'scale') u"
        f" {each('scale_check', 'k', 'k.scale_id = u.id')} WHERE {stands('k')} ORDER BY k.occurred_at"
    ):
        checks[scale].append(at)
    parts: dict[tuple[int, int], set[int]] = defaultdict(set)
    for thing, scale, at in chain(weighed, poured):
        parts[scale, bisect_right(checks[scale], at)].update(rows.reached[thing])
    own = {key: found for key, found in parts.items() if rows.root in found and checks[key[0]]}
    names = {i.id: f"{i.name} ({code(i.code)})" for i in rows_among(Item, Item.id, {scale for scale, _ in own})}
    return [
        Factor("scale interval", f"{names[scale]} {_said(rows, checks[scale], place)}", None, rows.codes(found))
        for (scale, place), found in own.items()
    ]


def _said(rows: Rows, checks: list[int], place: int) -> str:
    days = [day(day_in_shop(instant(at), rows.site)) for at in checks]
    if place == 0:
        return f"before its check of {days[0]}"
    if place == len(checks):
        return f"since its check of {days[-1]}"
    return f"between its checks of {days[place - 1]} and {days[place]}"
