"""Suppliers, materials and places."""

import marshmallow as ma

from schemas.base import ActIn, PageIn
from schemas.fields import Day, Grams, Moment, Number, Shaped, Text, Whole, Word, Yes
from schemas.words import CertificateType, FabricForm, MaterialKind, StorageDecision, WarningKind


class SupplierIn(ActIn):
    name = Text(required=True, longest=80)
    approved = Yes(required=True)


class SupplierChange(ActIn):
    name = Text(longest=80)
    approved = Yes()


class IncomingCheckLimits(ma.Schema):
    """One thing that incoming goods are checked for."""

    name = Text(required=True, longest=60)
    low = Number(-1e9, 1e9, allow_none=True)
    high = Number(-1e9, 1e9, allow_none=True)
    unit = Text(longest=20, allow_none=True)


class BearsIn(ma.Schema):
    """What a material bears outside the range that it keeps at."""

    temperature_c = Number(-100, 200, required=True, metadata={"description": "Up to this above, down to it below."})
    hours = Number(0.01, 100_000, required=True, metadata={"description": "Added up over its life."})


class LifeRowIn(ma.Schema):
    """How long a life lasts up to a temperature."""

    temperature_c = Number(-60, 100, required=True, metadata={"description": "Up to this."})
    hours = Number(0.01, 100_000, required=True, metadata={"description": "Of the whole life."})


class OutTimeIn(ma.Schema):
    """Two clocks from leaving the cold, each by its table: to the start of cure, and to lay-up."""

    out = ma.fields.List(
        ma.fields.Nested(LifeRowIn), required=True, validate=ma.validate.Length(1, 10),
        metadata={"description": "Out life, to the start of cure."},
    )  # fmt: skip
    tack = ma.fields.List(
        ma.fields.Nested(LifeRowIn), load_default=list, validate=ma.validate.Length(0, 10),
        metadata={"description": "Tack life, to lay-up; without it the out life alone counts."},
    )  # fmt: skip


class MaterialFacts(ActIn):
    """What a data sheet says; each shop enters its own."""

    supplier = Whole(1, allow_none=True)
    gtin = Shaped("[0-9]{14}", wanted="Give 14 digits.", allow_none=True)
    density_g_ml = Number(0.01, 25, allow_none=True)
    shelf_life_days = Whole(1, 20_000, allow_none=True)
    opened_life_days = Whole(1, 20_000, allow_none=True)
    storage_low_c = Number(-100, 100, allow_none=True)
    storage_high_c = Number(-100, 100, allow_none=True)
    bears = ma.fields.List(
        ma.fields.Nested(BearsIn),
        validate=ma.validate.Length(0, 10),
        metadata={"description": "What it bears outside its storage range, by the data sheet."},
    )
    warm_up_hours = Number(0, 240, allow_none=True)
    tare_g = Grams(
        allow_none=True,
        metadata={"description": "Of the empty pack, where it comes in one size; another size is never weighed by it."},
    )
    h_codes = ma.fields.List(
        Text(longest=30), validate=ma.validate.Length(0, 30), metadata={"description": "As in the safety data sheet."}
    )
    glove_advice = Text(
        longest=200, allow_none=True, metadata={"description": "As in this product's safety data sheet."}
    )
    incoming_checks = ma.fields.List(ma.fields.Nested(IncomingCheckLimits), validate=ma.validate.Length(0, 20))
    certificate_wanted = Word(CertificateType, allow_none=True)
    form = Word(FabricForm, allow_none=True)
    areal_weight_g_m2 = Number(1, 20_000, allow_none=True)
    fibre = Text(longest=40, allow_none=True)
    out_time = ma.fields.Nested(
        OutTimeIn, allow_none=True,
        metadata={"description": "Of a prepreg or a film adhesive: how long it lasts out of the cold."},
    )  # fmt: skip
    width_mm = Whole(1, 20_000, allow_none=True)
    face = Yes(allow_none=True, metadata={"description": "True if the two faces differ."})
    release_coats = Whole(1, 20, allow_none=True)
    release_pulls = Whole(
        1, 1000, allow_none=True,
        metadata={"description": "For how many pulls a semi-permanent release lasts; every pull, if none."},
    )  # fmt: skip
    release_wait_min = Whole(0, 10_000, allow_none=True)
    organic_peroxide = Yes(metadata={"description": "True for a peroxide, whatever its H-codes."})
    acetone = Yes(metadata={"description": "True for acetone and for what it is in."})
    emergency_c = Number(
        -50, 200, allow_none=True, metadata={"description": "A peroxide's emergency temperature, by its data sheet."}
    )
    least_stock_g = Grams(allow_none=True)
    least_stock_mm = Whole(1, 100_000_000, allow_none=True)
    vented_container = Text(
        longest=80,
        allow_none=True,
        metadata={"description": "The supplier's vented type of container, the only one to decant a peroxide into."},
    )


class MaterialIn(MaterialFacts):
    name = Text(required=True, longest=80)
    kind = Word(MaterialKind, required=True)


class MaterialChange(MaterialFacts):
    name = Text(longest=80)


class MaterialQuery(PageIn):
    kind = Word(MaterialKind)
    name = Text(longest=80)


class StorageReadingIn(ActIn):
    temperature_c = Number(-100, 100, required=True)
    lowest_c = Number(
        -100,
        100,
        allow_none=True,
        metadata={"description": "Since the reading before, by a thermometer that keeps it."},
    )
    highest_c = Number(
        -100,
        100,
        allow_none=True,
        metadata={"description": "Since the reading before, by a thermometer that keeps it."},
    )
    humidity_pct = Number(0, 100, allow_none=True)


class NameIn(ActIn):
    name = Text(required=True, longest=60)


class PlaceSettingIn(ActIn):
    cold = Yes(
        allow_none=True,
        metadata={"description": "A fridge or a freezer. Left out, what is measured there tells it."},
    )
    read_every_days = Number(
        0.01, 400, metadata={"description": "A last reading older than this does not count as monitored."}
    )


class StorageReviewIn(ActIn):
    material = Whole(1, required=True)
    begins_at = Moment(required=True)
    ends_at = Moment(required=True)
    decision = Word(StorageDecision, required=True)
    good_until = Day(metadata={"description": "The new last day, where the life is shortened."})


class StockWatchIn(ActIn):
    within_days = Whole(
        0, 365, load_default=14, metadata={"description": "Of cans that are past their date within so many days."}
    )


class StockWarningQuery(PageIn):
    standing = Yes()
    kind = Word(WarningKind)
