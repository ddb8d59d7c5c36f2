"""What proves a cure: probes on the part, a log of the air, a thermometer, a declaration (shop rules 35 and 36).

The best evidence that there is judges the cure; whether it is good enough, the schedule says. Minutes count from the
start of the cure, and what a logger saw before the start or after the end proves nothing.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta
from typing import Any

from schemas.words import Evidence
from service.formulas.cure_log import Log
from service.formulas.cure_statements import declared_verdict, thermometer_verdict
from service.formulas.merged_logs import merged_log
from service.formulas.stages import Stage, StageVerdict, cure_verdict
from service.operations.cures.schedules import stages_of
from service.operations.ledger.flags import stands
from service.records.base import known
from service.records.cures import Cure, CureLog, CureReading, Logger, Schedule
from service.records.journal import Deed
from service.records.people import Person

_BEST_FIRST = tuple(Evidence)


_NEEDED = {
    Evidence.PART_PROBE: "a log with probes on the part",
    Evidence.AIR_LOG: "a log",
    Evidence.MINIMUM_MAXIMUM: "a minimum-maximum thermometer",
    Evidence.DECLARED: "at least a declaration",
}


_THERE_IS = {
    Evidence.AIR_LOG: "there is a log of the air only, which proves no time on the part",
    Evidence.MINIMUM_MAXIMUM: "there is a minimum-maximum thermometer only",
    Evidence.DECLARED: "there is a declaration only, and nothing was measured",
    None: "there is nothing",
}


_SPOKEN_OF: dict[Evidence | None, str] = {
    Evidence.AIR_LOG: "In the air: ",
    Evidence.MINIMUM_MAXIMUM: "By the thermometer: ",
}


@dataclass(frozen=True, slots=True)
class Series:
    """The logs of a cure on one axis: minutes from its start, within its span."""

    log: Log | None
    part: tuple[str, ...]
    air: tuple[str, ...]

    @property
    def judged(self) -> tuple[str, ...]:
        return self.part or self.air


def standing_logs(cure: int, *, readings: bool = True) -> list[CureLog]:
    """The logs of a cure, without those whose import was corrected; their readings only if they are wanted."""
    columns = [field for field in CureLog._meta.sorted_fields if readings or field is not CureLog.readings]
    query = CureLog.select(*columns, Logger).join(Logger)
    return list(query.where((CureLog.cure == cure) & stands(CureLog.deed)).order_by(CureLog.id))


@dataclass(frozen=True, slots=True)
class Said:
    """A thermometer's reading or a declaration, and by whom."""

    row: CureReading
    by: str


def standing_readings(cure: int) -> list[Said]:
    """The thermometers and declarations of a cure, without those that were corrected."""
    query = CureReading.select(CureReading, Deed, Person).join(Deed).join(Person)
    rows = query.where((CureReading.cure == cure) & stands(CureReading.deed)).order_by(CureReading.id)
    return [Said(row, row.deed.person.name) for row in rows]


def best_grade(logs: Iterable[CureLog], readings: Iterable[CureReading]) -> Evidence | None:
    """The best evidence there is."""
    there = {Evidence.PART_PROBE if log.part_probes else Evidence.AIR_LOG for log in logs}
    there |= {Evidence(reading.kind) for reading in readings}
    return next((grade for grade in _BEST_FIRST if grade in there), None)


def gathered(cure: Cure, logs: Sequence[CureLog], stages: Sequence[Stage]) -> Series:
    """All logs of the cure as one; a probe is named with its logger where two loggers use the same name."""
    used = Counter(name for _, name in {(log.logger_id, name) for log in logs for name in log.readings["probes"]})
    part: dict[str, None] = {}
    air: dict[str, None] = {}
    inside: list[Log] = []
    for log in logs:
        names = {n: f"{n} ({log.logger.name})" if used[n] > 1 else n for n in log.readings["probes"]}
        part.update(dict.fromkeys(names[n] for n in log.part_probes))
        air.update(dict.fromkeys(names[n] for n in log.air_probes))
        kept = _inside(cure, log)
        if len(kept) >= 2:
            columns = {names[n]: tuple(values[i] for i, _ in kept) for n, values in log.readings["probes"].items()}
            inside.append(Log(tuple(minute for _, minute in kept), columns))
    if not inside:
        return Series(None, tuple(part), tuple(air))
    merged = merged_log(logs=inside, maxima_c=[s.over_c for s in stages if s.over_c is not None])
    # A probe that gave nothing within the cure is still asked for, and proves nothing.
    silent = {name: (None,) * len(merged.times_min) for name in (*part, *air) if name not in merged.probes}
    return Series(Log(merged.times_min, {**merged.probes, **silent}), tuple(part), tuple(air))


def _inside(cure: Cure, log: CureLog) -> list[tuple[int, float]]:
    """Index and minute of each reading between the start and the end of the cure."""
    offset_s = (log.first_at - cure.started_at).total_seconds()
    end_min = (cure.ended_at - cure.started_at).total_seconds() / 60 if cure.ended_at is not None else None
    kept: list[tuple[int, float]] = []
    for index, time_s in enumerate(log.readings["times_s"]):
        minute = round((offset_s + time_s) / 60, 6)
        if minute < 0 or (end_min is not None and minute > end_min + 1e-6):
            continue
        if not kept or minute > kept[-1][1]:
            kept.append((index, minute))
    return kept


def judged(
    cure: Cure, schedule: Schedule, logs: Sequence[CureLog], readings: Sequence[CureReading], *, at: datetime
) -> tuple[dict[str, Any], Evidence | None, Series]:
    """The verdict on a cure as its evidence stands at ``at``, its grade, and the series behind it."""
    stages = stages_of(schedule)
    grade, needed = best_grade(logs, readings), Evidence(schedule.evidence)
    series = gathered(cure, logs, stages)
    span_min = ((cure.ended_at or at) - cure.started_at) / timedelta(minutes=1)
    verdicts, said = _by_evidence(grade, stages, series, readings, cure, max(span_min, 0.0))
    enough = grade is not None and _BEST_FIRST.index(grade) <= _BEST_FIRST.index(needed)
    passed = enough and bool(verdicts) and all(v.passed for v in verdicts)
    if not enough:
        short = f"The schedule needs {_NEEDED[needed]}; {_THERE_IS[grade]}."
        said = (short, *(f"{_SPOKEN_OF.get(grade, '')}{sentence}" for sentence in said))
        verdicts = ()
    return (
        {
            "passed": passed,
            "final": cure.ended_at is not None,
            "needed": needed,
            "evidence": grade,
            "sentences": [_summary(passed, verdicts, grade), *said],
            "judged_on": list(series.judged) if enough else [],
            "stages": [_stage(stage, verdict) for stage, verdict in zip(stages, verdicts, strict=False)],
            "highest": _highest(series),
            "coldest_probe": coldest(series),
        },
        grade,
        series,
    )


def _by_evidence(
    grade: Evidence | None,
    stages: Sequence[Stage],
    series: Series,
    readings: Sequence[CureReading],
    cure: Cure,
    span_min: float,
) -> tuple[tuple[StageVerdict, ...], tuple[str, ...]]:
    if grade in (Evidence.PART_PROBE, Evidence.AIR_LOG):
        if series.log is None:
            return (), ("No log has two readings between the start and the end of the cure.",)
        found = cure_verdict(
            stages=stages, times_min=series.log.times_min, probes=series.log.probes, required=series.judged
        )
        return found.stages, found.sentences[1:]
    if grade == Evidence.MINIMUM_MAXIMUM:
        seen = [r for r in readings if r.kind == Evidence.MINIMUM_MAXIMUM]
        until_min = (max(r.occurred_at for r in seen) - cure.started_at) / timedelta(minutes=1)
        minutes = min(max(until_min, 0.0), span_min)
        low, high = min(known(r.low_c) for r in seen), max(known(r.high_c) for r in seen)
        verdicts = tuple(
            thermometer_verdict(stage=stage, lowest_c=low, highest_c=high, minutes=minutes) for stage in stages
        )
    elif grade == Evidence.DECLARED:
        verdicts = tuple(declared_verdict(stage=stage, minutes=span_min) for stage in stages)
    else:
        verdicts = ()
    return verdicts, tuple(f"{v.name}: {sentence}" for v in verdicts for sentence in v.sentences)


def _summary(passed: bool, verdicts: Sequence[StageVerdict], grade: Evidence | None) -> str:
    if passed:
        return "Declared, not measured." if grade == Evidence.DECLARED else "All stages are proved."
    failed = [v.name for v in verdicts if not v.passed]
    return f"Not proved: {', '.join(failed)}." if failed else "Not proved."


def _stage(stage: Stage, verdict: StageVerdict) -> dict[str, Any]:
    asked = {"low_c": stage.low_c, "high_c": stage.high_c, "minimum_min": stage.minimum_min, "over_c": stage.over_c}
    return {**asdict(verdict), **asked}


def _highest(series: Series) -> dict[str, Any] | None:
    """The hottest sample of the probes that are judged."""
    if series.log is None:
        return None
    samples = [
        (value, name, minute)
        for name in series.judged
        for minute, value in zip(series.log.times_min, series.log.probes[name], strict=True)
        if value is not None
    ]
    if not samples:
        return None
    value, name, minute = max(samples, key=lambda s: (s[0], -s[2]))
    return {"probe": name, "temperature_c": value, "at_min": minute}


def coldest(series: Series) -> str | None:
    """Of the judged probes the one with the lowest mean."""
    if series.log is None:
        return None
    means = {}
    for name in series.judged:
        values = [v for v in series.log.probes[name] if v is not None]
        if values:
            means[name] = sum(values) / len(values)
    return min(means, key=lambda name: means[name]) if means else None
