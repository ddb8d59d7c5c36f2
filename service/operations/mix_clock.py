"""The cup's clock: from first contact, by mass and temperature of the mix, by the tables of the frozen copy."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from service.formulas.clocks import Life, LifePoint, corrected_deadline_min, life_min, rule_of_thumb_life
from service.formulas.tray import tray_deadline_min
from service.operations.pots import Pot, load_pot, minutes_between, update_mix
from service.records.items import Item


@dataclass(frozen=True, slots=True)
class Clock:
    """How long a pot may be worked, from first contact.

    `use_before` is missing where the table gives no figure; `over_after` is then the time from which it is surely over,
    as far as the table says.
    """

    life_min: float | None
    use_before: datetime | None
    over_after: datetime | None
    note: str | None
    bound: str | None = None

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
        bound=found.bound,
    )


def clock_of(pot: Pot) -> Clock:
    """The clock as it stands; after a correction the life is that of the new mass, from the same contact."""
    mix = pot.mix
    if mix.contact_at is None:
        return Clock(None, None, None, None)
    if mix.temperature_c is None:
        return Clock(None, None, None, "The temperature of the mix is not known, so neither is its pot life.")
    # Hardener still to come makes it heavier: the deadline is not to shrink while it is being poured.
    mass_g = (pot.resin_mg + max(pot.hardener_mg, round(pot.resin_mg * mix.ratio))) / 1000
    if mass_g <= 0:
        return Clock(None, None, None, "Nothing has been poured yet.")
    cup = table_life(points=pot.cup_life, mass_g=mass_g, temperature_c=mix.temperature_c)
    note = cup.sentence
    worth: str = cup.bound
    minutes, bound = cup.minutes, cup.shorter_than_min
    if mix.in_tray_at is not None:
        minutes, bound, note, worth = _in_tray(pot, cup, mass_g)
    if mix.temperature_of_air:
        note += " Reckoned with the temperature of the air; the mix may be warmer."
    return Clock(
        life_min=minutes,
        use_before=None if minutes is None else _after(mix.contact_at, minutes),
        over_after=None if bound is None else _after(mix.contact_at, bound),
        note=note,
        bound=worth,
    )


def _in_tray(pot: Pot, cup: Life, mass_g: float) -> tuple[float | None, float | None, str, str]:
    mix = pot.mix
    if not pot.tray_life:
        return (
            cup.minutes,
            cup.shorter_than_min,
            f"{cup.sentence} There is no table for a tray: the cup's time is kept.",
            cup.bound,
        )
    tray = table_life(points=pot.tray_life, mass_g=mass_g, temperature_c=mix.temperature_c)
    if cup.minutes is None or tray.minutes is None:
        first = cup if cup.minutes is None else tray
        return (
            None,
            first.shorter_than_min,
            f"{'In the cup' if cup.minutes is None else 'In the tray'}: {first.sentence}",
            first.bound,
        )
    moved = max(0.0, minutes_between(mix.contact_at, mix.in_tray_at))
    minutes = tray_deadline_min(cup_life_min=cup.minutes, tray_life_min=tray.minutes, moved_after_min=moved)
    # What rests on a rule of thumb in either place is a rule of thumb.
    worth = cup.bound if cup.bound == "rule of thumb" else tray.bound
    thumb = " In the cup by rule of thumb." if cup.bound == "rule of thumb" else ""
    note = f"{minutes:.1f} min from first contact, in a tray after {moved:.0f} min. {tray.sentence}{thumb}"
    return minutes, None, note, worth


def _after(contact: datetime, minutes: float) -> datetime:
    """Whole seconds, earlier rather than later."""
    return contact + timedelta(seconds=int(minutes * 60))


def set_clock(item: Item) -> None:
    """Work the clock out again after anything that it hangs on has changed."""
    clock = clock_of(load_pot(item))
    update_mix(item, use_before=clock.use_before, life_note=clock.note)
