"""Inspection, nonconformances, release and shipment."""

import marshmallow as ma

from schemas.base import ActIn, Out, PageIn
from schemas.fields import Code, Day, Moment, Number, Text, Word, Yes
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


class InspectionOut(Out):
    id = ma.fields.Integer()
    accepted = ma.fields.Boolean()
    remark = ma.fields.String(allow_none=True)
    measurements = ma.fields.List(ma.fields.Dict())
    occurred_at = Moment()
    by = ma.fields.String()


class DefectOut(Out):
    kind = ma.fields.String()
    zone = ma.fields.String()
    size_mm = ma.fields.Float(allow_none=True)
    limit_mm = ma.fields.Float(allow_none=True)
    accepted = ma.fields.Boolean()
    remark = ma.fields.String(allow_none=True)
    inspection = ma.fields.Integer(allow_none=True)
    nonconformance = ma.fields.Integer(allow_none=True)


class NonconformanceOut(Out):
    EXAMPLE = {
        "id": 4,
        "item": "P00087K",
        "found": "delamination in root, 12 mm",
        "in_service": False,
        "failed": False,
        "opened_at": "2026-11-05T10:00:00Z",
        "opened_by": "Ida Holm",
        "defects": [],
        "disposition": None,
        "decided_because": None,
        "decided_at": None,
        "decided_by": None,
    }
    id = ma.fields.Integer()
    item = ma.fields.String()
    found = ma.fields.String()
    in_service = ma.fields.Boolean()
    failed = ma.fields.Boolean()
    opened_at = Moment()
    opened_by = ma.fields.String()
    defects = ma.fields.List(ma.fields.Nested(DefectOut))
    disposition = ma.fields.String(allow_none=True)
    decided_because = ma.fields.String(allow_none=True)
    decided_at = Moment(allow_none=True)
    decided_by = ma.fields.String(allow_none=True)


class ReleaseIn(ActIn):
    EXAMPLE = {"reviewed": True}
    reviewed = Yes(metadata={"description": "What had to be read was read."})


class ReviewOut(Out):
    item = ma.fields.String()
    kind = ma.fields.String()
    what = ma.fields.String()


class OpenOut(ReviewOut):
    who = ma.fields.String(metadata={"description": "Whose it is to settle."})


class ReleaseCheckOut(Out):
    EXAMPLE = {
        "code": "P00087K",
        "open": [{"item": "P00087K", "kind": "no-inspection", "what": "It was not inspected.", "who": "laminator"}],
        "review": [{"item": "K00019V", "kind": "kit-mass", "what": "The kit is 96.0 g lighter than expected."}],
    }
    code = ma.fields.String()
    open = ma.fields.List(ma.fields.Nested(OpenOut))
    review = ma.fields.List(ma.fields.Nested(ReviewOut))


class ShipmentIn(ActIn):
    EXAMPLE = {"customer": "Rowing club", "document": "delivery note 1187", "shipped_on": "2026-11-10"}
    customer = Text(longest=100, metadata={"description": "The customer that it was started for, if left out."})
    document = Text(required=True, longest=60)
    shipped_on = Day()
