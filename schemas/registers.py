"""Suppliers, materials and places."""

import marshmallow as ma

from schemas.base import ActIn, Out, PageIn
from schemas.fields import Grams, Number, Text, Whole, Word, Yes
from schemas.words import CertificateType, FabricForm, MaterialKind


class SupplierIn(ActIn):
    EXAMPLE = {"name": "Fenwick Resins", "approved": True}
    name = Text(required=True, longest=80)
    approved = Yes(required=True)


class SupplierChange(ActIn):
    EXAMPLE = {"approved": False, "why": "two late certificates"}
    name = Text(longest=80)
    approved = Yes()


class SupplierOut(Out):
    EXAMPLE = {"id": 1, "name": "Fenwick Resins", "approved": True, "version": 1}
    id = ma.fields.Integer()
    name = ma.fields.String()
    approved = ma.fields.Boolean()
    version = ma.fields.Integer()


class IncomingCheckLimits(ma.Schema):
    """One thing that incoming goods are checked for."""

    name = Text(required=True, longest=60)
    low = Number(-1e9, 1e9, allow_none=True)
    high = Number(-1e9, 1e9, allow_none=True)
    unit = Text(longest=20, allow_none=True)


class MaterialFacts(ActIn):
    """What a data sheet says; each shop enters its own."""

    supplier = Whole(1, allow_none=True)
    gtin = ma.fields.String(allow_none=True, validate=ma.validate.Regexp(r"[0-9]{14}\Z", error="Give 14 digits."))
    density_g_ml = Number(0.01, 25, allow_none=True)
    shelf_life_days = Whole(1, 20_000, allow_none=True)
    opened_life_days = Whole(1, 20_000, allow_none=True)
    storage_low_c = Number(-100, 100, allow_none=True)
    storage_high_c = Number(-100, 100, allow_none=True)
    warm_up_hours = Number(0, 240, allow_none=True)
    tare_g = Grams(allow_none=True)
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
    width_mm = Whole(1, 20_000, allow_none=True)
    face = Yes(allow_none=True, metadata={"description": "True if the two faces differ."})
    release_coats = Whole(1, 20, allow_none=True)
    release_wait_min = Whole(0, 10_000, allow_none=True)


class MaterialIn(MaterialFacts):
    EXAMPLE = {
        "name": "Alder 32 slow hardener",
        "kind": "hardener",
        "density_g_ml": 0.95,
        "shelf_life_days": 730,
        "opened_life_days": 180,
        "storage_low_c": 15,
        "storage_high_c": 25,
        "h_codes": ["H314", "H317"],
    }
    name = Text(required=True, longest=80)
    kind = Word(MaterialKind, required=True)


class MaterialChange(MaterialFacts):
    EXAMPLE = {"opened_life_days": 120, "why": "data sheet revision 7"}
    name = Text(longest=80)


class StatementOut(Out):
    code = ma.fields.String()
    text = ma.fields.String()


class HazardsOut(Out):
    signal_word = ma.fields.String(allow_none=True)
    pictograms = ma.fields.List(ma.fields.String())
    statements = ma.fields.List(ma.fields.Nested(StatementOut))


class MaterialOut(Out):
    EXAMPLE = {
        "id": 2,
        "name": "Alder 32 slow hardener",
        "kind": "hardener",
        "opened_life_days": 180,
        "h_codes": ["H314", "H317"],
        "hazards": {
            "signal_word": "DANGER",
            "pictograms": ["GHS05", "GHS07"],
            "statements": [
                {"code": "H314", "text": "Causes severe skin burns and eye damage."},
                {"code": "H317", "text": "May cause an allergic skin reaction."},
            ],
        },
        "version": 1,
    }
    id = ma.fields.Integer()
    name = ma.fields.String()
    kind = ma.fields.String()
    supplier = ma.fields.Integer(allow_none=True)
    gtin = ma.fields.String(allow_none=True)
    density_g_ml = ma.fields.Float(allow_none=True)
    shelf_life_days = ma.fields.Integer(allow_none=True)
    opened_life_days = ma.fields.Integer(allow_none=True)
    storage_low_c = ma.fields.Float(allow_none=True)
    storage_high_c = ma.fields.Float(allow_none=True)
    warm_up_hours = ma.fields.Float(allow_none=True)
    tare_g = Grams(allow_none=True)
    h_codes = ma.fields.List(ma.fields.String())
    hazards = ma.fields.Nested(HazardsOut)
    organic_peroxide = ma.fields.Boolean()
    glove_advice = ma.fields.String(allow_none=True)
    incoming_checks = ma.fields.List(ma.fields.Dict())
    certificate_wanted = ma.fields.String(allow_none=True)
    form = ma.fields.String(allow_none=True)
    areal_weight_g_m2 = ma.fields.Float(allow_none=True)
    fibre = ma.fields.String(allow_none=True)
    width_mm = ma.fields.Integer(allow_none=True)
    face = ma.fields.Boolean(allow_none=True)
    release_coats = ma.fields.Integer(allow_none=True)
    release_wait_min = ma.fields.Integer(allow_none=True)
    version = ma.fields.Integer()


class MaterialQuery(PageIn):
    kind = Word(MaterialKind)
    name = Text(longest=80)


class StorageReadingIn(ActIn):
    EXAMPLE = {"temperature_c": 19.5, "humidity_pct": 55}
    temperature_c = Number(-100, 100, required=True)
    humidity_pct = Number(0, 100, allow_none=True)


class StorageReadingOut(Out):
    EXAMPLE = {"place": "A00001P", "temperature_c": 19.5, "humidity_pct": 55}
    place = ma.fields.String()
    temperature_c = ma.fields.Float()
    humidity_pct = ma.fields.Float(allow_none=True)
