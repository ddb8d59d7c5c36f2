"""Before a pour: can this scale carry the pot, and show its ratio well enough?"""

import math

from schemas.words import Kind
from service.formulas.scales import ScaleFacts, capable_scales
from service.formulas.weighing import LARGEST_SHARE_OF_TOLERANCE
from service.operations import ledger
from service.operations.holding import require_not_held
from service.operations.operation import Work
from service.operations.pot_scales import ability
from service.operations.pots import grams
from service.operations.refusals import ScaleTooCoarse, ScaleTooSmall
from service.operations.scales import able_scales, require_able
from service.records.items import Item
from service.records.materials import Scale


def check_scales(
    work: Work,
    *,
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
) -> tuple[Item, Item]:
    """The scales of resin and hardener, if they are able; else what is, and from which pot on these are."""
    at = work.act.occurred_at
    on = ledger.find(scale, Kind.SCALE)
    hardener_on = ledger.find(hardener_scale or scale, Kind.SCALE)
    rows = {}
    for item in (on, hardener_on):
        require_not_held(item)
        rows[item.id] = require_able(item, at=at, site=work.site)
    total_mg = resin_mg + hardener_mg
    _carry(on, rows[on.id], resin_mg if separate_cups or on.id != hardener_on.id else total_mg)
    # A cup that moves from one scale to the other brings the resin along.
    _carry(hardener_on, rows[hardener_on.id], hardener_mg if separate_cups else total_mg)
    able = ability(
        resin_mg=resin_mg,
        hardener_mg=hardener_mg,
        ratio=ratio,
        tolerance_pct=tolerance_pct,
        resin_on=rows[on.id],
        hardener_on=rows[hardener_on.id],
        zeroed=zeroed or separate_cups,
        resin_pours=resin_pours,
        hardener_pours=hardener_pours,
    )
    if able.honest:
        return on, hardener_on
    uncertainty, smallest = able.uncertainty_pct, able.smallest_g
    capable = capable_in_shop(total_g=total_mg / 1000, ratio=ratio, tolerance_pct=tolerance_pct, work=work)
    way_out = [f"Mix at least {math.ceil(smallest)} g on it."] if smallest * 1000 > total_mg else []
    if not able.zeroed:
        way_out.append("Zeroing the scale between the pours helps.")
    if resin_pours + hardener_pours > 2:
        way_out.append("Fewer cans help: each is weighed apart.")
    way_out.append(
        f"Or take {' or '.join(capable)}." if capable else "No scale of the shop is fine enough for this pot."
    )
    raise ScaleTooCoarse(
        f"{hardener_on.code} {hardener_on.name} knows the ratio of {grams(total_mg)} to ± {uncertainty:.2g} %; "
        f"a third of the tolerance is {tolerance_pct * LARGEST_SHARE_OF_TOLERANCE:.2g} %.",
        way_out=" ".join(way_out),
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
