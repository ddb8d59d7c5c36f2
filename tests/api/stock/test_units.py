"""Amounts in the unit that the shop has them in: exactly converted, kept to the milligram or the millimetre."""

from typing import Any

import pytest

from tests import makers


def test_amounts_may_come_with_their_unit(api: Any) -> None:
    """1 lb is 453.59237 g, 1 yd is 914.4 mm, 6 oz/yd² is 203.43 g/m² (NIST SP 811, from memory)."""
    makers.supplier(api)
    where = makers.place(api)
    resin = makers.material(
        api, "Alder 10 resin", "resin", tare_g={"value": 8, "unit": "oz"}, storage_low_c={"value": 50, "unit": "°F"},
        storage_high_c={"value": 303.15, "unit": "K"}, density_g_ml={"value": 1130, "unit": "kg/m³"},
    )  # fmt: skip
    kept = next(row for row in api.get("/v1/materials") if row["id"] == resin)
    assert (kept["storage_low_c"], kept["storage_high_c"], kept["density_g_ml"]) == (10, 30, 1.13)
    assert kept["tare_g"] == 226.796
    can = makers.cans(api, resin, where, "26-1", net_g={"value": 1, "unit": "lb"})[0]  # type: ignore[arg-type]
    assert api.get(f"/v1/containers/{can}")["left_g"] == 453.592
    cloth = makers.fabric(api, areal_weight_g_m2={"value": 6, "unit": "oz/yd²"}, width_mm={"value": 50, "unit": "in"})
    kept = next(row for row in api.get("/v1/materials") if row["id"] == cloth)
    assert (round(kept["areal_weight_g_m2"], 2), kept["width_mm"]) == (203.43, 1270)
    roll = makers.roll(api, cloth, where, "F-1", length_mm={"value": 10, "unit": "yd"})  # type: ignore[arg-type]
    assert api.get(f"/v1/containers/{roll}")["left_mm"] == 9144
    ply = {"number": 1, "material": cloth, "angle_deg": 0, "area_m2": {"value": 1, "unit": "yd²"}}
    assert makers.design(api, plies=[ply])["plies"][0]["area_m2"] == 0.83612736


@pytest.mark.parametrize(
    ("tare", "pointer", "says"),
    [
        ({"value": 5.2, "unit": "oz/yd²"}, "/tare_g/unit", "Give one of: g, mg, kg, oz, lb."),
        ({"value": 5.2, "unit": None}, "/tare_g/unit", "Give one of"),
        ({"value": "5.2", "unit": "oz"}, "/tare_g/value", "Give a number."),
        ({"value": -1, "unit": "oz"}, "/tare_g/value", "at least 0 for a mass"),
        ({"value": 5.2}, "/tare_g", "a number and its unit"),
        ({"value": 0.0001, "unit": "g"}, "/tare_g", "Give grams from"),
        ({"value": 0.0012345, "unit": "kg"}, "/tare_g", "at most three decimals"),
        ({"value": 9000, "unit": "lb"}, "/tare_g", "Give grams from 0.001 to 2000000"),
    ],
)
def test_a_unit_of_another_kind_and_a_mass_out_of_range_are_refused(
    api: Any, tare: Any, pointer: str, says: str
) -> None:
    body = {"name": "Alder 10 resin", "kind": "resin", "tare_g": tare}
    problem = api.refused("/v1/materials", body, "invalid", status=422, who="lead")
    assert problem["errors"][0]["pointer"] == pointer
    assert says in problem["errors"][0]["detail"]


def test_the_description_names_the_units_of_what_comes_in_and_not_of_what_goes_out(api: Any) -> None:
    schemas = api.client.get("/openapi.json").get_json()["components"]["schemas"]
    plain, named = schemas["DecantIn"]["properties"]["mass_g"]["oneOf"]
    assert plain == {"type": "number", "minimum": 0.001, "maximum": 2_000_000}
    assert named == {"$ref": "#/components/schemas/MassInUnit"}
    assert schemas["MassInUnit"]["properties"]["unit"]["enum"] == ["mg", "g", "kg", "oz", "lb"]
    left = schemas["ContainerOut"]["properties"]["left_g"]
    assert "oneOf" not in left
