"""How often one key may ask: counted together by all server processes, told in each answer.

The headers are those of the IETF's draft "RateLimit header fields for HTTP" (its names read at
https://www.ietf.org/archive/id/draft-ietf-httpapi-ratelimit-headers-10.txt, its parameters from memory): what is
allowed, and what is left of it and in how many seconds it is whole again.
"""

import time

from flask import Flask, Response, current_app, g
from flask_smorest import abort

from service.api.throttle import Throttle

WINDOW_S = 60


class Rates:
    """So many requests a minute for each key, all of them at once if need be; 0 is as many as come."""

    def __init__(self, per_min: int) -> None:
        self.per_min = per_min
        self._throttle = Throttle(at_once=per_min, each_s=WINDOW_S / per_min) if per_min else None

    def take(self, key: int, now_s: float) -> tuple[float, int, int] | None:
        """(seconds that it comes too early, requests that are left, seconds until all are there again)."""
        if self._throttle is None:
            return None
        wait_s, left = self._throttle.take(f"key {key}", now_s)
        return wait_s, left, round((self.per_min - left) * WINDOW_S / self.per_min)


def count(key: int) -> None:
    """Count one request of a key, or refuse it. What is left is said in the answer, whatever becomes of it."""
    rates: Rates = current_app.extensions["rates"]
    taken = rates.take(key, time.monotonic())
    if taken is None:
        return
    wait_s, left, whole_in_s = taken
    g.rate = {
        "RateLimit-Policy": f'"key";q={rates.per_min};w={WINDOW_S}',
        "RateLimit": f'"key";r={left};t={whole_in_s}',
    }
    if wait_s:
        abort(
            429,
            message=f"This key asks more than {rates.per_min} times a minute; wait {wait_s:.0f} s.",
            way_out="Ask less often: follow GET /v1/changes, and send If-None-Match with what you read again.",
            headers={"Retry-After": f"{wait_s:.0f}"},
            kind="too-many-requests",
        )


def register(app: Flask, per_min: int) -> None:
    app.extensions["rates"] = Rates(per_min)

    @app.after_request
    def tell(response: Response) -> Response:
        response.headers.update(g.get("rate", {}))
        return response
