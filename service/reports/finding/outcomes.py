"""What became of the parts that are compared: which count as failed, which as good, of which nothing is known.

Failed is what came back as failed, what an inspection rejected, what was scrapped, and what somebody decided to be
unfit (scrap, rework or repair); a rejection upon which it was decided to be fit as it is counts for nothing, and any
other does. What was scrapped because it was sectioned or tested, or because nobody wants it, has not failed by that: it
stands where it would without it, and where nobody had inspected it, or not since it came back, in a column of its own.
Good is what was inspected and accepted, and of which no nonconformance or return waits for a decision. A part that was
shipped and never heard of again stands in a column of its own: inspected and accepted before it left, it is compared as
good, else not at all. A part that was fitted into another which is judged is the same piece: that one stands for it,
with all that went into both. What a correction took away has not happened: such parts are counted beside the others,
and stand where they would without it; a part of which it was said that it was never begun is none.
"""

from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from schemas.defects import DefectKind
from schemas.words import Disposition, MovementKind, State
from service.database import each
from service.operations.door.shop import day_in_shop
from service.operations.ledger.failing import NOT_FAILED, UNFIT, stands, words_in
from service.records.base import instant
from service.reports.finding.given import FAILED, Outcomes
from service.reports.finding.rows import PartOfTheTime, Rows

_NOT_THERE = (State.PLANNED, State.LAYING, State.LAID_UP, State.CURING, State.SCRAPPED)
NEVER_BEGUN = (State.ABANDONED, State.CANCELLED)
# Where a defect was told: of which part, by which inspection or else by which nonconformance.
_Said = tuple[int, int | None, int | None]


@dataclass(slots=True)
class Found:
    """What is on record about a part's failure."""

    came_back: bool = False
    rejected: bool = False
    unfit: bool = False
    # The last inspection accepted it, and when that was.
    inspected: bool = False
    inspected_at: int = 0
    # A nonconformance, or a return, that nobody has decided about.
    doubted: bool = False
    scrapped: bool = False
    # When somebody saw that it had failed, each with the defects that were told then.
    seen: list[tuple[int, frozenset[str]]] = field(default_factory=list)

    @property
    def failed(self) -> bool:
        return self.came_back or self.unfit or self.scrapped or self.rejected

    def failed_at(self, own: set[str]) -> int:
        """When it was first seen to have failed like the part that is looked at, or at all.

        Each defect at its first time, and of several the latest: a wrinkle that was put right while it was laid up is
        not what it was rejected for as soft, and of what is soft before and after a rework the rework is no cause.
        """
        first: dict[str | None, int] = {}
        for at, defects in sorted(self.seen, key=lambda told: told[0]):
            for defect in defects or (None,):
                first.setdefault(defect, at)
        return max([at for defect, at in first.items() if defect in own] or first.values())


@dataclass(frozen=True, slots=True)
class OnRecord:
    """What is on record about the failures of all parts: by part, their defects, and of which it was taken back."""

    found: dict[int, Found]
    kinds: dict[int, set[str]]
    taken_back: set[int]


def read_record(rows: Rows) -> OnRecord:
    told = _defects(rows)
    spared, taken_back = _scrapped(rows)
    kinds: dict[int, set[str]] = defaultdict(set)
    for (number, _, _), defects in told.items():
        kinds[number] |= defects
    return OnRecord(_on_record(rows, told, spared), kinds, taken_back | _corrected_away(rows))


def read_outcomes(rows: Rows, record: OnRecord, part: int, at: datetime) -> Outcomes:
    """Failed the same way as this part, in another way, good, and not known; the rows are told when each failed."""
    found, kinds = record.found, record.kinds
    own = kinds[part] if found[part].failed else set()
    for number, one in found.items():
        if one.seen:
            rows.failed_at[number] = one.failed_at(own)
    groups: dict[str, set[str]] = defaultdict(set)
    for number, row in rows.parts.items():
        said, gone = found[number], _gone(rows, number)
        if row.state in NEVER_BEGUN:
            continue
        if said.failed:
            # What was only scrapped may have failed in any way; of all else somebody said what was wrong, if in words.
            unsaid = said.came_back or said.rejected or said.unfit
            same = not own or bool(own & kinds[number]) or (not kinds[number] and unsaid)
            groups["failed" if same else "otherwise"].add(row.code)
        elif said.doubted:
            groups["open"].add(row.code)
        elif said.inspected:
            groups["good"].add(row.code)
            if gone:
                groups["gone"].add(row.code)
        elif row.state == State.SCRAPPED:
            groups["scrapped"].add(row.code)
        else:
            groups["unheard" if gone else "open"].add(row.code)
    fitted = _told_by_their_wholes(rows, groups)
    for name in ("good", "gone", "open", "unheard"):
        groups[name] -= fitted
    same_way = [kinds[n] for n, row in rows.parts.items() if row.code in groups["failed"]]
    soft = bool(same_way) and all(DefectKind.SOFT in k for k in same_way)
    return Outcomes(
        word=str(DefectKind.SOFT) if soft else FAILED,
        failed=frozenset(groups["failed"]),
        good=frozenset(groups["good"]),
        undecided=frozenset(groups["open"] | groups["unheard"]),
        otherwise=frozenset(groups["otherwise"]),
        since=day_in_shop(instant(min(p.started_at for p in rows.parts.values())), rows.site),
        until=day_in_shop(at, rows.site),
        gone=frozenset(groups["gone"] | groups["unheard"]),
        defects=tuple(sorted(own)),
        not_there=rows.codes(number for number in rows.parts if _not_there(rows, number)),
        corrected=rows.codes(
            number
            for number in record.taken_back
            if not found[number].failed and rows.parts[number].state not in NEVER_BEGUN
        ),
        scrapped=frozenset(groups["scrapped"]),
        fitted=fitted,
    )


def _gone(rows: Rows, part: int) -> bool:
    """Shipped by itself, or fitted into an assembly that was."""
    shipped = rows.parts[part].state == State.SHIPPED
    return shipped or any(whole.state == State.SHIPPED for whole in _wholes(rows, part))


def _not_there(rows: Rows, part: int) -> bool:
    """That there is nothing yet, or no longer, that could be sectioned."""
    return rows.parts[part].state in _NOT_THERE or any(w.state == State.SCRAPPED for w in _wholes(rows, part))


def _wholes(rows: Rows, part: int) -> list[PartOfTheTime]:
    """What a part was fitted into, and what that was; nothing while it is a piece by itself."""
    if rows.parts[part].state != State.FITTED:
        return []
    return [rows.parts[whole] for whole in rows.reached[part] if whole in rows.parts and whole != part]


def _told_by_their_wholes(rows: Rows, groups: Mapping[str, set[str]]) -> frozenset[str]:
    """Components that did not fail themselves, of an assembly that is judged.

    As parts of their own they would be what held of a piece that failed, or be the same piece that held once more.
    """
    failed = groups["failed"] | groups["otherwise"]
    judged = failed | groups["good"]
    return frozenset(
        row.code
        for number, row in rows.parts.items()
        if row.code not in failed and any(whole.code in judged for whole in _wholes(rows, number))
    )


def _on_record(rows: Rows, told: Mapping[_Said, set[str]], spared: Collection[int]) -> dict[int, Found]:
    found: dict[int, Found] = defaultdict(Found)
    # A rejection and the nonconformance that it opens are one act; a decision about another one leaves it as it is.
    fit_as_it_is: set[tuple[int, int]] = set()
    inspections = rows.of(
        "SELECT parts.id, s.deed_id, s.id, s.occurred_at, s.accepted FROM parts"
        f" {each('inspection', 's', 's.part_id IN (parts.id)')} WHERE {stands('s')} ORDER BY s.occurred_at, s.id"
    )
    by_inspection = {(number, deed) for number, deed, *_ in inspections}
    for number, deed, row, at, failed, disposition in rows.of(
        f"SELECT parts.id, n.deed_id, n.id, n.opened_at, n.failed, n.disposition FROM parts"
        f" {each('nonconformance', 'n', 'n.item_id IN (parts.id)')} WHERE {stands('n')}"
    ):
        one = found[number]
        one.came_back |= bool(failed)
        one.unfit |= disposition in UNFIT
        one.doubted |= disposition is None
        if failed or (disposition in UNFIT and (number, deed) not in by_inspection):
            one.seen.append((at, frozenset(told.get((number, None, row), ()))))
        if disposition == Disposition.USE_AS_IS:
            fit_as_it_is.add((number, deed))
    for number, deed, row, at, accepted in inspections:
        one = found[number]
        one.inspected, one.inspected_at = bool(accepted) or (number, deed) in fit_as_it_is, at
        if not one.inspected:
            one.rejected = True
            one.seen.append((at, frozenset(told.get((number, row, None), ()))))
    for number, part in rows.parts.items():
        found[number].scrapped = part.state == State.SCRAPPED and number not in spared
        found[number].doubted |= part.state == State.RETURNED
    for number, at in _came_back(rows) if spared else ():
        # What was found before it left says nothing of what came back and was then sectioned.
        found[number].inspected &= number not in spared or found[number].inspected_at > at
    return found


def _came_back(rows: Rows) -> list[tuple[Any, ...]]:
    """Each part that a customer sent back, with when it came the last time."""
    return rows.of(
        f"SELECT parts.id, max(m.occurred_at) FROM parts {each('movement', 'm', 'm.target_id IN (parts.id)')}"
        f" WHERE m.source_id IS NULL AND m.kind = '{MovementKind.RETURN}' AND m.cancelled_by_id IS NULL"
        " GROUP BY parts.id"
    )


def _scrapped(rows: Rows) -> tuple[set[int], set[int]]:
    """The parts that were scrapped though nobody said that they failed, and those of which it was taken back that they
    had been scrapped as failed.
    """
    spared, taken_back = set(), set()
    for number, said, stands_yet in rows.of(
        "SELECT parts.id, m.purpose, m.cancelled_by_id IS NULL FROM parts"
        f" {each('movement', 'm', 'm.source_id IN (parts.id)')}"
        f" WHERE m.target_id IS NULL AND m.kind = '{MovementKind.SCRAP}'"
    ):
        if stands_yet and said in NOT_FAILED:
            spared.add(number)
        elif not stands_yet and said not in NOT_FAILED:
            taken_back.add(number)
    return spared, taken_back


def _corrected_away(rows: Rows) -> set[int]:
    """Parts of which somebody said that they failed, and a correction that stands took it back."""
    said = (
        f"SELECT parts.id FROM parts {each('nonconformance', 'n', 'n.item_id IN (parts.id)')}"
        f" WHERE (n.failed OR n.disposition IN ({words_in(UNFIT)})) AND NOT {stands('n')}"
        f" UNION SELECT parts.id FROM parts {each('inspection', 's', 's.part_id IN (parts.id)')}"
        f" WHERE NOT s.accepted AND NOT {stands('s')}"
    )
    return {number for (number,) in rows.of(said)}


def _defects(rows: Rows) -> dict[_Said, set[str]]:
    """Kinds of the defects that nobody accepted; with those that were decided to be fit none has failed."""
    kinds: dict[_Said, set[str]] = defaultdict(set)
    for number, inspection, nonconformance, kind in rows.of(
        "SELECT parts.id, d.inspection_id, d.nonconformance_id, d.kind FROM parts"
        f" {each('defect', 'd', 'd.part_id IN (parts.id)')} WHERE NOT d.accepted AND {stands('d')}"
        " AND NOT EXISTS (SELECT 1 FROM nonconformance n"
        f" WHERE n.id = d.nonconformance_id AND n.disposition = '{Disposition.USE_AS_IS}' AND NOT n.failed)"
    ):
        # What an inspection found is the inspection's, though it opened a nonconformance as well.
        kinds[number, inspection, nonconformance if inspection is None else None].add(kind)
    return kinds
