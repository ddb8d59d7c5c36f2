"""Peroxide systems and many lines: each component counts, and no question is asked of the database line by line."""

from typing import Any

from tests import makers, polyester
from tests.statements import statements

WORK = {"temperature_c": 22, "wet_out_rate_g_min": 300}


def test_a_peroxide_job_takes_resin_promoter_and_peroxide_by_the_line_for_its_temperature(api: Any) -> None:
    shop = polyester.polyester(api)
    name = api.get(f"/v1/resin-systems/{shop.plain_system}")["name"]
    need = [{"purpose": "wet-out", "system": name, "mass_g": 1015}]
    design = makers.design(api, "HY-60", resin_need=need)["id"]
    body = {"lines": [{"design": design, "quantity": 1}], **WORK}
    check = api.post("/v1/build-checks", body, expect=200)
    assert check["answer"] == "yes", check["sentence"]
    drawn = {draw["component"]: draw for one in check["materials"] for draw in one["draws"]}
    # 1.5 % of peroxide at 22 °C, 0.4 % of promoter, both of the resin.
    assert {component: draw["mass_g"] for component, draw in drawn.items()} == {
        "resin": 1000, "promoter": 4, "catalyst": 15,
    }  # fmt: skip
    mix = shop.promoted(resin_g=1000)
    assert mix["code"]
    cold = api.post("/v1/build-checks", {**body, "temperature_c": 8}, expect=200)
    assert (cold["answer"], "gives no figure" in cold["sentence"]) == ("no", True)


def test_more_lines_more_cans_and_more_days_take_no_more_statements(api: Any) -> None:
    bench = makers.mixing(api)
    cloth = makers.fabric(api)
    makers.roll(api, cloth, bench.place, "F-1")
    designs = []
    for number in range(4):
        need = [{"purpose": "wet-out", "system": "Alder 10", "mass_g": 200 + number}]
        designs.append(makers.design(api, f"HY-{number}", resin_need=need, plies=makers.plies(cloth, 0, 45))["id"])

    def asked(*lines: dict[str, Any]) -> int:
        with statements() as said:
            check = api.post("/v1/build-checks", {"lines": list(lines), **WORK, "temperature_c": 20}, expect=200)
        assert check["answer"] == "yes", check["sentence"]
        return len(said)

    few = asked({"design": designs[0], "quantity": 1})
    makers.cans(api, bench.resin, bench.place, "R-2", net_g=100, count=8)
    makers.roll(api, cloth, bench.place, "F-2")
    many = asked(
        *({"design": design, "quantity": 3, "not_before": f"2026-11-1{n}"} for n, design in enumerate(designs))
    )
    assert many == few
