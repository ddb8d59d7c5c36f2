"""A can that was scanned: may I use this, what is next, and what to take instead."""

from datetime import datetime
from typing import Any

import marshmallow as ma
from flask import request

from schemas.containers import DecantIn, MoveIn, ScrapIn, WeighBackIn
from schemas.holds import HoldIn
from schemas.mixes import MixIn
from schemas.planning import MixPlanIn
from schemas.words import Kind, Purpose
from service.api.problems import pointers
from service.formulas.ranges import OutOfRange
from service.operations.door.refusals import Refusal
from service.operations.ledger.holding import place_hold
from service.operations.pots.bench import can_at_bench, scales_at_bench
from service.operations.pots.planning import plan_mixes
from service.operations.pots.starting import start_mix
from service.operations.stock.containers import decant, move_item, open_container, scrap_container
from service.operations.stock.places import list_places
from service.operations.stock.weighing_back import weigh_back
from service.pages.base import Pages, as_json, code_of
from service.pages.printing import add_printing
from service.pages.settling import add_settling

blp = Pages(Kind.CONTAINER)


def container(code: str, *, at: datetime) -> dict[str, Any]:
    return {"seen": can_at_bench(code, at=at)}


def with_places(code: str, *, at: datetime) -> dict[str, Any]:
    return {"seen": can_at_bench(code, at=at), "places": list_places(after=None, limit=200).rows}


def pair(code: str, *, at: datetime) -> dict[str, Any]:
    """Which two cans, how much, on which scale: all that can be asked before anything is poured."""
    return {"seen": can_at_bench(code, at=at), "scales": scales_at_bench(at=at), "purposes": list(Purpose)}


def planned(code: str, *, at: datetime) -> dict[str, Any]:
    """How many pots a job takes: asked in the address, so that it can be opened again, and nothing is reserved."""
    seen, scales = can_at_bench(code, at=at), scales_at_bench(at=at)
    shown: dict[str, Any] = {"seen": seen, "scales": scales, "plan": None, "said": None}
    if not request.args.get("need_g"):
        return shown
    try:
        asked = MixPlanIn().load(as_json(MixPlanIn(), request.args))
        return {**shown, "plan": plan_mixes(at=at, **asked)}
    except ma.ValidationError as wrong:
        return {**shown, "said": next(iter(pointers(wrong.messages)))["detail"]}
    except Refusal as no:
        return {**shown, "said": f"{no.sentence} {no.way_out or ''}"}
    except OutOfRange as outside:
        return {**shown, "said": f"No plan can be made of {outside.given}: it must be {outside.allowed}."}


blp.show("", container, "container.html")
blp.show("plan", planned, "plan.html")
blp.show("weigh", pair, "pair.html")
blp.show("weigh-back", container, "weigh_back.html")
blp.show("decant", with_places, "decant.html")
blp.show("move", with_places, "move.html")
blp.show("hold", container, "hold.html")
blp.show("scrap", container, "scrap.html")

blp.act("weigh", start_mix, MixIn, page="weigh", then=lambda pot: f"/I/{code_of(pot)}")
blp.act("open", open_container)
blp.act("weigh-back", weigh_back, WeighBackIn, page="weigh-back")
blp.act("decant", decant, DecantIn, page="decant", then=lambda can: f"/I/{code_of(can)}")
blp.act("move", move_item, MoveIn, page="move")
blp.act("hold", place_hold, HoldIn, page="hold")
blp.act("scrap", scrap_container, ScrapIn, page="scrap")

add_printing(blp)
add_settling(blp)
