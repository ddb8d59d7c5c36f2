"""Shops drawn by a seed, in which whatever a build check calls possible is then started for real.

    .venv/bin/python -m tests.started      30 shops, some minutes; 1 if a start was refused or asked anything

A yes names its cans, pots and rolls. Each pot is started from the cans that it names and each kit cut from the roll or
taken as it lies ready, on the day that it names, without a word of confirmation; a pot that a start says should have
come from another can is told as well. A no, where it is proved, is tried too: one part fewer than the least that is
refused has to be possible.
"""

import argparse
import tempfile
from collections import Counter
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path
from random import Random
from typing import Any

from service.app import create_app
from service.config import Settings
from service.database import connected, database
from service.operations.ledger.checking import check_account
from tests import makers
from tests.conftest import NOW, Api, Clock, Shop
from tests.fresh import Accounts
from tests.journeys.floor import Floor, founded

_MOST_PARTS = 6


@dataclass
class Told:
    """What was asked, started, and found to be otherwise than the check said."""

    answers: Counter[str] = field(default_factory=Counter)
    pots: int = 0
    kits: int = 0
    wrong: list[str] = field(default_factory=list)


def drawn(floor: Floor, pick: Random) -> dict[str, Any]:
    """Stock this shop as it happens to be; the line and the conditions that are asked about."""
    api, bench = floor.api, floor.bench
    today = floor.clock.now.date()
    for material in (bench.resin, bench.slow):
        if pick.random() < 0.5:
            life = {"opened_life_days": pick.randint(3, 60), "why": "data sheet"}
            answer = api.call("PATCH", f"/v1/materials/{material}", life, who="lead", If_Match='"1"')
            assert answer.status_code == 200, answer.get_data(as_text=True)
        for number in range(pick.randint(0, 4)):
            until = today + timedelta(days=pick.choice((0, 1, 5, 30, 200)))
            can = makers.cans(api, material, bench.place, f"X-{material}-{number}", net_g=pick.randrange(80, 1500),
                              expires_on=str(until))[0]  # fmt: skip
            if pick.random() < 0.3:
                api.post(f"/v1/containers/{can}/opening")
            if pick.random() < 0.1:
                api.post("/v1/holds", {"item": can, "reason": "dented"})
    for number in range(pick.randint(0, 3)):
        makers.roll(api, floor.cloth, bench.place, f"F-X{number}", length_mm=pick.randrange(300, 4000))
    # Scarce cloth: most of the long roll is cut off for something else.
    if pick.random() < 0.5:
        api.post("/v1/kits", {"cuts": [{"roll": floor.roll, "length_mm": 50_000 - pick.randrange(0, 4000)}]})
    design = floor.design("HY-131", need_g=pick.choice((90, 240, 420, 777, 1300, 2100)))
    for _ in range(pick.choice((0, 0, 1, 2))):
        cut = {"roll": floor.roll, "length_mm": 1500}
        answer = api.call("POST", "/v1/kits", {"design": design, "cuts": [cut]})
        assert answer.status_code in (201, 409), answer.get_data(as_text=True)
    line = {"design": design, "quantity": pick.randint(1, _MOST_PARTS)}
    if pick.random() < 0.4:
        line["not_before"] = str(today + timedelta(days=pick.randint(1, 20)))
    return {"lines": [line], "hardeners": [bench.slow], "temperature_c": 20,
            "wet_out_rate_g_min": pick.choice((15, 50, 200))}  # fmt: skip


def start(floor: Floor, check: dict[str, Any], design: int, told: Told) -> None:
    """Everything that a yes allocates, in the order of its days."""
    api, bench = floor.api, floor.bench
    pots: dict[tuple[str, int, str, int], list[dict[str, Any]]] = {}
    cuts: list[tuple[str, dict[str, Any]]] = []
    sizes = {(one["line"], one["purpose"]): one for one in check["pots"]}
    for material in check["materials"]:
        for draw in material["draws"]:
            if draw["pot"] is None:
                cuts.append((draw["used_on"], {"roll": draw["container"], "length_mm": draw["length_mm"]}))
            else:
                line = {"container": draw["container"], "mass_g": draw["mass_g"]}
                pots.setdefault((draw["used_on"], draw["part_in_line"], draw["purpose"], draw["pot"]), []).append(line)
    ready = [part["kit"] for part in check["parts"] if part["kit"] is not None]
    for on, cut in sorted(cuts, key=lambda one: one[0]):
        _on(floor, on)
        _done(api.call("POST", "/v1/kits", {"design": design, "cuts": [cut]}), "kit", told)
        told.kits += 1
    for kit in ready:
        part = floor.part(design)
        laid = _done(api.call("POST", f"/v1/parts/{part}/kits", {"kit": kit}), "laying", told)
        told.kits += 1
        if laid and laid["flags"]:
            told.wrong.append(f"kit {kit} was flagged: {laid['flags'][0]['sentence']}")
    for (on, part, purpose, pot), lines in sorted(pots.items()):
        _on(floor, on)
        size = sizes[1, purpose]
        body = {"system": size["system"], "hardener": bench.slow, "purpose": purpose, "total_g": size["pot_g"],
                "containers": lines, "scale": size["scale"], "temperature_c": 20}  # fmt: skip
        made = _done(api.call("POST", "/v1/mixes", body), f"part {part}, pot {pot}", told)
        told.pots += 1
        for said in made.get("notices", ()) if made else ():
            if "used up first" in said or ("first" in said and "instead" in said):
                told.wrong.append(f"part {part}, pot {pot}: {said}")


def _on(floor: Floor, day: str) -> None:
    """The morning of that day, unless it has come already."""
    ahead = (date.fromisoformat(day) - floor.clock.now.date()).days
    if ahead > 0:
        floor.clock.forward(days=ahead)


def _done(answer: Any, what: str, told: Told) -> Any:
    if answer.status_code == 201:
        return answer.get_json()
    told.wrong.append(f"{what}: {answer.get_json()['detail']}")
    return None


def shop(floor: Floor, seed: int, told: Told) -> None:
    """One shop: asked, and where the answer is yes, started."""
    pick = Random(seed)
    asked = drawn(floor, pick)
    answer = floor.api.call("POST", "/v1/build-checks", asked, who="integrator")
    assert answer.status_code == 200, answer.get_data(as_text=True)
    check = answer.get_json()
    told.answers[check["answer"]] += 1
    before = len(told.wrong)
    if check["answer"] == "no" and asked["lines"][0]["quantity"] > 1:
        # The most that is possible is started instead, so that scarce shops are tried as well.
        while asked["lines"][0]["quantity"] > 1 and check["answer"] != "yes":
            asked["lines"][0]["quantity"] -= 1
            check = floor.api.call("POST", "/v1/build-checks", asked, who="integrator").get_json()
    if check["answer"] == "yes":
        told.answers["started"] += 1
        start(floor, check, asked["lines"][0]["design"], told)
        with connected():
            found = check_account()
        if not found.agrees:
            told.wrong.append(f"the account's own check: {found.first}")
    told.wrong[before:] = [f"shop {seed}: {one}" for one in told.wrong[before:]]


def main() -> int:
    asked = argparse.ArgumentParser(prog="python -m tests.started", description="What is possible is started.")
    asked.add_argument("--shops", type=int, default=30)
    asked.add_argument("--seed", type=int, default=1)
    given = asked.parse_args()
    told = Told()
    with tempfile.TemporaryDirectory(prefix="potmark-shops-") as folder:
        url, accounts, clock = f"sqlite:///{folder}/potmark.db", Accounts(Path(folder), NOW), Clock()
        client = create_app(Settings(database=url), clock=lambda: clock()).test_client()
        for seed in range(given.seed, given.seed + given.shops):
            of = accounts.renew(url)
            clock.now = NOW
            own = Shop(clock, of.site, dict(of.people), dict(of.keys), dict(of.secrets), dict(of.tokens))
            with connected():
                shop(founded(Api(client, own, accounts, url)), seed, told)
        database.close_all()
    print(f"{given.shops} shops: {dict(told.answers)}; {told.pots} pots and {told.kits} kits started")
    print(*told.wrong[:40], sep="\n")
    return 1 if told.wrong else 0


if __name__ == "__main__":
    raise SystemExit(main())
