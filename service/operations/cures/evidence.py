"""What proves a cure: probes on the part, a log of the air, a thermometer, a declaration (shop rules 35 and 36).

The best evidence that there is judges the cure; whether it is good enough, the schedule says. Minutes count from the
start of the cure, and what a logger saw before the start or after the end proves nothing.
"""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, field
from datetime import datetime, timedelta
from typing import Any

from schemas.words import Evidence
from service.formulas.cure_log import Log, mean_c
from service.formulas.cure_statements import declared_verdict, thermometer_verdict
from service.formulas.cure_verdicts import cure_verdict, summary
from service.formulas.merged_logs import merged_log
from service.formulas.pressure_bands import pressure_verdict
from service.formulas.stages import Result, Stage, StageVerdict, worst
from service.operations.cures.schedules import pressures_of, stages_of
from service.operations.door.formerly import called_then, facts_then, read_then
from service.operations.ledger.flags import stands
from service.records.base import known
from service.records.cures import Cure, CureLog, CureReading, Logger, Schedule
from service.records.items import Item
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
    left_out: tuple[str, ...]
    sensor_ranges_c: dict[str, tuple[float, float]]
    # Of each gauge what it measures, and its readings by the minute.
    gauges: dict[str, tuple[str, dict[float, float]]] = field(default_factory=dict)

    @property
    def judged(self) -> tuple[str, ...]:
        return self.part or self.air


def standing_logs(cure: int, *, readings: bool = True) -> list[CureLog]:
    """The logs of a cure, without those whose import was corrected; their readings only if they are wanted."""
    columns = [field for field in CureLog._meta.sorted_fields if readings or field is not CureLog.readings]
    then = facts_then(Logger, Deed.recorded_at).alias("then")
    query = CureLog.select(*columns, Logger, then).join(Logger).switch(CureLog).join(Deed)
    rows: Any = query.where((CureLog.cure == cure) & stands(CureLog.deed)).order_by(CureLog.id)
    logs = list(rows)
    for log in logs:
        # Its name and its range as they were when the file was read.
        log.logger = read_then(log.logger, log.then)
    return logs


@dataclass(frozen=True, slots=True)
class Said:
    """A thermometer's reading or a declaration, and by whom."""

    row: CureReading
    by: str


def standing_readings(cure: int) -> list[Said]:
    """The thermometers and declarations of a cure, without those that were corrected."""
    by = called_then(Person, Deed.occurred_at).alias("by")
    query = CureReading.select(CureReading, by).join(Deed).join(Person)
    rows: Any = query.where((CureReading.cure == cure) & stands(CureReading.deed)).order_by(CureReading.id)
    return [Said(row, row.by) for row in rows]


def best_grade(logs: Iterable[CureLog], readings: Iterable[CureReading]) -> Evidence | None:
    """The best evidence there is."""
    there = {Evidence.PART_PROBE if log.part_probes else Evidence.AIR_LOG for log in logs if _warmth(log)}
    there |= {Evidence(reading.kind) for reading in readings}
    return next((grade for grade in _BEST_FIRST if grade in there), None)


def _warmth(log: CureLog) -> bool:
    """Whether a log says how warm it was: one of gauges alone does not."""
    return bool(log.part_probes or log.air_probes)


def gathered(cure: Cure, logs: Sequence[CureLog]) -> Series:
    """All logs of the cure as one; a probe is named with its logger where two loggers use the same name."""
    used = Counter(name for _, name in {(log.logger_id, name) for log in logs for name in log.readings["probes"]})
    part: dict[str, None] = {}
    air: dict[str, None] = {}
    left_out: dict[str, None] = {}
    ranges: dict[str, tuple[float, float]] = {}
    inside: list[Log] = []
    gauges = _gauges(cure, logs)
    for log in logs:
        names = {n: f"{n} ({log.logger.name})" if used[n] > 1 else n for n in log.readings["probes"]}
        part.update(dict.fromkeys(names[n] for n in log.part_probes))
        air.update(dict.fromkeys(names[n] for n in log.air_probes))
        left_out.update(dict.fromkeys(names[n] for n in log.left_out))
        if log.logger.sensor_low_c is not None:
            ranges |= dict.fromkeys(names.values(), (log.logger.sensor_low_c, known(log.logger.sensor_high_c)))
        kept = _inside(cure, log)
        if len(kept) >= 2 and names:
            columns = {names[n]: tuple(values[i] for i, _ in kept) for n, values in log.readings["probes"].items()}
            inside.append(Log(tuple(minute for _, minute in kept), columns))
    if not inside:
        return Series(None, tuple(part), tuple(air), tuple(left_out), ranges, gauges)
    merged = merged_log(logs=inside)
    # A probe that gave nothing within the cure is still asked for, and proves nothing.
    silent = {name: (None,) * len(merged.times_min) for name in (*part, *air, *left_out) if name not in merged.probes}
    whole = Log(merged.times_min, {**merged.probes, **silent})
    return Series(whole, tuple(part), tuple(air), tuple(left_out), ranges, gauges)


def _gauges(cure: Cure, logs: Sequence[CureLog]) -> dict[str, tuple[str, dict[float, float]]]:
    """The gauges of all logs; one is named with its logger where two loggers use the same name."""
    used = Counter(name for _, name in {(log.logger_id, name) for log in logs for name in log.gauges})
    found: dict[str, tuple[str, dict[float, float]]] = {}
    for log in logs:
        if not log.gauges:
            continue
        kept = _inside(cure, log)
        for gauge, measure in log.gauges.items():
            name = f"{gauge} ({log.logger.name})" if used[gauge] > 1 else gauge
            values = log.readings["gauges"][gauge]
            _, known_at = found.setdefault(name, (measure, {}))
            for index, minute in kept:
                if values[index] is not None:
                    known_at.setdefault(minute, values[index])
    return found


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
    cure: Cure,
    schedule: Schedule,
    parts: Sequence[Item],
    logs: Sequence[CureLog],
    readings: Sequence[CureReading],
    *,
    at: datetime,
) -> tuple[dict[str, Any], Evidence | None, Series]:
    """The verdict on a cure as its evidence stands at ``at``, its grade, and the series behind it."""
    stages = stages_of(schedule)
    grade, needed = best_grade(logs, readings), Evidence(schedule.evidence)
    series = gathered(cure, logs)
    span_min = ((cure.ended_at or at) - cure.started_at) / timedelta(minutes=1)
    verdicts, said = _by_evidence(grade, schedule, stages, series, readings, cure, max(span_min, 0.0))
    pressures = _pressures(schedule, verdicts, series, max(span_min, 0.0))
    said = (*said, *(sentence for band in pressures for sentence in band["sentences"]))
    result = worst(
        [*(v.result for v in verdicts), *(band["result"] for band in pressures)] if verdicts else ["not known"]
    )
    # A thermometer that stayed in the band all the time says as much as a log of the air (shop rule 36).
    worth = Evidence.AIR_LOG if grade == Evidence.MINIMUM_MAXIMUM and result == "proved" else grade
    enough = worth is not None and _BEST_FIRST.index(worth) <= _BEST_FIRST.index(needed)
    if not enough:
        short = f"The schedule needs {_NEEDED[needed]}; {_THERE_IS[grade]}."
        said = (short, *(f"{_SPOKEN_OF.get(grade, '')}{sentence}" for sentence in said))
        verdicts, result = (), "not known"
    bare = _without_probe(parts, logs) if grade == Evidence.PART_PROBE else []
    if bare:
        said = (f"No probe stands for {', '.join(bare)}.", *said)
        result = worst([result, "not known"])
    return (
        {
            "passed": result == "proved",
            "result": result,
            "final": cure.ended_at is not None,
            "needed": needed,
            "evidence": grade,
            "sentences": [_summary(result, verdicts, grade, pressures), *said],
            "judged_on": list(series.judged) if enough else [],
            "stages": [_stage(stage, verdict, series) for stage, verdict in zip(stages, verdicts, strict=False)],
            "pressures": pressures if enough else [],
            "highest": _highest(series),
            "coldest_probe": coldest(series),
        },
        grade,
        series,
    )


def _without_probe(parts: Sequence[Item], logs: Sequence[CureLog]) -> list[str]:
    """The parts for which no probe stands."""
    stood_for = {code for log in logs for probe in log.part_probes for code in log.stands_for.get(probe, ())}
    return [part.code for part in parts if part.code not in stood_for]


def _by_evidence(
    grade: Evidence | None,
    schedule: Schedule,
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
            stages=stages,
            times_min=series.log.times_min,
            probes=series.log.probes,
            required=series.judged,
            longest_interval_min=schedule.longest_interval_min,
            air=series.air,
            left_out=series.left_out,
            from_min=0.0,
            until_min=span_min if cure.ended_at is not None else None,
            sensor_ranges_c=series.sensor_ranges_c,
        )
        return found.stages, found.sentences[1:]
    if grade == Evidence.MINIMUM_MAXIMUM:
        verdicts = tuple(_by_thermometer(stage, readings, cure, span_min) for stage in stages)
    elif grade == Evidence.DECLARED:
        verdicts = tuple(declared_verdict(stage=stage, minutes=span_min) for stage in stages)
    else:
        verdicts = ()
    return verdicts, tuple(f"{v.name}: {sentence}" for v in verdicts for sentence in v.sentences)


def _pressures(
    schedule: Schedule, verdicts: Sequence[StageVerdict], series: Series, span_min: float
) -> list[dict[str, Any]]:
    """Each band of vacuum or pressure, from and until the moments that its stages give."""
    sections = {verdict.name: verdict.sections for verdict in verdicts}
    found: list[dict[str, Any]] = []
    for asked in pressures_of(schedule) if verdicts else ():
        facts = {"low_mbar": asked.low_mbar, "high_mbar": asked.high_mbar}
        missed = [name for name in (asked.from_stage, asked.until_stage) if name is not None and not sections[name]]
        if missed:
            said = f"The {asked.measure} is not judged: {missed[0]} was not reached."
            nothing = dict.fromkeys(("from_min", "until_min", "lowest_mbar", "highest_mbar"))
            result: Result = "not known"
            found.append({"measure": asked.measure, "result": result, **nothing, "sentences": [said], **facts})
            continue
        own = {name: known_at for name, (measure, known_at) in series.gauges.items() if measure == asked.measure}
        times = sorted({0.0, span_min, *(minute for known_at in own.values() for minute in known_at)})
        begin = sections[asked.from_stage][0][0] if asked.from_stage is not None else 0.0
        verdict = pressure_verdict(
            band=asked.band,
            times_min=times if len(times) > 1 else (0.0, 1.0),
            gauges={
                name: [*map(known_at.get, times if len(times) > 1 else (0.0, 1.0))] for name, known_at in own.items()
            },
            longest_interval_min=schedule.longest_interval_min,
            from_min=begin,
            until_min=max(begin, sections[asked.until_stage][-1][1] if asked.until_stage is not None else span_min),
        )
        found.append({**asdict(verdict), **facts})
    return found


def _by_thermometer(stage: Stage, readings: Sequence[CureReading], cure: Cure, span_min: float) -> StageVerdict:
    """All readings together, from the first reset to the last reading, as long as one follows the other."""
    seen = sorted((r for r in readings if r.kind == Evidence.MINIMUM_MAXIMUM), key=lambda r: known(r.reset_at))
    last = [seen[-1]]
    for reading in reversed(seen[:-1]):
        if reading.occurred_at >= known(last[0].reset_at):
            last.insert(0, reading)
    return thermometer_verdict(
        stage=stage,
        lowest_c=min(known(r.low_c) for r in last),
        highest_c=max(known(r.high_c) for r in last),
        reset_min=(known(last[0].reset_at) - cure.started_at) / timedelta(minutes=1),
        read_min=(max(r.occurred_at for r in last) - cure.started_at) / timedelta(minutes=1),
        until_min=span_min,
    )


def _summary(
    result: str, verdicts: Sequence[StageVerdict], grade: Evidence | None, pressures: Sequence[Mapping[str, Any]]
) -> str:
    if result == "proved":
        return "Declared, not measured." if grade == Evidence.DECLARED else "All stages are proved."
    said = [summary(verdicts)] if any(not v.passed for v in verdicts) else []
    for word in ("violated", "not known"):
        names = dict.fromkeys(band["measure"] for band in pressures if band["result"] == word)
        if names:
            said.append(f"{word.capitalize()}: {', '.join(names)}.")
    return " ".join(said) or "Not known."


def _stage(stage: Stage, verdict: StageVerdict, series: Series) -> dict[str, Any]:
    names = ("low_c", "high_c", "minimum_min", "over_c", "air_over_c")
    asked = {name: getattr(stage, name) for name in names}
    return {**asdict(verdict), **asked, "mean_c": _mean_in_band(verdict, series)}


def _mean_in_band(verdict: StageVerdict, series: Series) -> float | None:
    """How warm the coldest of the judged probes was while all were in the band: in its middle or near its edge."""
    if series.log is None or not verdict.sections:
        return None
    means = [mean_c(series.log.times_min, series.log.probes[name], verdict.sections) for name in series.judged]
    return min((round(mean, 2) for mean in means if mean is not None), default=None)


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
