"""What a container is filled up with brings its own past along: the worst of both is told of it (shop rules 10, 14)."""

from typing import Any

from tests import makers

SHEET = {"out": [{"temperature_c": 23, "hours": 100}], "tack": []}


def _said(api: Any, can: str) -> list[str]:
    fitness = api.get(f"/v1/containers/{can}")["fitness"]
    return [r["sentence"] for r in fitness["reasons"] if r["kind"] == "stored-outside"]


def test_a_jug_filled_up_from_a_can_that_stood_hot_tells_it_and_not_what_the_can_goes_through_later(api: Any) -> None:
    makers.supplier(api)
    cool, hot = makers.place(api, "Shelf B2"), makers.place(api, "Window sill")
    resin = makers.material(api, "Alder 10 resin", "resin", storage_low_c=15, storage_high_c=25)
    first, second = makers.cans(api, resin, cool, "26-1", count=2)
    jug = api.post(f"/v1/containers/{first}/decants", {"mass_g": 100})["code"]
    for place in (cool, hot):
        api.post(f"/v1/places/{place}/readings", {"temperature_c": 20}, who="lead")
    api.post(f"/v1/items/{second}/moves", {"place": hot})
    api.shop.clock.forward(hours=3)
    api.post(f"/v1/places/{hot}/readings", {"temperature_c": 38}, who="lead")
    assert (_said(api, jug), len(_said(api, second))) == ([], 1)
    permit = {
        "kind": "deviation permit",
        "item": second,
        "reasons": ["stored-outside"],
        "why": "the supplier was asked",
    }
    api.post("/v1/permissions", permit)
    filled = api.post(f"/v1/containers/{second}/decants", {"mass_g": 100, "into": jug})
    assert (filled["code"], filled["place"]) == (jug, cool)
    told = _said(api, jug)
    assert told == _said(api, second)
    assert "up to 38 °C in Window sill from 10:00 to 13:00, 3.0 h" in told[0]
    api.shop.clock.forward(hours=2)
    api.post(f"/v1/places/{hot}/readings", {"temperature_c": 45}, who="lead")
    assert "45 °C" in _said(api, second)[0]
    assert _said(api, jug) == told, "its content had left by then"


def test_what_has_been_out_of_the_cold_longer_is_filled_into_a_container_of_its_own_and_counts_from_the_most_used(
    api: Any,
) -> None:
    makers.supplier(api)
    freezer, bench = makers.place(api, "Freezer"), makers.place(api, "Bench")
    api.post(f"/v1/places/{freezer}/settings", {"cold": True}, who="lead")
    paste = makers.material(api, "Film paste 4", "adhesive", out_time=SHEET)
    first, second = makers.cans(api, paste, freezer, "26-1", count=2)
    api.post(f"/v1/places/{bench}/readings", {"temperature_c": 21})
    api.post(f"/v1/items/{first}/moves", {"place": bench})
    api.shop.clock.forward(hours=30)
    jug = api.post(f"/v1/containers/{first}/decants", {"mass_g": 100})["code"]
    api.post(f"/v1/items/{second}/moves", {"place": bench})
    api.shop.clock.forward(hours=10)
    body = {"mass_g": 50, "into": jug}
    refused = api.refused(f"/v1/containers/{second}/decants", body, "same-lot-only")
    assert "different times" in refused["detail"]
    both = api.post(f"/v1/containers/{second}/decants", {**body, "blend": True})
    assert both["code"] != jug
    # The jug had 40 of 100 h behind it, the can 10: what is left is that of the jug.
    assert any("Out life until" in note for note in both["fitness"]["notes"])
    api.post(f"/v1/items/{both['code']}/moves", {"place": freezer})
    assert "Out life 60 h once it is out of the cold." in " ".join(
        api.get(f"/v1/containers/{both['code']}")["fitness"]["notes"]
    )
    assert api.get(f"/v1/containers/{jug}")["state"] == "empty"
