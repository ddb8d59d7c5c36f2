"""Parts: started, laid up, closed, demoulded, trimmed, fitted; and how they are read."""

import marshmallow as ma

from schemas.base import ActIn, Out, PageIn
from schemas.designs import DesignRefOut
from schemas.fields import Code, Grams, Moment, Number, Text, Whole, Word, Yes
from schemas.inspection import DefectOut, InspectionOut, NonconformanceOut
from schemas.items import HoldRef, ItemOut
from schemas.trace import FlagOut
from schemas.words import Face, State


class PartIn(ActIn):
    EXAMPLE = {"part_number": "HY-204", "revision": "B", "mould": "T00002S", "order": "4471", "customer": "Rowing club"}
    design = Whole(1, metadata={"description": "The design's number; or else part_number."})
    part_number = Text(longest=40)
    revision = Text(longest=10, metadata={"description": "The revision approved last, if left out."})
    mould = Code("T")
    order = Text(longest=60)
    customer = Text(longest=100)
    confirmed = Yes(metadata={"description": "The mould is right as it is; `why` says why."})


class LayKitIn(ActIn):
    EXAMPLE = {"kit": "K00019V", "backers_counted": 6}
    kit = Code("K", required=True)
    backers_counted = Whole(0, 1000)


class LayPlyIn(ActIn):
    EXAMPLE = {"number": 3, "source": "C003183", "angle_deg": 45, "face": "up", "zone": "root", "length_mm": 900}
    number = Whole(1, 1000, required=True)
    source = Code("CK", required=True, metadata={"description": "The roll, the core's container, or the kit."})
    angle_deg = Number(-360, 360, required=True)
    face = Word(Face)
    zone = Text(longest=40)
    length_mm = Whole(1, 10_000_000, metadata={"description": "What was cut off the roll."})
    mass_g = Grams(metadata={"description": "Core that is kept by mass."})
    pieces = Whole(1, 1_000_000, metadata={"description": "Core that is kept by the piece."})
    confirmed = Yes(metadata={"description": "It lies in the mould like this, whatever the design says."})


class UseIn(ActIn):
    EXAMPLE = {"container": "C003183", "purpose": "core, root", "mass_g": 42.5}
    container = Code("C", required=True)
    purpose = Text(required=True, longest=60)
    mass_g = Grams()
    pieces = Whole(1, 1_000_000)
    confirmed = Yes(metadata={"description": "It is this container, though the book has less in it."})


class CloseIn(ActIn):
    EXAMPLE = {"remark": "twelve plies, twelve backers"}
    remark = Text(longest=300)


class FitIn(ActIn):
    EXAMPLE = {"component": "P00087K"}
    component = Code("P", required=True)


class DemouldIn(ActIn):
    EXAMPLE = {"temperature_c": 31, "remark": "came off by hand"}
    temperature_c = Number(-50, 300)
    remark = Text(longest=300)
    damage = Text(longest=300)


class TrimIn(ActIn):
    EXAMPLE = {"mass_g": 1300, "trimmed_off_g": 260}
    mass_g = Grams(metadata={"description": "The part after the trim."})
    trimmed_off_g = Grams(low=0, metadata={"description": "What was cut off, weighed."})
    remark = Text(longest=300)


class PartScrapIn(ActIn):
    EXAMPLE = {"method": "cut up", "why": "cracked by the wedges"}
    method = Text(required=True, longest=200)


class PartQuery(PageIn):
    state = Word(State)
    design = Whole(1)
    part_number = Text(longest=40)
    mould = Code("T")
    order = Text(longest=60)
    customer = Text(longest=100)
    released = Yes()


class PartRowOut(Out):
    EXAMPLE = {
        "code": "P00087K",
        "name": "Tiller blade, port half",
        "state": "laying",
        "design": {"id": 3, "part_number": "HY-204", "revision": "B", "name": "Tiller blade, port half"},
        "mould": "T00002S",
        "order": "4471",
        "customer": "Rowing club",
        "started_at": "2026-11-03T08:00:00Z",
        "released_at": None,
        "on_hold": False,
        "version": 3,
    }
    code = ma.fields.String()
    name = ma.fields.String()
    state = ma.fields.String()
    design = ma.fields.Nested(DesignRefOut)
    mould = ma.fields.String(allow_none=True)
    order = ma.fields.String(allow_none=True)
    customer = ma.fields.String(allow_none=True)
    started_at = Moment()
    laid_up_at = Moment(allow_none=True)
    demoulded_at = Moment(allow_none=True)
    released_at = Moment(allow_none=True)
    shipped_at = Moment(allow_none=True)
    on_hold = ma.fields.Boolean()
    version = ma.fields.Integer()


class LaidOut(Out):
    number = ma.fields.Integer()
    source = ma.fields.String()
    angle_deg = ma.fields.Float(allow_none=True)
    face = ma.fields.String(allow_none=True)
    zone = ma.fields.String(allow_none=True)
    in_order = ma.fields.Boolean()
    occurred_at = Moment()
    by = ma.fields.String()


class WentInOut(Out):
    code = ma.fields.String()
    kind = ma.fields.String()
    name = ma.fields.String()
    movement = ma.fields.String()
    purpose = ma.fields.String(allow_none=True)
    zone = ma.fields.String(allow_none=True)
    mass_g = Grams(allow_none=True)
    length_mm = ma.fields.Integer(allow_none=True)
    pieces = ma.fields.Integer(allow_none=True)
    estimated = ma.fields.Boolean()
    occurred_at = Moment()


class PartCureOut(Out):
    code = ma.fields.String()
    schedule = ma.fields.String()
    revision = ma.fields.Integer()
    post_cure = ma.fields.Boolean()
    started_at = Moment()
    ended_at = Moment(allow_none=True)
    evidence = ma.fields.String(allow_none=True)
    passed = ma.fields.Boolean(allow_none=True)


class StepOut(Out):
    kind = ma.fields.String()
    facts = ma.fields.Dict()
    passed = ma.fields.Boolean(allow_none=True)
    occurred_at = Moment()
    by = ma.fields.String()


class ShipmentOut(Out):
    customer = ma.fields.String()
    document = ma.fields.String()
    shipped_on = ma.fields.Date()
    by = ma.fields.String()


class TrimFiguresOut(Out):
    missing = ma.fields.String(allow_none=True, metadata={"description": "What has to be known first, in a sentence."})
    resin_g = ma.fields.Float(allow_none=True)
    resin_mass_fraction = ma.fields.Float(allow_none=True)
    fibre_mass_fraction = ma.fields.Float(allow_none=True)
    fibre_volume_fraction = ma.fields.Float(allow_none=True)
    thickness_mm = ma.fields.Float(allow_none=True)
    unexplained_g = ma.fields.Float(allow_none=True)
    unexplained_pct = ma.fields.Float(allow_none=True)


class PartOut(Out):
    EXAMPLE = {
        **{name: value for name, value in PartRowOut.EXAMPLE.items() if name != "on_hold"},
        "mould": {"code": "T00002S", "kind": "T", "name": "Tiller blade, port half", "state": "in use"},
        "started_by": "Ida Holm",
        "mixes": [
            {
                "code": "M011793",
                "kind": "M",
                "name": "Alder 10 / 32",
                "movement": "application",
                "purpose": "wet-out",
                "mass_g": 402.5,
                "estimated": False,
                "occurred_at": "2026-11-03T09:40:00Z",
            }
        ],
        "missing_plies": [],
    }
    code = ma.fields.String()
    name = ma.fields.String()
    state = ma.fields.String()
    design = ma.fields.Nested(DesignRefOut)
    mould = ma.fields.Nested(ItemOut, allow_none=True)
    order = ma.fields.String(allow_none=True)
    customer = ma.fields.String(allow_none=True)
    place = ma.fields.Nested(ItemOut, allow_none=True)
    started_at = Moment()
    started_by = ma.fields.String()
    laid_up_at = Moment(allow_none=True)
    demoulded_at = Moment(allow_none=True)
    released_at = Moment(allow_none=True)
    released_by = ma.fields.String(allow_none=True)
    shipped_at = Moment(allow_none=True)
    mass_g = Grams(allow_none=True)
    mixes = ma.fields.List(ma.fields.Nested(WentInOut))
    kits = ma.fields.List(ma.fields.Nested(WentInOut))
    kit_mass_g = Grams(allow_none=True)
    materials = ma.fields.List(ma.fields.Nested(WentInOut))
    components = ma.fields.List(ma.fields.Nested(WentInOut))
    fitted_into = ma.fields.String(allow_none=True)
    plies = ma.fields.List(ma.fields.Nested(LaidOut))
    missing_plies = ma.fields.List(ma.fields.Integer())
    cures = ma.fields.List(ma.fields.Nested(PartCureOut))
    steps = ma.fields.List(ma.fields.Nested(StepOut))
    inspections = ma.fields.List(ma.fields.Nested(InspectionOut))
    defects = ma.fields.List(ma.fields.Nested(DefectOut))
    nonconformances = ma.fields.List(ma.fields.Nested(NonconformanceOut))
    flags = ma.fields.List(
        ma.fields.Nested(FlagOut), metadata={"description": "Its own, and those of all that it was made of."}
    )
    holds = ma.fields.List(ma.fields.Nested(HoldRef))
    shipment = ma.fields.Nested(ShipmentOut, allow_none=True)
    after_trim = ma.fields.Nested(TrimFiguresOut)
    version = ma.fields.Integer()
