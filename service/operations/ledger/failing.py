"""Which things failed, as a condition of SQL: the same wherever a trace, a recall or a look at sisters says so.

A part failed that came back, that an inspection rejected, that was scrapped or decided unfit (scrap, rework, repair);
a rejection upon which the part was decided to be fit as it is counts for nothing, any other does. What was scrapped
because it was sectioned or tested, or because nobody wants it, has not failed by that. Of anything else it is what
somebody said. What a correction took away has not happened.
"""

from collections.abc import Iterable

from schemas.words import Disposition, Kind, MovementKind, ScrappedAs, State
from service.database import each, listed, looked_up, rows_of

UNFIT = (Disposition.SCRAP, Disposition.REWORK, Disposition.REPAIR)
# As what a part is scrapped that has not failed; before anybody could say so, all that was scrapped had.
NOT_FAILED = (ScrappedAs.TESTED, ScrappedAs.NOT_WANTED)


def words_in(words: Iterable[str]) -> str:
    """Words as a list in SQL."""
    return ", ".join(f"'{one}'" for one in words)


_UNFIT, _NOT_FAILED = words_in(UNFIT), words_in(NOT_FAILED)


def stands(row: str) -> str:
    """That no correction which itself stands has corrected the deed of a row."""
    return (
        f"NOT EXISTS (SELECT 1 FROM deed c WHERE c.corrects_id = {row}.deed_id"
        " AND NOT EXISTS (SELECT 1 FROM deed cc WHERE cc.corrects_id = c.id))"
    )


def has_failed(item: str) -> str:
    """That a row of items failed, looked up row by row: for some items out of many."""
    said = f"EXISTS (SELECT 1 FROM nonconformance n WHERE n.item_id = {item}.id AND n.failed AND {stands('n')})"
    unfit = (
        f"EXISTS (SELECT 1 FROM nonconformance n WHERE n.item_id = {item}.id"
        f" AND (n.failed OR n.disposition IN ({_UNFIT})) AND {stands('n')})"
    )
    rejected = (
        f"EXISTS (SELECT 1 FROM inspection s WHERE s.part_id = {item}.id AND NOT s.accepted AND {stands('s')}"
        f" AND {_not_fit_as_it_is('s')})"
    )
    return (
        f"CASE WHEN {item}.kind = '{Kind.PART}' THEN {scrapped_as_failed(item)} OR {unfit} OR {rejected}"
        f" ELSE {said} END"
    )


def scrapped_as_failed(item: str) -> str:
    """That a row with the id and the state of a part was scrapped, and not for a test or because nobody wants it."""
    # Counted for each that was scrapped: for an EXISTS PostgreSQL may read all movements once, to look them up.
    otherwise = (
        f"SELECT count(*) FROM movement m WHERE m.source_id = {item}.id AND m.target_id IS NULL"
        f" AND m.cancelled_by_id IS NULL AND m.kind = '{MovementKind.SCRAP}' AND m.purpose IN ({_NOT_FAILED})"
    )
    # SQLite works out both sides of an AND, and of a CASE no more than it needs.
    return f"CASE WHEN {item}.state = '{State.SCRAPPED}' THEN ({otherwise}) = 0 ELSE FALSE END"


def failed_among(items: Iterable[int]) -> set[int]:
    """Those of these items that failed."""
    rows = rows_of(
        f"SELECT i.id FROM {looked_up()} {each('item', 'i', 'i.id IN (given.id)')} WHERE {has_failed('i')}",
        listed(items),
    )
    return {number for (number,) in rows}


def failed_parts() -> str:
    """All parts that failed but for those which were only scrapped (`scrapped_as_failed`)."""
    return (
        f"SELECT n.item_id FROM nonconformance n WHERE (n.failed OR n.disposition IN ({_UNFIT})) AND {stands('n')}"
        f" UNION SELECT s.part_id FROM inspection s WHERE NOT s.accepted AND {stands('s')}"
        f" AND {_not_fit_as_it_is('s')}"
    )


def _not_fit_as_it_is(inspection: str) -> str:
    """That what this rejection opened was not decided to be fit as it is; another decision is about something else."""
    return (
        f"NOT EXISTS (SELECT 1 FROM nonconformance f WHERE f.item_id = {inspection}.part_id"
        f" AND f.deed_id = {inspection}.deed_id AND f.disposition = '{Disposition.USE_AS_IS}' AND {stands('f')})"
    )
