"""What stands in a part's release check: what was told late or done too early, and what will refuse it."""

from datetime import timedelta
from typing import Any

import pytest

from tests import makers


@pytest.fixture
def bench(api: Any) -> makers.Mixing:
    return makers.mixing(api)


def _review(api: Any, part: str, kind: str) -> list[tuple[str, str]]:
    return [(r["item"], r["what"]) for r in api.get(f"/v1/parts/{part}/release")["review"] if r["kind"] == kind]


def _started(bench: makers.Mixing, part_number: str = "HY-204", *, came: str | None = None, **facts: Any) -> str:
    glass = makers.fabric(bench.api)
    need = [{"purpose": "wet-out", "system": "Alder 10", "mass_g": 300}]
    makers.design(bench.api, part_number, plies=makers.plies(glass, 0, 45), resin_need=need)
    told = {"occurred_at": came} if came else {}
    bench.api.roll = makers.roll(bench.api, glass, bench.place, "G-1", **told)
    return str(bench.api.post("/v1/parts", {"part_number": part_number, **facts})["code"])


def test_every_late_act_on_all_that_a_part_is_made_of_is_read_before_its_release(bench: makers.Mixing) -> None:
    api = bench.api
    part = _started(bench)
    other = api.post("/v1/parts", {"part_number": "HY-204"})["code"]
    begun = api.shop.clock.now
    mix = bench.start(400)["code"]

    def late(minutes: float) -> str:
        """So many minutes after the start; told 40 minutes after that."""
        api.shop.clock.now = begun + timedelta(minutes=minutes + 40)
        return str((begun + timedelta(minutes=minutes)).isoformat())

    api.post(f"/v1/containers/{bench.slow_can}/opening", {"occurred_at": late(1)})
    cuts = [{"roll": api.roll, "length_mm": 1000}]
    kit = api.post("/v1/kits", {"design": 1, "cuts": cuts, "occurred_at": late(2)})["code"]
    api.post(f"/v1/parts/{part}/kits", {"kit": kit})
    bench.pour(mix, bench.resin_can, 307.7, occurred_at=late(4))
    bench.pour(mix, bench.slow_can, 92.3, occurred_at=late(5))
    bench.stir(mix)
    api.post(f"/v1/mixes/{mix}/applications", {"parts": [{"part": part, "mass_g": 300}], "occurred_at": late(10)})
    api.post(f"/v1/mixes/{mix}/applications", {"parts": [{"part": other, "mass_g": 50}], "occurred_at": late(11)})
    api.post(f"/v1/mixes/{mix}/closing", {"left_g": 50, "cup_kept": True, "occurred_at": late(12)})
    api.post(f"/v1/mixes/{mix}/cup-checks", {"hard": True, "occurred_at": late(13)})
    api.post(f"/v1/parts/{part}/closing", {"occurred_at": late(14)})
    weighed = {"gross_g": 2050, "tare_g": 150, "occurred_at": late(15)}
    api.post(f"/v1/containers/{bench.slow_can}/weighings", weighed)
    api.shop.clock.forward(hours=1)

    assert _review(api, part, "late") == [
        (bench.slow_can, "Opening the container was recorded 40 min after it happened."),
        (kit, "Cutting the kit was recorded 40 min after it happened."),
        (mix, "Weighing into the pot was recorded 40 min after it happened."),
        (mix, "Weighing into the pot was recorded 40 min after it happened."),
        (part, "Applying the pot was recorded 40 min after it happened."),
        (mix, "Closing the pot was recorded 40 min after it happened."),
        (mix, "Checking the cup was recorded 40 min after it happened."),
        (part, "Closing the lay-up was recorded 40 min after it happened."),
    ]
    assert (mix, "Applying the pot was recorded 40 min after it happened.") not in _review(api, other, "late")
    assert (other, "Applying the pot was recorded 40 min after it happened.") in _review(api, other, "late")


def test_what_was_done_before_its_plan_scale_or_lot_was_fit_is_read_before_release(bench: makers.Mixing) -> None:
    """Told afterwards, when all was approved: when it was done, all was there, and none of it approved."""
    api = bench.api
    came, before = ((api.shop.clock.now - timedelta(minutes=ago)).isoformat() for ago in (60, 30))
    bench.resin_can, bench.slow_can = (
        makers.lot(api, what, bench.place, makers_lot=f"26-{what}", containers=[{"net_g": 5000}], occurred_at=came)[
            "containers"
        ][0]
        for what in (bench.resin, bench.slow)
    )
    fine = makers.scale(api, "Fine scale", interval_g=0.01, check_every_days=30)
    check = {"weight": "W-500-1", "nominal_g": 500, "reading_g": 500, "limit_g": 0.2}
    api.post(f"/v1/scales/{fine}/checks", check)
    part = _started(bench, came=came, occurred_at=before)
    cuts = [{"roll": api.roll, "length_mm": 1000}]
    kit = api.post("/v1/kits", {"design": 1, "cuts": cuts, "occurred_at": before})["code"]
    api.post(f"/v1/parts/{part}/kits", {"kit": kit})
    mix = bench.start(400, occurred_at=before)["code"]
    bench.pour(mix, bench.resin_can, 307.7, occurred_at=before)
    bench.pour(mix, bench.slow_can, 92.3, occurred_at=before, scale=fine, zeroed=True)
    bench.stir(mix)
    bench.apply(mix, part)
    assert _review(api, part, "before-approval") == [
        (part, "Started on 3 Nov 2026 09:30, before HY-204 revision A was approved on 3 Nov 2026 10:00."),
        (kit, "Cut on 3 Nov 2026 09:30, before HY-204 revision A was approved on 3 Nov 2026 10:00."),
        (mix, "Started on 3 Nov 2026 09:30, before Alder 10 revision 1 was approved on 3 Nov 2026 10:00."),
    ]
    assert _review(api, part, "before-check") == [
        (mix, "Weighed on Bench scale on 3 Nov 2026 09:30, before it was put up on 3 Nov 2026 10:00."),
        (mix, "Weighed on Fine scale on 3 Nov 2026 09:30, before it was first checked on 3 Nov 2026 10:00."),
    ]
    lots = {can: api.get(f"/v1/containers/{can}")["lot"] for can in (bench.resin_can, bench.slow_can, api.roll)}
    assert sorted(_review(api, part, "before-release")) == sorted(
        (can, f"Taken on 3 Nov 2026 09:30, before lot {lot} was released on 3 Nov 2026 10:00.")
        for can, lot in lots.items()
    )
    api.post(f"/v1/parts/{part}/closing", {"occurred_at": before})
    makers.schedule(api, "Room overnight", evidence="declared")
    cure = api.post("/v1/cures", {"schedule": "Room overnight", "parts": [part], "occurred_at": before})["code"]
    said = _review(api, part, "before-approval")[-1]
    assert said[0] == cure
    assert said[1].startswith("Started on 3 Nov 2026 09:30, before Room overnight revision 1 was approved on 3 Nov")


def test_what_will_refuse_a_release_stands_in_open_beforehand(api: Any) -> None:
    makers.design(api)
    part = api.post("/v1/parts", {"part_number": "HY-204"}, who="lead")["code"]
    path = f"/v1/parts/{part}/release"

    def seen(who: str) -> list[tuple[str, str]]:
        kinds = ("second-person", "over")
        return [(p["what"], p["who"]) for p in api.get(path, who=who)["open"] if p["kind"] in kinds]

    own = [(f"You started, mixed, laid up or cured {part}; a second person releases it.", "another lead or quality")]
    assert (seen("lead"), seen("second lead"), seen("laminator")) == (own, [], [])
    api.refused(path, {"reviewed": True}, "second-person-required", who="lead")
    made = api.post("/v1/parts", {"part_number": "HY-204"}, who="laminator")["code"]
    kinds = {p["kind"] for p in api.get(f"/v1/parts/{made}/release")["open"]}
    assert "second-person" not in kinds, "a laminator could not release it if a second person had made it"
    api.post(f"/v1/parts/{part}/scrapping", {"method": "sawn up", "why": "trial"}, who="lead")
    assert seen("quality") == [(f"{part} was scrapped.", "nobody")]


def test_a_released_part_says_that_it_is_released(api: Any) -> None:
    makers.design(api)
    part = makers.laid_up_part(api)
    makers.cured(api, part)
    api.post(f"/v1/parts/{part}/demoulding", {"temperature_c": 20})
    api.post(f"/v1/parts/{part}/inspections", {"accepted": True})
    assert api.get(f"/v1/parts/{part}/release", who="lead")["open"] == []
    api.post(f"/v1/parts/{part}/release", {"reviewed": True}, who="lead")
    said = api.get(f"/v1/parts/{part}/release", who="lead")["open"]
    assert [(p["kind"], p["what"]) for p in said] == [("over", f"{part} was released already.")]
