"""A part that was scanned: put a pot on it, what it is made of, what is still open."""

from datetime import datetime
from typing import Any

from schemas.cures import CureIn
from schemas.holds import HoldIn
from schemas.parts import CloseIn, DemouldIn
from schemas.words import Kind
from service.operations.cures.curing import start_cure
from service.operations.cures.schedules import list_schedules
from service.operations.ledger.holding import place_hold
from service.operations.parts.laying import close_lay_up
from service.operations.parts.steps import demould
from service.operations.pots.part_at_bench import part_at_bench
from service.operations.stock.places import list_places
from service.pages.base import Pages, code_of
from service.pages.printing import add_printing

blp = Pages(Kind.PART)
_AS_MANY_AS_A_SHOP_HAS = 200


def part(code: str, *, at: datetime) -> dict[str, Any]:
    seen = part_at_bench(code, at=at)
    return {"part": seen, "name": seen.name}


def with_schedules(code: str, *, at: datetime) -> dict[str, Any]:
    """The newest approved revision of each schedule, and where it may be done."""
    rows = list_schedules(after=None, limit=_AS_MANY_AS_A_SHOP_HAS, approved=True).rows
    places = list_places(after=None, limit=_AS_MANY_AS_A_SHOP_HAS).rows
    return {**part(code, at=at), "schedules": sorted({row.name for row in rows}), "places": places}


blp.show("", part, "part.html")
blp.show("close", part, "close_lay_up.html")
blp.show("cure", with_schedules, "start_cure.html")
blp.show("demould", part, "demould.html")
blp.show("hold", part, "hold_it.html")

blp.act("close", close_lay_up, CloseIn, page="close")
blp.act("cure", start_cure, CureIn, page="cure", then=lambda cure: f"/I/{code_of(cure)}")
blp.act("demould", demould, DemouldIn, page="demould")
blp.act("hold", place_hold, HoldIn, page="hold")

add_printing(blp)
