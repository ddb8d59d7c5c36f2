"""Routes that are to go: each answer of one says since when and until when, and what takes its place.

`Deprecation` (RFC 9745) is the moment since which it should not be used any more, `Sunset` (RFC 8594) the moment after
which it is gone, and `Link` leads to its successor and to the policy. The description marks the route as well. None is
to go now: a line in ``ENDINGS``, by the name of the route's operation, is all that it takes.
"""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from email.utils import format_datetime
from typing import Any

from flask import Response

# So long a route goes on working after it was said to be going.
NOTICE = timedelta(days=365)
_POLICY = "/docs"


@dataclass(frozen=True, slots=True)
class Ending:
    """A route on its way out.

    Attributes
    ----------
    since
        The day from which it is to go; days are UTC.
    last
        The last day on which it works, a year later at the least.
    instead
        Address of what takes its place, such as /v1/parts.
    """

    since: date
    last: date
    instead: str

    def __post_init__(self) -> None:
        if self.last - self.since < NOTICE:
            raise ValueError(f"a route is told of a year before it goes, not {(self.last - self.since).days} days")

    def headers(self) -> dict[str, str]:
        """What each answer of the route says of it; a link to the next page is kept beside."""
        since = datetime.combine(self.since, time(), UTC)
        end = datetime.combine(self.last, time(), UTC) + timedelta(days=1)
        links = ((self.instead, "successor-version"), (_POLICY, "deprecation"), (_POLICY, "sunset"))
        return {
            "Deprecation": f"@{int(since.timestamp())}",
            "Sunset": format_datetime(end, usegmt=True),
            "Link": ", ".join(f'<{address}>; rel="{relation}"' for address, relation in links),
        }


# Name of the route's operation -> how it ends.
ENDINGS: dict[str, Ending] = {}


def mark(response: Response, endpoint: str | None) -> None:
    """Say of an answer that its route is to go, if it is."""
    ending = ENDINGS.get((endpoint or "").rpartition(".")[2])
    if ending is not None:
        for name, value in ending.headers().items():
            response.headers.add(name, value)


def describe(described: dict[str, Any]) -> None:
    """Mark such routes in the description."""
    for methods in described["paths"].values():
        for route in methods.values():
            ending = ENDINGS.get(route.get("operationId", "")) if isinstance(route, dict) else None
            if ending is not None:
                route["deprecated"] = True
                told = f"To go: it works until {ending.last:%-d %B %Y}. In its place: {ending.instead}."
                route["description"] = "\n\n".join(filter(None, [route.get("description"), told]))
