"""What once answered 500, or took in what nobody can see."""

from typing import Any

import pytest

from tests import makers


def _labelled(api: Any, size: str) -> str:
    makers.supplier(api)
    shelf = makers.place(api)
    resin = makers.material(api, "Alder 10 resin", "resin", h_codes=["H315", "H317", "H319", "H411"])
    can = makers.cans(api, resin, shelf, "26-1")[0]
    api.post(f"/v1/items/{can}/labels", {"size": size})
    return can


def test_red_frames_on_a_size_that_has_none_are_refused_with_the_size_that_has(api: Any) -> None:
    can = _labelled(api, "62")
    answer = api.call("GET", f"/v1/items/{can}/labels/1.pdf?frame=red")
    assert answer.status_code in (409, 422), answer.get_data(as_text=True)
    assert "100x50" in answer.get_json()["detail"] + str(answer.get_json().get("way_out"))
    lot = api.get(f"/v1/containers/{can}")["lot"]
    assert api.call("GET", f"/v1/lots/{lot}/labels.pdf?frame=red").status_code in (409, 422)
    assert api.call("GET", f"/v1/items/{can}/labels/1.pdf").status_code == 200


@pytest.mark.parametrize("value", [5e-324, 1e-310, -5e-324, 1e308])
def test_numbers_at_the_edge_of_what_a_float_holds_are_answered_by_every_formula(api: Any, value: float) -> None:
    """A denormal number passes a check of "above 0" and then divides into infinity."""
    broken = []
    for row in api.get("/v1/calculations"):
        body = row["example"]
        for name, told in body.items():
            if isinstance(told, float | int) and not isinstance(told, bool):
                answer = api.call("POST", row["path"], {**body, name: value})
                if answer.status_code not in (200, 422):
                    broken.append((row["name"], name, answer.status_code))
    assert not broken


def test_a_file_of_blank_lines_is_a_file_without_readings(api: Any) -> None:
    logger = api.post("/v1/loggers", {"name": "Oven logger 2"}, who="lead")["id"]
    makers.schedule(api)
    cure = api.post("/v1/cures", {"schedule": "Alder 10 with post-cure", "parts": [makers.laid_up_part(api)]})["code"]
    for raw in (b"\n", b"\n" * 10_001, b"a\n" + b"\n" * 10_001, b" ;\r\n" * 10_001, b"\n" * 10_001 + b"x;y\n1;2\n"):
        answer = api.call("POST", f"/v1/loggers/{logger}/preview", raw, Content_Type="text/csv")
        assert answer.status_code in (200, 409, 422), (raw[:9], answer.get_data(as_text=True)[:300])
        path = f"/v1/cures/{cure}/logs?logger={logger}&part_probes=x&name=night.csv"
        answer = api.call("POST", path, raw, Content_Type="text/csv")
        assert answer.status_code in (409, 422), (raw[:9], answer.get_data(as_text=True)[:300])


@pytest.mark.parametrize(
    ("character", "called"),
    [("\u202e", "RIGHT-TO-LEFT OVERRIDE"), ("\u200b", "ZERO WIDTH SPACE"), ("\u2028", "LINE SEPARATOR"),
     ("\u2066", "LEFT-TO-RIGHT ISOLATE"), ("\ufeff", "ZERO WIDTH NO-BREAK SPACE")],
)  # fmt: skip
def test_a_character_that_nobody_sees_is_refused_by_name(api: Any, character: str, called: str) -> None:
    problem = api.post("/v1/suppliers", {"name": f"Fen{character}wick", "approved": True}, expect=422, who="lead")
    assert called in problem["detail"]
    assert problem["errors"][0]["pointer"] == "/name"


def test_a_name_from_right_to_left_turns_no_number_round_on_paper(api: Any) -> None:
    """Each such run stands in an isolate of its own, so that what follows it keeps its direction."""
    from service.reports.drawing.paper import templates

    said = templates().from_string("{{ name }}").render(name="לוט דנה 12.3 g, limit 10 g")
    assert said == "\u2068לוט דנה\u2069 12.3 g, limit 10 g"
    assert templates().from_string("{{ name }}").render(name="Fenwick 12 µm") == "Fenwick 12 µm"
