"""An order system at work: what is there, a part for an order, its way through the shop, its record; no signature."""

import re
from typing import Any

import pytest

from tests.journeys.floor import Floor


class OrderSystem:
    """Another program: it has the API, its key and its own memory, and nothing else."""

    def __init__(self, api: Any) -> None:
        self.api = api
        self.after: str | None = None

    def get(self, path: str) -> Any:
        return self.api.get(path, who="integrator")

    def post(self, path: str, body: Any, **more: Any) -> Any:
        return self.api.post(path, body, who="integrator", **more)

    def news(self) -> list[dict[str, Any]]:
        """All entries since the last look, page by page; the last cursor is kept for the next look."""
        found = []
        path: str | None = f"/v1/journal?limit=3{f'&after={self.after}' if self.after else ''}"
        while path is not None:
            answer = self.api.call("GET", path, who="integrator")
            assert answer.status_code == 200
            found += answer.get_json()
            link = re.fullmatch(r'<(.+)>; rel="next"', answer.headers.get("Link", ""))
            path = link[1] if link else None
            if path is not None:
                self.after = re.search(r"after=([^&]+)", path)[1]  # type: ignore[index]
        return found


@pytest.fixture
def orders(floor: Floor) -> OrderSystem:
    return OrderSystem(floor.api)


def test_it_asks_opens_follows_and_fetches(floor: Floor, orders: OrderSystem) -> None:
    api, bench = floor.api, floor.bench
    design = floor.design(need_g=480)
    stock = orders.get(f"/v1/availability?system={bench.system}&hardener={bench.slow}&mass_g=650")
    assert (stock["pot"]["possible"], {d["container"] for d in stock["pot"]["draws"]}) == (
        True,
        {bench.resin_can, bench.slow_can},
    )
    assert orders.get(f"/v1/availability?material={floor.cloth}")["stock"][0]["free_mm"] == 50_000
    before = [entry["seq"] for entry in orders.news()]
    assert before == list(range(1, len(before) + 1))

    body = {"design": design, "order": "SO-4471", "customer": "Rowing club"}
    one = api.call("POST", "/v1/parts", body, who="integrator", Idempotency_Key="SO-4471/1")
    two = api.call("POST", "/v1/parts", body, who="integrator", Idempotency_Key="SO-4471/1")
    part = one.get_json()["code"]
    assert (one.status_code, two.get_json()["code"], two.headers["Idempotency-Replayed"]) == (201, part, "true")
    assert [p["code"] for p in orders.get("/v1/parts?order=SO-4471")] == [part]
    opened = orders.news()
    mine = [e for e in opened if e["seq"] not in before]
    assert [(e["operation"], e["system"], e["person_name"], e["items"]) for e in mine] == [
        ("start_part", "orders", "orders", [part])
    ]

    pot = floor.pot((part, 480))["code"]
    floor.kit(design, part)
    floor.close_lay_up(part)
    cure = floor.cure(part)["code"]
    floor.cups_hard(pot)
    floor.finish(part)
    floor.release(part)
    seen = {e["seq"]: e for e in orders.news()}
    done = [e["operation"] for _, e in sorted(seen.items()) if part in e["items"]]
    assert [o for o in done if o != "record_part_step"] == [
        "start_part", "apply_mix", "lay_kit", "close_lay_up", "start_cure", "end_cure", "demould", "trim",
        "inspect_part", "release_part",
    ]  # fmt: skip
    assert max(seen) == orders.get("/v1/journal/chain")["entries"], "to the last entry, and none is missed"
    assert set(seen) >= set(range(max(before) + 1, max(seen) + 1))

    shipped = orders.post(f"/v1/parts/{part}/shipment", {"document": "LN 1187"})
    assert (shipped["state"], shipped["shipment"]["customer"]) == ("shipped", "Rowing club")
    record = orders.get(f"/v1/parts/{part}/record")
    assert (record["order"], record["state"], [c["code"] for c in record["cures"]]) == ("SO-4471", "shipped", [cure])
    paper = api.call("GET", f"/v1/parts/{part}/record.pdf", who="integrator")
    assert paper.data.startswith(b"%PDF")


def test_it_signs_nothing_and_reads_nothing_of_the_shops_own(floor: Floor, orders: OrderSystem) -> None:
    api, bench = floor.api, floor.bench
    design = floor.design()
    part = orders.post("/v1/parts", {"design": design})["code"]
    lot = api.get(f"/v1/containers/{bench.resin_can}")["lot"]
    pot = floor.pot((part, 360), total_g=390, hardener_g=80, left_g=15)["code"]
    asked = {"kind": "concession", "item": pot, "reasons": ["ratio-outside"], "why": "cup hard"}
    permission = api.post("/v1/permissions", asked)["id"]
    hold = api.post("/v1/holds", {"item": lot, "reason": "cloudy"})["id"]
    found = orders.post("/v1/nonconformances", {"item": part, "found": "customer: too heavy", "in_service": True})
    before = api.get(f"/v1/parts/{part}")["version"]
    for path, body in (
        (f"/v1/permissions/{permission}/signature", {"permitted": True}),
        (f"/v1/holds/{hold}/lifting", {"why": "clear"}),
        (f"/v1/nonconformances/{found['id']}/decision", {"disposition": "use as is", "because": "light enough"}),
        (f"/v1/parts/{part}/release", {"reviewed": True}),
        (f"/v1/lots/{lot}/release", {}),
        (f"/v1/designs/{design}/approval", {}),
        ("/v1/journal/1/corrections", {"declaration": "did not occur", "why": "x"}),
        ("/v1/people", {"name": "Somebody", "roles": ["lead"]}),
        (f"/v1/mixes/{pot}/cup-checks", {"hard": True}),
    ):
        problem = orders.post(path, body, expect=403)
        assert problem["type"] == "/problems/not-allowed", path
    for path in (f"/v1/parts/{part}/investigation", f"/v1/parts/{part}/investigation.pdf", "/v1/keys"):
        assert api.call("GET", path, who="integrator").status_code == 403
    assert api.get(f"/v1/parts/{part}")["version"] == before
    kept = api.get("/v1/journal?refused=true&operation=read_investigation", who="quality")
    assert {(entry["person_name"], entry["system"], entry["refused"]) for entry in kept} == {
        ("orders", "orders", "not-allowed")
    }
