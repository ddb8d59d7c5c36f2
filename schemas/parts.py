"""Parts: started, laid up, closed, demoulded, trimmed, fitted; and how they are read."""

from schemas.base import ActIn, PageIn
from schemas.fields import Code, Grams, Number, Text, Whole, Word, Yes
from schemas.words import Face, PartState


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
    state = Word(PartState)
    design = Whole(1)
    part_number = Text(longest=40)
    mould = Code("T")
    order = Text(longest=60)
    customer = Text(longest=100)
    released = Yes()
