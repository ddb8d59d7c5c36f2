"""The list of calculations. What each takes and gives is derived from its formula, in service.api."""

import marshmallow as ma

from schemas.base import Out


class ArgumentOut(ma.Schema):
    name = ma.fields.String(required=True)
    type = ma.fields.String(required=True)
    unit = ma.fields.String(required=True, metadata={"description": "Unit of the plain number; - for none."})
    meaning = ma.fields.String(required=True)
    required = ma.fields.Boolean(required=True)


class CalculationOut(Out):
    """One formula that can be asked without storing anything."""

    name = ma.fields.String(required=True)
    path = ma.fields.String(required=True)
    subject = ma.fields.String(required=True)
    summary = ma.fields.String(required=True)
    formula = ma.fields.String(required=True)
    valid_range = ma.fields.String(required=True)
    source = ma.fields.String(required=True, metadata={"description": "What the formula was checked against."})
    arguments = ma.fields.List(ma.fields.Nested(ArgumentOut), required=True)
    answer = ma.fields.String(required=True)
    example = ma.fields.Raw(required=True, metadata={"type": "object", "description": "A body that works."})
    example_text = ma.fields.String(required=True, metadata={"description": "The example with its documented answer."})

    EXAMPLE = {
        "name": "deviation_pct",
        "path": "/v1/calculations/deviation_pct",
        "subject": "Mix ratio by weight: targets, deviation, tolerance and correction.",
        "summary": "Signed deviation of the poured ratio from the stated one.",
        "formula": "`((b/a)/r - 1)*100`.",
        "valid_range": "Masses 0.001 g to 1e6 g; ratio 0.001 to 10.",
        "source": "Shop rule 16.",
        "arguments": [
            {"name": "resin_g", "type": "float", "unit": "g", "meaning": "Resin poured, a [g].", "required": True}
        ],
        "answer": "Deviation [%]; above zero means more hardener than stated.",
        "example": {"resin_g": 100, "hardener_g": 30.6, "ratio": 0.3},
        "example_text": ">>> deviation_pct(resin_g=100, hardener_g=30.6, ratio=0.30)\n2.0",
    }
