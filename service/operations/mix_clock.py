"""The cup's clock: from first contact, by mass and temperature of the mix, by the tables of the frozen copy."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from service.formulas.clocks import Life, life_min
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

    def over(self, at: datetime) -> bool:
        limit = self.use_before or self.over_after
        return limit is not None and at > limit


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
    cup = life_min(points=pot.cup_life, mass_g=mass_g, temperature_c=mix.temperature_c)
    note = cup.sentence
    minutes, bound = cup.minutes, cup.shorter_than_min
    if mix.in_tray_at is not None:
        minutes, bound, note = _in_tray(pot, cup, mass_g)
    if mix.temperature_of_air:
        note += " Reckoned with the temperature of the air; the mix may be warmer."
    return Clock(
        life_min=minutes,
        use_before=None if minutes is None else _after(mix.contact_at, minutes),
        over_after=None if bound is None else _after(mix.contact_at, bound),
        note=note,
    )


def _in_tray(pot: Pot, cup: Life, mass_g: float) -> tuple[float | None, float | None, str]:
    mix = pot.mix
    if not pot.tray_life:
        return (
            cup.minutes,
            cup.shorter_than_min,
            f"{cup.sentence} There is no table for a tray: the cup's time is kept.",
        )
    tray = life_min(points=pot.tray_life, mass_g=mass_g, temperature_c=mix.temperature_c)
    if cup.minutes is None or tray.minutes is None:
        first = cup if cup.minutes is None else tray
        return (
            None,
            first.shorter_than_min,
            f"{'In the cup' if cup.minutes is None else 'In the tray'}: {first.sentence}",
        )
    moved = max(0.0, minutes_between(mix.contact_at, mix.in_tray_at))
    minutes = tray_deadline_min(cup_life_min=cup.minutes, tray_life_min=tray.minutes, moved_after_min=moved)
    return minutes, None, f"{minutes:.1f} min from first contact, in a tray after {moved:.0f} min. {tray.sentence}"


def _after(contact: datetime, minutes: float) -> datetime:
    """Whole seconds, earlier rather than later."""
    return contact + timedelta(seconds=int(minutes * 60))


def set_clock(item: Item) -> None:
    """Work the clock out again after anything that it hangs on has changed."""
    clock = clock_of(load_pot(item))
    update_mix(item, use_before=clock.use_before, life_note=clock.note)
