"""How long a film lay before it was on the part, and before the lay-up was closed: of each part, over HTTP."""

from typing import Any

from tests import makers

_SLOW = "time from first contact to the last of the film"
_OPEN = "time of the last film until the lay-up was closed"


def test_a_pot_for_several_parts_is_on_each_at_its_own_time(api: Any) -> None:
    """Two pots for three parts each, one part after another; three of the lay-ups are closed an hour later."""
    makers.design(api, zones=["root"])
    bench, clock = makers.mixing(api), api.shop.clock
    parts, applied, closed = [], {}, {}
    for pot in range(2):
        three = [str(api.post("/v1/parts", {"part_number": "HY-204"})["code"]) for _ in range(3)]
        mix = bench.start(390)["code"]
        bench.pour(mix, bench.resin_can, 300.0)
        contact = clock.now
        clock.forward(minutes=2)
        bench.pour(mix, bench.slow_can, 90.0)
        bench.stir(mix)
        for part in three:
            clock.forward(minutes=4)
            bench.apply(mix, (part, 120.0))
            applied[part] = (clock.now - contact).total_seconds() / 60
        api.post(f"/v1/mixes/{mix}/closing", {"left_g": 25, "loss_g": 1, "cup_kept": False})
        for place, part in enumerate(three):
            clock.forward(minutes=1 + 60 * (place == pot))
            api.post(f"/v1/parts/{part}/closing")
            closed[part] = (clock.now - contact).total_seconds() / 60
        parts += three
    for part in parts:
        makers.cured(api, part)
        api.post(f"/v1/parts/{part}/inspections", {"accepted": True})
    failed = sorted(parts, key=lambda one: closed[one])[-2:]
    for part in failed:
        defect = {"kind": "soft", "zone": "root"}
        body = {"item": part, "found": "soft", "failed": True, "defects": [defect]}
        api.post("/v1/nonconformances", body, who="quality")
    for part in failed:
        report = api.get(f"/v1/parts/{part}/investigation", who="quality")["suspects"]
        own = {one["name"]: one["own"] for one in report["numbers"]}
        # First contact is when the hardener was asked for: with the resin's weighing, two minutes before its own.
        begun = applied[part] - own[_SLOW]
        assert begun in (0.0, 2.0)
        assert own[_OPEN] == closed[part] - begun
    assert min(one["p"] for one in report["numbers"] if one["name"] == _OPEN) <= 2 / 15
