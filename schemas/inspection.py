"""Inspection, nonconformances, release and shipment."""

import marshmallow as ma

from schemas.base import ActIn, PageIn
from schemas.fields import Code, Day, Number, Text, Word, Yes
from schemas.words import DefectKind, Disposition


class MeasurementIn(ma.Schema):
    """One measured value, judged by its limits where it has any."""

    name = Text(required=True, longest=60)
    value = Number(-1e9, 1e9, required=True)
    unit = Text(longest=20, allow_none=True)
    low = Number(-1e9, 1e9, allow_none=True)
    high = Number(-1e9, 1e9, allow_none=True)


class SampleIn(ma.Schema):
    """A sample cut from the part, its density measured: fibre, resin and voids by volume follow."""

    zone = Text(required=True, longest=40, metadata={"description": "Where it was cut."})
    density_g_cm3 = Number(0.01, 25, required=True)
    fibre_mass_fraction = Number(
        0.01, 0.99, allow_none=True,
        metadata={"description": "Measured on the sample; that of the weighed part, if left out."},
    )  # fmt: skip
    most_voids_pct = Number(0, 100, allow_none=True, metadata={"description": "More voids than this do not pass."})


class FoundDefectIn(ma.Schema):
    """A defect in the trade's words: what, where, how large."""

    kind = Word(DefectKind, required=True)
    zone = Text(required=True, longest=40)
    size_mm = Number(0.01, 100_000, allow_none=True)
    limit_mm = Number(0, 100_000, allow_none=True)
    remark = Text(longest=300, allow_none=True)


class DefectIn(FoundDefectIn):
    accepted = Yes(required=True)


class InspectionIn(ActIn):
    EXAMPLE = {
        "accepted": True,
        "measurements": [{"name": "thickness, root", "value": 3.1, "unit": "mm", "low": 2.9, "high": 3.4}],
        "samples": [{"zone": "flange", "density_g_cm3": 1.5, "fibre_mass_fraction": 0.65, "most_voids_pct": 2}],
        "defects": [{"kind": "pinhole", "zone": "tip", "size_mm": 0.5, "limit_mm": 1, "accepted": True}],
    }
    accepted = Yes(required=True)
    remark = Text(longest=500)
    measurements = ma.fields.List(ma.fields.Nested(MeasurementIn), validate=ma.validate.Length(0, 100))
    samples = ma.fields.List(ma.fields.Nested(SampleIn), validate=ma.validate.Length(0, 20))
    defects = ma.fields.List(ma.fields.Nested(DefectIn), validate=ma.validate.Length(0, 100))


class NonconformanceIn(ActIn):
    EXAMPLE = {"item": "P00087K", "found": "cracked at the root on the water", "in_service": True, "failed": True}
    item = Code("LCKMPTSRA", required=True)
    found = Text(required=True, longest=500)
    in_service = Yes(metadata={"description": "Found by the one who uses it."})
    failed = Yes(metadata={"description": "It broke, or no longer does what it is for."})
    defects = ma.fields.List(ma.fields.Nested(FoundDefectIn), validate=ma.validate.Length(0, 100))


class DecisionIn(ActIn):
    EXAMPLE = {"disposition": "repair", "because": "scarf 1:20 by the repair sheet, away from the bolt"}
    disposition = Word(Disposition, required=True)
    because = Text(required=True, longest=500)


class NonconformanceQuery(PageIn):
    item = Code("LCKMPTSRA")
    decided = Yes()
    in_service = Yes()
    failed = Yes()


class ReleaseIn(ActIn):
    EXAMPLE = {"reviewed": True}
    reviewed = Yes(metadata={"description": "What had to be read was read."})


class ShipmentIn(ActIn):
    EXAMPLE = {"customer": "Rowing club", "document": "delivery note 1187", "shipped_on": "2026-11-10"}
    customer = Text(longest=100, metadata={"description": "The customer that it was started for, if left out."})
    document = Text(required=True, longest=60)
    shipped_on = Day()
