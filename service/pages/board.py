"""The wall board: what runs and for how long, read from three metres; and what is to be started next."""

from typing import Any

from flask import Blueprint, Response, current_app, render_template

from service.database import reading
from service.operations.cures.running import cures_running
from service.operations.door.shop import day_in_shop, the_site
from service.operations.ledger.holding import list_holds
from service.operations.orders.next_up import to_start
from service.operations.pots.bench import choices
from service.operations.pots.rounds import MOST_IN_A_ROUND, cups_to_check
from service.operations.pots.windows import bench_now
from service.operations.stock.picking import soon_past
from service.pages.visiting import who

blp = Blueprint("page-board", __name__, template_folder="templates")
# What is past its date within so many days is to be used up first.
_SOON_DAYS = 21
# More lines than these nobody reads on a wall; of holds fewer, since they do not run.
_LINES = 12
_HOLDS = 4
# On the wall, and on the page of its own.
_TO_START, _ALL_TO_START = 4, 60
RIGHTS = {"page-board.board": "read_account", "page-board.what_next": "read_account"}


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
            "to_check": cups_to_check(at=at),
            "most_cups": MOST_IN_A_ROUND,
            "cures": cures_running(limit=_LINES),
            "holds": (held := list_holds(after=None, limit=_LINES, standing=True)).rows,
            "more_holds": held.next_after is not None,
            "most_holds": _HOLDS,
            "to_start": to_start(limit=_TO_START),
            "today": day_in_shop(at, site),
            "soon": list(zip(choices(soon), [one.facts.good_until for one in soon], strict=True)),
        }
    html = render_template("board.html", at=at, who=who, trouble=None, **shown)
    return Response(html, headers={"Cache-Control": "no-store"})


@blp.get("/next")
def what_next() -> Any:
    """What is planned and not begun, the first due first."""
    at = current_app.extensions["clock"]()
    with reading():
        site = the_site()
        shown = {"site": site, "lines": to_start(limit=_ALL_TO_START), "most": _ALL_TO_START}
    html = render_template("next.html", at=at, who=who, trouble=None, today=day_in_shop(at, site), **shown)
    return Response(html, headers={"Cache-Control": "no-store"})
