"""The drawings of a report: well formed, the same each time, and saying what the numbers say."""

import re
import threading
import xml.etree.ElementTree as ET
from dataclasses import dataclass
from itertools import pairwise

import pytest

from service.reports.drawing.plots import cure_plot_svg, ply_stack_svg, ratio_bar_svg, run_chart_svg

SVG = "{http://www.w3.org/2000/svg}"
GREEN, BLUE, RED, ASK = "#1d6b46", "#1f4e79", "#9f2a22", "#a86400"


@dataclass(frozen=True)
class Stage:
    name: str
    low_c: float
    high_c: float | None
    minimum_min: float


@dataclass(frozen=True)
class Ply:
    label: str
    thickness_mm: float
    kind: str = "fibre"


TIMES = list(range(0, 600, 10))
PROBES = {
    "root": [20 + min(t, 90) * 38 / 90 for t in TIMES],
    "tip": [20 + min(t, 120) * 33 / 120 for t in TIMES],
    "oven": [25 + min(t, 60) * 37 / 60 if not 200 < t < 260 else None for t in TIMES],
}


def cure(**changes):
    given = {
        "times_min": TIMES,
        "probes": PROBES,
        "required": ["root", "tip"],
        "stages": [Stage("post-cure", 50, 60, 480)],
        "air": ["oven"],
        "gaps": [(200, 260)],
        "title": "Cure R00041 V",
    }
    return cure_plot_svg(**{**given, **changes})


def chart(**changes):
    given = {"points": [0.1, -0.2, 2.9, 0.0], "mean": 0.1, "lower": -1.5, "upper": 1.7, "signals": [2]}
    return run_chart_svg(**{**given, "title": "Scale S00004 7", "unit": "%", **changes})


def bar(deviation, uncertainty=0.2, tolerance=2.0):
    return ratio_bar_svg(deviation_pct=deviation, uncertainty_pct=uncertainty, tolerance_pct=tolerance)


STACK = [Ply("gel coat 0.5 mm", 0.5, "gel coat"), *[Ply(f"{i} carbon 160 g/m²", 0.2) for i in range(1, 7)]]
ALL = {"cure": cure, "chart": chart, "bar": lambda: bar(-2.8), "stack": lambda: ply_stack_svg(STACK)}


def said(svg, tag="title"):
    return ET.fromstring(svg).find(SVG + tag).text


@pytest.mark.parametrize("draw", ALL.values(), ids=ALL)
def test_a_drawing_is_one_well_formed_svg_with_a_title(draw):
    svg = draw()
    root = ET.fromstring(svg)
    assert root.tag == SVG + "svg"
    assert root.get("role") == "img"
    ids = [element.get("id") for element in root.iter() if element.get("id")]
    assert len(ids) == len(set(ids))
    assert set(root.get("aria-labelledby").split()) <= set(ids)
    assert root.find(SVG + "title").text


@pytest.mark.parametrize("draw", ALL.values(), ids=ALL)
def test_a_drawing_is_the_same_each_time_and_carries_no_date(draw):
    first = draw()
    assert draw() == first
    assert "metadata" not in first
    assert not re.search(r"20\d\d-\d\d-\d\d", first)


def test_two_drawings_in_one_page_share_no_id():
    one, other = cure(), cure(title="Cure R00042 T")
    ids = [set(re.findall(r'\bid="([^"]+)"', svg)) for svg in (one, other)]
    assert not ids[0] & ids[1]
    for svg, own in zip((one, other), ids, strict=True):
        assert set(re.findall(r'href="#([^"]+)"', svg)) | set(re.findall(r"url\(#([^)]+)\)", svg)) <= own


def test_drawing_in_several_threads_gives_the_same_bytes():
    alone = cure()
    found = []
    threads = [threading.Thread(target=lambda: found.append(cure())) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert found == [alone] * 4


def test_plots_stand_alone_without_a_font():
    for svg in (cure(), chart()):
        assert "<text" not in svg
        assert "SourceSansPro" in svg  # the outlines are those of the house's font


def strokes(svg, colour):
    return [float(width) for width in re.findall(rf"stroke: {colour}; stroke-width: ([\d.]+)", svg)] + [
        1.0 for _ in re.findall(rf"stroke: {colour}; stroke-linecap", svg)
    ]


def test_only_the_coldest_required_probe_is_bold():
    bold = [width for width in strokes(cure(), BLUE) if width > 2]
    assert len(bold) == 1
    assert "tip, the coldest required probe, from 20.0 to 53.0" in said(cure(), "desc")
    # The coldest of those required, not of all: without tip it is root.
    assert "root, the coldest required probe" in said(cure(required=["root"]), "desc")


def test_band_air_and_gap_are_drawn_each_in_its_way():
    svg = cure()
    assert re.search(rf"fill: {GREEN}; fill-opacity: 0\.1", svg)
    assert "stroke-dasharray" in svg
    assert "<pattern" in svg
    bare = cure(air=[], gaps=[], stages=[])
    assert "stroke-dasharray" not in bare
    assert "<pattern" not in bare
    assert GREEN not in bare


def test_the_description_names_stage_limits_and_gaps():
    assert "post-cure 55 ± 5 °C, 8 h" in said(cure(), "desc")
    assert "One gap without readings" in said(cure(), "desc")
    assert "at least 25 °C, 30 min" in said(cure(stages=[Stage("set", 25, None, 30)]), "desc")


def test_a_plot_with_nothing_in_it_is_still_a_plot():
    for changes in (
        {"times_min": [], "probes": {}, "required": [], "air": [], "gaps": [], "stages": []},
        {"times_min": [0.0], "probes": {"a": [None]}, "required": ["a"], "air": [], "gaps": []},
        {"times_min": [0.0, 1.0], "probes": {"a": [21.0, 21.0]}, "required": [], "air": ["a"], "stages": []},
    ):
        ET.fromstring(cure(**changes))
    ET.fromstring(chart(points=[], signals=[]))
    ET.fromstring(chart(points=[1.0], signals=[0], mean=1, lower=1, upper=1))


def test_a_peak_is_not_lost_in_a_long_file():
    long = [50.0] * 40_000
    long[12_345] = 80.0
    svg = cure(times_min=[t / 6 for t in range(40_000)], probes={"a": long}, required=["a"], air=[], gaps=[])
    flat = cure(
        times_min=[t / 6 for t in range(40_000)], probes={"a": [50.0] * 40_000}, required=["a"], air=[], gaps=[]
    )
    assert len(svg) < 300_000

    def top(text):
        (path,) = re.findall(rf'd="([^"]+)"[^>]*stroke: {BLUE}; stroke-width: 2.2', text)
        heights = [float(y) for y in re.findall(r"[ML] [\d.]+ ([\d.]+)", path)]
        return max(heights) - min(heights)

    assert top(flat) == 0
    assert top(svg) > 40


def test_text_from_people_cannot_break_the_drawing():
    title = 'Left & <right> "wing" $x_1$ \x0b 翼'
    for svg in (cure(title=title), chart(title=title), ply_stack_svg([Ply(title, 1)])):
        assert 'Left & <right> "wing" $x_1$  翼' in said(svg)
    ET.fromstring(cure(probes={"$\\frac{": [1.0] * 60}, required=[], air=[]))


def test_values_that_do_not_fit_the_times_are_refused():
    with pytest.raises(ValueError, match="Probe root has 2 values for 60 times"):
        cure(probes={**PROBES, "root": [1, 2]})
    with pytest.raises(ValueError, match="No readings are given for web"):
        cure(required=["web"])
    with pytest.raises(ValueError, match="indices of the 4 points"):
        chart(signals=[4])


def test_only_a_signal_is_red():
    assert RED in chart()
    assert RED not in chart(signals=[])
    assert "One value stands out" in said(chart(), "desc")
    assert "2 values stand out" in said(chart(signals=[2, 0, 2]), "desc")
    assert "No value stands out" in said(chart(signals=[]), "desc")


@pytest.mark.parametrize(
    ("deviation", "uncertainty", "verdict", "mark", "colour"),
    [
        (-0.1, 0.2, "within", "<circle", "#22303a"),
        (1.8, 0.2, "within", "<circle", "#22303a"),
        (1.9, 0.2, "near the limit", "<polygon", ASK),
        (-2.1, 0.2, "near the limit", "<polygon", ASK),
        (-2.8, 0.2, "outside", "<polygon", RED),
        (40.0, 0.2, "outside", "<polygon", RED),
    ],
)
def test_the_bar_of_a_ratio_shows_the_verdict_in_shape_and_word(deviation, uncertainty, verdict, mark, colour):
    # Shop rule 18: within if |dev| + U ≤ tol, outside if |dev| − U > tol, else near the limit; tolerance here is 2 %.
    svg = bar(deviation, uncertainty)
    assert said(svg).endswith(f": {verdict}")
    assert mark in svg
    assert colour in svg
    assert (RED in svg) == (verdict == "outside")


def test_a_mark_outside_has_eight_corners_and_lies_on_its_side_of_the_band():
    (points,) = re.findall(r'points="([^"]+)"', bar(-2.8))
    corners = [tuple(map(float, pair.split(","))) for pair in points.split()]
    assert len(corners) == 8
    band = ET.fromstring(bar(-2.8)).find(SVG + "rect")
    assert max(x for x, _ in corners) < float(band.get("x"))


def test_a_deviation_beyond_the_bar_stays_on_it_with_an_arrow():
    far, near = bar(90), bar(2.8)
    width = float(ET.fromstring(far).get("width"))
    (points,) = re.findall(r'points="([^"]+)"', far)
    assert max(float(pair.split(",")[0]) for pair in points.split()) < width
    assert "Hardener +90.0 %" in said(far)
    assert far.count("<path") == near.count("<path")  # the arrow stands in place of the whisker


@pytest.mark.parametrize("wrong", [{"deviation": float("nan")}, {"uncertainty": -1.0}, {"tolerance": 0.0}])
def test_a_bar_of_impossible_numbers_is_refused(wrong):
    with pytest.raises(ValueError, match="_pct is"):
        bar(**{"deviation": 0.0, **wrong})


def layers(svg):
    return [(float(r.get("y")), float(r.get("height"))) for r in ET.fromstring(svg).findall(SVG + "rect")]


def test_the_first_ply_lies_on_the_mould_and_heights_follow_thickness():
    found = layers(ply_stack_svg([Ply("gel coat", 0.5, "gel coat"), Ply("a", 0.25), Ply("core", 10, "core")]))
    assert found[0][0] > found[1][0] > found[2][0]
    heights = [height for _, height in found]
    assert heights[0] / heights[1] == pytest.approx(2, rel=0.02)
    assert heights[2] / heights[0] == pytest.approx(20, rel=0.02)
    assert found[1][0] + heights[1] == pytest.approx(found[0][0], abs=0.02)


@pytest.mark.parametrize(
    "plies", [STACK, [Ply(f"ply {i}", 0.1) for i in range(60)], [Ply("a", 0.01), Ply("b", 30, "core")]]
)
def test_labels_never_overlap_and_stay_inside(plies):
    root = ET.fromstring(ply_stack_svg(plies))
    labels = [text for text in root.findall(SVG + "text") if text.text != "mould"]
    assert [label.text for label in labels] == [ply.label for ply in plies]
    heights = [float(label.get("y")) for label in labels]
    assert all(lower - upper >= 14.9 for lower, upper in pairwise(heights))
    assert min(heights) >= 11
    assert max(heights) <= float(root.get("height"))


def test_a_stack_of_nothing_is_refused():
    with pytest.raises(ValueError, match="at least one layer"):
        ply_stack_svg([])
    with pytest.raises(ValueError, match="above 0"):
        ply_stack_svg([Ply("a", 0.0)])
