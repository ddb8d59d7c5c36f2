"""Paper forms, made from the very schemas that the acts are entered through, so that their order is the same."""

from flask import Response
from flask_smorest import abort
from marshmallow.fields import List, Nested

from schemas.base import In
from schemas.cures import CureIn, ThermometerIn
from schemas.designs import KitIn
from schemas.lots import DeliveryIn, IncomingCheckIn
from schemas.mixes import ApplicationIn, ClosingIn, ContactIn, CupCheckIn, MixIn, PourIn, StirringIn
from schemas.parts import CloseIn, DemouldIn, InspectionIn, LayKitIn, PartIn, TrimIn
from service.api.base import Blueprint
from service.api.files import PDF, as_file, file_doc
from service.database import reading
from service.operations.door.shop import the_site
from service.reports.drawing.forms import Step, form_pdf

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
            ("Lay-up closed", CloseIn, 1),
            ("Demoulded", DemouldIn, 1),
            ("Trimmed", TrimIn, 1),
            ("Inspected", InspectionIn, 1),
        ),
    ),
    "cure": ("Cure", (("Start", CureIn, 1), ("Thermometer", ThermometerIn, 3))),
}
_ALWAYS_THERE = frozenset({"occurred_at", "why", "remark"})
_UNITS = {"g": "g", "c": "°C", "mm": "mm", "m2": "m²", "pct": "%", "min": "min"}


def steps_of(name: str) -> list[Step]:
    """The steps of a form, each field in the order of its schema."""
    return [Step(title, tuple(_written(schema)), times) for title, schema, times in FORMS[name][1]]


def _written(schema: type[In]) -> list[str]:
    lines = []
    for name, field in schema().fields.items():
        if name in _ALWAYS_THERE:
            continue
        inner = field.inner if isinstance(field, List) else field
        if isinstance(inner, Nested):
            lines += [f"{_worded(name)}: {_worded(each)}" for each in inner.schema.fields]
        else:
            lines.append(_worded(name))
    return lines


def _worded(name: str) -> str:
    head, _, unit = name.rpartition("_")
    return f"{head.replace('_', ' ')}, {_UNITS[unit]}" if head and unit in _UNITS else name.replace("_", " ")


def print_form(form: str) -> Response:
    """A paper form: delivery, pot, part or cure."""
    if form not in FORMS:
        abort(404, message=f"There are the forms {', '.join(FORMS)}.")
    with reading():
        shop = the_site().name
    return as_file(form_pdf(title=FORMS[form][0], steps=steps_of(form), shop=shop), PDF, name=f"form-{form}.pdf")


blp.custom(
    "/forms/<string:form>.pdf",
    print_form,
    right="read_account",
    doc=file_doc("The form", PDF),
)
