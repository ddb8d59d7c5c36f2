"""Before a pour: can this scale carry the pot and show its ratio, and is the air good enough to begin?"""

import math
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta

from schemas.words import Kind, Purpose, ScaleForm
from service.formulas.climate import HIGHEST_C, LOWEST_C, within_limits
from service.formulas.scales import ScaleFacts, capable_scales
from service.formulas.weighing import LARGEST_SHARE_OF_TOLERANCE
from service.operations.door.operation import Work
from service.operations.door.refusals import ScaleTooCoarse, ScaleTooSmall, Unprocessable
from service.operations.ledger import ledger
from service.operations.ledger.amounts import grams
from service.operations.ledger.flags import stands
from service.operations.ledger.holding import require_not_held
from service.operations.pots.ability import ability
from service.operations.pots.scale import LoadedScale, able_scales, load_scales, require_able
from service.records.items import Item
from service.records.materials import ResinSystem, Scale, StorageReading
from service.records.parts import Part


def load_instruments(work: Work, *codes: str | None) -> dict[str, LoadedScale]:
    """Scales, measures or a pump by their codes, with their last checks."""
    items = {code: ledger.find(code, Kind.SCALE) for code in dict.fromkeys(code for code in codes if code)}
    loaded = load_scales(items.values(), at=work.act.occurred_at)
    return {code: loaded[item.id] for code, item in items.items()}


def check_scales(
    work: Work,
    *,
    instruments: Mapping[str, LoadedScale],
    scale: str,
    hardener_scale: str | None,
    resin_mg: int,
    hardener_mg: int,
    ratio: float,
    tolerance_pct: float,
    zeroed: bool,
    separate_cups: bool,
    resin_pours: int,
    hardener_pours: int,
    largest_mg: int,
    confirmed: bool,
) -> tuple[LoadedScale, LoadedScale, str | None]:
    """The scales of resin and hardener, and what they cannot know of so small a pot, if it is meant all the same.

    Where they are too coarse it is asked: a larger pot, a finer scale, or this pot on a permit (shop rule 18).
    """
    at = work.act.occurred_at
    other = hardener_scale or scale
    first, second = instruments[scale], instruments[other]
    require_not_held(*{one.item.id: one.item for one in (first, second)}.values())
    for one in (first, second):
        require_able(one, at=at, site=work.site)
    on, hardener_on = first.item, second.item
    if first.row.form == ScaleForm.PUMP:
        # What a pump can know goes by its shots; it carries no cup.
        return first, first, None
    total_mg = resin_mg + hardener_mg
    _carry(on, first.row, resin_mg if separate_cups or on.id != hardener_on.id else total_mg)
    # A cup that moves from one scale to the other brings the resin along; a measure holds what it measures alone.
    alone = separate_cups or second.row.form == ScaleForm.MEASURE
    _carry(hardener_on, second.row, hardener_mg if alone else total_mg)
    able = ability(
        resin_mg=resin_mg,
        hardener_mg=hardener_mg,
        ratio=ratio,
        tolerance_pct=tolerance_pct,
        resin_on=first.row,
        hardener_on=second.row,
        zeroed=zeroed or separate_cups,
        resin_pours=resin_pours,
        hardener_pours=hardener_pours,
    )
    if able.honest:
        return first, second, None
    uncertainty, smallest = able.uncertainty_pct, able.smallest_g
    capable = capable_in_shop(total_g=total_mg / 1000, ratio=ratio, tolerance_pct=tolerance_pct, work=work)
    way_out = []
    if smallest * 1000 > largest_mg:
        way_out.append(
            f"No pot can be proved on it: that takes {math.ceil(smallest)} g, the largest is {grams(largest_mg)}."
        )
    elif smallest * 1000 > total_mg:
        way_out.append(f"Mix at least {math.ceil(smallest)} g on it.")
    if not able.zeroed:
        way_out.append("Zeroing the scale between the pours helps.")
    if resin_pours + hardener_pours > 2:
        way_out.append("Fewer cans help: each is weighed apart.")
    way_out.append(
        f"Or take {' or '.join(capable)}." if capable else "No scale of the shop is fine enough for this pot."
    )
    way_out.append("Or say what it is for: that asks for a permit, which lead or quality signs.")
    sentence = (
        f"{hardener_on.code} {hardener_on.name} knows the ratio of {grams(total_mg)} to ± {uncertainty:.2g} %; "
        f"a third of the tolerance is {tolerance_pct * LARGEST_SHARE_OF_TOLERANCE:.2g} %."
    )
    if confirmed and work.act.why is None:
        raise Unprocessable(
            f"{sentence} Say what so small a pot is for.",
            pointer="/why",
            answer_with={"confirmed": True, "why": None},
        )
    if confirmed:
        return first, second, sentence
    raise ScaleTooCoarse(
        sentence,
        way_out=" ".join(way_out),
        answer_with={"confirmed": True, "why": None},
        uncertainty_pct=uncertainty,
        tolerance_pct=tolerance_pct,
        smallest_pot_g=math.ceil(smallest * 1000) / 1000,
        capable=capable,
    )


def _carry(item: Item, row: Scale, load_mg: int) -> None:
    if load_mg > row.maximum_mg:
        raise ScaleTooSmall(
            f"{item.code} {item.name} takes {grams(row.maximum_mg)} at most, the pot puts {grams(load_mg)} on it.",
            way_out="Take a larger scale, or mix a smaller pot. The cup counts too.",
            scale=item.code,
            maximum_g=row.maximum_mg / 1000,
        )


def capable_in_shop(*, total_g: float, ratio: float, tolerance_pct: float, work: Work) -> list[str]:
    """The scales of the shop that could weigh such a pot now."""
    able = able_scales(at=work.act.occurred_at, site=work.site)
    found = capable_scales(
        total_g=total_g, ratio=ratio, tolerance_pct=tolerance_pct, scales=[facts(item, row) for item, row in able]
    )
    return [one.name for one in found if one.honest]


def facts(item: Item, row: Scale) -> ScaleFacts:
    return ScaleFacts(
        name=item.code,
        interval_g=row.interval_mg / 1000,
        repeatability_g=row.repeatability_mg / 1000,
        maximum_g=row.maximum_mg / 1000,
    )


def design_notices(part: Part, system: str, purpose: Purpose) -> list[str]:
    """What the design of a part asks for and the pot is not; it is said before anything is poured and stops nobody."""
    needs = part.design.resin_need
    asked = list(dict.fromkeys(need["system"] for need in needs if need["purpose"] == purpose))
    if asked and system not in asked:
        return [f"The design of {part.item.code} asks for {' or '.join(asked)} as {purpose}; this pot is {system}."]
    if needs and not asked:
        return [f"The design of {part.item.code} asks for no mix for {purpose}."]
    return []


# An older reading says nothing of the air at the bench now.
_FRESH = timedelta(hours=4)


def air_notices(
    row: ResinSystem, where: Sequence[Item], *, at: datetime, temperature_c: float | None, of_air: bool
) -> list[str]:
    """What speaks against working now, by the thermometer where the pot is weighed, or else where its part stands.

    `where` are the scale and the parts.
    """
    notices = []
    if temperature_c is not None and not of_air and _mix_outside(row, temperature_c):
        notices.append(f"The mix is at {temperature_c:g} °C, outside what the data sheet gives for work.")
    reading = _reading(where, at)
    said = temperature_c if of_air else None
    if said is not None:
        notices += _against(row, said, None)
    if reading is not None:
        # What the person says of the temperature is newer than the reading; of the humidity they say nothing.
        read = _against(row, reading.temperature_c if said is None else said, reading.humidity_pct)
        place = f"{reading.place.name} ({reading.place.code})"
        notices += [f"{place}: {sentence}" for sentence in read if sentence not in notices]
    return notices


def _mix_outside(row: ResinSystem, temperature_c: float) -> bool:
    """A mix may be warmer than any air that the limits of a room are about."""
    too_cold = row.work_low_c is not None and temperature_c < row.work_low_c
    return too_cold or (row.work_high_c is not None and temperature_c > row.work_high_c)


def _reading(where: Sequence[Item], at: datetime) -> StorageReading | None:
    """The newest reading of the place of the scale, or of the first part that stands where a reading was made."""
    places = [item.place_id for item in where if item.place_id is not None]
    if not places:
        return None
    query = StorageReading.select(StorageReading, Item).join(Item)
    made = StorageReading.occurred_at.between(at - _FRESH, at) & stands(StorageReading.deed)
    newest: dict[int, StorageReading] = {}
    for reading in query.where(StorageReading.place.in_(places) & made).order_by(
        StorageReading.occurred_at, StorageReading.id
    ):
        newest[reading.place_id] = reading
    return next((newest[place] for place in places if place in newest), None)


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
