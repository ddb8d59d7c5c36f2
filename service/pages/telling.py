"""How pages write numbers and times: masses as the scale shows them, times by the shop's clock."""

from collections.abc import Iterable
from contextlib import suppress
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from flask import Flask, current_app, g, render_template
from peewee import DatabaseError, InterfaceError

from labels.wording import clock, day
from schemas.words import KIND_NAMES, Kind, Unit
from service.database import connected
from service.operations.ledger.recall import named_in
from service.pages.decimals import local
from service.pages.scan import label_host
from service.pages.static_files import static
from service.pages.visiting import reader, signed_on

# A figure, its thousands and its unit stay on one line.
THIN = "\u202f"


def grams(mg: int, step_mg: int = 100) -> str:
    """Grams as a scale of that step shows them.

    >>> grams(13_800), grams(1_846_250, 10), grams(5_000_000, 1000)
    ('13.8', '1\u202f846.25', '5\u202f000')
    """
    places = 0 if step_mg >= 1000 else 1 if step_mg >= 100 else 2 if step_mg >= 10 else 3
    return local(f"{mg / 1000:,.{places}f}".replace(",", THIN))


def inward(low_mg: int, high_mg: int, step_mg: int) -> tuple[str, str]:
    """Two limits on steps of a scale, never outside of them; to the milligram where no step lies between them.

    >>> inward(4_528, 4_712, 100), inward(4_528, 4_712, 1000)
    (('4.6', '4.7'), ('4.528', '4.712'))
    """
    low, high = -(-low_mg // step_mg) * step_mg, high_mg // step_mg * step_mg
    return (grams(low, step_mg), grams(high, step_mg)) if low <= high else (grams(low_mg, 1), grams(high_mg, 1))


def amount(value: int, unit: str) -> str:
    """An amount with its unit.

    >>> amount(912_000, "mg"), amount(46_500, "mg"), amount(12_400, "mm"), amount(3, "piece")
    ('912\u202fg', '46.5\u202fg', '12.4\u202fm', '3 pieces')
    """
    if unit == Unit.MILLIGRAM:
        text = f"{value / 1000:,.3f}".replace(",", THIN).rstrip("0").rstrip(".")
        return f"{local(text)}{THIN}g"
    if unit == Unit.MILLIMETRE:
        return f"{local(f'{value / 1000:g}')}{THIN}m"
    return f"{value} piece" if value == 1 else f"{value} pieces"


def plain(value: float) -> str:
    """A ratio or a per cent without what says nothing.

    >>> plain(30.0), plain(2.5)
    ('30', '2.5')
    """
    return local(f"{value:g}")


def shop_day(value: date) -> str:
    return day(value)


def shop_time(value: datetime, zone: str, now: datetime) -> str:
    """A time by the shop's clock, with its day where that is not today's.

    >>> from datetime import UTC
    >>> shop_time(datetime(2026, 3, 3, 9, 5, tzinfo=UTC), "Europe/Copenhagen", datetime(2026, 3, 3, 20, 0, tzinfo=UTC))
    '10:05'
    >>> shop_time(datetime(2026, 3, 2, 9, 5, tzinfo=UTC), "Europe/Copenhagen", datetime(2026, 3, 3, 20, 0, tzinfo=UTC))
    '2 Mar 2026, 10:05'
    """
    there, today = value.astimezone(ZoneInfo(zone)), now.astimezone(ZoneInfo(zone)).date()
    return clock(there) if there.date() == today else f"{day(there.date())}, {clock(there)}"


def minutes_from(until: datetime, now: datetime) -> str:
    """How long until then, or since.

    >>> from datetime import UTC, timedelta
    >>> now = datetime(2026, 3, 3, 9, 5, tzinfo=UTC)
    >>> minutes_from(now + timedelta(minutes=12.4), now), minutes_from(now - timedelta(hours=2), now)
    ('12:24', '2 h 00 over')
    """
    seconds = int((until - now).total_seconds())
    hours, rest = divmod(abs(seconds), 3600)
    text = f"{hours} h {rest // 60:02d}" if hours else f"{rest // 60}:{rest % 60:02d}"
    return f"{text} over" if seconds < 0 else text


def since(begun: datetime, now: datetime) -> str:
    """How long it has been going on.

    >>> from datetime import UTC, timedelta
    >>> now = datetime(2026, 3, 3, 9, 5, tzinfo=UTC)
    >>> [since(now - timedelta(hours=hours), now) for hours in (0.2, 5.2, 72)]
    ['12 min', '5 h 12', '3 days']
    """
    minutes = max(0, int((now - begun).total_seconds() // 60))
    if minutes < 60:
        return f"{minutes} min"
    return f"{minutes // 60} h {minutes % 60:02d}" if minutes < 48 * 60 else f"{minutes // 1440} days"


_ASKED_AS = {"why": "Why", "read_back_g": "What it shows now, in g", "read_back_ml": "What it shows now, in ml"}


def asked_as(name: str) -> str:
    """What a page asks for where a program is told a field."""
    return _ASKED_AS.get(name, name.replace("_", " "))


def visitor_name() -> str:
    """Who is at this browser."""
    return str(getattr(g, "visitor_name", None) or "Who are you?")


def kind_name(kind: str) -> str:
    """What a kind of thing is called.

    >>> kind_name("T")
    'mould'
    """
    return KIND_NAMES[Kind(kind)]


def recalls_in(reasons: Iterable[str]) -> dict[str, int]:
    """The recalls that are named as the reason of a hold: its page is a tap away wherever a hold is told."""
    with connected():
        return named_in(reasons)


def secret_number() -> int:
    """Each field for a secret on a page has a label of its own."""
    g.secrets_asked = getattr(g, "secrets_asked", 0) + 1
    return int(g.secrets_asked)


def page_of_a_problem(problem: dict[str, Any]) -> str:
    """What a person is shown where a program gets a problem document; who is signed on stays so."""
    if problem["status"] < 500 and "visitor" not in g:
        with suppress(DatabaseError, InterfaceError), connected():
            g.visitor = reader()
    return render_template("trouble.html", problem=problem, at=current_app.extensions["clock"]())


def register(app: Flask) -> None:
    app.extensions["page of a problem"] = page_of_a_problem
    for tell in (grams, inward, amount, plain, shop_day, shop_time, minutes_from, since):
        app.add_template_filter(tell)
    app.add_template_global(visitor_name)
    app.add_template_global(asked_as)
    app.add_template_global(signed_on)
    app.add_template_global(static)
    app.add_template_global(kind_name)
    app.add_template_global(secret_number)
    app.add_template_global(recalls_in)
    app.add_template_global(label_host)
