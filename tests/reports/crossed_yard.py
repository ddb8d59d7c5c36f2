"""A yard of sixteen parts whose rolls, ovens, hands, moulds and nights are crossed: what they share tells them apart.

Each thing is on half of the parts, and of the parts that share one thing half share any other. So the same sixteen
parts tell five stories: which of them failed is all that differs.
"""

import random
from dataclasses import dataclass, field
from typing import Any

from tests import makers
from tests.fresh import made_once
from tests.logger_files import SEMICOLONS, every, ramp, semicolons

SIZE = 16
HANDS = ("laminator", "second laminator")
_SCHEDULE = "Warm overnight"
_CHECK = {"weight": "500 g", "nominal_g": 500, "reading_g": 500.0, "limit_g": 0.3}


def first_bit(number: int) -> bool:
    """Every second part."""
    return bool(number & 1)


def second_bit(number: int) -> bool:
    return bool(number & 2)


def odd_of_two(number: int) -> bool:
    """An odd number of the two."""
    return first_bit(number) != second_bit(number)


def cold(number: int) -> bool:
    """Nights come in no order that a thing has."""
    return first_bit(number) != bool(number & 4)


def second_mould(number: int) -> bool:
    return second_bit(number) != bool(number & 8)


def second_cutter(number: int) -> bool:
    return second_bit(number) != bool(number & 4)


def second_layer(number: int) -> bool:
    return first_bit(number) != bool(number & 8)


@dataclass
class CrossedYard:
    """The parts in the order of their making, and what half of them have each."""

    api: Any
    bench: makers.Mixing
    design: int
    rolls: list[str]
    ovens: list[str]
    moulds: list[str]
    logger: int
    wax: str
    parts: list[str] = field(default_factory=list)

    def make(self, number: int) -> None:
        """One part a day, from the mould's release to its inspection; good as far as anybody knows."""
        api, clock = self.api, self.api.shop.clock
        mixer, cutter = HANDS[odd_of_two(number)], HANDS[second_cutter(number)]
        mould = self.moulds[second_mould(number)]
        by_the_way = random.Random(number)
        if number % 8 == 0:
            for one in self.moulds:
                api.post(f"/v1/moulds/{one}/treatments", {"kind": "release coat", "container": self.wax, "coats": 1})
            clock.forward(minutes=30)
        part = str(api.post("/v1/parts", {"design": self.design, "mould": mould})["code"])
        self.parts.append(part)
        cut = {"roll": self.rolls[first_bit(number)], "length_mm": 1500, "waste_mm": 40}
        body = {"design": self.design, "cuts": [cut], "mass_g": 400 + by_the_way.randrange(20)}
        kit = api.post("/v1/kits", body, who=cutter)["code"]
        climate = {"kind": "climate", "air_c": 20 + by_the_way.randrange(4), "humidity_pct": 50, "surface_c": 20}
        api.post(f"/v1/parts/{part}/steps", climate)
        api.post(f"/v1/parts/{part}/kits", {"kit": kit, "backers_counted": 3}, who=HANDS[second_layer(number)])
        self._pot(part, by_the_way, who=mixer)
        api.post(f"/v1/parts/{part}/closing")
        self._cure(part, number)
        path = f"/v1/parts/{part}"
        api.post(f"{path}/demoulding", {"temperature_c": 24})
        api.post(f"{path}/trimming", {"mass_g": 1000 + by_the_way.randrange(30), "trimmed_off_g": 60})
        measured = [
            {"name": "hardness", "value": 80 + by_the_way.randrange(6), "unit": "Shore D"},
            {"name": "thickness, root", "value": 3 + by_the_way.randrange(10) / 50, "unit": "mm"},
        ]
        api.post(f"{path}/inspections", {"accepted": True, "measurements": measured}, who="quality")
        clock.forward(hours=12)

    def _pot(self, part: str, by_the_way: random.Random, *, who: str) -> None:
        api, bench = self.api, self.bench
        asked = [{"container": bench.resin_can}, {"container": bench.slow_can}]
        mix = bench.start(260, containers=asked, temperature_c=20 + by_the_way.randrange(5) / 2, who=who)["code"]
        hardener = 60 + by_the_way.randrange(-3, 4) / 10
        for can, grams in ((bench.resin_can, 200.0), (bench.slow_can, hardener)):
            body = {"container": can, "scale": bench.scale, **makers.reading(grams, {})}
            api.post(f"/v1/mixes/{mix}/pours", body, who=who)
        bench.stir(mix, minutes=2 + by_the_way.randrange(8) / 4)
        api.shop.clock.forward(minutes=4 + by_the_way.randrange(9))
        bench.apply(mix, part)
        api.post(f"/v1/mixes/{mix}/closing", {"left_g": 5, "loss_g": 1, "cup_kept": False})

    def _cure(self, part: str, number: int) -> None:
        """A night in one of two ovens; the cold ones stay in the band, two degrees above its edge."""
        api, begins = self.api, self.api.shop.clock.now
        body = {"schedule": _SCHEDULE, "parts": [part], "place": self.ovens[second_bit(number)]}
        cure = api.post("/v1/cures", body, who=HANDS[number % 8 < 4])["code"]
        by_the_way = random.Random(number + 100)
        level = (57 if cold(number) else 61) + by_the_way.random()
        # Warmer for a moment each night: not how warm it became tells the nights apart, but how warm it was.
        held = ramp([(0, 20), (90, 63 + by_the_way.random()), (120, level), (560, level)])
        api.shop.clock.forward(minutes=570)
        raw = semicolons(begins, every(30, until_min=570), {"root": held, "tip": held, "air": held})
        path = f"/v1/cures/{cure}/logs?logger={self.logger}&part_probes=root,tip&air_probes=air&name=night.csv"
        path += "".join(f"&stands_for={probe}={part}" for probe in ("root", "tip"))
        answer = api.call("POST", path, raw, Content_Type="text/csv")
        assert answer.status_code == 201, answer.get_data(as_text=True)
        api.post(f"/v1/cures/{cure}/end")

    def spaced(self, code: str) -> str:
        return f"{code[:6]} {code[6:]}"

    def those(self, have: Any) -> list[str]:
        return [part for number, part in enumerate(self.parts) if have(number)]

    def come_back(self, failed: list[str], kind: str = "soft") -> None:
        for part in failed:
            body = {
                "item": part,
                "found": f"{kind} at the root",
                "failed": True,
                "defects": [{"kind": kind, "zone": "root"}],
            }
            self.api.post("/v1/nonconformances", body, who="quality")

    def reject(self, failed: list[str]) -> None:
        """A second look, before anything leaves the yard."""
        for part in failed:
            body = {"accepted": False, "defects": [{"kind": "soft", "zone": "root", "accepted": False}]}
            self.api.post(f"/v1/parts/{part}/inspections", body, who="quality")

    def suspects(self, part: str) -> Any:
        return self.report(part)["suspects"]

    def report(self, part: str) -> Any:
        return self.api.get(f"/v1/parts/{part}/investigation", who="quality")


@made_once
def crossed_yard(api: Any) -> CrossedYard:
    """Sixteen days of it."""
    bench = makers.mixing(api)
    cloth = makers.fabric(api)
    stage = {"name": "warm", "low_c": 55, "high_c": 65, "minimum_min": 300, "over_c": 70, "air_over_c": None}
    makers.schedule(api, _SCHEDULE, stages=[stage], longest_interval_min=30, start_within_min=240, demould_below_c=40)
    need = [{"purpose": "wet-out", "system": "Alder 10", "mass_g": 240, "spread_pct": 25}]
    design = makers.design(
        api, "HY-204", plies=makers.plies(cloth, 0, 45, 0), resin_need=need, schedule=_SCHEDULE, zones=["root"]
    )
    wax = makers.material(api, "Wax", "release agent", release_wait_min=30)
    place = bench.place
    yard = CrossedYard(
        api=api,
        bench=bench,
        design=design["id"],
        rolls=[makers.roll(api, cloth, place, lot, length_mm=40_000) for lot in ("G-1", "G-2")],
        ovens=[makers.place(api, f"Oven {n}") for n in (1, 2)],
        moulds=[
            str(api.post("/v1/moulds", {"name": f"Rudder mould {n}", "release_pulls": 8}, who="lead")["code"])
            for n in (1, 2)
        ],
        logger=int(api.post("/v1/loggers", {"name": "Oven logger", "profile": SEMICOLONS}, who="lead")["id"]),
        wax=makers.cans(api, wax, place, "wax", net_g=5000, no_expiry=True)[0],
    )
    for number in range(SIZE):
        if number in (0, 6, 11):
            api.post(f"/v1/scales/{bench.scale}/checks", _CHECK)
        yard.make(number)
    return yard
