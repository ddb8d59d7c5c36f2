"""What was used on the parts without going into them: moulds, scales between their checks, ovens; who did what."""

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable
from itertools import chain

from schemas.words import Kind
from service.database import each, listed, looked_up, rows_of
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
    worked_on = {thing for thing, kind in rows.kinds.items() if kind in _WORKED_ON}
    own = rows.upstream[rows.root]
    used: dict[int, set[int]] = defaultdict(set)
    people: dict[tuple[int, str], set[int]] = defaultdict(set)
    late: set[int] = set()
    failed = rows.failed_at
    weighed = []
    for thing, tool, person, role, at in rows.of(
        f"SELECT w.item_id, w.used_id, w.person_id, w.role, w.occurred_at FROM made"
        f" {each('made_with', 'w', 'w.item_id = made.id')}"
    ):
        if thing not in worked_on or (thing in failed and rows.came_after(thing, at)):
            continue
        if tool is None:
            people[person, THE_SAME_TASK.get(role, role)].add(thing)
            continue
        used[tool].add(thing)
        if role == "scale":
            weighed.append((thing, tool, at))
    by_act: dict[tuple[int, str], set[int]] = defaultdict(set)
    for thing, _, _, _, person, operation, was_late in rows.moved:
        if thing in worked_on:
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
    pours = each("pour", "r", "r.mix_id = made.id")
    poured = rows.of(f"SELECT made.id, r.scale_id, r.occurred_at FROM made {pours}", Kind.MIX)
    by_scale: dict[int, list[tuple[int, int]]] = defaultdict(list)
    for thing, scale, at in chain(weighed, poured):
        by_scale[scale].append((at, thing))
    own = rows.upstream[rows.root]
    by_scale = {scale: uses for scale, uses in by_scale.items() if any(thing in own for _, thing in uses)}
    checks = _checks(by_scale, since=min((at for uses in by_scale.values() for at, _ in uses), default=0))
    found = []
    for item in rows_among(Item, Item.id, checks):
        between: dict[int, set[int]] = defaultdict(set)
        for at, thing in by_scale[item.id]:
            between[bisect_right(checks[item.id], at)].add(thing)
        found += [
            Factor(
                "scale interval",
                f"{item.name} ({code(item.code)}) {_said(rows, checks[item.id], place)}",
                None,
                rows.codes_with(things),
            )
            for place, things in between.items()
            if not own.isdisjoint(things)
        ]
    return found


def _checks(scales: Iterable[int], *, since: int) -> dict[int, list[int]]:
    """When each of these was checked, from the last time before ``since`` on; nothing of one that never was."""
    stood = f"b.occurred_at <= CAST(? AS BIGINT) AND {stands('b')}"
    last = (
        f"SELECT b.occurred_at FROM scale_check b WHERE b.scale_id = given.id AND {stood}"
        " ORDER BY b.occurred_at DESC LIMIT 1"
    )
    checks: dict[int, list[int]] = defaultdict(list)
    for scale, at in rows_of(
        f"SELECT k.scale_id, k.occurred_at FROM {looked_up()}"
        f" {each('scale_check', 'k', f'k.scale_id IN (given.id) AND k.occurred_at >= COALESCE(({last}), 0)')}"
        f" WHERE {stands('k')} ORDER BY k.occurred_at",
        listed(scales),
        since,
    ):
        checks[scale].append(at)
    return checks


def _said(rows: Rows, checks: list[int], place: int) -> str:
    days = [day(day_in_shop(instant(at), rows.site)) for at in checks[max(place - 1, 0) : place + 1]]
    if place == 0:
        return f"before its check of {days[0]}"
    if place == len(checks):
        return f"since its check of {days[0]}"
    return f"between its checks of {days[0]} and {days[1]}"
