"""Which component of a pot a can is, and what is wrong with it if it is not of this recipe."""

from schemas.words import Component, MaterialKind, Unit
from service.operations.door.refusals import Unprocessable
from service.operations.pots.pot import Pot
from service.operations.pots.systems import HARDENER_KINDS, RESIN_KINDS
from service.operations.stock.peroxides import is_organic_peroxide
from service.records.items import Item
from service.records.materials import Material


def component_of(pot: Pot, can: Item, material: Material) -> tuple[Component, str | None]:
    """Which component a can is, and what is wrong with it if it is not of this recipe."""
    if can.unit != Unit.MILLIGRAM:
        raise Unprocessable(f"{can.code} is not kept by mass; it cannot be poured.", pointer="/container")
    if material.id == pot.system["resin"]:
        return Component.RESIN, None
    if material.id == pot.hardener["material"]:
        return Component.HARDENER, None
    promoter = (pot.catalyst or {}).get("promoter")
    if promoter is not None and material.id == promoter["material"]:
        return Component.PROMOTER, None
    if material.id in [part["material"] for part in (pot.blend or {}).get("of", ())]:
        return Component.HARDENER, None
    expected = f"this pot is {pot.system['resin_name']} with {pot.hardener['name']}"
    sentence = f"{can.code} {material.name} was poured; {expected}."
    kind = MaterialKind(material.kind)
    if kind in RESIN_KINDS:
        return Component.RESIN, sentence
    if kind == MaterialKind.PROMOTER:
        return Component.PROMOTER, sentence
    if kind in HARDENER_KINDS or is_organic_peroxide(material):
        return Component.HARDENER, sentence
    raise Unprocessable(
        f"{can.code} is {material.kind}, neither resin nor hardener.",
        way_out="Record it with the fillers of this pot; what does not belong there is flagged.",
        pointer="/container",
    )
