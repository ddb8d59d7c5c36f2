"""A shop's floor for whole jobs: everything over HTTP, with what a day's work takes in a few lines."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from tests import makers
from tests.fresh import made_once
from tests.logger_files import SEMICOLONS, every, ramp, semicolons

# 40 K in 80 min, then 60 °C until minute 640: 570 min above 55 °C.
CURVES = {"root": ramp([(0, 20), (80, 60)]), "tip": ramp([(0, 20), (80, 60)]), "air": ramp([(0, 20), (30, 62)])}
SCHEDULE = "Alder 10 with post-cure"


def mg(grams: float) -> int:
    """Grams as the API shows them, in the whole milligrams that the book keeps."""
    return round(grams * 1000)


@dataclass
class Floor:
    """One resin system, cloth, a mould, an oven with its logger, and designs as they are asked for."""

    api: Any
    bench: makers.Mixing
    cloth: int
    roll: str
    mould: dict[str, Any]
    oven: str
    logger: int

    @property
    def clock(self) -> Any:
        return self.api.shop.clock

    def design(self, part_number: str = "HY-204", *, need_g: float = 420, **facts: Any) -> int:
        need = [{"purpose": "wet-out", "system": "Alder 10", "mass_g": need_g, "spread_pct": 25}]
        plies = makers.plies(self.cloth, 0, 45, 0)
        asked = {"plies": plies, "resin_need": need, "schedule": SCHEDULE, "zones": ["root", "tip"], **facts}
        return int(makers.design(self.api, part_number, **asked)["id"])

    def part(self, design: int, **more: Any) -> str:
        return str(self.api.post("/v1/parts", {"design": design, **more})["code"])

    def ready_mould(self, minutes: int = 30) -> None:
        """Coat the mould again, and wait."""
        body = {"kind": "release coat", "container": self.mould["agent"], "coats": 1}
        self.api.post(f"/v1/moulds/{self.mould['code']}/treatments", body)
        self.clock.forward(minutes=minutes)

    def kit(self, design: int, part: str) -> str:
        cut = {"roll": self.roll, "length_mm": 1500, "waste_mm": 40}
        kit = self.api.post("/v1/kits", {"design": design, "cuts": [cut], "mass_g": 420})["code"]
        self.api.post(f"/v1/parts/{part}/kits", {"kit": kit, "backers_counted": 3})
        return str(kit)

    def pot(self, *parts: Any, total_g: float = 500, hardener_g: float | None = None, left_g: float = 12.5,
            cans: Sequence[str] | None = None, **more: Any) -> Any:  # fmt: skip
        """A pot weighed, stirred, applied and closed, its cup kept; parts are codes, or codes with their grams."""
        m = self.bench
        resin_can, slow_can = cans or (m.resin_can, m.slow_can)
        asked = [{"container": resin_can}, {"container": slow_can}]
        mix = m.start(total_g, containers=asked, **more)["code"]
        resin = round(total_g / 1.3, 1)
        m.pour(mix, resin_can, resin)
        m.pour(mix, slow_can, hardener_g if hardener_g is not None else round(resin * 0.3, 1))
        m.stir(mix)
        if parts:
            m.apply(mix, *parts)
        return self.api.post(f"/v1/mixes/{mix}/closing", {"left_g": left_g, "loss_g": 1.5, "cup_kept": True})

    def close_lay_up(self, part: str) -> Any:
        return self.api.post(f"/v1/parts/{part}/closing", {"remark": "three plies, three backers"})

    def cure(self, *parts: str, minutes: int = 650) -> Any:
        """A night in the oven, proved by the logger's file."""
        begins = self.clock.now
        body = {"schedule": SCHEDULE, "parts": list(parts), "place": self.oven}
        cure = self.api.post("/v1/cures", body)["code"]
        self.clock.forward(minutes=650)
        self.send_log(cure, semicolons(begins, every(5, until_min=minutes), CURVES), *parts)
        return self.api.post(f"/v1/cures/{cure}/end")

    def send_log(self, cure: str, raw: bytes, *parts: str) -> Any:
        """Both probes on the part stand for all parts of the cure."""
        path = f"/v1/cures/{cure}/logs?logger={self.logger}&part_probes=root,tip&air_probes=air&name=night.csv"
        path += "".join(f"&stands_for={probe}={part}" for part in parts for probe in ("root", "tip"))
        answer = self.api.call("POST", path, raw, Content_Type="text/csv")
        assert answer.status_code == 201, answer.get_data(as_text=True)
        return answer.get_json()

    def finish(self, part: str, mass_g: float = 1050) -> None:
        """Out of the mould, trimmed, inspected and accepted."""
        path = f"/v1/parts/{part}"
        self.api.post(f"{path}/demoulding", {"temperature_c": 24})
        self.api.post(f"{path}/trimming", {"mass_g": mass_g, "trimmed_off_g": 60})
        measured = [{"name": "thickness, root", "value": 3.1, "unit": "mm", "low": 2.9, "high": 3.4}]
        self.api.post(f"{path}/inspections", {"accepted": True, "measurements": measured}, who="quality")

    def cups_hard(self, *mixes: str) -> None:
        for mix in mixes:
            body = {"hard": True, "hardness": 82, "hardness_scale": "Shore D"}
            self.api.post(f"/v1/mixes/{mix}/cup-checks", body)

    def release(self, part: str) -> Any:
        return self.api.post(f"/v1/parts/{part}/release", {"reviewed": True}, who="lead")

    def released(self, *parts: str) -> None:
        """Each wetted out from a pot of its own, cured with the others, and released."""
        pots = [self.pot(part)["code"] for part in parts]
        for part in parts:
            self.close_lay_up(part)
        self.cure(*parts)
        self.cups_hard(*pots)
        for part in parts:
            self.finish(part)
            self.release(part)

    def ship(self, part: str, customer: str = "Rowing club") -> Any:
        body = {"document": "delivery note 1187", "customer": customer}
        return self.api.post(f"/v1/parts/{part}/shipment", body, who="lead")

    def concede(self, item: str, *kinds: str, why: str, who: str = "laminator", signer: str = "quality") -> int:
        asked = {"kind": "concession", "item": item, "reasons": list(kinds), "why": why}
        number = int(self.api.post("/v1/permissions", asked, who=who)["id"])
        self.api.post(f"/v1/permissions/{number}/signature", {"permitted": True}, who=signer)
        return number

    def open_points(self, part: str) -> list[tuple[str, str]]:
        return [(p["item"], p["kind"]) for p in self.api.get(f"/v1/parts/{part}/release")["open"]]

    def to_read(self, part: str) -> dict[str, str]:
        return {p["kind"]: p["what"] for p in self.api.get(f"/v1/parts/{part}/release")["review"]}

    def left_mg(self, can: str) -> int:
        return mg(self.api.get(f"/v1/containers/{can}")["left_g"])


@made_once
def founded(api: Any) -> Floor:
    """Everything that a floor needs, delivered and released."""
    bench = makers.mixing(api)
    cloth = makers.fabric(api)
    makers.schedule(api, SCHEDULE, start_within_min=240, demould_below_c=40)
    return Floor(
        api=api,
        bench=bench,
        cloth=cloth,
        roll=makers.roll(api, cloth, bench.place, "F-26-11"),
        mould=makers.released_mould(api, bench.place),
        oven=makers.place(api, "Oven 1"),
        logger=api.post("/v1/loggers", {"name": "Oven logger 2", "profile": SEMICOLONS}, who="lead")["id"],
    )
