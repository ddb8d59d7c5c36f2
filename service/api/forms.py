"""Paper forms, made from the very schemas that the acts are entered through, so that their order is the same."""

import math

from flask import Response, request
from flask_smorest import abort
from marshmallow.fields import List, Nested

from schemas.base import In
from schemas.cures import CureIn, ThermometerIn
from schemas.designs import KitIn
from schemas.lots import DeliveryIn, IncomingCheckIn
from schemas.mixes import ApplicationIn, ClosingIn, ContactIn, CupCheckIn, MixIn, PourIn, StirringIn
from schemas.parts import (
    CloseIn,
    DemouldIn,
    FitIn,
    InspectionIn,
    LayKitIn,
    LayPlyIn,
    PartIn,
    PartStepIn,
    TrimIn,
    UseIn,
)
from service.api.base import Blueprint
from service.api.files import PDF, as_file, file_doc
from service.api.form_words import WORDS
from service.database import reading
from service.operations.door.refusals import UnknownThing, Unprocessable
from service.operations.door.shop import the_site
from service.operations.pots.systems import read_system
from service.reports.drawing.forms import Pair, Step, form_pdf

blp = Blueprint("forms", "Paper forms for when nothing works")

_Steps = tuple[tuple[str, type[In], int], ...]
FORMS: dict[str, tuple[str, _Steps]] = {
    "delivery": ("Delivery", (("Goods in", DeliveryIn, 1), ("Check", IncomingCheckIn, 3))),
    "pot": (
        "Pot",
        (
            ("Start", MixIn, 1),
            ("Pour", PourIn, 3),
            ("Hardener meets resin", ContactIn, 1),
            ("Stirring", StirringIn, 1),
            ("Applied", ApplicationIn, 1),
            ("Closing", ClosingIn, 1),
            ("Cup next morning", CupCheckIn, 1),
        ),
    ),
    "part": (
        "Part",
        (
            ("Kit", KitIn, 1),
            ("Start", PartIn, 1),
            ("Kit laid", LayKitIn, 1),
            ("Plies laid one by one", LayPlyIn, 8),
            ("Used on it", UseIn, 4),
            ("Fitted into it", FitIn, 1),
            ("Lay-up closed", CloseIn, 1),
            ("Tested, measured, noted", PartStepIn, 3),
            ("Demoulded", DemouldIn, 1),
            ("Trimmed", TrimIn, 1),
            ("Inspected", InspectionIn, 1),
        ),
    ),
    "cure": ("Cure", (("Start", CureIn, 1), ("Thermometer", ThermometerIn, 3))),
}
# What is done over and over stands in a table, a line each time.
_IN_LINES = (LayPlyIn, UseIn)
_ALWAYS_THERE = frozenset({"occurred_at", "why", "remark"})
# Pots for which the sheet says what belongs into them; as many lines as fit beside the life of the pot.
_POTS_G = (50, 100, 150, 200, 250, 300, 400, 500, 650, 800, 1000, 1500, 2000, 3000, 5000)
_MOST_LINES = 10


def steps_of(name: str) -> list[Step]:
    """The steps of a form, each field in the order of its schema."""
    return [Step(title, tuple(_written(schema)), times, schema in _IN_LINES) for title, schema, times in FORMS[name][1]]


def _written(schema: type[In]) -> list[str]:
    """The words of a schema's fields in their order, without those that are asked nowhere but in a conversation."""
    words = WORDS[schema.__name__]
    return [said for name in names_of(schema) if (said := words[name]) is not None]


def names_of(schema: type[In]) -> list[str]:
    """The fields of a schema that a sheet could ask for; those of an object as "outer.inner"."""
    names = []
    for name, field in schema().fields.items():
        inner = field.inner if isinstance(field, List) else field
        if isinstance(inner, Nested):
            names += [f"{name}.{each}" for each in inner.schema.fields]
        elif name not in _ALWAYS_THERE:
            names.append(name)
    return names


def pair_of(system: int, hardener: int) -> Pair:
    """A pair with its ratio, what belongs into pots of some sizes, and how long they may be worked.

    The limits are rounded inward to the 0.1 g that most scales show, so that a figure within them is within tolerance.
    """
    seen = read_system(system)
    one = next((h for h in seen.hardeners if h.material == hardener), None)
    if one is None:
        raise UnknownThing(f"Resin system {system} has no hardener {hardener}.")
    if seen.approved_at is None or one.catalyst is not None:
        raise Unprocessable("A sheet with its pair is for an approved system that is weighed by a fixed ratio.")
    lines = []
    for pot_g in [g for g in _POTS_G if g * 1000 <= seen.largest_pot_mg][-_MOST_LINES:]:
        resin_g = round(pot_g / (1 + one.ratio), 1)
        exact, spread = resin_g * one.ratio, one.tolerance_pct / 100
        low, high = math.ceil(exact * (1 - spread) * 10 - 1e-9) / 10, math.floor(exact * (1 + spread) * 10 + 1e-9) / 10
        if low < high:
            lines.append((pot_g, resin_g, round(exact, 1), low, high))
    return Pair(
        resin=seen.resin_name, hardener=one.name, system=f"{seen.name}, revision {seen.revision_number}",
        ratio=f"100 : {one.parts_by_weight:g} by weight", tolerance_pct=one.tolerance_pct, pots=tuple(lines),
        stir_min=seen.stir_min, lives=tuple((p["mass_g"], p["temperature_c"], p["life_min"]) for p in one.cup_life),
    )  # fmt: skip


def print_form(form: str) -> Response:
    """A paper form: delivery, pot, part or cure; a pot's with its pair, if `system` and `hardener` name one."""
    if form not in FORMS:
        abort(404, message=f"There are the forms {', '.join(FORMS)}.")
    asked = [request.args.get(name, type=int) for name in ("system", "hardener")]
    if any(name in request.args for name in ("system", "hardener")) and (form != "pot" or None in asked):
        abort(422, message="The form of a pot takes `system` and `hardener`, both numbers; the others take neither.")
    with reading():
        shop = the_site().name
        pair = pair_of(*asked) if None not in asked else None  # type: ignore[arg-type]
    pdf = form_pdf(title=FORMS[form][0], steps=steps_of(form), shop=shop, pair=pair)
    return as_file(pdf, PDF, name=f"form-{form}.pdf")


blp.custom(
    "/forms/<string:form>.pdf",
    print_form,
    right="read_account",
    doc={
        **file_doc("The form", PDF),
        "parameters": [
            {"name": name, "in": "query", "schema": {"type": "integer", "minimum": 1}, "description": said}
            for name, said in (
                ("system", "Of a pot: the number of the resin system whose ratio is printed on the form."),
                ("hardener", "Of a pot: the hardener of that system, by the number of its material."),
            )
        ],
    },
)
