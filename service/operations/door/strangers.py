"""Requests that no key opened, summed up in one entry of the journal a minute, in the service's own name."""

from datetime import datetime

from service.database import writing
from service.operations.door import entry
from service.operations.door.act import by_the_machine
from service.operations.door.plain import plain
from service.operations.door.shop import the_site
from service.records.bound import changes


def count_strangers(*, turned_away: int, since: datetime, at: datetime) -> None:
    """Write down that so many requests were turned away for want of a key since that time."""
    with writing(), changes() as changed:
        site = the_site()
        act = by_the_machine(site.id, at, device="service")
        deed = entry.begin(act, "count_strangers", late_after_min=site.late_after_min)
        said = {"asked": {}, "notes": [plain({"turned_away": turned_away, "since": since})]}
        entry.seal(act, deed, "count_strangers", said, changed=changed, touched={}, zone=site.zone)
