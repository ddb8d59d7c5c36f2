"""Cures."""

from dataclasses import replace
from typing import Any

from flask import Response, request

from schemas.answers import schema_of
from schemas.cures import (
    CureIn,
    CureQuery,
    DeclarationIn,
    LogOfCureHeader,
    LogQuery,
    ThermometerIn,
)
from service.api.access import current_act
from service.api.base import Blueprint, answered
from service.api.examples import example_of
from service.api.files import SVG, as_file, file_doc
from service.api.schedules import FILE_BODY
from service.api.tags import expected_of
from service.database import reading
from service.operations.cures import curing, curves, view

blp = Blueprint("cures", "Cures: start, logger files, the verdict", right="read_work")


@blp.arguments(LogOfCureHeader, location="headers")
@blp.arguments(LogQuery, location="query")
@blp.response(201, schema_of(view.CureView), example=example_of(view.CureView))
def import_cure_log(header: dict[str, Any], asked: dict[str, Any], cure: str) -> Any:
    """Add a logger's file to a cure: it is read whole or not at all."""
    act = replace(current_act(asked), expects=expected_of({"cure": cure}))
    return answered(curing.import_cure_log(act, cure=cure, content=request.get_data(), **asked), view.CureView, 201)


def cure_plot(cure: str) -> Response:
    """The curves of a cure, its stages and gaps, as a drawing."""
    from service.reports.drawing.plots import cure_plot_svg

    with reading():
        plot = curves.cure_plot(cure)
    drawing = cure_plot_svg(
        times_min=plot.times_min,
        probes=plot.probes,
        required=plot.required,
        air=plot.air,
        stages=plot.stages,
        gaps=plot.gaps,
        title=plot.title,
    )
    return as_file(drawing, SVG)


blp.listing("/cures", view.list_cures, CureQuery)
blp.write("/cures", curing.start_cure, CureIn)
blp.read("/cures/<code(R):cure>", view.read_cure)
blp.custom(
    "/cures/<code(R):cure>/logs",
    import_cure_log,
    right="import_cure_log",
    method="POST",
    doc={"requestBody": FILE_BODY},
)
blp.write("/cures/<code(R):cure>/thermometer", curing.record_cure_reading, ThermometerIn)
blp.write("/cures/<code(R):cure>/declaration", curing.declare_cure, DeclarationIn)
blp.write("/cures/<code(R):cure>/end", curing.end_cure)
blp.read("/cures/<code(R):cure>/readings", curves.read_cure_readings)
blp.custom(
    "/cures/<code(R):cure>/plot.svg",
    cure_plot,
    right="read_work",
    doc=file_doc("The drawing", SVG),
)
