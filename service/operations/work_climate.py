"""Whether the air of the bench keeps what a data sheet asks for at work."""

from collections.abc import Sequence
from datetime import datetime, timedelta

from schemas.words import Kind
from service.formulas.climate import HIGHEST_C, LOWEST_C, within_limits
from service.operations import ledger
from service.records.items import Item
from service.records.materials import ResinSystem, StorageReading

# An older reading says nothing of the air at the bench now.
_FRESH = timedelta(hours=4)


def air_notices(
    row: ResinSystem, scale: Item, parts: Sequence[str], *, at: datetime, temperature_c: float | None, of_air: bool
) -> list[str]:
    """What speaks against working now, by the thermometer where the pot is weighed, or else where its part stands."""
    notices = []
    if temperature_c is not None and not of_air and _mix_outside(row, temperature_c):
        notices.append(f"The mix is at {temperature_c:g} °C, outside what the data sheet gives for work.")
    reading = _reading(scale, parts, at)
    said = temperature_c if of_air else None
    if said is not None:
        notices += _against(row, said, None)
    if reading is not None:
        # What the person says of the temperature is newer than the reading; of the humidity they say nothing.
        read = _against(row, reading.temperature_c if said is None else said, reading.humidity_pct)
        where = f"{reading.place.name} ({reading.place.code})"
        notices += [f"{where}: {sentence}" for sentence in read if sentence not in notices]
    return notices


def _mix_outside(row: ResinSystem, temperature_c: float) -> bool:
    """A mix may be warmer than any air that the limits of a room are about."""
    too_cold = row.work_low_c is not None and temperature_c < row.work_low_c
    return too_cold or (row.work_high_c is not None and temperature_c > row.work_high_c)


def _reading(scale: Item, parts: Sequence[str], at: datetime) -> StorageReading | None:
    """The newest reading of the place of the scale, or of the first part that stands where a reading was made."""
    for item in (scale, *(ledger.find(code, Kind.PART) for code in parts)):
        if item.place_id is None:
            continue
        made = StorageReading.occurred_at.between(at - _FRESH, at)
        readings = StorageReading.select().where((StorageReading.place == item.place_id) & made)
        newest = readings.order_by(StorageReading.occurred_at.desc(), StorageReading.id.desc()).first()
        if newest is not None:
            return newest
    return None


def _against(row: ResinSystem, air_c: float, humidity_pct: float | None) -> tuple[str, ...]:
    """Limits that the data sheet does not give are kept by any air, and a humidity that nobody read keeps its own."""
    if not LOWEST_C <= air_c <= HIGHEST_C:
        return (f"The air is at {air_c:g} °C; nobody works in that.",)
    humid = row.work_high_humidity_pct
    return within_limits(
        air_c=air_c,
        relative_humidity_pct=humidity_pct or 1.0,
        lowest_c=_room(row.work_low_c, LOWEST_C),
        highest_c=_room(row.work_high_c, HIGHEST_C),
        highest_humidity_pct=humid if humid and humidity_pct else 100.0,
    )


def _room(limit_c: float | None, otherwise: float) -> float:
    """A limit, if it is one of a room; one that no room keeps is about the mix."""
    return limit_c if limit_c is not None and LOWEST_C <= limit_c <= HIGHEST_C else otherwise
