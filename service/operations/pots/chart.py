"""Run charts of the weighed ratio: whether a scale or a person wanders before a pot is out of its tolerance."""

from dataclasses import dataclass
from datetime import datetime

from peewee import ModelSelect, fn

from schemas.words import Kind, State, Verdict
from service.formulas.control_charts import D2, LEAST_SPREAD, EwmaChart, capability, ewma_chart, individuals_chart
from service.operations.door.rows import find_row
from service.operations.ledger import ledger
from service.operations.pots.verdict import percent
from service.records.base import as_word, known
from service.records.items import Item, Movement
from service.records.journal import Deed
from service.records.materials import ResinSystem
from service.records.mixes import Mix, Pour
from service.records.people import Person

FEWEST = 5


FIRST_GUESS_BELOW = 20


WEIGHT = 0.3


# A pot that was off by ten times its ratio was a mishap, not a weighing to be compared with others.
MISHAP_PCT = 1000


@dataclass(frozen=True, slots=True)
class ChartPoint:
    """One pot. `stands_out` and `drifts` are only said where there is a chart.

    Attributes
    ----------
    deviation_pct
        Above zero: more hardener than stated.
    average_pct
        Exponentially weighted average up to this pot.
    """

    mix: str
    occurred_at: datetime
    deviation_pct: float
    tolerance_pct: float
    verdict: Verdict | None
    average_pct: float | None
    stands_out: bool | None
    drifts: bool | None


@dataclass(frozen=True, slots=True)
class Limits:
    """Individuals and moving range: mean and control limits of single pots, worked out from the pots themselves.

    Attributes
    ----------
    stand_out
        Pots beyond the limits.
    jumps
        Pots too far from the pot before them.
    """

    mean_pct: float
    lower_pct: float
    upper_pct: float
    mean_moving_range_pct: float
    moving_range_upper_pct: float
    stand_out: tuple[str, ...]
    jumps: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Drift:
    """Weighted average against no deviation at all: it sees a small lasting shift sooner than single pots do."""

    lower_pct: float
    upper_pct: float
    weight: float
    outside: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Ability:
    """How well the weighing keeps the tolerance that all these pots share.

    Attributes
    ----------
    standard_deviation_pct
        Of all the pots.
    within_standard_deviation_pct
        From one pot to the next.
    cp
        Could be kept while nothing shifts: by the spread from one pot to the next, as cpk.
    pp
        Was kept: by the spread of all the pots, as ppk.
    """

    tolerance_pct: float
    standard_deviation_pct: float
    within_standard_deviation_pct: float
    cp: float
    cpk: float
    pp: float
    ppk: float


@dataclass(frozen=True, slots=True)
class RatioChart:
    """Deviations of the latest pots in the order of time, and what they say together."""

    title: str
    points: tuple[ChartPoint, ...]
    limits: Limits | None
    drift: Drift | None
    capability: Ability | None
    sentences: tuple[str, ...]


def read_ratio_chart(
    *, scale: str | None = None, person: int | None = None, system: int | None = None, last: int = 50
) -> RatioChart:
    """Chart how far the latest pots were from their ratio: of one scale, person or resin system, or of all.

    Fewer than five pots, or pots that were all the same, are listed and said to be so; there is no chart of them.
    """
    of, query = _asked(scale, person, system)
    pots = list(reversed(query.limit(last)))
    title = f"Ratio of the last {f'{len(pots)} pots' if len(pots) != 1 else 'pot'}{of}"
    values = [pot.deviation_pct for pot in pots]
    if len(pots) < FEWEST:
        return RatioChart(title, _plain(pots), None, None, None, (_too_few(len(pots)),))
    if max(values) - min(values) < LEAST_SPREAD:
        same = f"All {len(pots)} pots have the same deviation, {percent(values[0])}; there is nothing to chart."
        return RatioChart(title, _plain(pots), None, None, None, (same,))
    single = individuals_chart(values=values)
    average = ewma_chart(values=values, target=0.0, sigma=single.mean_moving_range / D2, weight=WEIGHT)
    codes = [pot.item.code for pot in pots]
    limits = Limits(
        mean_pct=single.mean,
        lower_pct=single.lower,
        upper_pct=single.upper,
        mean_moving_range_pct=single.mean_moving_range,
        moving_range_upper_pct=single.moving_range_upper,
        stand_out=tuple(codes[index] for index in single.signals),
        jumps=tuple(codes[index] for index in single.moving_range_signals),
    )
    drift = Drift(
        lower_pct=average.lower,
        upper_pct=average.upper,
        weight=WEIGHT,
        outside=tuple(codes[index] for index in average.signals),
    )
    points = tuple(
        _point(pot, averages=average.averages[i], stands_out=i in single.signals, drifts=i in average.signals)
        for i, pot in enumerate(pots)
    )
    ability = _ability(pots, values)
    said = (_outliers(limits, average, codes), _against(ability), _guess(len(pots)))
    return RatioChart(title, points, limits, drift, ability, tuple(sentence for sentence in said if sentence))


def _asked(scale: str | None, person: int | None, system: int | None) -> "tuple[str, ModelSelect[Mix]]":
    """In words what is asked for, and the pots behind it, latest first."""
    when = fn.COALESCE(Mix.contact_at, Mix.started_at)
    query = (
        Mix.select(Mix, Item)
        .join(Item)
        .where(Mix.deviation_pct.between(-MISHAP_PCT, MISHAP_PCT) & (Item.state != State.ABANDONED))
    )
    named = []
    pours = Pour.select(Pour.mix).join(Movement).where(Movement.cancelled_by.is_null())
    if scale is not None:
        item = ledger.find(scale, Kind.SCALE)
        named.append(f"weighed on {item.name}")
        query = query.where(Mix.item.in_(pours.where(Pour.scale == item.id)))
    if person is not None:
        named.append(f"weighed by {find_row(Person, person, 'person').name}")
        by = pours.switch(Pour).join(Deed, on=(Pour.deed == Deed.id)).where(Deed.person == person)
        query = query.where(Mix.item.in_(by))
    if system is not None:
        row = find_row(ResinSystem, system, "resin system")
        named.append(f"of {row.name}")
        query = query.where(Mix.system == system)
    return "".join(f", {name}" for name in named), query.order_by(when.desc(), Mix.item.desc())


def _plain(pots: list[Mix]) -> tuple[ChartPoint, ...]:
    return tuple(_point(pot, averages=None, stands_out=None, drifts=None) for pot in pots)


def _point(pot: Mix, *, averages: float | None, stands_out: bool | None, drifts: bool | None) -> ChartPoint:
    return ChartPoint(
        mix=pot.item.code,
        occurred_at=pot.contact_at or pot.started_at,
        deviation_pct=known(pot.deviation_pct),
        tolerance_pct=pot.tolerance_pct,
        verdict=as_word(Verdict, pot.verdict),
        average_pct=averages,
        stands_out=stands_out,
        drifts=drifts,
    )


def _too_few(count: int) -> str:
    there = {0: "There is no pot", 1: "There is one pot"}.get(count, f"There are {count} pots")
    return f"{there} with a ratio to chart; a chart needs at least {FEWEST}."


def _ability(pots: list[Mix], values: list[float]) -> Ability | None:
    tolerances = {pot.tolerance_pct for pot in pots}
    if len(tolerances) > 1:
        return None
    tolerance = tolerances.pop()
    found = capability(values=values, lower=-tolerance, upper=tolerance)
    return Ability(
        tolerance,
        found.standard_deviation,
        found.within_standard_deviation,
        found.cp,
        found.cpk,
        found.pp,
        found.ppk,
    )


def _outliers(limits: Limits, average: EwmaChart, codes: list[str]) -> str:
    said = []
    if limits.stand_out:
        said.append(f"Outside the control limits: {', '.join(limits.stand_out)}.")
    if average.signals:
        first = average.signals[0]
        side = "hardener" if average.averages[first] > 0 else "resin"
        said.append(f"The average drifts towards too much {side}, first seen at {codes[first]}: check the scale.")
    return " ".join(said) or "Nothing stands out."


def _against(ability: Ability | None) -> str:
    if ability is None:
        return "The pots have different tolerances, so that no one capability can be stated."
    tolerance = f"± {ability.tolerance_pct:.3g} %"
    return f"Against {tolerance}: Cpk {ability.cpk:.2f} from pot to pot, Ppk {ability.ppk:.2f} over all."


def _guess(count: int) -> str:
    return f"Limits from fewer than {FIRST_GUESS_BELOW} pots are a first guess." if count < FIRST_GUESS_BELOW else ""
