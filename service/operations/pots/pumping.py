"""Pumps: checked by weighed pairs of shots, counted by strokes, A and B apart (shop rule 23a)."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from schemas.words import Component, Kind, MovementKind, ReadingSource, ScaleForm, State
from service.formulas.pumps import Shot, pump_check
from service.formulas.ratio_forms import weight_ratio_from_volume
from service.operations.door.operation import Work, operation
from service.operations.door.refusals import Unprocessable
from service.operations.ledger import ledger
from service.operations.ledger.flags import Stop, stop
from service.operations.pots.measuring import require_new_name
from service.operations.pots.pot import Named, Pot, flag_once, load_pot, require_open, settle_plans
from service.operations.pots.pouring import add_pour, planned_in, settle_mix, use_scale
from service.operations.pots.pump_start import shots_of
from service.operations.pots.scale import LoadedScale, load_scales
from service.operations.pots.scales import ScaleView, lock_suspects, view_scale
from service.operations.pots.system import find_system, hardeners_of, ratio_and_tolerance
from service.operations.pots.view import MixView, answered
from service.operations.stock.using import draw, judge_use, load_used
from service.records.base import known
from service.records.items import Item
from service.records.materials import Scale, ScaleCheck, SystemHardener
from service.records.mixes import Pour


@operation
def add_pump(work: Work, *, name: str, check_every_days: int = 1) -> ScaleView:
    """Add a pump: an instrument that gives strokes. Before it is used its shots are weighed."""
    require_new_name(name)
    item = ledger.new_item(work, Kind.SCALE, name=name, state=State.IN_USE)
    Scale.create(
        item=item,
        form=ScaleForm.PUMP,
        interval_mg=1,
        repeatability_mg=0,
        maximum_mg=1_000_000_000,
        check_every_days=check_every_days,
    )
    return view_scale(item, at=work.act.occurred_at, site=work.site)


def pumped_ratio(
    hardener: SystemHardener, resin_density_g_ml: float | None = None, hardener_density_g_ml: float | None = None
) -> tuple[float, float]:
    """Ratio by weight and tolerance that a pump is judged by: a ratio stated by volume goes by both densities."""
    ratio, tolerance = ratio_and_tolerance(hardener)
    resin = resin_density_g_ml or hardener.system.resin.density_g_ml
    own = hardener_density_g_ml or hardener.material.density_g_ml
    if hardener.parts_by_volume is None or resin is None or own is None:
        return ratio, tolerance
    by_volume = weight_ratio_from_volume(
        volume_ratio=hardener.parts_by_volume / 100, resin_density_g_ml=resin, hardener_density_g_ml=own
    )
    return by_volume, tolerance


@operation
def check_pump(
    work: Work,
    *,
    scale: str,
    system: int,
    hardener: int,
    pairs: Sequence[Mapping[str, int]],
    resin_density_g_ml: float | None = None,
    hardener_density_g_ml: float | None = None,
) -> ScaleView:
    """Check a pump by weighed pairs of shots; the first pair after standing is left out, five more have to count.

    If it fails, the pots pumped since its last passed check go on hold.
    """
    item = ledger.find(scale, Kind.SCALE)
    row = Scale.get_by_id(item.id)
    if row.form != ScaleForm.PUMP:
        raise Unprocessable(f"{item.code} is a {row.form}; only a pump gives shots.", pointer="/pairs")
    one = _hardener(system, hardener)
    ratio, tolerance = pumped_ratio(one, resin_density_g_ml, hardener_density_g_ml)
    shots = [Shot(pair["resin_mg"] / 1000, pair["hardener_mg"] / 1000) for pair in pairs]
    found = pump_check(pairs=shots, ratio=ratio, tolerance_pct=tolerance)
    locked = lock_suspects(work, item, passed=found.passed)
    nominal = max(1, round(found.resin_g * ratio * 1000))
    check = ScaleCheck.create(
        scale=row,
        weight=f"{found.pairs} pairs of shots, {one.system.name} with {one.material.name}",
        nominal_mg=nominal,
        reading_mg=round(found.hardener_g * 1000),
        limit_mg=max(1, round(nominal * tolerance / 100)),
        passed=found.passed,
        shots={
            "resin": one.system.resin_id,
            "hardener": one.material_id,
            "ratio": ratio,
            "tolerance_pct": tolerance,
            **{name: getattr(found, name) for name in type(found).__slots__},
            "weighed_mg": [[pair["resin_mg"], pair["hardener_mg"]] for pair in pairs],
        },
        occurred_at=work.act.occurred_at,
        deed=work.deed,
    )
    item = locked[scale]
    work.touch(item)
    affected = sorted((mix for code, mix in locked.items() if code != item.code), key=lambda mix: mix.id)
    stop(work, (_doubted(mix, item, check) for mix in affected))
    work.note(scale=item.code, pairs=found.pairs, passed=found.passed, affected=len(affected))
    return view_scale(item, at=work.act.occurred_at, site=work.site, affected=affected)


def _hardener(system: int, material: int) -> SystemHardener:
    row = find_system(system, pointer="/system")
    own = hardeners_of([row.id])[row.id]
    one = next((h for h in own if h.material_id == material and h.catalyst is None), None)
    if one is None:
        raise Unprocessable(f"Material {material} is no hardener of {row.name}.", pointer="/hardener")
    one.system = row
    return one


def _doubted(mix: Item, pump: Item, check: ScaleCheck) -> Stop:
    """A look back: how far the pots of this pump may have been out."""
    shots = known(check.shots)
    error = abs(shots["deviation_pct"]) + shots["uncertainty_pct"]
    return Stop(
        mix,
        f"Pump {pump.code} gave {shots['hardener_g']:.2f} g of hardener to {shots['resin_g']:.2f} g of resin, "
        f"{shots['deviation_pct']:+.1f} % off and known to ± {shots['uncertainty_pct']:.1f} %: the ratio may be out by "
        f"up to {error:.1f} %, the tolerance is ± {shots['tolerance_pct']:.3g} %.",
        "pump-check-failed",
        {"scale": pump.code, "possible_error_pct": error, "tolerance_pct": shots["tolerance_pct"]},
    )


@operation
def change_hose(work: Work, *, scale: str, remark: str) -> ScaleView:
    """Note that a hose, seal or drum of a pump was changed: its shots are weighed again before it is used."""
    item = ledger.lock_one(work, scale, Kind.SCALE)
    if Scale.get_by_id(item.id).form != ScaleForm.PUMP:
        raise Unprocessable(f"{item.code} is no pump.", pointer="/remark")
    Scale.update(changed_at=work.act.occurred_at).where(Scale.item == item.id).execute()
    work.touch(item)
    work.note(scale=item.code, changed=remark)
    return view_scale(item, at=work.act.occurred_at, site=work.site)


@dataclass(frozen=True, slots=True)
class _Side:
    component: Component
    can: Item
    strokes: int
    shot_g: float
    spread_g: float

    @property
    def mass_mg(self) -> int:
        return max(1, round(self.strokes * self.shot_g * 1000))

    def uncertainty_mg(self, pairs: int) -> float:
        """The spread of the mean at the check and of these strokes; a hundredth of a milligram where there is none."""
        relative = self.spread_g / self.shot_g * math.sqrt(1 / pairs + 1 / self.strokes)
        return max(0.01, self.mass_mg * relative)


@operation
def pump_strokes(
    work: Work,
    *,
    mix: str,
    scale: str,
    resin_container: str,
    hardener_container: str,
    resin_strokes: int,
    hardener_strokes: int,
    confirmed: bool = False,
    despite_reservation: bool = False,
) -> MixView:
    """Record the strokes of a pump into a pot, resin's and hardener's counted apart; from now on they have met."""
    locked = ledger.lock(
        work, mix, scale, resin_container, hardener_container, kinds=[Kind.MIX, Kind.SCALE, Kind.CONTAINER]
    )
    item, on = locked[mix], locked[scale]
    require_open(item)
    pot = load_pot(item)
    loaded = load_scales([on], at=work.act.occurred_at)[on.id]
    shots = shots_of(loaded, pot.system["resin"], pot.hardener["material"])
    pot.named[on.id] = Named(on.code, on.name, scale=loaded.row)
    sides = (
        _Side(Component.RESIN, locked[resin_container], resin_strokes, shots["resin_g"], shots["resin_spread_g"]),
        _Side(
            Component.HARDENER,
            locked[hardener_container],
            hardener_strokes,
            shots["hardener_g"],
            shots["hardener_spread_g"],
        ),
    )
    for side in sides:
        _give(work, pot, side, loaded, shots, confirmed=confirmed, despite_reservation=despite_reservation)
    use_scale(work, pot, loaded, sum(side.mass_mg for side in sides))
    columns: dict[str, Any] = {} if pot.mix.contact_at is not None else {"contact_at": work.act.occurred_at}
    settle_mix(work, pot, **columns)
    work.note(mix=item.code, pump=on.code, resin_strokes=resin_strokes, hardener_strokes=hardener_strokes)
    return answered(work, pot)


def _give(
    work: Work,
    pot: Pot,
    side: _Side,
    loaded: LoadedScale,
    shots: Mapping[str, Any],
    *,
    confirmed: bool,
    despite_reservation: bool,
) -> None:
    used = load_used(work, side.can, besides_mix=pot.item.id)
    wanted = pot.system["resin"] if side.component == Component.RESIN else pot.hardener["material"]
    pot.named[side.can.id] = Named.can(used)
    pot.flagged(judge_use(work, used, pot.item))
    movement = draw(
        work,
        side.can,
        used.container,
        pot.item,
        side.mass_mg,
        kind=MovementKind.POUR,
        confirmed=confirmed,
        despite_reservation=despite_reservation,
        planned=planned_in(pot, side.can),
    )
    add_pour(
        work,
        pot,
        Pour.create(
            mix=pot.mix,
            container=side.can.id,
            movement=movement,
            component=side.component,
            scale=loaded.row,
            reading_mg=side.mass_mg,
            zeroed=True,
            before_mg=0,
            source=ReadingSource.TYPED,
            target_mg=None,
            strokes=side.strokes,
            uncertainty_mg=side.uncertainty_mg(shots["pairs"]),
            occurred_at=work.act.occurred_at,
            deed=work.deed,
        ),
    )
    settle_plans(work, pot, container=side.can.id)
    if used.material.id != wanted:
        sentence = f"{side.can.code} {used.material.name} was on the pump's {side.component} side."
        flag_once(work, pot, "wrong-pair", sentence, stops=True, hold=True, about=side.can.code)
