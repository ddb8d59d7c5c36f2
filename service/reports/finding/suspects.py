"""Suspects: for everything that parts share, whether it and the failure go together more often than chance.

Each factor is a two by two table against the failure (Fisher's exact test), all p-values are adjusted for the number of
factors that were tried, and factors that always occur together are named together, since no table can tell them apart.
A container that was used beyond its limit is split at the limit day. It says suspects, never cause. People are no
suspects: what they did stands apart, by task, in no order of strength, and bears on no other figure.
"""

import functools
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from service.formulas import statistics
from service.formulas.ranges import OutOfRange
from service.formulas.statistics import FisherResult
from service.reports.finding.suspected import AgeSplit, Count, Point, Suspect, Suspects
from service.reports.wording import code, count, p_number, p_value, plural

# The order in which one of several factors that cannot be told apart speaks for them.
_SPEAKS_FIRST = ("age", "container", "roll", "lot", "pot", "kit", "cure", "mould", "scale", "tool", "person", "week",
                 "flag", "material", "design")  # fmt: skip
FAILED = "failed"


@dataclass(frozen=True, slots=True)
class Outcomes:
    """What became of the parts that are compared, by their codes."""

    word: str
    failed: frozenset[str]
    good: frozenset[str]
    undecided: frozenset[str]
    otherwise: frozenset[str]
    since: date
    until: date

    @property
    def judged(self) -> frozenset[str]:
        return self.failed | self.good


@dataclass(frozen=True, slots=True)
class Factor:
    """Something that parts share. ``among`` are those that it is compared within, if not all."""

    kind: str
    name: str
    code: str | None
    parts: frozenset[str]
    among: frozenset[str] | None = None


@dataclass(frozen=True, slots=True)
class AgedUse:
    """A container with a limit, and how old it was at the last use for each part: days open, or days past its date."""

    code: str
    noun: str
    material: str
    because: str
    limit_days: int
    days: Mapping[str, int]
    others: frozenset[str]
    measured: Mapping[str, tuple[float, str]]

    @property
    def after(self) -> frozenset[str]:
        return frozenset(part for part, days in self.days.items() if days > self.limit_days)


def find_suspects(
    part: str, *, outcomes: Outcomes, factors: Sequence[Factor], aged: Sequence[AgedUse] = ()
) -> Suspects:
    """Rank what this part shares with others. Factors that it does not have cannot speak for its failure."""
    own = [f for f in factors if part in f.parts] + [
        Factor("age", _age_name(a), a.code, a.after, frozenset(a.days) | a.others) for a in aged if part in a.after
    ]
    groups, not_shared, by_all = _grouped([f for f in own if f.kind != "person"], outcomes)
    ranked = _apart(outcomes, _tested(groups, outcomes))
    by_task, _, _ = _grouped([f for f in own if f.kind == "person"], outcomes)
    people = sorted(_tested(by_task, outcomes), key=lambda s: s.name)
    splits = tuple(_split(a, part, outcomes) for a in aged if part in a.days and a.after & outcomes.judged)
    return Suspects(
        word=outcomes.word,
        since=outcomes.since,
        until=outcomes.until,
        compared=len(outcomes.judged),
        failed=len(outcomes.failed),
        undecided=len(outcomes.undecided),
        left_out=len(outcomes.otherwise),
        tried=len(groups) if outcomes.failed else 0,
        not_shared=not_shared,
        shared_by_all=by_all,
        ranked=tuple(ranked),
        people=tuple(people),
        splits=splits,
        sentence=_summary(outcomes, len(groups) if outcomes.failed else 0, ranked),
    )


Table = tuple[int, int, int, int]


def _tested(groups: Sequence[tuple[Sequence[Factor], Table]], outcomes: Outcomes) -> list[Suspect]:
    """Each group against the failure; the p-values are adjusted for as many as are tried here."""
    if not (groups and outcomes.failed):
        return []
    found = [_fisher(*table) for _, table in groups]
    adjusted = statistics.benjamini_hochberg(p_values=[min(f.p_greater, 1.0) for f in found])
    return [
        _suspect(group, table, fisher, p, outcomes, len(groups))
        for (group, table), fisher, p in zip(groups, found, adjusted, strict=True)
    ]


def _grouped(factors: Sequence[Factor], outcomes: Outcomes) -> tuple[list[tuple[list[Factor], Table]], int, int]:
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
    found = []
    for (exposed, among), group in groups.items():
        group.sort(key=lambda f: (_SPEAKS_FIRST.index(f.kind), f.name))
        bad = len(exposed & outcomes.failed)
        other_bad = len((among - exposed) & outcomes.failed)
        found.append((group, (bad, len(exposed) - bad, other_bad, len(among - exposed) - other_bad)))
    return _with_their_ages(found), not_shared, by_all


def _with_their_ages(groups: list[tuple[list[Factor], Table]]) -> list[tuple[list[Factor], Table]]:
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
    for suspect in sorted(suspects, key=lambda s: (s.p, _SPEAKS_FIRST.index(s.kind), s.name)):
        own = frozenset(suspect.parts) - taken
        apart = _counted(own, outcomes)
        alone = suspect.suspicious and (not taken or apart.failed > 0)
        if alone:
            taken |= set(suspect.parts)
        found.append(replace(suspect, apart=apart, stands_alone=alone))
    return found


@functools.lru_cache(maxsize=4096)
def _fisher(exposed_failed: int, exposed_good: int, other_failed: int, other_good: int) -> FisherResult:
    return statistics.fisher_exact(
        exposed_failed=exposed_failed, exposed_good=exposed_good, other_failed=other_failed, other_good=other_good
    )


def _suspect(
    group: Sequence[Factor], table: Table, fisher: FisherResult, p_adjusted: float, outcomes: Outcomes, tried: int
) -> Suspect:
    first = group[0]
    exposed, others = Count(table[0] + table[1], table[0]), Count(table[2] + table[3], table[2])
    sentence = (
        f"Of {plural(exposed.parts, 'part')} with {first.name}, {became(exposed.failed, outcomes.word)}; "
        f"of {plural(others.parts, 'other')}, {count(others.failed)} ({p_value(fisher.p_greater)}; "
        f"{p_number(p_adjusted)} adjusted for {plural(tried, 'comparison')})."
    )
    return Suspect(
        kind=first.kind,
        name=first.name,
        code=first.code,
        cannot_separate=tuple(f.name for f in group[1:]),
        exposed=exposed,
        others=others,
        apart=exposed,
        stands_alone=False,
        undecided=len(first.parts & outcomes.undecided),
        p=min(fisher.p_greater, 1.0),
        p_adjusted=p_adjusted,
        odds_ratio=fisher.odds_ratio_conditional,
        odds_low=fisher.low,
        odds_high=fisher.high,
        parts=tuple(sorted(first.parts & (outcomes.judged | outcomes.undecided))),
        failed_parts=tuple(sorted(first.parts & outcomes.failed)),
        sentence=sentence,
    )


def _summary(outcomes: Outcomes, tried: int, ranked: Sequence[Suspect]) -> str:
    if not outcomes.failed:
        return "No part failed in this time, so there is nothing to compare."
    if not tried:
        return "This part shares nothing with others that could be compared."
    strong, through = sum(s.suspicious for s in ranked), sum(s.suspicious and not s.stands_alone for s in ranked)
    if not strong:
        return f"Of {plural(tried, 'comparison')} none is stronger than chance would bring. That clears nothing."
    borrowed = f", {through} of them only through parts that a stronger one has too" if through else ""
    return (
        f"{strong} of {plural(tried, 'comparison')} {'is' if strong == 1 else 'are'} stronger than chance would bring"
        f"{borrowed}. "
        "These are suspects, not causes: what goes together need not follow from one another."
    )


def became(failed: int, word: str) -> str:
    """What became of so many: 6 are soft, one is soft, none failed."""
    if word == FAILED:
        return f"{count(failed)} failed"
    return f"{count(failed)} {'is' if failed == 1 else 'are'} {word}"


def _age_name(aged: AgedUse) -> str:
    return f"{aged.noun} {code(aged.code)} {_limit_words(aged.because, aged.limit_days)}"


def _limit_words(because: str, limit_days: int) -> str:
    return f"after day {limit_days}" if because == "opened" else "past its date"


def _counted(parts: frozenset[str], outcomes: Outcomes) -> Count:
    return Count(len(parts & outcomes.judged), len(parts & outcomes.failed))


def _split(aged: AgedUse, part: str, outcomes: Outcomes) -> AgeSplit:
    after = _counted(aged.after, outcomes)
    before = _counted(frozenset(aged.days) - aged.after, outcomes)
    elsewhere = _counted(aged.others, outcomes)
    fisher = _fisher(
        after.failed,
        after.parts - after.failed,
        before.failed + elsewhere.failed,
        before.parts - before.failed + elsewhere.parts - elsewhere.failed,
    )
    points = tuple(
        Point(
            part=one,
            days=days,
            failed=one in outcomes.failed if one in outcomes.judged else None,
            value=aged.measured[one][0] if one in aged.measured else None,
        )
        for one, days in sorted(aged.days.items(), key=lambda d: (d[1], d[0]))
        if one not in outcomes.otherwise
    )
    ages, trend = _ages(points), _trend(points)
    return AgeSplit(
        code=aged.code,
        noun=aged.noun,
        material=aged.material,
        because=aged.because,
        limit_days=aged.limit_days,
        own_days=aged.days[part],
        after=after,
        before=before,
        elsewhere=elsewhere,
        undecided=len(frozenset(aged.days) & outcomes.undecided),
        p=fisher.p_greater,
        median_failed=ages.median_failed if ages else None,
        median_good=ages.median_good if ages else None,
        p_ages=ages.p_greater if ages else None,
        measured=next((name for _, name in aged.measured.values()), None) if trend else None,
        tau=trend.tau if trend else None,
        p_trend=trend.p_two_sided if trend else None,
        points=points,
        sentence=_split_sentence(aged, after, before, elsewhere, fisher.p_greater, outcomes.word),
    )


def _ages(points: Sequence[Point]) -> statistics.RankSum | None:
    failed, good = [p.days for p in points if p.failed], [p.days for p in points if p.failed is False]
    return statistics.rank_sum(failed=failed, good=good) if failed and good else None


def _trend(points: Sequence[Point]) -> statistics.RankTrend | None:
    """Whether what was measured on the parts goes with the age; nothing where too little was measured."""
    pairs = [(p.days, p.value) for p in points if p.value is not None]
    if len(pairs) < 5:
        return None
    try:
        return statistics.rank_trend(x=[days for days, _ in pairs], y=[value for _, value in pairs])
    except OutOfRange:
        return None


def _split_sentence(aged: AgedUse, after: Count, before: Count, elsewhere: Count, p: float, word: str) -> str:
    """One sentence with the three groups: after the limit, before it, and from other containers."""
    when = f"after day {aged.limit_days}" if aged.because == "opened" else "after its date"
    parts = [
        f"Of {plural(after.parts, 'part')} made from it {when}, {became(after.failed, word)}",
        f"of {before.parts} made from it before, {count(before.failed)}" if before.parts else "",
        f"of {plural(elsewhere.parts, 'sister')} from other {aged.noun.rsplit(' ', 1)[-1]}s, {count(elsewhere.failed)}"
        if elsewhere.parts
        else "",
    ]
    said = "; ".join(p for p in parts if p)
    return f"{said} ({p_value(p)})." if before.parts + elsewhere.parts else f"{said}."
