"""Suspects: for everything that parts share or that was measured on them, whether it and the failure go together.

All that was tried is weighed in one family (`weighing`): what a part shares, who did which task, and numbers. Factors
that always occur together are named together, since no table can tell them apart. A container that was used beyond its
limit is split at the limit day. It says suspects, never cause. People are no suspects: what they did stands apart, by
task, in no order of strength.
"""

import functools
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import nan

from service.formulas import statistics
from service.formulas.permutations import so_many
from service.formulas.statistics import FisherResult
from service.reports.finding.given import AgedUse, Factor, Number, Outcomes, Times
from service.reports.finding.measured import measured_against
from service.reports.finding.next_part import next_part
from service.reports.finding.saying import said_of, summary
from service.reports.finding.splits import age_name, became, counted, split_at_the_limit
from service.reports.finding.suspected import Became, Count, Suspect, Suspects
from service.reports.finding.weighing import RARE, Column, Scales, Weighed, weigh
from service.reports.wording import count, p_number, p_value, plural

# The order in which one of several factors that cannot be told apart speaks for them.
_SPEAKS_FIRST = ("age", "before", "container", "roll", "lot", "pot", "kit", "cure", "mould", "scale", "scale interval",
                 "tool", "person", "day", "week", "shift", "flag", "material", "design")  # fmt: skip

Table = tuple[int, int, int, int]
Group = tuple[list[Factor], Table]


@dataclass(frozen=True, slots=True)
class _Found:
    """All that was weighed: groups of things, of tasks by people, and numbers, each with what was said of it."""

    scales: Scales
    things: list[tuple[Group, Weighed]]
    people: list[tuple[Group, Weighed]]
    numbers: list[tuple[Number, Weighed]]
    names: Callable[[int], str]


def find_suspects(
    part: str,
    *,
    outcomes: Outcomes,
    factors: Sequence[Factor],
    aged: Sequence[AgedUse] = (),
    numbers: Sequence[Number] = (),
    times: Times | None = None,
    hardness: Mapping[str, float] | None = None,
    worked_on_again: str | None = None,
) -> Suspects:
    """Rank what this part shares with others. Factors that it does not have cannot speak for its failure."""
    own = [f for f in factors if part in f.parts] + [
        Factor("age", age_name(a), a.code, a.after, frozenset(a.days) | a.others) for a in aged if part in a.after
    ]
    own += [
        Factor("before", age_name(a, before=True), a.code, frozenset(a.days) - a.after)
        for a in aged
        if part in a.days and part not in a.after
    ]
    groups, not_shared, by_all = _grouped([f for f in own if f.kind != "person"], outcomes)
    by_task, _, _ = _grouped([f for f in own if f.kind == "person"], outcomes)
    found = _weighed(outcomes, groups, by_task, numbers, times or Times())
    ranked = _apart(outcomes, [_suspect(*one, found, outcomes) for one in found.things])
    people = sorted((_suspect(*one, found, outcomes) for one in found.people), key=lambda s: s.name)
    measured = [measured_against(n, w, part, outcomes, hardness or {}, found.names) for n, w in found.numbers]
    suspects = Suspects(
        word=outcomes.word,
        since=outcomes.since,
        until=outcomes.until,
        became=_became(outcomes),
        compared=len(outcomes.judged),
        failed=len(outcomes.failed),
        undecided=len(outcomes.undecided),
        left_out=len(outcomes.otherwise),
        tried=len(found.scales.groups),
        not_shared=not_shared,
        shared_by_all=by_all,
        smallest_p=found.scales.smallest_p,
        smallest_p_within=found.scales.smallest_p_within,
        rearrangements=found.scales.rearranged,
        all_rearrangements=found.scales.all_ways,
        ranked=tuple(ranked),
        numbers=tuple(sorted(measured, key=lambda m: (m.rank, m.name))),
        people=tuple(people),
        splits=tuple(split_at_the_limit(a, part, outcomes) for a in aged if _split_tells(a, part, outcomes)),
        worked_on_again=worked_on_again,
        next_part=next_part(part, outcomes, ranked, [*people, *measured], _together(ranked, found)),
        sentence="",
    )
    return replace(suspects, sentence=summary(suspects, itself=part in outcomes.failed))


def _together(ranked: Sequence[Suspect], found: _Found) -> dict[str, frozenset[str]]:
    """Of what always went with the first suspect, among those that are judged: all parts that have it."""
    group = next((group for (group, _), _ in found.things if ranked and group[0].name == ranked[0].name), [])
    return {factor.name: factor.parts for factor in group[1:]}


def _split_tells(aged: AgedUse, part: str, outcomes: Outcomes) -> bool:
    return part in aged.days and bool(aged.after & outcomes.judged)


def _became(outcomes: Outcomes) -> Became:
    gone = outcomes.gone & outcomes.good
    return Became(
        failed=len(outcomes.failed),
        failed_otherwise=len(outcomes.otherwise),
        good=len(outcomes.good - gone),
        gone=len(gone),
        unheard=len(outcomes.gone - gone),
        not_judged=len(outcomes.undecided - outcomes.gone),
        scrapped=len(outcomes.scrapped),
        fitted=len(outcomes.fitted),
        corrected_away=len(outcomes.corrected),
    )


def _weighed(
    outcomes: Outcomes, groups: Sequence[Group], by_task: Sequence[Group], numbers: Sequence[Number], times: Times
) -> _Found:
    """All of it in one family; where nothing failed, or nothing held, there is nothing to weigh."""
    judged = sorted(outcomes.judged)
    failed = [code in outcomes.failed for code in judged]
    if all(failed) or not any(failed):
        return _Found(Scales((), 1, 1, 1, True), [], [], [], lambda place: "")
    places = {code: place for place, code in enumerate(judged)}
    columns = [_column(group, places) for group, _ in [*groups, *by_task]]
    columns += [Column([n.values.get(code, nan) for code in judged], number=True) for n in numbers]
    blocks: dict[str, int] = {}
    scales = weigh(
        failed,
        [times.started.get(code, 0.0) for code in judged],
        columns,
        [blocks.setdefault(times.blocks.get(code, code), len(blocks)) for code in judged],
    )
    said = {place: weighed for weighed in scales.groups for place in weighed.members}
    names = [group[0].name for group, _ in [*groups, *by_task]] + [n.name for n in numbers]
    first, second = len(groups), len(groups) + len(by_task)
    return _Found(
        scales,
        [(group, said[n]) for n, group in enumerate(groups) if n in said],
        [(group, said[first + n]) for n, group in enumerate(by_task) if first + n in said],
        [(number, said[second + n]) for n, number in enumerate(numbers) if second + n in said],
        lambda place: names[place],
    )


def _column(group: Sequence[Factor], places: Mapping[str, int]) -> Column:
    import numpy as np

    first = group[0]
    if first.among is None:
        values = np.zeros(len(places))
        exposed = first.parts
    else:
        values = np.full(len(places), nan)
        values[[places[code] for code in first.among if code in places]] = 0.0
        exposed = first.parts & first.among
    values[[places[code] for code in exposed if code in places]] = 1.0
    return Column(values)


def _grouped(factors: Sequence[Factor], outcomes: Outcomes) -> tuple[list[Group], int, int]:
    """Factors with the same parts in one group; those that nobody shares, or all do, tell nothing."""
    groups: dict[tuple[frozenset[str], frozenset[str]], list[Factor]] = defaultdict(list)
    not_shared = by_all = 0
    for factor in factors:
        among = outcomes.judged if factor.among is None else outcomes.judged & factor.among
        exposed = factor.parts & among
        if len(factor.parts) < 2:
            not_shared += 1
        elif exposed and exposed == among:
            by_all += 1
        elif exposed:
            groups[exposed, among].append(factor)
    found: list[Group] = []
    for (exposed, among), group in groups.items():
        group.sort(key=lambda f: (_SPEAKS_FIRST.index(f.kind), f.name))
        bad = len(exposed & outcomes.failed)
        other_bad = len((among - exposed) & outcomes.failed)
        found.append((group, (bad, len(exposed) - bad, other_bad, len(among - exposed) - other_bad)))
    return _with_their_ages(found), not_shared, by_all


def _with_their_ages(groups: list[Group]) -> list[Group]:
    """A container beyond its limit is compared within its material; what has the very same parts joins its group."""
    ages = [(group, table) for group, table in groups if group[0].kind == "age"]
    kept = []
    for group, table in groups:
        twin = next((a for a, _ in ages if a is not group and a[0].parts == group[0].parts), None)
        if twin is None:
            kept.append((group, table))
        else:
            twin.extend(group)
    return kept


def _apart(outcomes: Outcomes, suspects: Iterable[Suspect]) -> list[Suspect]:
    """Suspects in their order, each with what is left of it without the stronger ones."""
    found = []
    taken: set[str] = set()
    for suspect in sorted(suspects, key=lambda s: (s.rank, _SPEAKS_FIRST.index(s.kind), s.name)):
        apart = counted(frozenset(suspect.parts) - taken, outcomes)
        alone = _worth_following(suspect) and (not taken or apart.failed > 0)
        if alone:
            taken |= set(suspect.parts)
        found.append(replace(suspect, apart=apart, stands_alone=alone))
    return found


def _worth_following(suspect: Suspect) -> bool:
    """More than chance; of what was out of its limit anyway it is enough that nothing ranks before it."""
    return suspect.suspicious or (suspect.kind == "age" and suspect.rank == 1 and suspect.p <= RARE)


@functools.lru_cache(maxsize=4096)
def _fisher(exposed_failed: int, exposed_good: int, other_failed: int, other_good: int) -> FisherResult:
    return statistics.fisher_exact(
        exposed_failed=exposed_failed, exposed_good=exposed_good, other_failed=other_failed, other_good=other_good
    )


def _suspect(one: Group, weighed: Weighed, found: _Found, outcomes: Outcomes) -> Suspect:
    group, table = one
    first, fisher = group[0], _fisher(*table)
    exposed, others = Count(table[0] + table[1], table[0]), Count(table[2] + table[3], table[2])
    any_exposed, any_others = _of_any(first, outcomes)
    rival = found.names(weighed.rival) if weighed.rival is not None else None
    sentence = (
        f"Of {plural(exposed.parts, 'part')} with {first.name}, {became(exposed.failed, outcomes.word)}; "
        f"of {plural(others.parts, 'other')}, {count(others.failed)} ({p_value(weighed.p)}; "
        f"{p_number(weighed.p_adjusted)} within its time, adjusted for "
        f"{plural(len(found.scales.groups), 'comparison')})."
    )
    return Suspect(
        kind=first.kind,
        name=first.name,
        code=first.code,
        rank=weighed.rank,
        verdict=weighed.verdict,
        cannot_separate=tuple(f.name for f in group[1:]),
        rival=rival,
        exposed=exposed,
        others=others,
        apart=exposed,
        any_exposed=any_exposed,
        any_others=any_others,
        stands_alone=False,
        undecided=len(first.parts & outcomes.undecided),
        p=weighed.p,
        p_any=so_many(
            any_exposed.failed,
            of=any_exposed.parts,
            failed=any_exposed.failed + any_others.failed,
            parts=any_exposed.parts + any_others.parts,
        ),
        p_within=weighed.p_within,
        p_adjusted=weighed.p_adjusted,
        p_neighbours=weighed.p_neighbours,
        odds_ratio=fisher.odds_ratio_conditional,
        odds_low=fisher.low,
        odds_high=fisher.high,
        parts=tuple(sorted(first.parts & (outcomes.judged | outcomes.undecided))),
        failed_parts=tuple(sorted(first.parts & outcomes.failed)),
        sentence=sentence + said_of(weighed.verdict, rival),
    )


def _of_any(factor: Factor, outcomes: Outcomes) -> tuple[Count, Count]:
    """With it and without it, of all parts that failed in whatever way or are good."""
    among = outcomes.judged | outcomes.otherwise
    if factor.among is not None:
        among &= factor.among
    with_it, without = factor.parts & among, among - factor.parts
    bad = outcomes.failed_at_all
    return Count(len(with_it), len(with_it & bad)), Count(len(without), len(without & bad))
