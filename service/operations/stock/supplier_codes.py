"""What a supplier's GS1 code says of the goods that it is on: article, lot, dates, net weight; read by biip."""

from dataclasses import dataclass
from datetime import date

from service.operations.door.refusals import Unprocessable
from service.records.materials import Material

# What a scanner sends between elements: FNC1 as the group separator, or as written for people.
_SEPARATORS = ("\x1d", "<GS>", "{GS}", "␝")


_SYMBOLOGY = ("]C1", "]d2", "]Q3", "]e0")


@dataclass(frozen=True, slots=True)
class SupplierCode:
    """The facts in a supplier's code, and the shop's material of that article number, if it has one."""

    gtin: str | None
    material: int | None
    makers_lot: str | None
    expires_on: date | None
    best_before: date | None
    made_on: date | None
    serial: str | None
    net_mg: int | None


def read_supplier_code(*, text: str) -> SupplierCode:
    """Read a supplier's GS1 code: an element string with or without brackets, with FNC1 as the scanner sends it."""
    import biip
    from biip.gs1_messages import GS1Message

    value = text
    for prefix in _SYMBOLOGY:
        value = value.removeprefix(prefix)
    for written in _SEPARATORS:
        value = value.replace(written, "\x1d")
    value = value.strip().strip("\x1d")
    try:
        message = GS1Message.parse_hri(value) if value.startswith("(") else GS1Message.parse(value)
    except biip.ParseError as error:
        # The library's own words follow the shop's: they name the element that stopped it.
        raise Unprocessable(
            f"This is not a GS1 code that can be read: {str(error).splitlines()[0][:160]}",
            pointer="/text",
            way_out="Scan the code again, or type lot and dates as the supplier's label says them.",
        ) from None
    found = {element.ai.ai: element for element in message.element_strings}
    misread = next((e for e in message.element_strings if e.gtin_error or e.sscc_error or e.gln_error), None)
    if misread is not None:
        raise Unprocessable(
            f"({misread.ai.ai}) {misread.value} was misread: its check digit does not fit. Scan the code again.",
            pointer="/text",
        )
    gtin = found["01"].value if "01" in found else None
    net = next((e.decimal for ai, e in found.items() if ai.startswith("310")), None)
    material = Material.get_or_none(Material.gtin == gtin) if gtin else None

    def day(ai: str) -> date | None:
        return found[ai].date if ai in found else None

    return SupplierCode(
        gtin=gtin,
        material=material.id if material else None,
        makers_lot=found["10"].value if "10" in found else None,
        expires_on=day("17"),
        best_before=day("15"),
        made_on=day("11"),
        serial=found["21"].value if "21" in found else None,
        net_mg=int(net * 1_000_000) if net is not None else None,
    )
