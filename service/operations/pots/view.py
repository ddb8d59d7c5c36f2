"""A pot as it is read: plan, pours, next number, verdict, clock, what became of it."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from schemas.words import MixState, Purpose, ReadingSource
from service.formulas.additives import additive_percent
from service.operations.door.operation import Work
from service.operations.ledger.graph import HoldView, hold_views, standing_holds
from service.operations.ledger.permitting import answers_to
from service.operations.ledger.tracing import MOST_FLAGS
from service.operations.pots.ability import ScalesView, scales_of
from service.operations.pots.clock import Clock, LifeBound, clock_of
from service.operations.pots.cups import WatchView, watch_of
from service.operations.pots.dosing import next_dose
from service.operations.pots.job import JobPlan, kept_plan
from service.operations.pots.next_number import next_pour
from service.operations.pots.peroxide import PeroxideView, view_peroxide
from service.operations.pots.pot import OPEN_STATES, Pot, minutes_between
from service.operations.pots.pump_start import next_strokes
from service.operations.pots.rows import (
    ApplicationView,
    ClosingView,
    CupCheckView,
    FillerView,
    MixFlag,
    PlanView,
    PourView,
    StirringView,
)
from service.operations.pots.targets import next_of_blend
from service.operations.pots.told import Judgement, MixCorrection, NextPour
from service.operations.pots.verdict import correction, judge
from service.records.base import as_word, known
from service.records.items import Movement
from service.records.mixes import PlannedPour, Pour
from service.records.people import Site


@dataclass(frozen=True, slots=True)
class ClockView:
    """How long the pot can be used, from the first contact of hardener and resin.

    Attributes
    ----------
    over_after
        Where the table gives no figure: from then on it is surely over.
    held_after
        Over its life by less than that is known to is noted; from then on what it is applied to is held.
    """

    contact_at: datetime | None
    temperature_c: float | None
    temperature_of_air: bool
    life_min: float | None
    use_before: datetime | None
    over_after: datetime | None
    held_after: datetime | None
    over: bool
    in_tray_at: datetime | None
    bound: LifeBound | None
    note: str | None


@dataclass(frozen=True, slots=True)
class MixView:
    """A pot from its first gram to its last.

    Attributes
    ----------
    frozen
        Document with the frozen copy of the resin system.
    left_mg
        What the pot still holds by the book.
    watch
        While it is open.
    parts
        What it was meant for when it was started.
    peroxide
        Of a pot that a peroxide starts: the range, what is to be done next, and the cautions.
    skipped
        Cans that should have been used up first.
    flags
        The newest 50, oldest first; GET /v1/items/{code}/flags lists all.
    flags_count
        How many there are.
    """

    code: str
    name: str
    state: MixState
    purpose: Purpose
    system_id: int
    system_name: str
    system_revision: int
    hardener: int
    hardener_name: str
    speed: str
    frozen: int
    frozen_sha256: str
    ratio: float
    tolerance_pct: float
    planned_mg: int
    separate_cups: bool
    started_at: datetime
    started_by: str
    resin_mg: int
    hardener_mg: int
    fillers_mg: int
    left_mg: int
    plan: tuple[PlanView, ...]
    job_plan: JobPlan | None
    scales: ScalesView
    next: NextPour | None
    pours: tuple[PourView, ...]
    judgement: Judgement | None
    correction: MixCorrection | None
    clock: ClockView
    peroxide: PeroxideView | None
    watch: WatchView | None
    stirring: StirringView
    fillers: tuple[FillerView, ...]
    applications: tuple[ApplicationView, ...]
    parts: tuple[str, ...]
    skipped: tuple[str, ...]
    skipped_why: str | None
    notices: tuple[str, ...]
    closing: ClosingView | None
    cup_checks: tuple[CupCheckView, ...]
    flags: tuple[MixFlag, ...]
    flags_count: int
    holds: tuple[HoldView, ...]
    version: int


def answered(work: Work, pot: Pot) -> MixView:
    """What an act on a pot answers: the pot in hand, with all that the act has changed in it."""
    return work.answer(pot.item, lambda _: view_pot(pot, at=work.act.occurred_at, site=work.site))


def view_pot(pot: Pot, *, at: datetime, site: Site) -> MixView:
    item, mix = pot.item, pot.mix
    plan: dict[str, Any] = mix.plan or {}
    judged, clock = judge(pot), clock_of(pot)
    return MixView(
        code=item.code,
        name=item.name,
        state=as_word(MixState, item.state),
        purpose=as_word(Purpose, mix.purpose),
        system_id=mix.system_id,
        system_name=pot.system["name"],
        system_revision=pot.system["revision"],
        hardener=pot.hardener["material"],
        hardener_name=pot.hardener["name"],
        speed=pot.hardener["speed"],
        frozen=mix.frozen_id,
        frozen_sha256=pot.frozen_sha256,
        ratio=mix.ratio,
        tolerance_pct=mix.tolerance_pct,
        planned_mg=mix.planned_mg,
        separate_cups=mix.separate_cups,
        started_at=mix.started_at,
        started_by=pot.started_by,
        resin_mg=pot.resin_mg,
        hardener_mg=pot.hardener_mg,
        fillers_mg=sum(known(m.amount) for m in pot.fillers),
        left_mg=item.balance,
        plan=tuple(_plan(pot, p) for p in pot.plans),
        job_plan=kept_plan(plan),
        scales=scales_of(pot, judged.uncertainty_pct if judged is not None else None),
        next=_next(pot),
        pours=tuple(_pour(pot, p) for p in pot.weighed),
        judgement=judged,
        correction=correction(pot, at=at, site=site),
        clock=_clock(pot, clock, at),
        peroxide=view_peroxide(pot),
        watch=watch_of(pot, clock, at=at),
        stirring=view_stirring(pot),
        fillers=tuple(_filler(pot, m) for m in pot.fillers),
        applications=tuple(_application(pot, m) for m in pot.applications),
        parts=tuple(plan.get("parts", ())),
        skipped=tuple(plan.get("skipped", ())),
        skipped_why=plan.get("skipped_why"),
        notices=tuple(plan.get("notices", ())),
        closing=_closing(pot),
        cup_checks=_cup_checks(pot),
        flags=_flags(pot),
        flags_count=len(pot.flags),
        holds=hold_views(standing_holds([item.id], at=at)[item.id]),
        version=item.version,
    )


def _next(pot: Pot) -> NextPour | None:
    if pot.mix.plan.get("pump") is not None:
        return next_strokes(pot)
    if pot.catalyst is not None:
        return next_dose(pot)
    if pot.blend is not None:
        return next_of_blend(pot)
    return next_pour(pot)


def _plan(pot: Pot, row: PlannedPour) -> PlanView:
    return PlanView(
        component=pot.told(row.component),
        container=pot.named[row.container_id].code,
        amount_mg=row.amount_mg,
        settled=row.settled_at is not None,
    )


def _pour(pot: Pot, row: Pour) -> PourView:
    can = pot.named[row.container_id]
    return PourView(
        component=pot.told(row.component),
        container=can.code,
        lot=can.lot or "",
        scale=pot.named[row.scale_id].code,
        net_mg=known(row.movement.amount),
        reading_mg=row.reading_mg,
        zeroed=row.zeroed,
        before_mg=row.before_mg,
        emptied_cup_mg=row.emptied_cup_mg,
        strokes=row.strokes,
        volume_ml=None if row.volume_ul is None else row.volume_ul / 1000,
        source=as_word(ReadingSource, row.source),
        target_mg=row.target_mg,
        correction=row.correction,
        taken_back=row.movement.cancelled_by_id is not None,
        occurred_at=row.occurred_at,
        by=pot.doers[row.deed_id],
    )


def _clock(pot: Pot, clock: Clock, at: datetime) -> ClockView:
    mix = pot.mix
    return ClockView(
        contact_at=mix.contact_at,
        temperature_c=mix.temperature_c,
        temperature_of_air=mix.temperature_of_air,
        life_min=clock.life_min,
        use_before=clock.use_before,
        over_after=clock.over_after,
        held_after=clock.held_after,
        over=pot.item.state in OPEN_STATES and clock.over(at),
        in_tray_at=mix.in_tray_at,
        bound=clock.bound,
        note=clock.note,
    )


def stirring_counts_from(pot: Pot) -> datetime | None:
    """The last pour, for a correction is stirred in again, or first contact, if that was later."""
    begins = [p.occurred_at for p in pot.pours] + ([pot.mix.contact_at] if pot.mix.contact_at else [])
    return max(begins, default=None) if pot.both_in else None


def view_stirring(pot: Pot) -> StirringView:
    """How the mix was stirred, as far as it counts."""
    last = stirring_counts_from(pot)
    since = [s for s in pot.stirrings if last is not None and (s.ended_at > last or s.started_at >= last)]
    done = sum(minutes_between(max(s.started_at, last), s.ended_at) for s in since if last is not None)
    needed = pot.system["stir_min"]
    scraped = any(s.scraped for s in since)
    enough = None
    if pot.both_in:
        enough = bool(since) and scraped and (needed is None or done >= needed)
    return StirringView(
        needed_min=needed,
        done_min=done,
        scraped=scraped,
        second_cup=any(s.second_cup for s in since),
        enough=enough,
        times=len(since),
    )


def stirring_faults(pot: Pot) -> list[tuple[str, str]]:
    """What is wanting in the stirring, by the kind of flag that it becomes when the pot is used, and in a sentence."""
    stirred = view_stirring(pot)
    if stirred.times == 0:
        return [("not-stirred", "No stirring was recorded since the last pour.")]
    faults = []
    if stirred.needed_min is not None and stirred.done_min < stirred.needed_min:
        sentence = f"Stirred {stirred.done_min:.1f} min; the data sheet asks for {stirred.needed_min:g}."
        faults.append(("stirred-short", sentence))
    if not stirred.scraped:
        faults.append(("not-scraped", "Sides and base of the cup were not scraped."))
    return faults


def _filler(pot: Pot, row: Movement) -> FillerView:
    of_resin = of_mix = None
    if pot.resin_mg:
        masses = {"mass_g": known(row.amount) / 1000, "resin_g": pot.resin_mg / 1000}
        of_resin = additive_percent(of="resin", **masses)
        if pot.hardener_mg:
            of_mix = additive_percent(of="mix", hardener_g=pot.hardener_mg / 1000, **masses)
    return FillerView(pot.named[known(row.source_id)].code, known(row.amount), of_resin, of_mix, row.occurred_at)


def _application(pot: Pot, row: Movement) -> ApplicationView:
    return ApplicationView(
        part=pot.named[known(row.target_id)].code,
        mass_mg=row.amount,
        estimated=row.estimated,
        purpose=as_word(Purpose, row.purpose),
        zone=row.zone,
        occurred_at=row.occurred_at,
    )


def _closing(pot: Pot) -> ClosingView | None:
    if pot.closing is None:
        return None
    return ClosingView(**{name: getattr(pot.closing, name) for name in ClosingView.__slots__})


def _cup_checks(pot: Pot) -> tuple[CupCheckView, ...]:
    return tuple(
        CupCheckView(r.hard, r.hardness, r.hardness_scale, r.occurred_at, pot.doers[r.deed_id]) for r in pot.cup_checks
    )


def _flags(pot: Pot) -> tuple[MixFlag, ...]:
    newest = pot.flags[-MOST_FLAGS:]
    answers: dict[int, Any] = answers_to(newest)
    settled = pot.settled if pot.flags else {}
    return tuple(
        MixFlag(
            id=f.id,
            kind=f.kind,
            sentence=f.sentence,
            stops=f.stops,
            answered=answers[f.id].decision if answers[f.id] is not None else None,
            settled=settled.get(f.id),
            occurred_at=f.occurred_at,
        )
        for f in newest
    )
