"""One pot, from the start at the scales to the cup that is left."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from schemas.words import Purpose, ReadingSource
from service.demo.yard import Yard
from service.operations.pots.applying import apply_mix
from service.operations.pots.closing import close_mix
from service.operations.pots.pouring import pour
from service.operations.pots.receiving import receive_reading
from service.operations.pots.starting import start_mix
from service.operations.pots.tending import add_filler, stir

_RATIO = {"laminating": 0.30, "gel": 0.15}
_RESIN = {"laminating": "resin", "gel": "gel"}
_HARDENER = {"laminating": "slow", "gel": "gelhard"}
_STEP_MG = 100


@dataclass(frozen=True, slots=True)
class Pot:
    """What a pot is to be: which system, for what, how much, and what is odd about it, if anything."""

    system: str
    purpose: Purpose
    total_g: float
    hardener_can: str | None = None
    hardener_off_pct: float = 0.0
    skip_why: str | None = None
    late_by: timedelta | None = None
    filler: bool = False


def mix(yard: Yard, who: str, at: datetime, pot: Pot, part: str, temperature_c: float) -> str:
    """Weigh a pot, stir it, put it into its part, close it; gives back its code."""
    ratio = _RATIO[pot.system]
    resin_key, hardener_key = _RESIN[pot.system], _HARDENER[pot.system]
    resin_mg = round(pot.total_g / (1 + ratio) * 1000)
    resin = _draws(yard, resin_key, resin_mg, None, skip=pot.skip_why is not None)
    hardener = _draws(yard, hardener_key, round(resin_mg * ratio), pot.hardener_can, skip=False)
    planned = [{"container": code, "mass_mg": mass} for code, mass in resin]
    planned += [{"container": code, "mass_mg": mass} for code, mass in hardener]
    started = start_mix(
        yard.act(who, at, why=pot.skip_why),
        system=yard.systems[pot.system],
        purpose=pot.purpose,
        resin_mg=resin_mg,
        containers=planned if len(planned) > 2 else [{"container": line["container"]} for line in planned],
        scale=yard.scale,
        temperature_c=round(temperature_c, 1),
        parts=[part],
    )
    code = started.code
    poured = _weigh(yard, who, at, code, resin, spread_mg=180)
    wanted = round(poured * ratio * (1 + pot.hardener_off_pct / 100))
    shares = [(can, round(wanted * mass / sum(m for _, m in hardener))) for can, mass in hardener]
    poured += _weigh(
        yard, who, at + timedelta(minutes=2), code, shares, spread_mg=90 if not pot.hardener_off_pct else 0
    )
    stirred = at + timedelta(minutes=4)
    stir(
        yard.act(who, stirred + timedelta(minutes=3)),
        mix=code,
        started_at=stirred,
        ended_at=stirred + timedelta(minutes=2.5 + yard.dice.random()),
        scraped=True,
        second_cup=pot.total_g > 250,
    )
    if pot.filler:
        flock = yard.take("flock", 12_000)[0][0]
        add_filler(
            yard.act(who, at + timedelta(minutes=8)), mix=code, container=flock, mass_mg=12_000, scale=yard.scale
        )
        yard.settle([flock])
        poured += 12_000
    used_at = at + timedelta(minutes=18)
    apply_mix(
        yard.act(who, used_at, recorded_at=used_at + pot.late_by if pot.late_by else None),
        mix=code,
        parts=[{"part": part}],
    )
    left = _on_step(max(2_000, yard.near(poured * 0.022, 900)))
    close_mix(
        yard.act(who, at + timedelta(minutes=26)),
        mix=code,
        left_mg=left,
        loss_mg=_on_step(max(500, yard.near(1_800, 500))),
        cup_kept=True,
    )
    yard.settle([c for c, _ in resin] + [c for c, _ in hardener])
    return code


def _draws(yard: Yard, key: str, amount: int, can: str | None, *, skip: bool) -> list[tuple[str, int]]:
    """Where an amount comes from; a pot is not split over two cans for less than a tenth of it."""
    if skip:
        can = yard.usable(key)[1].code
    while can is None and yard.usable(key)[0].left < amount * 0.15:
        yard.scrap_heel(key)
    taken = yard.take(key, round(amount * 1.02), can=can)
    if len(taken) == 1:
        return [(taken[0][0], amount)]
    first = min(taken[0][1] * 97 // 100, amount - amount // 8)
    return [(taken[0][0], first), (taken[1][0], amount - first)]


def _weigh(yard: Yard, who: str, at: datetime, mix_code: str, cans: list[tuple[str, int]], *, spread_mg: int) -> int:
    total = 0
    for number, (can, mass) in enumerate(cans):
        reading = _on_step(mass + (yard.near(0, spread_mg) if spread_mg else 0))
        then = at + timedelta(minutes=1 + number * 0.5)
        captured = yard.dice.random() < 0.3
        if captured:
            receive_reading(yard.act(who, then), scale=yard.scale, line=f"ST,NT,+{reading / 1000:8.1f} g")
        pour(
            yard.act(who, then),
            mix=mix_code,
            container=can,
            scale=yard.scale,
            reading_mg=reading,
            source=ReadingSource.CAPTURED if captured else ReadingSource.TYPED,
        )
        total += reading
    return total


def _on_step(mass_mg: float) -> int:
    """As a scale shows it that goes by tenths of a gram."""
    return max(_STEP_MG, round(mass_mg / _STEP_MG) * _STEP_MG)
