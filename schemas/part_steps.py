"""Steps on a part: one shape, of which each kind takes its own fields."""

from typing import Any

import marshmallow as ma

from schemas.base import ActIn
from schemas.fields import Grams, Number, Text, Whole, Word, Yes
from schemas.words import StepKind, Tack

# Kind -> what it needs and what it may have besides a remark and a zone.
_FIELDS: dict[StepKind, tuple[tuple[str, ...], tuple[str, ...]]] = {
    StepKind.TACK_TEST: (("result",), ("temperature_c",)),
    StepKind.GEL_COAT_THICKNESS: (("thickness_mm",), ()),
    StepKind.CLIMATE: (("air_c", "humidity_pct", "surface_c"), ("least_margin_k",)),
    StepKind.BACKERS: (("counted", "expected"), ()),
    StepKind.BAG: ((), ()),
    StepKind.DROP_TEST: (("start_mbar", "end_mbar", "minutes", "gauge"), ()),
    StepKind.VACUUM: (("least_mbar", "until_gel"), ("minutes", "gauge")),
    StepKind.MASS: (("mass_g",), ()),
    StepKind.NOTE: (("remark",), ()),
}
_ALWAYS = ("remark", "zone")
# The margin of the 3 K rule (from a galvanising manual), unless the data sheet asks for another.
_MARGIN_K = 3.0


class PartStepIn(ActIn):
    EXAMPLE = {"kind": "drop test", "start_mbar": 910, "end_mbar": 896, "minutes": 5, "gauge": "G2"}
    kind = Word(StepKind, required=True)
    result = Word(Tack, metadata={"description": "tack test, by gloved finger: lifts, marks or dry."})
    temperature_c = Number(-50, 200)
    thickness_mm = Number(0.01, 10, metadata={"description": "gel coat thickness: wet, as the comb shows it."})
    air_c = Number(-45, 60, metadata={"description": "climate"})
    humidity_pct = Number(0.1, 100)
    surface_c = Number(-45, 200)
    least_margin_k = Number(
        0, 20, metadata={"description": "How far above the dew point the surface has to be; 3 K if left out."}
    )
    counted = Whole(0, 1000, metadata={"description": "backers"})
    expected = Whole(0, 1000)
    start_mbar = Number(0, 1100, metadata={"description": "drop test: vacuum below the air's pressure."})
    end_mbar = Number(0, 1100)
    minutes = Number(0, 10_000)
    gauge = Text(longest=40)
    least_mbar = Number(0, 1100, metadata={"description": "vacuum: the least that there was."})
    until_gel = Yes(metadata={"description": "vacuum: held until the resin had gelled."})
    mass_g = Grams()
    zone = Text(longest=40)
    remark = Text(longest=500)

    GATHERS = {"facts": {*_ALWAYS, *(name for needed, allowed in _FIELDS.values() for name in (*needed, *allowed))}}

    @ma.post_load
    def gather_facts(self, data: dict[str, Any], **kwargs: Any) -> dict[str, Any]:
        kind = data["kind"]
        outside = {"kind", "occurred_at", "why"}
        facts = {name: data.pop(name) for name in list(data) if name not in outside}
        if "mass_mg" in facts:
            facts["mass_g"] = facts.pop("mass_mg") / 1000
        needed, allowed = _FIELDS[kind]
        missing = [name for name in needed if name not in facts]
        strange = [name for name in facts if name not in (*needed, *allowed, *_ALWAYS)]
        if missing:
            raise ma.ValidationError(f"A step of kind {kind} needs {', '.join(needed)}.", field_name=missing[0])
        if strange:
            raise ma.ValidationError(f"A step of kind {kind} has no {strange[0]}.", field_name=strange[0])
        if kind == StepKind.CLIMATE:
            facts.setdefault("least_margin_k", _MARGIN_K)
        return {**data, "facts": facts}
