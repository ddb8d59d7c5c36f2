"""The two clocks side by side: the cup from first contact, the film on the mould (shop rules 24 to 27)."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from itertools import pairwise
from typing import Any

from schemas.words import Component
from service.formulas.clocks import (
    Life,
    LifePoint,
    activation_energy_kj_mol,
    corrected_deadline_min,
    equivalent_age_min,
    life_min,
    rate_factor,
    rule_of_thumb_factor,
    rule_of_thumb_life,
    tray_deadline_min,
)
from service.operations.door.operation import Work
from service.operations.door.refusals import Unprocessable
from service.operations.door.shop import span, the_site, time_in_shop
from service.operations.pots.dosing import life_of
from service.operations.pots.next_number import to_come
from service.operations.pots.pot import Pot, find_pot, minutes_between, update_mix
from service.records.base import as_word, known


class LifeBound(StrEnum):
    """How far a pot life can be trusted."""

    EXACT = "exact"
    SHORTER = "shorter than"
    HELD = "at least, held at the edge"
    THUMB = "rule of thumb"


class AgeBound(StrEnum):
    """How far the age of a film can be trusted."""

    EXACT = "exact"
    HELD = "held at the edge"
    OLDER = "older than"
    THUMB = "rule of thumb"


@dataclass(frozen=True, slots=True)
class Clock:
    """How long a pot may be worked, from first contact.

    `use_before` is missing where the table gives no figure; `over_after` is then the time from which it is surely over,
    as far as the table says. A life is known to some per cent only: what is over it by less than that is noted, and
    held from `held_after` on.
    """

    life_min: float | None
    use_before: datetime | None
    over_after: datetime | None
    note: str | None
    bound: LifeBound | None = None
    held_after: datetime | None = None

    def over(self, at: datetime) -> bool:
        limit = self.use_before or self.over_after
        return limit is not None and at > limit


# A single point says nothing of a shop that is further from it.
_THUMB_REACH_K = 20.0


def table_life(*, points: Sequence[LifePoint], mass_g: float, temperature_c: float) -> Life:
    """Life by a table; where it has one point only and the mix is hotter, by the rule of thumb, which is marked.

    A cooler mix keeps the point's life and a heavier one has no figure, as with any table (shop rule 26).
    """
    found = life_min(points=points, mass_g=mass_g, temperature_c=temperature_c)
    if found.minutes is not None or len(points) > 1:
        return found
    point = points[0]
    if mass_g > point.mass_g or temperature_c > point.temperature_c + _THUMB_REACH_K:
        return found
    return rule_of_thumb_life(point=point, temperature_c=temperature_c)


def corrected_clock(pot: Pot, *, total_mg: int) -> Clock | None:
    """The clock of a pot as a correction would leave it: from the same contact, shortened for the new mass."""
    mix = pot.mix
    if mix.contact_at is None or mix.temperature_c is None or mix.in_tray_at is not None:
        return None
    found = corrected_deadline_min(
        points=pot.cup_life,
        mass_before_g=pot.total_mg / 1000,
        mass_after_g=total_mg / 1000,
        temperature_c=mix.temperature_c,
    )
    by_thumb = table_life(points=pot.cup_life, mass_g=total_mg / 1000, temperature_c=mix.temperature_c)
    if by_thumb.bound == "rule of thumb":
        found = by_thumb
    return Clock(
        life_min=found.minutes,
        use_before=None if found.minutes is None else _after(mix.contact_at, found.minutes),
        over_after=None if found.shorter_than_min is None else _after(mix.contact_at, found.shorter_than_min),
        note=found.sentence,
        bound=as_word(LifeBound, found.bound),
    )


def clock_of(pot: Pot) -> Clock:
    """The clock as it stands; after a correction the life is that of the new mass, from the same contact."""
    mix = pot.mix
    if mix.contact_at is None:
        return Clock(None, None, None, None)
    if mix.temperature_c is None:
        return Clock(None, None, None, "The temperature of the mix is not known, so neither is its pot life.")
    mass_g = _mass_g(pot)
    if mass_g <= 0:
        return Clock(None, None, None, "Nothing has been poured yet.")
    if pot.strange:
        strange = pot.named[pot.strange[0].container_id]
        return Clock(None, None, None, f"{strange.code} {strange.name} is in it; no table gives its pot life.")
    cup = table_life(points=pot.cup_life, mass_g=mass_g, temperature_c=mix.temperature_c) if not pot.catalyst else None
    cup = cup if cup is not None else life_of(pot)
    if cup is None:
        return Clock(None, None, None, "How much catalyst is in is not known, so neither is the pot life.")
    note = cup.sentence
    worth = LifeBound(cup.bound)
    minutes, bound = cup.minutes, cup.shorter_than_min
    if mix.in_tray_at is not None:
        minutes, bound, note, worth = _in_tray(pot, cup, mass_g)
    if mix.temperature_of_air:
        note += " Reckoned with the temperature of the air; the mix may be warmer."
    surely = minutes if minutes is not None else bound
    return Clock(
        life_min=minutes,
        use_before=None if minutes is None else _after(mix.contact_at, minutes),
        over_after=None if bound is None else _after(mix.contact_at, bound),
        note=note,
        bound=worth,
        held_after=None if surely is None else _after(mix.contact_at, surely * (1 + pot.life_uncertainty_pct / 100)),
    )


def _mass_g(pot: Pot) -> float:
    """What the pot will weigh: what is still to come makes it heavier, and the deadline is not to shrink meanwhile."""
    resin = pot.resin_mg
    if to_come(pot) == Component.RESIN:
        resin = max(resin, round(pot.hardener_mg / pot.mix.ratio))
    return (resin + max(pot.hardener_mg, round(resin * pot.mix.ratio))) / 1000


def _in_tray(pot: Pot, cup: Life, mass_g: float) -> tuple[float | None, float | None, str, LifeBound]:
    mix = pot.mix
    if not pot.tray_life:
        return (
            cup.minutes,
            cup.shorter_than_min,
            f"{cup.sentence} There is no table for a tray: the cup's time is kept.",
            LifeBound(cup.bound),
        )
    tray = table_life(points=pot.tray_life, mass_g=mass_g, temperature_c=known(mix.temperature_c))
    if cup.minutes is None or tray.minutes is None:
        first = cup if cup.minutes is None else tray
        return (
            None,
            first.shorter_than_min,
            f"{'In the cup' if cup.minutes is None else 'In the tray'}: {first.sentence}",
            LifeBound(first.bound),
        )
    moved = max(0.0, minutes_between(known(mix.contact_at), known(mix.in_tray_at)))
    minutes = tray_deadline_min(cup_life_min=cup.minutes, tray_life_min=tray.minutes, moved_after_min=moved)
    # What rests on a rule of thumb in either place is a rule of thumb.
    worth = LifeBound(cup.bound if cup.bound == "rule of thumb" else tray.bound)
    thumb = " In the cup by rule of thumb." if cup.bound == "rule of thumb" else ""
    note = f"{minutes:.1f} min from first contact, in a tray after {span(moved)}. {tray.sentence}{thumb}"
    return minutes, None, note, worth


def _after(contact: datetime, minutes: float) -> datetime:
    """Whole seconds, earlier rather than later."""
    return contact + timedelta(seconds=int(minutes * 60))


def set_clock(work: Work, pot: Pot, **columns: Any) -> None:
    """Work the clock out again after anything that it hangs on has changed, be it these columns; all in one write."""
    for name, value in columns.items():
        setattr(pot.mix, name, value)
    clock = clock_of(pot)
    update_mix(work, pot, **columns, use_before=clock.use_before, life_note=clock.note)


_NO_TABLE = "The data sheet gives no table for a film; its time is not known."


_NOT_MET = "Resin and hardener have not met yet."


# Two lives that far apart give an energy.
_LEAST_SPAN_K = 1.0


@dataclass(frozen=True, slots=True)
class FilmView:
    """How long a film on the mould may be worked, by the mould's temperature; the cup's figure never limits it."""

    life_min: float | None
    use_before: datetime | None
    bound: LifeBound | None
    sentence: str


@dataclass(frozen=True, slots=True)
class FilmAgeView:
    """How old a film is after what its mould went through, in minutes at one temperature, and what is left.

    Attributes
    ----------
    reference_c
        The coolest point of the film's table.
    activation_energy_kj_mol
        The film's own, from the ends of its table.
    bound
        exact, held at the edge, older than, or rule of thumb.
    age_min
        Minutes at the reference temperature.
    left_min
        At the reference temperature.
    left_at_last_min
        If it stays as warm as last read.
    """

    sentence: str
    reference_c: float | None = None
    activation_energy_kj_mol: float | None = None
    bound: AgeBound | None = None
    age_min: float | None = None
    life_min: float | None = None
    left_min: float | None = None
    last_temperature_c: float | None = None
    left_at_last_min: float | None = None
    use_before: datetime | None = None


def film_clock(mix: str, *, temperature_c: float) -> FilmView:
    """How long a film of this pot may be worked on a mould of that temperature, counted from first contact."""
    pot = find_pot(mix)
    if not pot.film_life:
        return FilmView(None, None, None, _NO_TABLE)
    if pot.mix.contact_at is None:
        return FilmView(None, None, None, _NOT_MET)
    found = table_life(points=pot.film_life, mass_g=pot.film_life[0].mass_g, temperature_c=temperature_c)
    contact: datetime = pot.mix.contact_at
    before = None if found.minutes is None else contact + timedelta(seconds=int(found.minutes * 60))
    return FilmView(
        found.minutes,
        before,
        LifeBound(found.bound),
        _film_sentence(found.minutes, found.shorter_than_min, temperature_c, thumb=found.bound == LifeBound.THUMB),
    )


def _film_sentence(minutes: float | None, shorter_than: float | None, temperature_c: float, *, thumb: bool) -> str:
    where = f"on a mould at {temperature_c:g} °C, from first contact"
    if minutes is None:
        return f"Shorter than {shorter_than:.0f} min {where}: hotter than the table."
    if thumb:
        return f"About {minutes:.0f} min {where}, by rule of thumb: the table has one point only."
    return f"{minutes:.0f} min {where}."


def film_age(mix: str, *, at: datetime, readings: Sequence[Mapping[str, Any]]) -> FilmAgeView:
    """How old a film of this pot is after a mould's temperatures, and what is left of its life. Nothing is kept.

    Straight lines join the readings; before the first the mould is taken to have been as warm as then, and since the
    last as warm as then.
    """
    pot = find_pot(mix)
    if not pot.film_life or pot.mix.contact_at is None:
        return FilmAgeView(_NOT_MET if pot.film_life else _NO_TABLE)
    contact: datetime = pot.mix.contact_at
    times = [contact, *(r["at"] for r in readings)]
    for number, (earlier, later) in enumerate(pairwise(times)):
        if later < earlier:
            begun = time_in_shop(contact, now=at, zone=the_site().zone)
            before = "the reading before it" if number else f"first contact, {begun}"
            raise Unprocessable(f"This reading lies before {before}.", pointer=f"/readings/{number}/at")
    if times[-1] > at:
        raise Unprocessable("A reading cannot lie ahead.", pointer=f"/readings/{len(readings) - 1}/at")
    temperatures = [float(r["temperature_c"]) for r in readings]
    coolest, hottest = _ends(pot.film_life)
    energy, thumb = _energy(coolest, hottest)
    held, bound = _held(temperatures, coolest, hottest, thumb=thumb)
    age = equivalent_age_min(
        times_min=[minutes_between(contact, t) for t in (*times, at)],
        temperatures_c=[held[0], *held, held[-1]],
        reference_c=coolest.temperature_c,
        activation_energy_kj_mol=energy,
    )
    left = max(0.0, coolest.life_min - age)
    at_last = left / rate_factor(
        temperature_c=held[-1], reference_c=coolest.temperature_c, activation_energy_kj_mol=energy
    )
    return FilmAgeView(
        reference_c=coolest.temperature_c,
        activation_energy_kj_mol=energy,
        bound=bound,
        age_min=age,
        life_min=coolest.life_min,
        left_min=left,
        last_temperature_c=temperatures[-1],
        left_at_last_min=at_last,
        # Hotter than the table there is no figure, only what it is older than.
        use_before=None if bound == AgeBound.OLDER else at + timedelta(seconds=int(at_last * 60)),
        sentence=_age_sentence(age, coolest, left, at_last, temperatures[-1], bound),
    )


def _ends(table: Sequence[LifePoint]) -> tuple[LifePoint, LifePoint]:
    ordered = sorted(table, key=lambda point: point.temperature_c)
    return ordered[0], ordered[-1]


def _energy(coolest: LifePoint, hottest: LifePoint) -> tuple[float, bool]:
    """The film's own activation energy from its table; that of the rule of thumb where the table has one point only."""
    thumb = hottest.temperature_c - coolest.temperature_c < _LEAST_SPAN_K
    if thumb:
        ten_hotter = coolest.temperature_c + 10
        twice = rule_of_thumb_factor(temperature_c=ten_hotter, reference_c=coolest.temperature_c)
        lives = {"life_1_min": coolest.life_min, "life_2_min": coolest.life_min / twice}
    else:
        ten_hotter = hottest.temperature_c
        lives = {"life_1_min": coolest.life_min, "life_2_min": hottest.life_min}
    energy = activation_energy_kj_mol(temperature_1_c=coolest.temperature_c, temperature_2_c=ten_hotter, **lives)
    return energy, thumb


def _held(
    temperatures: Sequence[float], coolest: LifePoint, hottest: LifePoint, *, thumb: bool
) -> tuple[list[float], AgeBound]:
    """The readings within the table, and what the age is then worth: cooler counts as its edge, hotter as at least."""
    low, high = coolest.temperature_c, coolest.temperature_c + 20 if thumb else hottest.temperature_c
    held = [min(max(t, low), high) for t in temperatures]
    if max(temperatures) > high:
        return held, AgeBound.OLDER
    if thumb:
        return held, AgeBound.THUMB
    return held, AgeBound.HELD if min(temperatures) < low else AgeBound.EXACT


def _age_sentence(age: float, point: LifePoint, left: float, at_last: float, last_c: float, bound: AgeBound) -> str:
    of = f"of {point.life_min:g} min at {point.temperature_c:g} °C"
    if bound == AgeBound.OLDER:
        return f"Older than {age:.0f} {of}: it was hotter than the table. Judge it by gloved finger."
    if left <= 0:
        sentence = f"All {of.removeprefix('of ')} are gone: its time is over."
    else:
        sentence = f"{age:.0f} {of} are gone; {at_last:.0f} min are left if the mould stays at {last_c:g} °C."
    if bound == AgeBound.THUMB:
        sentence += " By rule of thumb, twice as fast for every 10 K: the table has one point only."
    if bound == AgeBound.HELD:
        sentence += " It was cooler than the table and is counted as at its edge."
    return sentence
