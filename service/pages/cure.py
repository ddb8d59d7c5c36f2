"""A cure: since when it runs, what it has to show, what proves it, and its parts."""

from datetime import datetime
from typing import Any

from schemas.cures import DeclarationIn, ThermometerIn
from schemas.holds import HoldIn
from schemas.words import Kind
from service.operations.cures.curing import declare_cure, end_cure, record_cure_reading
from service.operations.cures.view import read_cure
from service.operations.ledger import ledger
from service.operations.ledger.holding import place_hold
from service.pages.base import Pages
from service.pages.printing import add_printing
from service.pages.settling import add_settling

blp = Pages(Kind.CURE)


def cure(code: str, *, at: datetime) -> dict[str, Any]:
    seen = read_cure(code)
    place = None if seen.place is None else ledger.find(seen.place, Kind.PLACE).name
    return {"cure": seen, "name": seen.name, "place": place}


blp.show("", cure, "cure.html")
blp.show("thermometer", cure, "thermometer.html")
blp.show("declaration", cure, "declaration.html")
blp.show("hold", cure, "hold_it.html")

blp.act("end", end_cure)
blp.act("thermometer", record_cure_reading, ThermometerIn, page="thermometer")
blp.act("declaration", declare_cure, DeclarationIn, page="declaration")
blp.act("hold", place_hold, HoldIn, page="hold")

add_printing(blp)
add_settling(blp)
