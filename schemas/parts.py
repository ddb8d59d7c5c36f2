"""Parts: started, laid up, closed, demoulded, trimmed, fitted, inspected, released, shipped."""

from typing import Any

import marshmallow as ma

from schemas.base import ActIn, PageIn
from schemas.defects import DEFECTS, DefectKind
from schemas.fields import (
    ANY_ITEM,
    Code,
    Day,
    Grams,
    Moment,
    Number,
    Text,
    Whole,
    Word,
    Yes,
    held_or_free,
    taken_despite,
)
from schemas.words import Disposition, Face, PartState, ScrappedAs, StepKind, Tack


class PartIn(ActIn):
    design = Whole(1, metadata={"description": "The design's number; or else part_number."})
    part_number = Text(longest=40)
    revision = Text(longest=10, metadata={"description": "The revision approved last, if left out."})
    mould = Code("T")
    order = Text(longest=60)
    customer = Text(longest=100)
    confirmed = Yes(metadata={"description": "The mould is right as it is; `why` says why."})


class LayKitIn(ActIn):
    kit = Code("K", required=True)
    backers_counted = Whole(0, 1000)


class LayPlyIn(ActIn):
    number = Whole(1, 1000, required=True)
    source = Code("CK", required=True, metadata={"description": "The roll, the core's container, or the kit."})
    angle_deg = Number(-360, 360, required=True)
    face = Word(Face)
    zone = Text(longest=40)
    length_mm = Whole(1, 10_000_000, metadata={"description": "What was cut off the roll."})
    mass_g = Grams(metadata={"description": "Core that is kept by mass."})
    pieces = Whole(1, 1_000_000, metadata={"description": "Core that is kept by the piece."})
    confirmed = Yes(metadata={"description": "It lies in the mould like this, whatever the design says."})
    despite_reservation = taken_despite()


class UseIn(ActIn):
    container = Code("C", required=True)
    purpose = Text(required=True, longest=60)
    mass_g = Grams()
    pieces = Whole(1, 1_000_000)
    confirmed = Yes(metadata={"description": "It is this container, though the book has less in it."})
    despite_reservation = taken_despite()


class CloseIn(ActIn):
    remark = Text(longest=300)


class FitIn(ActIn):
    component = Code("P", required=True)


class DemouldIn(ActIn):
    temperature_c = Number(-50, 300)
    remark = Text(longest=300)
    damage = Text(longest=300)


class TrimIn(ActIn):
    mass_g = Grams(metadata={"description": "The part after the trim."})
    trimmed_off_g = Grams(low=0, metadata={"description": "What was cut off, weighed."})
    remark = Text(longest=300)


class PartScrapIn(ActIn):
    method = Text(required=True, longest=200)
    scrapped_as = Word(
        ScrappedAs,
        metadata={
            "description": "failed: it counts as a failure; tested: sectioned or tested for what that tells; not"
            " wanted: nothing is wrong with it. Unless said, not wanted if its order was cancelled, else failed. What"
            " was rejected, came back or was found unfit has failed whatever is said here."
        },
    )


class PartQuery(PageIn):
    state = Word(PartState)
    design = Whole(1)
    part_number = Text(longest=40)
    mould = Code("T")
    order = Text(longest=60)
    customer = Text(longest=100)
    released = Yes()
    on_hold = held_or_free()
    started_from = Moment(metadata={"description": "Begun at this time or later."})
    started_before = Moment(metadata={"description": "Begun before this time."})


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

    kind = Word(
        DefectKind, required=True,
        metadata={"description": "; ".join(f"{kind}: {said}" for kind, said in DEFECTS.items()) + "."},
    )  # fmt: skip
    zone = Text(required=True, longest=40)
    size_mm = Number(0.01, 100_000, allow_none=True)
    limit_mm = Number(0, 100_000, allow_none=True)
    remark = Text(longest=300, allow_none=True)


class DefectIn(FoundDefectIn):
    accepted = Yes(required=True)


class InspectionIn(ActIn):
    accepted = Yes(required=True)
    remark = Text(longest=500)
    measurements = ma.fields.List(ma.fields.Nested(MeasurementIn), validate=ma.validate.Length(0, 100))
    samples = ma.fields.List(ma.fields.Nested(SampleIn), validate=ma.validate.Length(0, 20))
    defects = ma.fields.List(ma.fields.Nested(DefectIn), validate=ma.validate.Length(0, 100))


class NonconformanceIn(ActIn):
    item = Code(ANY_ITEM, required=True)
    found = Text(required=True, longest=500)
    in_service = Yes(metadata={"description": "Found by the one who uses it."})
    failed = Yes(metadata={"description": "It broke, or no longer does what it is for."})
    defects = ma.fields.List(ma.fields.Nested(FoundDefectIn), validate=ma.validate.Length(0, 100))


class DecisionIn(ActIn):
    disposition = Word(Disposition, required=True)
    because = Text(required=True, longest=500)


class NonconformanceQuery(PageIn):
    item = Code(ANY_ITEM)
    decided = Yes()
    in_service = Yes()
    failed = Yes()


class ReleaseIn(ActIn):
    reviewed = Yes(metadata={"description": "What had to be read was read."})


class ShipmentIn(ActIn):
    customer = Text(longest=100, metadata={"description": "The customer that it was started for, if left out."})
    document = Text(required=True, longest=60)
    shipped_on = Day()
