"""The last of a can: two tablets at once, and a can that holds more than the book says."""

import threading
from typing import Any

from tests import makers
from tests.journeys.floor import Floor, mg


def _at_once(floor: Floor, body: dict[str, Any], *people: str) -> list[Any]:
    """The same start from several tablets in the same moment, each with a connection of its own."""
    app, keys = floor.api.client.application, floor.api.shop.keys
    answers: list[Any] = [None] * len(people)
    together = threading.Barrier(len(people))
    first = body["containers"][0]["container"]

    def send(index: int) -> None:
        client = app.test_client()
        together.wait()
        headers = {"Authorization": f"Bearer {keys[people[index]]}", "Idempotency-Key": f"start on {first} {index}"}
        answers[index] = client.post("/v1/mixes", json=body, headers=headers)

    threads = [threading.Thread(target=send, args=(index,)) for index in range(len(people))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return answers


def test_two_who_start_on_the_last_200_g_at_once_one_gets_it_and_the_other_is_told(floor: Floor) -> None:
    api, bench = floor.api, floor.bench
    last = makers.cans(api, bench.resin, bench.place, "R-9", net_g=200)[0]
    body = {"system": bench.system, "hardener": bench.slow, "purpose": "wet-out", "total_g": 260, "temperature_c": 20,
            "scale": bench.scale, "containers": [{"container": last}, {"container": bench.slow_can}]}  # fmt: skip
    answers = _at_once(floor, body, "laminator", "second laminator")
    assert sorted(a.status_code for a in answers) == [201, 409]
    won = next(a.get_json() for a in answers if a.status_code == 201)
    lost = next(a.get_json() for a in answers if a.status_code == 409)
    assert (lost["type"], lost["left_g"], lost["wanted_g"]) == ("/problems/stock-short", 0, 200)
    assert lost["instead"] == [bench.resin_can]
    assert bench.resin_can in lost["way_out"]
    can = api.get(f"/v1/containers/{last}")
    assert (can["left_g"], can["reserved_g"], can["fitness"]["answer"]) == (200, 200, "leave")
    bench.pour(won["code"], last, 200)
    assert api.get(f"/v1/containers/{last}")["state"] == "empty"
    # The refused start is history too: who asked, for what, and why not.
    refused = api.get("/v1/journal?operation=start_mix&refused=true", who="quality")
    assert [e["refused"] for e in refused] == ["stock-short"]
    # Given up, what was reserved is free again for whoever comes next.
    rest = makers.cans(api, bench.resin, bench.place, "R-8", net_g=200)[0]
    body = {**body, "containers": [{"container": rest}, {"container": bench.slow_can}]}
    answers = _at_once(floor, body, *["laminator", "second laminator", "lead", "second lead"])
    assert sorted(a.status_code for a in answers) == [201, 409, 409, 409]
    held = next(a.get_json()["code"] for a in answers if a.status_code == 201)
    api.post(f"/v1/mixes/{held}/abandonment", {"why": "rain came in"})
    assert bench.start(260, containers=body["containers"])["state"] == "weighing"


def test_a_little_past_the_book_is_found_and_a_lot_is_asked_about(floor: Floor) -> None:
    """Shop rule 7: up to max(50 g, 2 % of net) is found automatically; above that, another can?"""
    api, bench = floor.api, floor.bench
    little, lots = makers.cans(api, bench.resin, bench.place, "R-9", net_g=300, count=2)
    pots = []
    for can in (little, lots):
        mix = bench.start(390, containers=[{"container": can}, {"container": bench.slow_can}])["code"]
        pots.append(mix)
    found = bench.pour(pots[0], little, 349.9)
    assert (found["resin_g"], found["flags"]) == (349.9, [])
    assert api.get(f"/v1/containers/{little}")["state"] == "empty"

    path = f"/v1/mixes/{pots[1]}/pours"
    body = {"container": lots, "scale": bench.scale, "reading_g": 360, "source": "typed"}
    asked = api.refused(path, body, "more-than-booked")
    assert (asked["booked_g"], asked["taken_g"], asked["container"]) == (300, 360, lots)
    assert "Another can?" in asked["detail"]
    assert api.get(f"/v1/mixes/{pots[1]}")["resin_g"] == 0, "nothing was half-written"
    # It was the other can: scanned, it is booked from there.
    other = bench.pour(pots[1], bench.resin_can, 60)
    assert other["pours"][0]["container"] == bench.resin_can
    # And now the can in hand again, which does hold more than its label says.
    sure = api.post(path, {**body, "confirmed": True, "read_back_g": 360})
    assert mg(sure["resin_g"]) == 420_000
    for can, excess in ((little, 49_900), (lots, 60_000)):
        entry = api.get(f"/v1/journal?item={can}&operation=pour&refused=false", who="quality")[-1]
        notes = [n for n in entry["body"]["notes"] if n.get("container") == can]
        assert [n["found_more"] for n in notes] == [excess]
        assert floor.left_mg(can) == 0
    assert [n["confirmed"] for n in notes] == [True]


def test_an_empty_can_that_was_not_empty_is_weighed_back_into_the_book(floor: Floor) -> None:
    api, bench = floor.api, floor.bench
    can = makers.cans(api, bench.resin, bench.place, "R-9", net_g=300)[0]
    mix = bench.start(390, containers=[{"container": can}, {"container": bench.slow_can}])["code"]
    bench.pour(mix, can, 300)
    assert api.get(f"/v1/containers/{can}")["state"] == "empty"
    view = api.post(f"/v1/containers/{can}/weighings", {"gross_g": 271.5, "tare_g": 250})
    assert (view["state"], view["left_g"], view["fitness"]["answer"]) == ("open", 21.5, "fit")
