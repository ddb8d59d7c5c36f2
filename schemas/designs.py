"""Designs, moulds and kits: what is to be built, in which plies, of which resin, in what."""

from typing import Any

import marshmallow as ma

from schemas.base import ActIn, PageIn, QueryIn
from schemas.calculation_fields import Row
from schemas.fields import Code, Grams, Number, Text, Whole, Word, Yes, held_or_free, taken_despite
from schemas.words import Face, Grain, KitState, MirrorAbout, Purpose, ToolState, TreatmentKind

# In all templates of one design: what is cut by hand has a few dozen, a plotter's file some hundreds.
MOST_CORNERS = 5_000

# x and y in millimetres.
_CORNER = Row([Number(-100_000, 100_000), Number(-100_000, 100_000)])


class ResinNeedIn(ma.Schema):
    """Mixed resin for one purpose, losses included."""

    purpose = Word(Purpose, required=True)
    system = Text(required=True, longest=80, metadata={"description": "Name of the resin system."})
    mass_g = Number(0.001, 2_000_000, required=True)
    spread_pct = Number(
        0.1, 100, allow_none=True,
        metadata={"description": "How far the mass may be off, to either side; without it a difference is only told."},
    )  # fmt: skip
    coats = Whole(
        1, 20, allow_none=True, metadata={"description": "In how many coats; each application of a pot is one."}
    )


class PlyIn(ma.Schema):
    """One ply, in the order of laying, mould side first. Its area is given, or follows from its outline."""

    number = Whole(1, 1000, required=True)
    material = Whole(1, required=True)
    angle_deg = Number(-360, 360, required=True)
    face = Word(Face, allow_none=True)
    area_m2 = Number(0.0001, 1000, metadata={"description": "Area as cut; left out where there is an outline."})
    length_mm = Whole(1, 10_000_000, allow_none=True, metadata={"description": "Length that it takes off the roll."})
    width_mm = Whole(1, 20_000, allow_none=True, metadata={"description": "Width across the roll; all of it, if none."})
    outline = ma.fields.List(
        _CORNER, validate=ma.validate.Length(3, 500), allow_none=True,
        metadata={"description": "Corners of the piece in mm, x along its grain: the template, flat."},
    )  # fmt: skip
    holes = ma.fields.List(
        ma.fields.List(_CORNER, validate=ma.validate.Length(3, 200)), validate=ma.validate.Length(0, 20),
        metadata={"description": "Corners of what is cut out of the outline."},
    )  # fmt: skip
    allowance_mm = Number(
        0, 1000, allow_none=True, metadata={"description": "Added at every edge of the outline, holes too."}
    )
    grain = Word(
        Grain, allow_none=True,
        metadata={"description": "How its length, or x of its outline, may lie on the roll; along it, if left out."},
    )  # fmt: skip
    zone = Text(longest=40, allow_none=True)


class BagIn(ma.Schema):
    """Vacuum and drop test of the process sheet; pressures are below that of the air."""

    least_vacuum_mbar = Number(1, 1100, required=True)
    drop_limit_mbar = Number(0.1, 1000, required=True)
    drop_minutes = Number(0.5, 240, required=True)


class DensitiesIn(ma.Schema):
    fibre_g_cm3 = Number(0.01, 25, required=True)
    matrix_g_cm3 = Number(0.01, 25, required=True)


class UptakeIn(ma.Schema):
    name = Text(required=True, longest=40, metadata={"description": "Peel ply, core, mesh."})
    uptake_g_m2 = Number(0, 20_000, required=True)


class GelCoatIn(ma.Schema):
    """Gel coat as its data sheet asks for it, wet."""

    thickness_mm = Number(0.01, 10, required=True)
    density_g_cm3 = Number(0.01, 25, required=True)
    loss_fraction = Number(0, 1, required=True, metadata={"description": "In cup, brush or gun."})


class LaminateIn(ma.Schema):
    """What the laminate is to be; thickness and need of resin are worked out from it."""

    process = Text(longest=60, allow_none=True, metadata={"description": "Hand lay-up, under vacuum, infusion."})
    fibre_mass_fraction = Number(0.05, 0.95, allow_none=True)
    fibre_volume_fraction = Number(
        0.05, 0.95, allow_none=True, metadata={"description": "One of the two fractions; the other follows."}
    )
    loss_fraction = Number(
        0, 1, allow_none=True,
        metadata={"description": "What stays in cup, brush and roller, as a share of the resin in the laminate."},
    )  # fmt: skip
    area_m2 = Number(
        0.0001, 1000, allow_none=True, metadata={"description": "Of the moulding; that of its largest ply, if none."}
    )
    uptakes = ma.fields.List(ma.fields.Nested(UptakeIn), validate=ma.validate.Length(0, 20))
    gel_coat = ma.fields.Nested(GelCoatIn, allow_none=True)

    @ma.validates_schema
    def one_fraction(self, data: dict[str, Any], **kwargs: Any) -> None:
        if data.get("fibre_mass_fraction") is not None and data.get("fibre_volume_fraction") is not None:
            raise ma.ValidationError(
                "Give the fibre fraction by mass or by volume; the other follows.", field_name="fibre_volume_fraction"
            )


class DesignFacts(ActIn):
    name = Text(longest=80)
    resin_need = ma.fields.List(ma.fields.Nested(ResinNeedIn), validate=ma.validate.Length(0, 20))
    plies = ma.fields.List(ma.fields.Nested(PlyIn), validate=ma.validate.Length(0, 500))
    zones = ma.fields.List(Text(longest=40), validate=ma.validate.Length(0, 100))
    ply_by_ply = Yes(metadata={"description": "Plies are tapped one by one as they are laid."})
    traceable = Yes(metadata={"description": "No lot goes in whose maker's number is not known."})
    schedule = Text(longest=80, allow_none=True, metadata={"description": "Name of the cure schedule."})
    bag = ma.fields.Nested(BagIn, allow_none=True)
    piece_spread_pct = Number(
        0.01, 50, allow_none=True,
        metadata={"description": "Standard deviation of the mass of one piece, cut and weave together."},
    )  # fmt: skip
    densities = ma.fields.Nested(DensitiesIn, allow_none=True)
    laminate = ma.fields.Nested(LaminateIn, allow_none=True)

    @ma.validates_schema(skip_on_field_errors=True)
    def few_corners(self, data: dict[str, Any], **kwargs: Any) -> None:
        plies = data.get("plies") or ()
        corners = sum(len(shape) for ply in plies for shape in (ply.get("outline") or (), *(ply.get("holes") or ())))
        if corners > MOST_CORNERS:
            raise ma.ValidationError(
                f"The templates of a design have at most {MOST_CORNERS:,} corners in all, these have {corners:,}; "
                "leave out points where the edge runs straight.",
                field_name="plies",
            )


class DesignIn(DesignFacts):
    part_number = Text(required=True, longest=40)
    revision = Text(required=True, longest=10)
    name = Text(required=True, longest=80)


class DesignChange(DesignFacts):
    part_number = Text(longest=40)
    revision = Text(longest=10)


class DesignQuery(PageIn):
    limit = Whole(1, 50, load_default=50)
    part_number = Text(longest=40)
    approved = Yes()


class CutIn(ma.Schema):
    """One length off a roll: cut = kit + waste + offcut."""

    roll = Code("C", required=True)
    length_mm = Whole(1, 10_000_000, required=True, metadata={"description": "What goes into the kit."})
    waste_mm = Whole(0, 10_000_000, load_default=0)
    offcut_mm = Whole(
        0, 10_000_000, load_default=0, metadata={"description": "What goes back on the shelf with a code."}
    )
    plies = ma.fields.List(
        Whole(1, 1000),
        validate=ma.validate.Length(0, 500),
        metadata={"description": "The design's plies that lie in it; all of this cloth if left out."},
    )


class KitIn(ActIn):
    design = Whole(1)
    cuts = ma.fields.List(
        ma.fields.Nested(CutIn), required=True, validate=ma.validate.Length(1, 50, error="Give 1 to 50 cuts.")
    )
    mass_g = Grams(metadata={"description": "The kit weighed, without its bag."})
    number = Whole(1, 100, metadata={"description": "Which of a part's kits this is; `of` says how many there are."})
    of = Whole(1, 100, metadata={"description": "How many kits the part takes."})
    part = Code("P", metadata={"description": "The part of an order that it is for: it takes what is reserved for it."})
    despite_reservation = taken_despite()


class KitQuery(PageIn):
    design = Whole(1)
    state = Word(KitState)
    on_hold = held_or_free()


class MirrorIn(ActIn):
    part_number = Text(required=True, longest=40)
    revision = Text(required=True, longest=10)
    name = Text(required=True, longest=80)
    about = Word(
        MirrorAbout,
        required=True,
        metadata={
            "description": "centreline: the other hand, angles with the other sign, templates turned over. midplane: "
            "the plies and after them their mirror image, which makes the laminate symmetric; its need of resin is new."
        },
    )


class CuttingQuery(QueryIn):
    gap_mm = Whole(0, 1000, load_default=10, metadata={"description": "Between neighbouring pieces, for the knife."})


class MouldIn(ActIn):
    name = Text(required=True, longest=80)
    part_number = Text(longest=40, metadata={"description": "The part number that it is made for, if only one."})
    place = Code("A")
    pulls = Whole(0, 100_000, metadata={"description": "Pulls that it has had already."})
    release_pulls = Whole(
        1, 1000, metadata={"description": "For how many pulls a semi-permanent release lasts on this mould."}
    )
    hours = Number(0.1, 10_000, metadata={"description": "From the start of a part to its demoulding here."})


class MouldSettingIn(ActIn):
    hours = Number(
        0.1,
        10_000,
        allow_none=True,
        metadata={"description": "From the start of a part to its demoulding here; null: as the shop has it for all."},
    )


class TreatmentIn(ActIn):
    kind = Word(TreatmentKind, required=True)
    container = Code("C", metadata={"description": "The release agent or cleaner that was used."})
    coats = Whole(1, 20, metadata={"description": "Coats laid on; one, if left out."})
    remark = Text(longest=300)
    confirmed = Yes(metadata={"description": "It was done although a part lies in the mould."})


class MouldQuery(PageIn):
    part_number = Text(longest=40)
    state = Word(ToolState)
    on_hold = held_or_free()
