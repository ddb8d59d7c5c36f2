"""Guides: a few short pages for who connects a program. Every request in them is sent as it stands by a test."""

from typing import Any

from flask import Blueprint, render_template
from flask_smorest import abort

from schemas.words import HookEvent

blp = Blueprint("open-guide", __name__, template_folder="templates")

# Name of the page -> its title and what it answers, in the order in which they are read.
GUIDES: dict[str, tuple[str, str]] = {
    "connect": ("Connect in ten minutes", "A key, a first question, a first act."),
    "part": ("Lifecycle of a part", "From its start to its shipment, and what a program does on the way."),
    "weigh": ("Weigh by API", "A pot from its plan to its end, number by number."),
    "retry": ("Retry safely", "What to send again after a time-out, and what never."),
    "changes": ("Follow changes", "What is new since the last look, without asking for everything."),
    "webhooks": ("Receive webhooks", "Be told instead of asking; prove that it was us."),
    "recall": ("Recall", "What a hold or a recall reaches, and how a program learns of it."),
    "scopes": ("Who may do what", "Roles, keys of systems, signatures; what a system is never told."),
    "costs": ("What it cost", "Prices of arrivals; parts, orders and months; what counts and what is not known."),
}


# What a webhook can be told: when, and what stands in `data`.
EVENTS: dict[HookEvent, tuple[str, str]] = {
    HookEvent.PART_RELEASED: ("a part was released", "`part`"),
    HookEvent.PART_SHIPPED: ("a part left for its customer", "`part`"),
    HookEvent.PART_FAILED: ("somebody said that a part failed", "`part`, `in_service`"),
    HookEvent.PART_SCRAPPED: ("a part was scrapped", "`part`"),
    HookEvent.HOLD_PLACED: (
        "an act stopped things",
        "`holds` how many, `hold` its number if it is one, `item` and `kind` if it is on one thing (a pot, a kit or a "
        "cure is not named), `since`, `reaches` how many things of each kind it reaches",
    ),
    HookEvent.HOLD_LIFTED: ("an act lifted holds", "the same"),
    HookEvent.RECALL_OPENED: ("a recall was opened", "`recall`, `item`, `pieces` by kind"),
    HookEvent.RECALL_CLOSED: ("a recall was closed", "the same"),
    HookEvent.ORDER_DONE: (
        "the last part that an order wants was shipped, or fitted here",
        "`order`, `references` as each system calls it",
    ),
    HookEvent.STOCK_SHORT: (
        "the daily look found less than the least of a material's card",
        "`material`, `name`, `free_g` and `least_g`, or `free_mm` and `least_mm`",
    ),
    HookEvent.CONTAINER_EXPIRING: (
        "the daily look found a can that is past its date within 14 days",
        "`container`, `good_until`, `material`, `name`",
    ),
}


@blp.get("/guide")
def guides() -> Any:
    """All guides."""
    return render_template("guides/guides.html", guides=GUIDES)


@blp.get("/guide/<name>")
def guide(name: str) -> Any:
    """One guide."""
    if name not in GUIDES:
        abort(404)
    title, about = GUIDES[name]
    events = [(event, *said) for event, said in EVENTS.items()]
    return render_template(f"guides/{name}.html", title=title, about=about, events=events)
