"""When something was signed and shipped: the service's own time, and a day that can be."""

from datetime import datetime, timedelta
from typing import Any

from tests.api.parts.finished import made, released


def test_a_part_is_shipped_between_its_release_and_today_and_a_day_told_later_says_so(yard: Any) -> None:
    part = made(yard)
    released(yard, part)
    yard.shop.clock.forward(hours=72)
    ship = {"document": "LN 1", "customer": "Club"}
    for day in ("2026-11-03", "2026-11-08"):
        problem = yard.refused(
            f"/v1/parts/{part}/shipment", {**ship, "shipped_on": day}, "invalid", status=422, who="lead"
        )
        assert [error["pointer"] for error in problem["errors"]] == ["/shipped_on"]
        assert "was released on 4 Nov 2026; say a day from then to today, 7 Nov 2026" in problem["detail"]
    early = {**ship, "occurred_at": (yard.shop.clock.now - timedelta(days=5)).isoformat(), "why": "told later"}
    problem = yard.refused(f"/v1/parts/{part}/shipment", early, "invalid", status=422, who="lead")
    assert [error["pointer"] for error in problem["errors"]] == ["/occurred_at"]
    yard.post(f"/v1/parts/{part}/shipment", {**ship, "shipped_on": "2026-11-05"}, who="lead")
    late = yard.get(f"/v1/parts/{part}/record")["late"]
    assert [(e["what"], e["occurred_at"][:16]) for e in late] == [("shipping the part", "2026-11-05T23:00")]
    back = {"reason": "a dry spot", "occurred_at": "2026-11-04T20:00:00Z"}
    problem = yard.refused(f"/v1/parts/{part}/return", back, "invalid", status=422, who="lead")
    assert problem["detail"] == f"{part} was shipped on 5 Nov 2026 00:00; this cannot have happened before."


def test_the_time_of_a_signature_is_the_services_own(yard: Any) -> None:
    part = made(yard)
    yard.post(f"/v1/parts/{part}/inspections", {"accepted": True})
    now = yard.shop.clock.now
    stated = {"reviewed": True, "occurred_at": (now - timedelta(minutes=40)).isoformat(), "why": "by word of mouth"}
    released = yard.post(f"/v1/parts/{part}/release", stated, who="lead")
    assert datetime.fromisoformat(released["released_at"]) == now
    late = yard.get(f"/v1/parts/{part}/record")["late"]
    assert [e["what"] for e in late] == ["releasing the part"]


def test_neither_release_nor_shipping_is_told_of_before_a_hold_that_stands(yard: Any) -> None:
    """A hold from a time on stops what is done now, whatever time is told of it."""
    part, clock = made(yard), yard.shop.clock
    yard.post(f"/v1/parts/{part}/inspections", {"accepted": True})
    hold = {"item": part, "reason": "looks cloudy", "since": (clock.now + timedelta(minutes=1)).isoformat()}
    early = (clock.now + timedelta(seconds=30)).isoformat()
    clock.forward(minutes=30)
    for path, body, kind in (
        ("release", {"reviewed": True}, "not-releasable"),
        ("shipment", {"document": "LN 1", "customer": "Club"}, "on-hold"),
    ):
        number = yard.post("/v1/holds", hold)["id"]
        told = {**body, "occurred_at": early, "why": "by word of mouth"}
        problem = yard.refused(f"/v1/parts/{part}/{path}", told, kind, who="lead")
        assert "looks cloudy" in problem["detail"]
        yard.post(f"/v1/holds/{number}/lifting", {"why": "clear"}, who="quality")
        if path == "release":
            yard.post(f"/v1/parts/{part}/release", {"reviewed": True}, who="lead")
            early = (clock.now + timedelta(seconds=30)).isoformat()
            hold["since"] = (clock.now + timedelta(minutes=1)).isoformat()
            clock.forward(minutes=30)
