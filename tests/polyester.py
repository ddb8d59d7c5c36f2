"""A shop that works with polyester, in a few lines: resins, promoter, peroxide, and a system that names them."""

from dataclasses import dataclass
from typing import Any

from tests import makers
from tests.fresh import made_once

DOSES = [
    {"temperature_from_c": 15, "temperature_to_c": 20, "lowest_pct": 1.5, "target_pct": 2.0, "highest_pct": 2.5},
    {"temperature_from_c": 20, "temperature_to_c": 25, "lowest_pct": 1.0, "target_pct": 1.5, "highest_pct": 2.0},
]
LIFE = [
    {"percent": 1, "temperature_c": 18, "life_min": 50},
    {"percent": 2, "temperature_c": 18, "life_min": 25},
    {"percent": 1, "temperature_c": 25, "life_min": 32},
    {"percent": 2, "temperature_c": 25, "life_min": 16},
]


@dataclass
class Polyester:
    """A shop with a promoted resin, one that is not, a peroxide in a cabinet of its own, and two scales."""

    api: Any
    place: str
    cabinet: str
    system: int
    plain_system: int
    peroxide: int
    resin_can: str
    plain_can: str
    promoter_can: str
    bottle: str
    other_bottle: str
    scale: str
    fine: str

    def start(self, *, expect: int = 201, **more: Any) -> Any:
        body = {
            "system": self.system,
            "purpose": "wet-out",
            "resin_g": 1000,
            "containers": [{"container": self.resin_can}, {"container": self.bottle}],
            "scale": self.scale,
            "temperature_c": 22,
            **more,
        }
        return self.api.post("/v1/mixes", {k: v for k, v in body.items() if v is not None}, expect=expect)

    def promoted(self, *, expect: int = 201, **more: Any) -> Any:
        """A pot of the resin that needs its promoter: resin and promoter are scanned, the peroxide is not."""
        cans = [{"container": self.plain_can}, {"container": self.promoter_can}]
        return self.start(
            expect=expect, **{"system": self.plain_system, "containers": cans, "promoter_scale": self.fine, **more}
        )

    def pour(self, mix: str, can: str, reading_g: float | None = None, *, expect: int = 201, **more: Any) -> Any:
        body = {"container": can, "scale": self.scale, **makers.reading(reading_g, more)}
        body = {k: v for k, v in body.items() if v is not None}
        return self.api.post(f"/v1/mixes/{mix}/pours", body, expect=expect)

    def stir(self, mix: str, minutes: float = 3) -> Any:
        begins = self.api.shop.clock.now
        ends = self.api.shop.clock.forward(minutes=minutes)
        times = {"started_at": begins.isoformat(), "ended_at": ends.isoformat(), "scraped": True}
        return self.api.post(f"/v1/mixes/{mix}/stirrings", times)


def catalyst(material: int, promoter: int | None = None, **more: Any) -> dict[str, Any]:
    asked = {"material": material, "doses": DOSES, "life": LIFE, **more}
    if promoter is not None:
        asked["promoter"] = {"material": promoter, "lowest_pct": 0.2, "target_pct": 0.4, "highest_pct": 0.6}
    return asked


def system(api: Any, resin: int, catalysts: list[dict[str, Any]], name: str, *, expect: int = 201, **more: Any) -> Any:
    body = {
        "name": name,
        "kind": "peroxide-cured",
        "data_sheet": f"{name}, revision 2",
        "resin": resin,
        "catalysts": catalysts,
        "largest_pot_g": 2500,
        "stir_min": 2,
        **more,
    }
    made = api.post("/v1/resin-systems", body, expect=expect, who="lead")
    if expect != 201:
        return made
    return api.post(f"/v1/resin-systems/{made['id']}/approval", who="quality")


@made_once
def polyester(api: Any) -> Polyester:
    """The shop, founded."""
    makers.supplier(api)
    return stocked(api)


def stocked(api: Any) -> Polyester:
    """The same in a shop that has a supplier already."""
    where, cabinet = makers.place(api, "Resin store"), makers.place(api, "Peroxide cabinet")
    drier = makers.place(api, "Promoter shelf")
    resin = makers.material(api, "Sorrel 5 resin, promoted", "resin", density_g_ml=1.1, h_codes=["H226", "H315"])
    plain = makers.material(api, "Sorrel 4 resin", "resin", density_g_ml=1.1)
    promoter = makers.material(api, "Sorrel cobalt 1", "promoter", density_g_ml=0.9)
    peroxide = makers.material(
        api, "Sorrel K50", "catalyst", density_g_ml=1.15, h_codes=["H242", "H302", "H314"], emergency_c=60,
        vented_container="1 l bottle with the supplier's vented cap",
    )  # fmt: skip
    other = makers.material(api, "Sorrel A40", "catalyst", density_g_ml=1.05, h_codes=["H242"])
    promoted = system(api, resin, [catalyst(peroxide), catalyst(other)], "Sorrel 5")
    unpromoted = system(api, plain, [catalyst(peroxide, promoter)], "Sorrel 4")
    return Polyester(
        api=api,
        place=where,
        cabinet=cabinet,
        system=promoted["id"],
        plain_system=unpromoted["id"],
        peroxide=peroxide,
        resin_can=makers.cans(api, resin, where, "R-1", net_g=20_000)[0],
        plain_can=makers.cans(api, plain, where, "R-2", net_g=20_000)[0],
        promoter_can=makers.cans(api, promoter, drier, "C-1", net_g=500)[0],
        bottle=makers.cans(api, peroxide, cabinet, "K-1", net_g=1000)[0],
        other_bottle=makers.cans(api, other, cabinet, "A-1", net_g=1000)[0],
        scale=makers.scale(api, "Resin scale", interval_g=0.1, maximum_g=10_000),
        fine=makers.scale(api, "Fine scale", interval_g=0.01, maximum_g=300),
    )
