"""Run charts, as figures and as a drawing."""

from typing import Any

from flask import Response

from schemas.charts import RatioChartQuery
from service.api.base import Blueprint
from service.api.files import SVG, as_file, file_doc
from service.database import reading
from service.operations.door.refusals import WrongState
from service.operations.pots.chart import RatioChart, read_ratio_chart

blp = Blueprint(
    "charts", "Run charts: whether the weighing wanders before a pot is out of its tolerance", right="read_work"
)


@blp.arguments(RatioChartQuery, location="query")
def draw_ratio_chart(asked: dict[str, Any]) -> Response:
    """Draw the deviations of the latest pots with their control limits."""
    with reading():
        chart = read_ratio_chart(**asked)
    return as_file(_drawn(chart), SVG)


def _drawn(chart: RatioChart) -> str:
    from service.reports.drawing.plots import run_chart_svg

    if chart.limits is None:
        raise WrongState(" ".join(chart.sentences), way_out="GET /v1/charts/ratio lists the pots that there are.")
    return run_chart_svg(
        points=[point.deviation_pct for point in chart.points],
        mean=chart.limits.mean_pct,
        lower=chart.limits.lower_pct,
        upper=chart.limits.upper_pct,
        signals=[index for index, point in enumerate(chart.points) if point.stands_out],
        title=chart.title,
        unit="%",
    )


blp.read("/charts/ratio", read_ratio_chart, RatioChartQuery)
blp.custom(
    "/charts/ratio.svg",
    draw_ratio_chart,
    right="read_work",
    doc=file_doc("The chart", SVG),
)
