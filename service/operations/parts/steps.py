"""Steps on a part that take nothing from stock: tests of gel coat and bag, climate, masses; demoulding, trimming."""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from schemas.words import Kind, OwnStep, State, StepKind, Tack
from service.formulas.climate import (
    absolute_humidity_g_m3,
    amine_blush_caution,
    dew_point_margin_k,
    highest_humidity_pct,
    saturation_pressure_hpa,
)
from service.formulas.ranges import OutOfRange
from service.operations.door.operation import Work, operation
from service.operations.door.refusals import WrongState
from service.operations.door.shop import time_in_shop
from service.operations.ledger import ledger
from service.operations.ledger.flags import raise_flag, stands
from service.operations.parts.as_designed import mark_as_designed
from service.operations.parts.begun import begin_if_planned
from service.operations.parts.laying import count_backers
from service.operations.parts.moulds import count_pull
from service.operations.parts.part import PartInHand, add_step, load_part, still_here
from service.operations.parts.view import PartView, answered
from service.records.cures import Schedule
from service.records.items import Item
from service.records.lookups import another
from service.records.parts import Part, PartStep


@dataclass(frozen=True, slots=True)
class Judged:
    """What a step's own figures say: passed or not, or nothing where there is no limit; and why.

    ``heals`` is a failure that waiting, warming or sealing puts right, so that the same test passed later answers it.
    """

    passed: bool | None
    sentence: str | None = None
    more: tuple[tuple[str, Any], ...] = ()
    heals: bool = False


@operation
def record_part_step(work: Work, *, part: str, kind: StepKind, facts: Mapping[str, Any]) -> PartView:
    """Record a step on a part: a test, a check, a mass or a note. What was not passed is marked."""
    item = ledger.lock_one(work, part, Kind.PART)
    still_here(item)
    begin_if_planned(work, item, f"A step was recorded on it ({kind})")
    held = load_part(item)
    if kind == StepKind.BACKERS:
        count_backers(work, item, facts["counted"], facts["expected"])
        return answered(work, held)
    judge = _JUDGES.get(kind)
    judged = judge(facts, held.design.bag) if judge is not None else Judged(None)
    add_step(work, item, kind, {**facts, **dict(judged.more)}, passed=judged.passed)
    if judged.passed is False and judged.sentence is not None:
        stops = kind == StepKind.VACUUM
        raise_flag(
            work, item, kind.replace(" ", "-"), judged.sentence,
            stops=stops, hold=stops, heals=judged.heals, zone=facts.get("zone"),
        )  # fmt: skip
    if kind == StepKind.MASS and held.row.demoulded_at is not None:
        held.update(mass_mg=round(facts["mass_g"] * 1000))
    return answered(work, held)


def _tack(facts: Mapping[str, Any], bag: Any) -> Judged:
    sentences = {Tack.LIFTS: "too wet for the first ply", Tack.DRY: "past its tack: abrade it, or treat it as a bond"}
    said = sentences.get(facts["result"])
    sentence = f"The finger test found the gel coat {said}." if said else None
    # Too wet is tested too early; what is past its tack does not come back to it.
    return Judged(said is None, sentence, heals=facts["result"] == Tack.LIFTS)


def _climate(facts: Mapping[str, Any], bag: Any) -> Judged:
    air, surface, humidity = facts["air_c"], facts["surface_c"], facts["humidity_pct"]
    found = amine_blush_caution(
        surface_c=surface, air_c=air, relative_humidity_pct=humidity, least_margin_k=facts["least_margin_k"]
    )
    margin_k = dew_point_margin_k(surface_c=surface, air_c=air, relative_humidity_pct=humidity)
    water_g_m3 = absolute_humidity_g_m3(air_c=air, relative_humidity_pct=humidity)
    vapour_hpa = saturation_pressure_hpa(temperature_c=air) * humidity / 100
    try:
        most = highest_humidity_pct(air_c=air, surface_c=surface, margin_k=facts["least_margin_k"])
    except OutOfRange:
        # So cold a surface keeps its margin at no humidity that the formula knows of.
        most = None
    sentence = f"{found.sentence} The air holds {water_g_m3:.1f} g/m³ of water."
    if most is not None and most < 100:
        # Rounded down, so that nobody is told a humidity that is too much already.
        margin = f"{facts['least_margin_k']:g} K"
        sentence += f" The surface keeps {margin} up to {math.floor(most)} % of humidity at {air:g} °C."
    more = {
        "dew_point_c": round(found.dew_point_c, 1),
        "margin_k": round(margin_k, 1),
        "absolute_humidity_g_m3": round(water_g_m3, 1),
        "vapour_pressure_hpa": round(vapour_hpa, 1),
        "highest_humidity_pct": None if most is None else math.floor(most * 10) / 10,
        "sentence": sentence,
    }
    return Judged(not found.caution, found.sentence, tuple(more.items()), heals=True)


def _drop(facts: Mapping[str, Any], bag: Mapping[str, float] | None) -> Judged:
    """A drop test is passed by the limit of the design: enough vacuum, held long enough, and little lost."""
    drop = round(facts["start_mbar"] - facts["end_mbar"], 3)
    more = (("drop_mbar", drop),)
    if bag is None:
        return Judged(None, None, (*more, ("sentence", "The design gives no limit for the drop test.")))
    failed = []
    if facts["start_mbar"] < bag["least_vacuum_mbar"]:
        failed.append(f"{facts['start_mbar']:g} mbar of vacuum, {bag['least_vacuum_mbar']:g} is asked for")
    if drop > bag["drop_limit_mbar"]:
        failed.append(f"{drop:g} mbar lost, {bag['drop_limit_mbar']:g} is allowed")
    if facts["minutes"] < bag["drop_minutes"]:
        failed.append(f"held {facts['minutes']:g} min of {bag['drop_minutes']:g}")
    sentence = f"Drop test not passed: {'; '.join(failed)}." if failed else None
    return Judged(not failed, sentence, (*more, ("limit_mbar", bag["drop_limit_mbar"])), heals=True)


def _vacuum(facts: Mapping[str, Any], bag: Mapping[str, float] | None) -> Judged:
    failed = [] if facts["until_gel"] else ["it was not held until the resin had gelled"]
    if bag is not None and facts["least_mbar"] < bag["least_vacuum_mbar"]:
        failed.append(f"it fell to {facts['least_mbar']:g} mbar, {bag['least_vacuum_mbar']:g} is asked for")
    return Judged(not failed, f"Vacuum: {'; '.join(failed)}." if failed else None)


_JUDGES: dict[StepKind, Callable[[Mapping[str, Any], Any], Judged]] = {
    StepKind.TACK_TEST: _tack,
    StepKind.CLIMATE: _climate,
    StepKind.DROP_TEST: _drop,
    StepKind.VACUUM: _vacuum,
}


@operation
def demould(
    work: Work, *, part: str, temperature_c: float | None = None, remark: str | None = None, damage: str | None = None
) -> PartView:
    """Take a part out of its mould: at what temperature, and how it came out. The mould has had one more pull."""
    # The mould that a part was started in never changes, so it may be looked up before the lock.
    forms = another(Item, "forms")
    mould = (
        forms.select(forms.code)
        .join(Part, on=(Part.mould == forms.id))
        .join(Item, on=(Part.item == Item.id))
        .where(Item.code == part)
        .first()
    )
    item = ledger.lock(work, part, *([mould.code] if mould is not None else []), kinds=[Kind.PART, Kind.MOULD])[part]
    if item.kind != Kind.PART:
        ledger.find(part, Kind.PART)
    still_here(item)
    begin_if_planned(work, item, "It was demoulded")
    held = load_part(item)
    row, form = held.row, held.mould
    if row.demoulded_at is not None:
        raise WrongState(f"{item.code} was demoulded already.")
    facts = {"temperature_c": temperature_c, "remark": remark, "damage": damage}
    add_step(work, item, OwnStep.DEMOULDING, {k: v for k, v in facts.items() if v is not None})
    ended_at = held.cures[0].ended_at if held.cures else None
    if item.state in (State.LAYING, State.LAID_UP) or _in_a_cure(held):
        sentence = f"Demoulded when it was {item.state}: no cure had ended."
        raise_flag(work, item, "not-cured", sentence, stops=True, hold=True)
    elif ended_at is not None and work.act.occurred_at < ended_at:
        now, zone = work.act.recorded_at, work.site.zone
        took, ended = (time_in_shop(when, now=now, zone=zone) for when in (work.act.occurred_at, ended_at))
        sentence = f"Demoulded at {took}, as was told later: its cure ended at {ended}."
        raise_flag(work, item, "not-cured", sentence, stops=True, hold=True)
    below_c = _demould_below_c(held)
    if temperature_c is not None and below_c is not None and temperature_c > below_c:
        sentence = f"Demoulded at {temperature_c:g} °C; the schedule asks for {below_c:g} °C or less."
        raise_flag(work, item, "demoulded-warm", sentence, stops=True, hold=True)
    elif temperature_c is None and below_c is not None:
        raise_flag(work, item, "not-known", f"Nobody measured whether it was below {below_c:g} °C.", stops=False)
    if row.design.bag is not None and not _bag_is_tight(item):
        raise_flag(work, item, "drop-test", "No drop test was passed before the cure.", stops=True, hold=True)
    if damage is not None:
        raise_flag(work, item, "damage", f"Damaged at demoulding: {damage}", stops=False)
    mark_as_designed(work, held)
    held.update(demoulded_at=work.act.occurred_at)
    if form is not None:
        count_pull(form)
        work.touch(form)
    ledger.set_state(work, item, State.DEMOULDED)
    return answered(work, held)


def _in_a_cure(held: PartInHand) -> bool:
    """A cure that failed has ended too; what it means is on its own flag."""
    return bool(held.cures) and held.cures[0].ended_at is None


def _demould_below_c(held: PartInHand) -> float | None:
    """What the schedule of the last cure asks, or if there was none, that of the design."""
    if held.cures:
        limit: float | None = held.cures[0].schedule.demould_below_c
        return limit
    newest = (
        Schedule.select()
        .where((Schedule.name == held.design.schedule) & Schedule.approved_at.is_null(False))
        .order_by(Schedule.revision.desc())
        .first()
    )
    return newest.demould_below_c if newest is not None else None


def _bag_is_tight(item: Item) -> bool:
    """The last drop test is the one that counts; failed tries before it are kept."""
    last = (
        PartStep.select()
        .where((PartStep.part == item.id) & (PartStep.kind == StepKind.DROP_TEST) & stands(PartStep.deed))
        .order_by(PartStep.id.desc())
        .first()
    )
    return last is not None and last.passed is True


@operation
def trim(
    work: Work, *, part: str, mass_mg: int | None = None, trimmed_off_mg: int | None = None, remark: str | None = None
) -> PartView:
    """Trim a part; weighed with what was cut off, it says how much resin is in it."""
    item = ledger.lock_one(work, part, Kind.PART)
    still_here(item)
    begin_if_planned(work, item, "It was trimmed")
    held = load_part(item)
    row = held.row
    facts: dict[str, Any] = {
        "mass_g": None if mass_mg is None else mass_mg / 1000,
        "trimmed_off_g": None if trimmed_off_mg is None else trimmed_off_mg / 1000,
        "remark": remark,
    }
    add_step(work, item, OwnStep.TRIMMING, {k: v for k, v in facts.items() if v is not None})
    if mass_mg is not None:
        held.update(mass_mg=mass_mg)
    if row.demoulded_at is None:
        raise_flag(work, item, "out-of-order", f"Trimmed in the mould, when it was {item.state}.", stops=False)
    elif item.state == State.RELEASED:
        raise_flag(work, item, "out-of-order", "Trimmed after it was released.", stops=True, hold=True)
    elif not _in_a_cure(held):
        ledger.set_state(work, item, State.TRIMMED)
    return answered(work, held)
