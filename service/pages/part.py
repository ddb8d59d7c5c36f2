"""A part that was scanned: put a pot on it, what it is made of, what is still open."""

from datetime import datetime
from typing import Any

from flask import g

from schemas.cures import CureIn
from schemas.defects import DefectKind
from schemas.holds import HoldIn
from schemas.orders import StartIn
from schemas.parts import (
    CloseIn,
    DemouldIn,
    FitIn,
    InspectionIn,
    LayKitIn,
    LayPlyIn,
    PartScrapIn,
    ReleaseIn,
    ShipmentIn,
    TrimIn,
    UseIn,
)
from schemas.words import Kind, ScrappedAs, State
from service.operations.cures.curing import start_cure
from service.operations.cures.schedules import list_schedules
from service.operations.door.shop import the_site
from service.operations.ledger import ledger
from service.operations.ledger.holding import place_hold
from service.operations.parts.inspecting import inspect_part
from service.operations.parts.lay_up_at_bench import lay_up_at_bench
from service.operations.parts.laying import close_lay_up, lay_kit, lay_ply, use_on_part
from service.operations.parts.moulds import list_moulds
from service.operations.parts.releasing import check_item, release_part, ship_part
from service.operations.parts.starting import bond_part, scrap_part, start_planned_part
from service.operations.parts.steps import demould, trim
from service.operations.pots.part_at_bench import part_at_bench
from service.operations.stock.places import list_places
from service.pages import costs
from service.pages.base import Pages, code_of
from service.pages.printing import add_printing
from service.pages.settling import add_settling
from service.pages.testing import add_testing

blp = Pages(Kind.PART)
_AS_MANY_AS_A_SHOP_HAS = 200
# What a material is for, to be tapped; any other word may be typed.
_FOR = ("core", "release agent", "bag", "cleaning", "trim")
_SCRAPPED_AS = {
    ScrappedAs.FAILED: "something is wrong with it",
    ScrappedAs.TESTED: "sectioned or tested for what that tells",
    ScrappedAs.NOT_WANTED: "nothing is wrong with it",
}
# Of one part number.
_MOULDS = 20


def part(code: str, *, at: datetime) -> dict[str, Any]:
    seen = part_at_bench(code, at=at)
    return {"part": seen, "name": seen.name}


def with_schedules(code: str, *, at: datetime) -> dict[str, Any]:
    """The newest approved revision of each schedule, and where it may be done."""
    rows = list_schedules(after=None, limit=_AS_MANY_AS_A_SHOP_HAS, approved=True).rows
    places = list_places(after=None, limit=_AS_MANY_AS_A_SHOP_HAS).rows
    return {**part(code, at=at), "schedules": sorted({row.name for row in rows}), "places": places}


def to_start(code: str, *, at: datetime) -> dict[str, Any]:
    """The moulds of this part number, those that are ready first."""
    seen = part_at_bench(code, at=at)
    moulds = list_moulds(at=at, after=None, limit=_MOULDS, part_number=seen.design.part_number, state=State.IN_USE).rows
    return {"part": seen, "moulds": sorted(moulds, key=lambda mould: not mould.ready)}


def ply_by_ply(code: str, *, at: datetime) -> dict[str, Any]:
    return {"seen": lay_up_at_bench(code)}


def to_use(code: str, *, at: datetime) -> dict[str, Any]:
    return {**part(code, at=at), "purposes": _FOR}


def to_inspect(code: str, *, at: datetime) -> dict[str, Any]:
    return {**part(code, at=at), "defects": list(DefectKind)}


def to_release(code: str, *, at: datetime) -> dict[str, Any]:
    """What is still open, what has to be read, and then the signature."""
    asker = None if g.get("visitor") is None else g.visitor.person
    item, site = ledger.find(code, Kind.PART), the_site()
    return {"part": item, "check": check_item(item, site=site, at=at, asker=asker), "site": site}


def to_scrap(code: str, *, at: datetime) -> dict[str, Any]:
    return {"part": (item := ledger.find(code, Kind.PART)), "name": item.name, "as_what": _SCRAPPED_AS}


def _not_ticked(asked: dict[str, Any], now: datetime) -> None:
    """A defect that nobody ticked as good enough is not accepted."""
    for defect in asked.get("defects", ()):
        defect.setdefault("accepted", False)


blp.show("", part, "part.html")
blp.show("start", to_start, "start_part.html")
blp.show("kit", part, "lay_kit.html")
blp.show("ply", ply_by_ply, "lay_ply.html")
blp.show("use", to_use, "use.html")
blp.show("fit", part, "fit.html")
blp.show("close", part, "close_lay_up.html")
blp.show("cure", with_schedules, "start_cure.html")
blp.show("demould", part, "demould.html")
blp.show("hold", part, "hold_it.html")
blp.show("trim", part, "trim.html")
blp.show("inspect", to_inspect, "inspect.html")
blp.show("release", to_release, "release.html")
blp.show("ship", part, "ship.html")
blp.show("scrap", to_scrap, "scrap_part.html")
blp.show("cost", costs.part, "cost.html", right="read_costs")

blp.act("start", start_planned_part, StartIn, page="start")
blp.act("kit", lay_kit, LayKitIn, page="kit")
blp.act("ply", lay_ply, LayPlyIn, page="ply", then=lambda part: f"/I/{code_of(part)}/ply")
blp.act("use", use_on_part, UseIn, page="use")
blp.act("fit", bond_part, FitIn, page="fit")
blp.act("close", close_lay_up, CloseIn, page="close")
blp.act("cure", start_cure, CureIn, page="cure", then=lambda cure: f"/I/{code_of(cure)}")
blp.act("demould", demould, DemouldIn, page="demould")
blp.act("hold", place_hold, HoldIn, page="hold")
blp.act("trim", trim, TrimIn, page="trim")
blp.act("inspect", inspect_part, InspectionIn, page="inspect", prepare=_not_ticked)
blp.act("release", release_part, ReleaseIn, page="release")
blp.act("ship", ship_part, ShipmentIn, page="ship")
blp.act("scrap", scrap_part, PartScrapIn, page="scrap")

add_testing(blp)
add_printing(blp)
add_settling(blp)
