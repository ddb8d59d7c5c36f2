"""Which things failed, as a condition of SQL: the same wherever a trace, a recall or a look at sisters says so.

A part failed that came back, that an inspection rejected, that was scrapped or decided unfit (scrap, rework, repair);
a rejection upon which the part was decided to be fit as it is counts for nothing, any other does. Of anything else it
is what somebody said. What a correction took away has not happened.
"""

from collections.abc import Iterable

from schemas.words import Disposition, Kind, State
from service.database import each, listed, looked_up, rows_of

UNFIT = (Disposition.SCRAP, Disposition.REWORK, Disposition.REPAIR)
_UNFIT = ", ".join(f"'{one}'" for one in UNFIT)


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
        f"CASE WHEN {item}.kind = '{Kind.PART}' THEN {item}.state = '{State.SCRAPPED}' OR {unfit} OR {rejected}"
        f" ELSE {said} END"
    )


def failed_among(items: Iterable[int]) -> set[int]:
    """Those of these items that failed."""
    rows = rows_of(
        f"SELECT i.id FROM {looked_up()} {each('item', 'i', 'i.id IN (given.id)')} WHERE {has_failed('i')}",
        listed(items),
    )
    return {number for (number,) in rows}


def failed_parts() -> str:
    """All parts that failed but for those which were only scrapped, whose state says so."""
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
