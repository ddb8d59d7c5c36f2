"""What the design asks for is compared with what was applied: said at the closing, flagged, read at the release, and
printed in both reports."""

import io
from typing import Any

import pypdfium2
import pytest

from schemas.words import Purpose
from service.operations.parts.asked import Went, compare
from tests import makers
from tests.fresh import made_once
from tests.journeys import floor as floors
from tests.journeys.floor import Floor

LAMINATE = {"fibre_mass_fraction": 0.52, "loss_fraction": 0.05}


@made_once
def _with_gel_coat(api: Any) -> Floor:
    """A floor that has a gel coat too: Gel G5, 100:30, a can of each."""
    yard = floors.founded(api)
    gel = makers.material(api, "Gel G5", "gel coat", density_g_ml=1.2)
    hardener = makers.material(api, "Gel G5 hardener", "gel coat hardener", density_g_ml=1.0)
    made = makers.resin_system(api, gel, {hardener: 30}, name="Gel G5")
    api.gel = {
        "system": made["id"],
        "hardener": hardener,
        "cans": [
            makers.cans(api, gel, yard.bench.place, "G-1")[0],
            makers.cans(api, hardener, yard.bench.place, "GH-1", net_g=2000)[0],
        ],
    }
    return yard


@pytest.fixture
def floor(api: Any) -> Floor:
    return _with_gel_coat(api)


def _design(
    floor: Floor, *more: dict[str, Any], need_g: float = 401, spread_pct: float | None = 15, **facts: Any
) -> int:
    need = {"purpose": "wet-out", "system": "Alder 10", "mass_g": need_g}
    if spread_pct is not None:
        need["spread_pct"] = spread_pct
    return floor.design(resin_need=[need, *more], laminate=LAMINATE, **facts)


def _pot(floor: Floor, part: str, total_g: float, *, gel: bool = False, **more: Any) -> Any:
    """A pot of which all but 1.5 g goes into the part."""
    cans, other = (floor.bench.resin_can, floor.bench.slow_can), {}
    if gel:
        cans = floor.api.gel["cans"]
        other = {"system": floor.api.gel["system"], "hardener": floor.api.gel["hardener"]}
    return floor.pot(part, total_g=total_g, left_g=0, cans=cans, parts=[part], **other, **more)


def _flags(view: Any, *kinds: str) -> list[tuple[str, bool, str]]:
    return [(f["kind"], f["stops"], f["sentence"]) for f in view["flags"] if f["kind"] in kinds]


def _words(api: Any, part: str, name: str) -> str:
    pdf = api.call("GET", f"/v1/parts/{part}/{name}.pdf", who="quality").data
    document = pypdfium2.PdfDocument(io.BytesIO(pdf))
    return " ".join(" ".join(page.get_textpage().get_text_bounded().split()) for page in document)


def test_a_gel_coat_applied_as_wet_out_is_told_at_once_and_holds(floor: Floor) -> None:
    api = floor.api
    part = floor.part(_design(floor, {"purpose": "gel coat", "system": "Gel G5", "mass_g": 200}))
    mix = _pot(floor, part, 401, gel=True)["code"]
    view = api.get(f"/v1/parts/{part}")
    wrong = f"{mix} went on as wet-out: it is Gel G5, and the design asks for Alder 10."
    assert _flags(view, "other-system") == [("other-system", True, wrong)]
    assert [h["reason"] for h in view["holds"]] == [wrong]
    closed = floor.close_lay_up(part)
    missing = "No mix for gel coat is recorded; the design asks for 200 g of Gel G5."
    assert _flags(closed, "other-system", "no-resin", "resin-mass") == [
        ("other-system", True, wrong),
        ("no-resin", True, missing),
    ]
    assert {wrong, missing} <= set(closed["as_designed"]["sentences"])
    assert {(part, "other-system"), (part, "no-resin")} <= set(floor.open_points(part))
    for name in ("record", "investigation"):
        found = api.get(f"/v1/parts/{part}/{name}", who="quality")["standing_out"]
        assert {"other-system", "no-resin"} <= {f["kind"] for f in found if f["rank"] == "out of limit"}
        assert "Resin, as designed and as applied" in _words(api, part, name)


def test_a_laminate_with_a_third_less_resin_than_asked_needs_a_concession(floor: Floor) -> None:
    """267 g of 401 g, 1.5 g of it lost: 33 % less, and 400 g of fibre in 665.5 g is 60 % for 52 %."""
    api = floor.api
    design = _design(floor)
    part = floor.part(design)
    cut = {"roll": floor.roll, "length_mm": 1500}
    kit = api.post("/v1/kits", {"design": design, "cuts": [cut], "mass_g": 400})["code"]
    api.post(f"/v1/parts/{part}/kits", {"kit": kit, "backers_counted": 3})
    _pot(floor, part, 267)
    closed = floor.close_lay_up(part)
    need = closed["as_designed"]["needs"][0]
    assert (need["asked_g"], need["used_g"], need["difference_pct"], need["within"]) == (401, 267, -33.4, False)
    said = _flags(closed, "resin-mass")
    assert [stops for _, stops, _ in said] == [True]
    assert said[0][2] == (
        "Wet-out: 267 g of 401 g asked, 33 % less; ± 15 % is allowed. Fibre by mass comes to 60 %; 52 % is planned."
    )
    share = closed["as_designed"]["fibre_mass"]
    assert (share["planned"], share["low"], share["high"]) == (0.52, 0.6011, 0.6011)
    assert (part, "resin-mass") in floor.open_points(part)
    floor.concede(part, "resin-mass", why="looks wet, tapped all over")
    assert (part, "resin-mass") not in floor.open_points(part)
    for name in ("record", "investigation"):
        assert "−33.4 %" in _words(api, part, name)


def test_within_its_spread_nothing_is_said_and_without_one_the_difference_is_read(floor: Floor) -> None:
    good = floor.part(_design(floor))
    _pot(floor, good, 420)
    assert _flags(floor.close_lay_up(good), "resin-mass") == []
    told = floor.part(_design(floor, spread_pct=None, part_number="HY-205"))
    _pot(floor, told, 420)
    said = _flags(floor.close_lay_up(told), "resin-mass")
    assert [stops for _, stops, _ in said] == [False]
    assert said[0][2].startswith("Wet-out: 420 g of 401 g asked, 5 % more; the design gives no spread for it.")
    assert floor.to_read(told)["resin-mass"] == said[0][2]
    assert (told, "resin-mass") not in floor.open_points(told)


def test_what_is_told_after_the_closing_settles_what_it_said(floor: Floor) -> None:
    api = floor.api
    part = floor.part(_design(floor))
    closed = floor.close_lay_up(part)
    assert _flags(closed, "no-resin") == [
        ("no-resin", True, "No mix for wet-out is recorded; the design asks for 401 g of Alder 10.")
    ]
    _pot(floor, part, 400)
    flag = next(f for f in api.get(f"/v1/parts/{part}")["flags"] if f["kind"] == "no-resin")
    assert flag["settled"] == "What was recorded since has changed it."
    assert (part, "no-resin") not in floor.open_points(part)
    assert floor.to_read(part)["no-resin"].endswith("What was recorded since has changed it.")
    found = api.get(f"/v1/parts/{part}/record")["standing_out"]
    assert [f["rank"] for f in found if f["kind"] == "no-resin"] == ["to be read"]


def test_an_open_pot_is_not_known_yet_and_marked_when_the_part_leaves_its_mould(floor: Floor) -> None:
    api, bench = floor.api, floor.bench
    part = floor.part(_design(floor))
    mix = bench.mixed(200)["code"]
    bench.apply(mix, part)
    closed = floor.close_lay_up(part)
    assert _flags(closed, "resin-mass") == []
    assert closed["as_designed"]["sentences"] == [
        f"Wet-out: how much went on is not known before {mix} is closed; 401 g is asked."
    ]
    api.post(f"/v1/mixes/{mix}/closing", {"left_g": 10})
    # Nobody has marked it yet, so the release says it, and how it gets its flag.
    what = [p["what"] for p in api.get(f"/v1/parts/{part}/release")["open"] if p["kind"] == "resin-mass"]
    assert what[0].startswith("Wet-out: 190 g of 401 g asked, 53 % less")
    assert what[0].endswith("Inspect the part to have it marked.")
    out = api.post(f"/v1/parts/{part}/demoulding", {"temperature_c": 20})
    assert [stops for _, stops, _ in _flags(out, "resin-mass")] == [True]


def test_coats_are_counted(floor: Floor) -> None:
    asked = {"purpose": "gel coat", "system": "Gel G5", "mass_g": 200, "spread_pct": 15, "coats": 2}
    part = floor.part(_design(floor, asked))
    _pot(floor, part, 400)
    _pot(floor, part, 100, gel=True, purpose="gel coat")
    one = floor.close_lay_up(part)
    assert _flags(one, "coats-missing") == [("coats-missing", True, "Gel coat: 1 of 2 coats is recorded.")]
    _pot(floor, part, 100, gel=True, purpose="gel coat")
    assert not {(part, "coats-missing"), (part, "resin-mass")} & set(floor.open_points(part))


def test_an_estimated_leftover_is_a_range_and_a_range_across_the_limit_decides_nothing(floor: Floor) -> None:
    part = floor.part(_design(floor))
    bench = floor.bench
    mix = bench.mixed(400)["code"]
    bench.apply(mix, part)
    floor.api.post(f"/v1/mixes/{mix}/closing", {"left_g": 60, "left_estimated": True})
    closed = floor.close_lay_up(part)
    need = closed["as_designed"]["needs"][0]
    assert (need["used_g"], need["low_g"], need["high_g"], need["within"]) == (340, 280, 400, None)
    said = _flags(closed, "resin-mass")
    assert [stops for _, stops, _ in said] == [False]
    assert "(the leftover is estimated: 280 g to 400 g)" in said[0][2]


def test_a_pot_shared_by_two_parts_says_that_it_was_shared_by_need(floor: Floor) -> None:
    design = _design(floor)
    first, second = floor.part(design), floor.part(design)
    floor.pot(first, second, total_g=500, left_g=0, parts=[first, second])
    need = floor.close_lay_up(first)["as_designed"]["needs"][0]
    assert (need["used_g"], need["within"]) == (250, False)
    assert need["estimated"] == "estimated, shared out by need among 2 applications"


NEED = {"purpose": Purpose.WET_OUT, "system": "Alder 10", "mass_g": 400, "spread_pct": 10}


def _went(used_g: float, spread_g: float = 0) -> Went:
    return Went("M1", "Alder 10", "wet-out", used_g, used_g - spread_g, used_g + spread_g, used_g, used_g)


@pytest.mark.parametrize(
    ("used", "spread", "within"),
    [
        (360, 0, True), (440, 0, True), (359.9, 0, False), (440.1, 0, False),
        (400, 40, True), (400, 40.1, None), (355, 10, None), (340, 19.9, False), (340, 20, None),
    ],
)  # fmt: skip
def test_the_verdict_needs_the_whole_range(used: float, spread: float, within: bool | None) -> None:
    assert compare([NEED], [_went(used, spread)]).needs[0].within is within


def test_the_fibre_by_mass_takes_off_what_peel_ply_takes_up_and_what_nobody_told_of_the_losses() -> None:
    """400 g of cloth, 460 g used of which 40 g in the peel ply: 400/820; with 5 % lost on the way 400/(400 + 398.1)."""
    went = Went("M1", "Alder 10", "wet-out", 460, 460, 460, 460 / 1.05, 460)
    found = compare([NEED], [went], fibre_g=400, planned_by_mass=0.52, uptake_g=40).fibre_mass
    assert found is not None
    assert (found.low, found.high) == (pytest.approx(400 / 820, abs=1e-4), pytest.approx(400 / 798.095, abs=1e-4))
    assert found.sentence == "Fibre by mass comes to 49 to 50 %; 52 % is planned."
