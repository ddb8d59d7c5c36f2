"""What is left in a can, by the scale and the empty weight of its own pack."""

from typing import Any

import pytest

from tests import makers


@pytest.fixture
def where(api: Any) -> str:
    makers.supplier(api)
    return makers.place(api)


def _weigh(api: Any, can: str, gross_g: float, *, expect: int = 201, **more: Any) -> Any:
    return api.post(f"/v1/containers/{can}/weighings", {"gross_g": gross_g, **more}, expect=expect)


def test_more_than_the_can_holds_is_read_back(api: Any, where: str) -> None:
    resin = makers.material(api, "Alder 10 resin", "resin")
    can = makers.cans(api, resin, where, "R-1", net_g=5000)[0]
    path = f"/v1/containers/{can}/weighings"
    slip = {"gross_g": 11620, "tare_g": 250}
    asked = api.refused(path, slip, "read-back")
    assert (asked["net_g"], asked["full_g"]) == (11370, 5000)
    api.refused(path, {**slip, "read_back_g": 1162}, "read-back")
    assert api.get(f"/v1/containers/{can}")["left_g"] == 5000
    assert api.post(path, {**slip, "read_back_g": 11620})["left_g"] == 11370
    # A can may hold a little more than its label: 50 g or 2 %.
    other = makers.cans(api, resin, where, "R-2", net_g=5000)[0]
    assert _weigh(api, other, 5350, tare_g=250)["left_g"] == 5100
    assert _weigh(api, makers.cans(api, resin, where, "R-3", net_g=5000)[0], 5350.1, tare_g=250, expect=409)


def test_what_is_kept_of_the_material_is_about_its_one_pack(api: Any, where: str) -> None:
    resin = makers.material(api, "Alder 10 resin", "resin", tare_g=250)
    can = makers.cans(api, resin, where, "R-1", net_g=5000)[0]
    assert _weigh(api, can, 1250)["left_g"] == 1000
    drum = makers.cans(api, resin, where, "R-2", net_g=25_000)[0]
    for one in (drum, can):
        assert _weigh(api, one, 1250, expect=422)["errors"][0]["pointer"] == "/tare_g"


def test_the_first_empty_one_tells_the_tare_of_its_pack_and_of_no_other(api: Any, where: str) -> None:
    resin = makers.material(api, "Alder 10 resin", "resin")
    first, second = makers.cans(api, resin, where, "R-1", net_g=5000, count=2)
    drum = makers.cans(api, resin, where, "R-2", net_g=25_000)[0]
    assert _weigh(api, first, 260, tare_g=260)["state"] == "empty"
    assert _weigh(api, second, 1260)["left_g"] == 1000
    assert _weigh(api, drum, 9260, expect=422)["errors"][0]["pointer"] == "/tare_g"
    full = makers.lot(api, resin, where, makers_lot="R-3", containers=[{"net_g": 25_000, "gross_g": 26_300}])[
        "containers"
    ][0]
    assert api.get(f"/v1/containers/{full}")["tare_g"] == 1300
    assert _weigh(api, drum, 11_300)["left_g"] == 10_000


def test_a_can_that_was_filled_here_has_a_weight_of_its_own(api: Any, where: str) -> None:
    resin = makers.material(api, "Alder 10 resin", "resin", tare_g=250)
    can = makers.cans(api, resin, where, "R-1", net_g=5000)[0]
    jug = api.post(f"/v1/containers/{can}/decants", {"mass_g": 1000})["code"]
    assert _weigh(api, jug, 900, expect=422)["errors"][0]["pointer"] == "/tare_g"
    assert _weigh(api, jug, 900, tare_g=85)["left_g"] == 815
