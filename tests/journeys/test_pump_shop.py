"""An epoxy shop with a pump takes a part from delivery to its release; a pump found wrong the next day looks back."""

from tests.journeys.floor import Floor

PAIRS = [(18.4, 4.9), (20.0, 6.0), (20.1, 6.03), (19.9, 5.97), (20.1, 6.0), (19.9, 6.0), (20.0, 6.0)]


def _check(floor: Floor, pump: str, system: int, *, share: float = 1.0) -> None:
    pairs = [{"resin_g": a, "hardener_g": round(b * share, 3)} for a, b in PAIRS]
    body = {"system": system, "hardener": floor.bench.slow, "pairs": pairs}
    floor.api.post(f"/v1/scales/{pump}/shots", body)


def _pumped(floor: Floor, system: int, pump: str, part: str, resin: int, hardener: int) -> str:
    bench = floor.bench
    mix = str(bench.start(520, system=system, scale=pump, parts=[part])["code"])
    floor.api.post(f"/v1/mixes/{mix}/strokes", {
        "scale": pump, "resin_container": bench.resin_can, "hardener_container": bench.slow_can,
        "resin_strokes": resin, "hardener_strokes": hardener,
    })  # fmt: skip
    bench.stir(mix)
    bench.apply(mix, part)
    floor.api.post(f"/v1/mixes/{mix}/closing", {"left_g": 12.5, "loss_g": 1.5, "cup_kept": True})
    return mix


def test_a_pumped_part_from_delivery_to_record_and_its_pump_looked_back_at(floor: Floor) -> None:
    api, bench = floor.api, floor.bench
    body = {
        "name": "Alder 10 by pump", "data_sheet": "Alder 10, pumps", "resin": bench.resin, "largest_pot_g": 1000,
        "tolerance": {"kind": "percent of ratio", "value": 6, "source": "pump sheet"}, "stir_min": 2,
        "hardeners": [{"material": bench.slow, "speed": "slow", "parts_by_weight": 30,
                       "cup_life": [{"mass_g": 1000, "temperature_c": 20, "life_min": 40}]}],
    }  # fmt: skip
    system = api.post("/v1/resin-systems", body, who="lead")["id"]
    api.post(f"/v1/resin-systems/{system}/approval", who="quality")
    pump = api.post("/v1/pumps", {"name": "Resin pump 1"}, who="lead")["code"]
    _check(floor, pump, system)

    floor.ready_mould()
    need = [{"purpose": "wet-out", "system": "Alder 10 by pump", "mass_g": 500, "spread_pct": 25}]
    design = floor.design("HP-20", resin_need=need)
    part = floor.part(design, mould=floor.mould["code"])
    floor.kit(design, part)
    mix = _pumped(floor, system, pump, part, 20, 20)
    floor.close_lay_up(part)
    floor.cure(part)
    floor.cups_hard(mix)
    floor.finish(part)
    assert floor.open_points(part) == []
    assert floor.release(part)["state"] == "released"
    record = api.get(f"/v1/parts/{part}/record", who="quality")
    assert record["pots"][0]["verdict"] == "within"
    assert "Pump" in record["pots"][0]["scales"]["sentence"]
    assert api.get(f"/v1/parts/{part}/investigation", who="quality")["account"]["pots"][0]["code"] == mix

    # The next morning the hardener's side gives a tenth too little: yesterday's pot and its part are in doubt.
    _check(floor, pump, system, share=0.88)
    assert [f["kind"] for f in api.get(f"/v1/mixes/{mix}")["flags"] if f["stops"]] == ["pump-check-failed"]
    assert api.get(f"/v1/parts/{part}")["holds"]


def test_a_missed_stroke_of_hardener_holds_the_part(floor: Floor) -> None:
    api, bench = floor.api, floor.bench
    pump = api.post("/v1/pumps", {"name": "Resin pump 2"}, who="lead")["code"]
    _check(floor, pump, bench.system)
    part = floor.part(floor.design("HP-21"))
    mix = _pumped(floor, bench.system, pump, part, 20, 18)
    pot = api.get(f"/v1/mixes/{mix}")
    # The total is 2.3 % short, the ratio 10 %.
    assert round(pot["judgement"]["deviation_pct"], 1) == -10.0
    assert {"ratio-outside"} <= {f["kind"] for f in pot["flags"] if f["stops"]}
    assert api.get(f"/v1/parts/{part}")["holds"]
