"""A can that was scanned: may I use this, what is next, and what to take instead."""

from datetime import datetime
from typing import Any

import marshmallow as ma
from flask import request

from labels.codes import parse
from labels.errors import Misread
from schemas.containers import DecantIn, MoveIn, ScrapIn, WeighBackIn
from schemas.designs import KitIn
from schemas.holds import HoldIn
from schemas.mixes import MixIn
from schemas.planning import MixPlanIn
from schemas.words import KIND_NAMES, Kind, Purpose
from service.api.problems import pointers
from service.formulas.ranges import OutOfRange
from service.operations.door.refusals import Refusal
from service.operations.ledger import ledger
from service.operations.ledger.holding import place_hold
from service.operations.parts.designs import list_designs
from service.operations.parts.kits import cut_kit
from service.operations.pots.bench import CanAtBench, can_at_bench, scales_at_bench
from service.operations.pots.planning import plan_mixes
from service.operations.pots.starting import start_mix
from service.operations.stock.containers import decant, move_item, open_container, scrap_container
from service.operations.stock.places import list_places
from service.operations.stock.weighing_back import weigh_back
from service.pages.base import Pages, as_json, code_of
from service.pages.printing import add_printing
from service.pages.settling import add_settling

blp = Pages(Kind.CONTAINER)
_DESIGNS = 200
_TAPPED_G = (50, 100, 200, 300, 500, 1000, 2000, 3000, 5000)


def container(code: str, *, at: datetime) -> dict[str, Any]:
    return {"seen": can_at_bench(code, at=at)}


def with_places(code: str, *, at: datetime) -> dict[str, Any]:
    return {"seen": can_at_bench(code, at=at), "places": list_places(after=None, limit=200).rows}


def pair(code: str, *, at: datetime) -> dict[str, Any]:
    """Which two cans, how much, on which scale: all that can be asked before anything is poured."""
    seen = can_at_bench(code, at=at)
    shown = {"seen": seen, "scales": scales_at_bench(at=at), "purposes": list(Purpose), "amounts": _amounts}
    return {**shown, **_scanned_with(seen, request.args.get("with", "").strip()[:200])}


def _amounts(largest_mg: int) -> list[int]:
    """Grams to tap instead of typing them, up to the largest pot.

    >>> _amounts(500_000), _amounts(80_000), _amounts(20_000_000)
    ([100, 200, 300, 500], [50], [1000, 2000, 3000, 5000])
    """
    return [grams for grams in _TAPPED_G if grams * 1000 <= largest_mg][-4:]


def _scanned_with(seen: CanAtBench, text: str) -> dict[str, Any]:
    """Of several pairs the one to which the can belongs that was scanned next; or why it belongs to none."""
    shown: dict[str, Any] = {"scanned_with": (), "with_code": "", "said": None}
    if not text:
        return shown
    try:
        code = parse(text)
        if code.kind != Kind.CONTAINER:
            return {**shown, "said": f"{code.text} is a {KIND_NAMES[Kind(code.kind)]}. Scan a can."}
        other = ledger.find(code.text, Kind.CONTAINER)
    except Misread as misread:
        return {**shown, "said": str(misread)}
    except Refusal as no:
        return {**shown, "said": no.sentence}
    pairs = [partner for partner in seen.goes_with if partner.scanned == other.name]
    if not pairs:
        wanted = " or ".join(dict.fromkeys(partner.scanned for partner in seen.goes_with)) or "nothing"
        return {**shown, "said": f"{other.code} is {other.name}; {seen.can.name} goes with {wanted}."}
    return {**shown, "scanned_with": pairs, "with_code": other.code}


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


def to_cut(code: str, *, at: datetime) -> dict[str, Any]:
    """Which designs a kit may be cut for: the newest revision of each, as far as it is approved."""
    rows = list_designs(after=None, limit=_DESIGNS, approved=True).rows
    newest = {design.part_number: design for design in rows}
    return {"seen": can_at_bench(code, at=at), "designs": sorted(newest.values(), key=lambda design: design.name)}


blp.show("", container, "container.html")
blp.show("plan", planned, "plan.html")
blp.show("weigh", pair, "pair.html")
blp.show("weigh-back", container, "weigh_back.html")
blp.show("decant", with_places, "decant.html")
blp.show("cut", to_cut, "cut_kit.html")
blp.show("move", with_places, "move.html")
blp.show("hold", container, "hold.html")
blp.show("scrap", container, "scrap.html")

blp.act("weigh", start_mix, MixIn, page="weigh", then=lambda pot: f"/I/{code_of(pot)}")
blp.act("open", open_container)
blp.act("weigh-back", weigh_back, WeighBackIn, page="weigh-back")
blp.act("decant", decant, DecantIn, page="decant", then=lambda can: f"/I/{code_of(can)}")
blp.act("cut", cut_kit, KitIn, page="cut", then=lambda kit: f"/I/{code_of(kit)}/labels")
blp.act("move", move_item, MoveIn, page="move")
blp.act("hold", place_hold, HoldIn, page="hold")
blp.act("scrap", scrap_container, ScrapIn, page="scrap")

add_printing(blp)
add_settling(blp)
