"""What was worked on again after it had failed: whether that failed too, and what went in then.

What went in at the rework came too late to have led to the failure, and is left out of the search for suspects. Where
the part then failed again in the same way, that is looked at here by itself: among the reworked parts alone, those that
failed again against those that held.
"""

from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import NamedTuple

from service.formulas.permutations import so_many
from service.reports.finding.factors import things
from service.reports.finding.given import Outcomes
from service.reports.finding.outcomes import OnRecord
from service.reports.finding.rows import Rows
from service.reports.reading.ages import Ages
from service.reports.wording import capital, count, first_of, in_words, p_value, plural

_MOST_NAMED = 5
_MOST_TOLD = 3


@dataclass(frozen=True, slots=True)
class Reworked:
    """Parts that failed like the one that is looked at and were worked on again, by their numbers.

    Attributes
    ----------
    again
        Those that failed in the same way again, each with when that was first seen.
    """

    again: dict[int, int]
    otherwise: frozenset[int]
    held: frozenset[int]
    not_known: frozenset[int]

    @property
    def parts(self) -> int:
        return len(self.again) + len(self.otherwise) + len(self.held) + len(self.not_known)


class _Shared(NamedTuple):
    """Things that went into the very same reworked parts."""

    names: list[str]
    again: int
    held: int
    p: float


def worked_on_again(
    rows: Rows, record: OnRecord, outcomes: Outcomes, later: Mapping[int, Collection[tuple[int, int]]], ages: Ages
) -> str | None:
    """In some sentences; nothing where nothing was worked on again after it had failed.

    ``later`` says when what went into each part after that.
    """
    own = frozenset(outcomes.defects)
    reworked = _fared(rows, record, own, [n for n in later if rows.parts[n].code in outcomes.failed])
    if not reworked.parts:
        return None
    # What went in after the second failure did not lead to it either.
    went_in = {
        part: rows.behind(thing for at, thing in later[part] if at <= reworked.again.get(part, at))
        for part in reworked.again.keys() | reworked.held
    }
    return " ".join([*_counted(reworked, like=bool(own)), *_about_this(rows, reworked, went_in, ages)])


def _fared(rows: Rows, record: OnRecord, own: frozenset[str], parts: Collection[int]) -> Reworked:
    again, otherwise, held = dict[int, int](), set(), set()
    for part in parts:
        since, said = rows.reworked_at[part], record.found[part]
        alike = [at for at, defects in said.seen if at > since and (not own or not defects or defects & own)]
        if alike:
            again[part] = min(alike)
        elif any(at > since for at, _ in said.seen):
            otherwise.add(part)
        elif said.inspected and not said.doubted and said.inspected_at > since:
            held.add(part)
    not_known = frozenset(parts) - again.keys() - otherwise - held
    return Reworked(again, frozenset(otherwise), frozenset(held), not_known)


def _counted(reworked: Reworked, *, like: bool) -> list[str]:
    one = reworked.parts == 1
    said = [
        f"{capital(in_words(reworked.parts))} of the failed {'was' if one else 'were'} worked on again after "
        f"{'it' if one else 'they'} had failed; what went in then came too late for that failure and is not compared "
        "with it."
    ]
    way = " in the same way" if like else ""
    if not reworked.again:
        known = ", as far as that is known" if reworked.not_known else ""
        return [*said, f"{'It has not' if one else 'None of them has'} failed again{way}{known}."]
    if one:
        return [*said, f"It failed again{way}."]
    others = [(reworked.otherwise, "otherwise"), (reworked.held, "held"), (reworked.not_known, "not judged since")]
    told = [f"{capital(in_words(len(reworked.again)))} failed again{way}"]
    return [*said, f"{', '.join([*told, *(f'{count(len(parts))} {word}' for parts, word in others if parts)])}."]


def _about_this(rows: Rows, reworked: Reworked, went_in: Mapping[int, Collection[int]], ages: Ages) -> list[str]:
    """What went into the part that is looked at, where it failed again itself, and how the others with it fared."""
    if rows.root not in reworked.again:
        return []
    shared = _shared(reworked, went_in, went_in[rows.root], ages)
    named = [name for one in shared for name in one.names]
    if not named:
        return []
    said = [f"Into this part went then: {first_of(named, _MOST_NAMED)}."]
    if not reworked.held:
        return [*said, "Nothing tells these apart: no part that was worked on again is known to have held."]
    judged = len(reworked.again) + len(reworked.held)
    # What only this part got says no more than that it failed again.
    for one in [one for one in shared if one.again + one.held > 1 and _leads(one, reworked)][:_MOST_TOLD]:
        parts, others_again = one.again + one.held, len(reworked.again) - one.again
        said.append(
            f"Of {plural(parts, 'such part')} with {first_of(one.names, _MOST_NAMED)} {count(one.again)} failed again, "
            f"of {plural(judged - parts, 'other')} {count(others_again)} ({p_value(one.p)}, by itself)."
        )
    return [*said, "What went in then is suspect for the second failure, not its cause."]


def _leads(one: _Shared, reworked: Reworked) -> bool:
    return one.again * len(reworked.held) > one.held * len(reworked.again)


def _shared(
    reworked: Reworked, went_in: Mapping[int, Collection[int]], own: Collection[int], ages: Ages
) -> list[_Shared]:
    with_it: dict[frozenset[int], list[str]] = defaultdict(list)
    for item, _, name in things(own, ages):
        with_it[frozenset(part for part, other in went_in.items() if item.id in other)].append(name)
    found = []
    for parts, names in with_it.items():
        again = len(parts & reworked.again.keys())
        p = so_many(again, of=len(parts), failed=len(reworked.again), parts=len(went_in))
        found.append(_Shared(names, again, len(parts) - again, p))
    return sorted(found, key=lambda one: (one.p, one.names))
