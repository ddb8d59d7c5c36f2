"""A can that was scanned: may I use this, what is next, and what to take instead."""

from datetime import datetime
from typing import Any

from schemas.containers import DecantIn, MoveIn, ScrapIn, WeighBackIn
from schemas.holds import HoldIn
from schemas.mixes import MixIn
from schemas.words import Kind, Purpose
from service.operations.ledger.holding import place_hold
from service.operations.pots.bench import can_at_bench, scales_at_bench
from service.operations.pots.starting import start_mix
from service.operations.stock.containers import decant, move_item, open_container, scrap_container
from service.operations.stock.places import list_places
from service.operations.stock.weighing_back import weigh_back
from service.pages.base import Pages, code_of

blp = Pages(Kind.CONTAINER)


def container(code: str, *, at: datetime) -> dict[str, Any]:
    return {"seen": can_at_bench(code, at=at)}


def with_places(code: str, *, at: datetime) -> dict[str, Any]:
    return {"seen": can_at_bench(code, at=at), "places": list_places(after=None, limit=200).rows}


def pair(code: str, *, at: datetime) -> dict[str, Any]:
    """Which two cans, how much, on which scale: all that can be asked before anything is poured."""
    return {"seen": can_at_bench(code, at=at), "scales": scales_at_bench(at=at), "purposes": list(Purpose)}


blp.show("", container, "container.html")
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
