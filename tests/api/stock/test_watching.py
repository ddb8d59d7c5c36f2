"""The daily look over the stock: what is short and what is soon past its date is told once, until it is otherwise."""

from datetime import UTC, datetime
from typing import Any

from service.cli.delivering import DailyLook
from service.delivering import Worker
from service.sending import addresses
from tests import makers
from tests.receiver import receiving


def test_a_look_finds_what_is_short_and_soon_past_once_and_ends_it(api: Any) -> None:
    addresses.allow_own("127.0.0.0/8")
    clock = api.shop.clock
    with receiving() as receiver:
        told = {"url": receiver.url, "events": ["stock.short", "container.expiring"]}
        api.post("/v1/webhooks", told, who="administrator")
        makers.supplier(api)
        where = makers.place(api)
        resin = makers.material(api, "Alder 10 resin", "resin", least_stock_g=6000, opened_life_days=10)
        cloth = makers.fabric(api, least_stock_mm=10_000)
        can = makers.cans(api, resin, where, "R-1", net_g=5000)[0]
        makers.roll(api, cloth, where, "F-1", length_mm=20_000)
        first = api.post("/v1/stock-watches", who="integrator")
        assert first == {"found": 1, "ended": 0, "standing": 1}
        assert api.post("/v1/stock-watches", who="lead") == {"found": 0, "ended": 0, "standing": 1}
        (short,) = api.get("/v1/stock-warnings?standing=true")
        assert (short["material"], short["kind"], short["free_g"], short["least_g"]) == (
            resin,
            "stock short",
            5000,
            6000,
        )

        api.post(f"/v1/containers/{can}/opening")
        makers.cans(api, resin, where, "R-2", net_g=5000)
        assert api.post("/v1/stock-watches", who="lead") == {"found": 1, "ended": 1, "standing": 1}
        (soon,) = api.get("/v1/stock-warnings?kind=container expiring")
        assert (soon["item"], soon["good_until"], soon["ended_at"]) == (can, "2026-11-13", None)
        assert api.get("/v1/stock-warnings?standing=false")[0]["id"] == short["id"]
        clock.forward(days=12)
        assert api.post("/v1/stock-watches", who="lead") == {"found": 1, "ended": 1, "standing": 1}, "past, so short"

        Worker(say=print, clock=clock, poll_s=0.05).run(once=True)
        assert receiver.events == ["stock.short", "container.expiring", "stock.short"]
        one, other, _ = (heard.told["data"] for heard in receiver.heard)
        assert (one["name"], one["free_g"], one["least_g"]) == ("Alder 10 resin", 5000, 6000)
        assert (other["container"], other["good_until"]) == (can, "2026-11-13")
        assert api.get(one["link"])["stock"][0]["free_g"] == 5000
    addresses.allow_own("")
    both = {"name": "Elm", "kind": "resin", "least_stock_g": 1, "least_stock_mm": 1}
    problem = api.refused("/v1/materials", both, "invalid", status=422, who="lead")
    assert problem["errors"][0]["pointer"] == "/least_stock_mm"


def test_the_worker_looks_once_a_day_of_the_shop_and_of_several_one_does(api: Any) -> None:
    """Copenhagen is an hour ahead of UTC in December."""
    makers.material(api, "Alder 10 resin", "resin", least_stock_g=6000)
    said: list[str] = []
    workers = [DailyLook(say=said.append, from_h=6, within_days=14) for _ in range(2)]
    looks = []
    for day, hour in ((3, 4), (3, 5), (3, 9), (3, 23), (4, 4), (4, 5)):
        for worker in workers:
            worker.due(datetime(2026, 12, day, hour, 30, tzinfo=UTC))
        looks.append(len(api.get("/v1/journal?operation=watch_stock", who="quality")))
    assert (looks, said) == ([0, 1, 1, 1, 1, 2], [])
    assert [one["kind"] for one in api.get("/v1/stock-warnings")] == ["stock short"]
