"""The wall board: what runs and for how long, read from three metres."""

from typing import Any

from flask import Blueprint, Response, current_app, render_template

from service.database import reading
from service.operations.cures.running import cures_running
from service.operations.door.shop import the_site
from service.operations.ledger.holding import list_holds
from service.operations.pots.bench import choices
from service.operations.pots.rounds import cups_to_check
from service.operations.pots.windows import bench_now
from service.operations.stock.picking import soon_past
from service.pages.visiting import who

blp = Blueprint("page-board", __name__, template_folder="templates")
# What is past its date within so many days is to be used up first.
_SOON_DAYS = 21
# More lines than these nobody reads on a wall; of holds fewer, since they do not run.
_LINES = 12
_HOLDS = 4
RIGHTS = {"page-board.board": "read_account"}


@blp.get("/board")
def board() -> Any:
    """Pots, cures, holds, and what is soon past its date."""
    at = current_app.extensions["clock"]()
    with reading():
        site = the_site()
        cups, windows = bench_now(at=at, zone=site.zone)
        soon = soon_past(at=at, site=site, days=_SOON_DAYS)
        shown = {
            "site": site,
            "cups": cups,
            "windows": windows,
            "to_check": cups_to_check(),
            "cures": cures_running(limit=_LINES),
            "holds": list_holds(after=None, limit=_LINES, standing=True).rows,
            "most_holds": _HOLDS,
            "soon": list(zip(choices(soon), [one.facts.good_until for one in soon], strict=True)),
        }
    html = render_template("board.html", at=at, who=who, trouble=None, **shown)
    return Response(html, headers={"Cache-Control": "no-store"})
