"""Requests that no key opened, or that a key did not open, summed up in an entry a minute, in the service's name."""

from datetime import datetime
from typing import Any

from service.database import writing
from service.operations.door import entry
from service.operations.door.act import by_the_machine
from service.operations.door.plain import plain
from service.operations.door.shop import the_site
from service.records.bound import changes


def count_strangers(*, turned_away: int, since: datetime, at: datetime) -> None:
    """Write down that so many requests were turned away for want of a key since that time."""
    _write_down("count_strangers", at, {"turned_away": turned_away, "since": since})


def count_turned_away(*, key: int, right: str, times: int, since: datetime, at: datetime) -> None:
    """Write down that a key came so many times more for what it does not open, after the entry that says so."""
    _write_down("count_turned_away", at, {"key": key, "right": right, "turned_away": times, "since": since})


def _write_down(name: str, at: datetime, note: dict[str, Any]) -> None:
    with writing(), changes() as changed:
        site = the_site()
        act = by_the_machine(site.id, at, device="service")
        deed = entry.begin(act, name, late_after_min=site.late_after_min)
        said = {"asked": {}, "notes": [plain(note)]}
        entry.seal(act, deed, name, said, changed=changed, touched={}, zone=site.zone)
