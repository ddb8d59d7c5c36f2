"""A cure's curves: as they were logged, and as a plot shows them."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from schemas.words import Kind, Measure
from service.formulas.stages import Stage
from service.operations.cures.evidence import gathered, standing_logs
from service.operations.cures.schedules import stages_of
from service.operations.door.refusals import UnknownThing
from service.operations.ledger import ledger
from service.records.base import as_word
from service.records.cures import Cure, CureLog, Schedule


class ProbePlace(StrEnum):
    """Where a probe sits."""

    PART = "part"
    AIR = "air"
    LEFT_OUT = "left out"
    OTHER = "other"


@dataclass(frozen=True, slots=True)
class ProbeSeries:
    """One probe as it was logged. Times are seconds from the first reading of its log.

    Attributes
    ----------
    on
        part, air, left out or other.
    times_s
        Seconds from first_at.
    """

    log: int
    logger_name: str
    probe: str
    on: ProbePlace
    first_at: datetime
    times_s: tuple[float, ...]
    temperatures_c: tuple[float | None, ...]


@dataclass(frozen=True, slots=True)
class GaugeSeries:
    """One gauge as it was logged. Times are seconds from the first reading of its log.

    Attributes
    ----------
    times_s
        Seconds from first_at.
    """

    log: int
    logger_name: str
    gauge: str
    measure: Measure | None
    first_at: datetime
    times_s: tuple[float, ...]
    pressures_mbar: tuple[float | None, ...]


@dataclass(frozen=True, slots=True)
class CureReadings:
    code: str
    started_at: datetime
    ended_at: datetime | None
    series: tuple[ProbeSeries, ...]
    gauges: tuple[GaugeSeries, ...]


@dataclass(frozen=True, slots=True)
class CurePlot:
    """What `service.reports.plots.cure_plot_svg` draws of a cure."""

    title: str
    times_min: tuple[float, ...]
    probes: dict[str, tuple[float | None, ...]]
    required: tuple[str, ...]
    air: tuple[str, ...]
    stages: tuple[Stage, ...]
    gaps: tuple[tuple[float, float], ...]


def _where(log: CureLog, probe: str) -> ProbePlace:
    if probe in log.part_probes:
        return ProbePlace.PART
    if probe in log.left_out:
        return ProbePlace.LEFT_OUT
    return ProbePlace.AIR if probe in log.air_probes else ProbePlace.OTHER


def read_cure_readings(cure: str) -> CureReadings:
    """The curves of a cure as they were logged, all of each file."""
    item = ledger.find(cure, Kind.CURE)
    row, logs = Cure.get_by_id(item.id), standing_logs(item.id)
    return CureReadings(
        code=item.code,
        started_at=row.started_at,
        ended_at=row.ended_at,
        series=tuple(
            ProbeSeries(
                log=log.id,
                logger_name=log.logger.name,
                probe=name,
                on=_where(log, name),
                first_at=log.first_at,
                times_s=tuple(log.readings["times_s"]),
                temperatures_c=tuple(values),
            )
            for log in logs
            for name, values in log.readings["probes"].items()
        ),
        gauges=tuple(
            GaugeSeries(
                log=log.id,
                logger_name=log.logger.name,
                gauge=name,
                measure=as_word(Measure, log.gauges.get(name)),
                first_at=log.first_at,
                times_s=tuple(log.readings["times_s"]),
                pressures_mbar=tuple(values),
            )
            for log in logs
            for name, values in log.readings.get("gauges", {}).items()
        ),
    )


def cure_plot(cure: str) -> CurePlot:
    """What a plot of the cure shows: its curves from start to end, the stages, the gaps."""
    item = ledger.find(cure, Kind.CURE)
    row = Cure.get_by_id(item.id)
    schedule = Schedule.get_by_id(row.schedule_id)
    stages = stages_of(schedule)
    series = gathered(row, standing_logs(item.id))
    if series.log is None:
        raise UnknownThing(
            f"{item.code} has no readings between its start and its end.", way_out="Add the logger's file to it."
        )
    judged = (row.verdict or {}).get("stages", [])
    gaps = sorted({(start, end) for stage in judged for start, end in stage["gaps"]})
    return CurePlot(
        title=f"{item.code} {schedule.name}, revision {schedule.revision}",
        times_min=series.log.times_min,
        probes=dict(series.log.probes),
        required=series.part,
        air=series.air,
        stages=tuple(stages),
        gaps=tuple(gaps),
    )
