"""A small workshop over HTTP: tricycle bodies from two cans of hardener, one of which stays open far too long.

Nothing is flagged while it happens: the opened life of the hardener is entered only when a later data sheet gives one.
"""

from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any

from service.database import connected
from service.records.journal import Head
from tests import makers
from tests.fresh import made_once
from tests.logger_files import SEMICOLONS, every, ramp, semicolons

OPENED_LIFE_DAYS = 180
_CURVES = {"root": ramp([(0, 20), (80, 60)]), "tip": ramp([(0, 21), (70, 60)]), "air": ramp([(0, 21), (30, 62)])}
_TOO_SHORT = {
    "root": ramp([(0, 20), (80, 60), (380, 60), (420, 40)]),
    "tip": ramp([(0, 21), (70, 60), (390, 60), (430, 40)]),
    "air": ramp([(0, 21), (30, 62), (385, 62), (400, 30)]),
}


@dataclass
class Workshop:
    api: Any
    mixing: makers.Mixing
    old_can: str
    new_can: str
    skipped_can: str
    roll: str
    mould: dict[str, Any]
    design: int
    schedule: str
    logger: int
    parts: list[str] = field(default_factory=list)

    def start(self) -> str:
        api = self.api
        if self.parts:
            api.post(
                f"/v1/moulds/{self.mould['code']}/treatments",
                {"kind": "release coat", "container": self.mould["agent"], "coats": 1},
            )
            api.shop.clock.forward(minutes=30)
        part = str(
            api.post(
                "/v1/parts",
                {"design": self.design, "mould": self.mould["code"], "order": "4471", "customer": "Cargo Trikes"},
            )["code"]
        )
        self.parts.append(part)
        return part

    def bare(self) -> str:
        """A part that needs no mould: several may be under way."""
        return str(self.api.post("/v1/parts", {"design": self.design})["code"])

    def kit(self, part: str, mass_g: float = 557.0) -> None:
        cut = {
            "design": self.design,
            "cuts": [{"roll": self.roll, "length_mm": 2000, "waste_mm": 40}],
            "mass_g": mass_g,
        }
        kit = self.api.post("/v1/kits", cut)["code"]
        self.api.post(f"/v1/parts/{part}/kits", {"kit": kit, "backers_counted": 4})

    def pot(
        self,
        part: str,
        can: str,
        *,
        total_g: float = 300,
        off_pct: float = 0,
        purpose: str = "wet-out",
        source: str = "typed",
        cup_hard: bool = True,
        cup_hardness: float = 82,
        check_late: bool = False,
        start_with: str | None = None,
        why: str | None = None,
    ) -> str:
        """Weighed, stirred, applied and closed, with its cup checked; ``off_pct`` is the error of the hardener."""
        api, m = self.api, self.mixing
        mix = m.start(
            total_g,
            purpose=purpose,
            containers=[{"container": m.resin_can}, {"container": start_with or can}],
            parts=[part],
            temperature_c=21,
            **({"why": why} if why else {}),
        )["code"]
        resin = round(total_g / 1.3, 1)
        m.pour(mix, m.resin_can, resin, source=source)
        api.shop.clock.forward(minutes=2)
        m.pour(mix, can, round(resin * 0.3 * (1 + off_pct / 100), 1), source=source)
        m.stir(mix)
        m.apply(mix, part)
        api.shop.clock.forward(minutes=8)
        api.post(f"/v1/mixes/{mix}/closing", {"left_g": 12.0, "cup_kept": True})
        said: dict[str, Any] = {"hard": cup_hard, "hardness": cup_hardness, "hardness_scale": "Shore D"}
        if check_late:
            said["occurred_at"] = (api.shop.clock.now - timedelta(minutes=1)).isoformat()
            api.shop.clock.forward(hours=5)
        api.post(f"/v1/mixes/{mix}/cup-checks", said)
        return str(mix)

    def cure(self, part: str, *, too_short: bool = False, gap: bool = False) -> str:
        api = self.api
        cure = str(api.post("/v1/cures", {"schedule": self.schedule, "parts": [part]})["code"])
        begins = api.shop.clock.now
        api.shop.clock.forward(minutes=650)
        minutes = [m for m in every(5, until_min=650) if not (gap and 300 < m < 330)]
        raw = semicolons(begins, minutes, _TOO_SHORT if too_short else _CURVES)
        answer = api.call(
            "POST", f"/v1/cures/{cure}/logs?logger={self.logger}&part_probes=root,tip&air_probes=air", raw
        )
        assert answer.status_code == 201, answer.get_data(as_text=True)
        api.post(f"/v1/cures/{cure}/end")
        return cure

    def finish(self, part: str, *, hardness: float, accepted: bool = True) -> None:
        api = self.api
        api.post(f"/v1/parts/{part}/demoulding", {"temperature_c": 24})
        api.post(f"/v1/parts/{part}/trimming", {"mass_g": 690, "trimmed_off_g": 62})
        measured = [{"name": "hardness", "value": hardness, "unit": "Shore D", "low": 70 if accepted else None}]
        measured = [{k: v for k, v in one.items() if v is not None} for one in measured]
        api.post(f"/v1/parts/{part}/inspections", {"accepted": True, "measurements": measured})

    def fail(self, part: str) -> int:
        """Soft behind the gel coat, found by the customer."""
        body = {
            "item": part,
            "found": "soft behind the gel coat",
            "in_service": True,
            "failed": True,
            "defects": [{"kind": "soft", "zone": "nose", "size_mm": 120}],
        }
        return int(self.api.post("/v1/nonconformances", body, who="quality")["id"])

    def whole(self, can: str, *, hardness: float = 82, failed: bool = False, **pot: Any) -> str:
        """A part from its start to its inspection, in one day and a night."""
        part = self.start()
        self.kit(part)
        self.pot(part, can, **pot)
        self.api.post(f"/v1/parts/{part}/closing")
        self.cure(part)
        self.finish(part, hardness=hardness, accepted=not failed)
        if failed:
            self.fail(part)
        return part

    def day(self, number: int) -> None:
        """To the morning of that day, counted from the day on which the old can was opened."""
        self.api.shop.clock.now = self.first_day + timedelta(days=number)
        # The test goes back in time, which a shop's clock may not.
        with connected():
            Head.update(at=None).execute()

    @property
    def first_day(self) -> Any:
        return self.api.first_day

    def limit_the_opened_life(self) -> None:
        """The data sheet's new revision gives an opened life; what was made before was not flagged for it."""
        material = self.api.get(f"/v1/materials/{self.mixing.slow}")
        answer = self.api.call(
            "PATCH",
            f"/v1/materials/{self.mixing.slow}",
            {"opened_life_days": OPENED_LIFE_DAYS, "why": "data sheet revision 5"},
            who="lead",
            If_Match=f'"{material["version"]}"',
        )
        assert answer.status_code == 200, answer.get_data(as_text=True)


@made_once
def workshop(api: Any) -> Workshop:
    """A shop that can build tricycle bodies; its second hardener can is younger than the first."""
    m = makers.mixing(api)
    glass = makers.fabric(api, "Glass twill 280")
    roll = makers.roll(api, glass, m.place, "G-1", length_mm=400_000)
    logger = api.post("/v1/loggers", {"name": "Oven logger 2", "profile": SEMICOLONS}, who="lead")["id"]
    schedule = makers.schedule(api, "Alder 10 with post-cure", start_within_min=None)["name"]
    design = makers.design(
        api,
        "HY-114",
        revision="C",
        name="Tricycle body, left",
        plies=makers.plies(glass, 0, 45, 45, 0),
        zones=["nose", "tail"],
        schedule=schedule,
        resin_need=[{"purpose": "wet-out", "system": "Alder 10", "mass_g": 280}],
        densities={"fibre_g_cm3": 2.55, "matrix_g_cm3": 1.15},
    )
    mould = makers.released_mould(api, m.place, name="Tricycle body, left")
    skipped = makers.cans(api, m.slow, m.place, "H-0", net_g=900, expires_on="2027-08-31")[0]
    new = makers.cans(api, m.slow, m.place, "H-2", net_g=5000, expires_on="2028-03-31")[0]
    api.first_day = api.shop.clock.now
    return Workshop(
        api=api,
        mixing=m,
        old_can=m.slow_can,
        new_can=new,
        skipped_can=skipped,
        roll=roll,
        mould=mould,
        design=design["id"],
        schedule=schedule,
        logger=int(logger),
    )


@made_once
def investigated(api: Any) -> Workshop:
    """Twelve bodies: four early ones from the old can, five from the new can, three late ones that are soft.

    The last one also has a second pot whose ratio is off and accepted by concession, and a cup check told late.
    """
    shop = workshop(api)
    for number, day in enumerate((0, 40, 90, 150)):
        shop.day(day)
        shop.whole(shop.old_can, hardness=84 - number)
    for number, day in enumerate((45, 95, 155, 200, 208)):
        shop.day(day)
        shop.whole(shop.new_can, hardness=82 + number % 3)
    for day, hardness in ((190, 58), (204, 44)):
        shop.day(day)
        shop.whole(shop.old_can, hardness=hardness, failed=True)
    shop.day(215)
    part = shop.start()
    shop.kit(part)
    shop.pot(part, shop.new_can, purpose="resin coat", total_g=80)
    shop.pot(part, shop.old_can, check_late=True)
    off = shop.pot(part, shop.old_can, off_pct=-2.9, why="the small can is for repairs")
    asked = {"kind": "concession", "item": off, "reasons": ["ratio-outside"], "why": "test cup hard next morning"}
    permission = api.post("/v1/permissions", asked, who="lead")["id"]
    api.post(f"/v1/permissions/{permission}/signature", {"permitted": True}, who="quality")
    api.post(f"/v1/parts/{part}/closing")
    shop.cure(part, gap=True)
    shop.finish(part, hardness=31, accepted=False)
    shop.fail(part)
    shop.limit_the_opened_life()
    return shop
