"""The address in a printed code: open without a key, and no more than stands on the label."""

from datetime import date, datetime
from typing import Any

from flask import Blueprint, g, jsonify, redirect, render_template, request, url_for

from labels.codes import grouped
from labels.hazards import hazard_block
from labels.wording import clock, day
from schemas.words import KIND_NAMES, Kind
from service.api.access import may
from service.database import reading
from service.operations.door.refusals import UnknownThing
from service.operations.ledger.labelling import what_stands_on
from service.pages.base import Pages
from service.pages.visiting import in_the_shop, reader

blp = Blueprint("open-labels", __name__, template_folder="templates")


@blp.get("/I/<code:code>")
@blp.get("/I/<code:code>/<number:issue>")
def short_address(code: str, issue: int | None = None) -> Any:
    """What stands on a label, and whether it is void."""
    kind = Kind(code[0])
    as_page = request.accept_mimetypes.best_match(["text/html", "application/json"]) != "application/json"
    if as_page and kind in Pages.first:
        with reading():
            g.visitor = reader()
        if may(g.visitor, "read_account") if g.visitor is not None else in_the_shop():
            return Pages.first[kind](code, void=_void(code, issue))
    if as_page and kind == Kind.BADGE:
        return redirect(url_for("open.enter", badge=code), 303)
    with reading():
        shown = what_stands_on(code, issue)
    if not as_page:
        ends = shown["use_by"].isoformat() if shown["use_by"] is not None else None
        return jsonify(kind=KIND_NAMES[kind], **{**shown, "use_by": ends})
    facts = shown["facts"]
    return render_template(
        "label_address.html",
        kind=KIND_NAMES[kind],
        grouped=grouped(code),
        hazard=hazard_block(facts.get("h_codes", ())),
        lines=_lines(facts, shown["use_by"]),
        **shown,
    )


def _void(code: str, issue: int | None) -> dict[str, int] | None:
    """Which label took the place of the one that was scanned, if another one did."""
    if issue is None:
        return None
    with reading():
        shown = what_stands_on(code, issue)
    return {"issue": issue, "newest": shown["newest_issue"]} if shown["void"] else None


def said_of(code: str) -> list[str]:
    """What its label says of a thing, line by line; nothing, if nothing could be said."""
    try:
        shown = what_stands_on(code, None)
    except UnknownThing:  # it has no label yet
        return []
    return _lines(shown["facts"], shown["use_by"])


_SHOWN = {
    "lot": "lot",
    "sequence": "",
    "net": "",
    "use_before": "use before",
    "hardener": "with",
    "mass": "",
    "purpose": "for",
    "part_number": "part number",
    "revision": "revision",
    "serial": "serial",
    "laid_on": "laid",
    "storage": "keep at",
    "ratio": "",
    "plies": "",
    "made_of": "",
    "schedule": "",
    "release": "release",
    "capacity": "",
}


def _lines(facts: dict[str, Any], use_by: date | None) -> list[str]:
    dated = [f"use by {day(use_by)}"] if use_by is not None else []
    return dated + [f"{word} {_said(facts[name])}".strip() for name, word in _SHOWN.items() if facts.get(name)]


def _said(value: Any) -> str:
    """Days and times as the label writes them; everything else as it is."""
    text = str(value)
    try:
        return day(date.fromisoformat(text)) if len(text) == 10 else clock(datetime.fromisoformat(text))
    except ValueError:
        return text
