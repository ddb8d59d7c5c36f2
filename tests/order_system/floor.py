"""The shop that builds what the order system wants: it lays up, cures, inspects and releases, and scraps some."""

from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

from tests import makers
from tests.order_system.orders import PART_NUMBERS

_SCHEDULE = "Room, declared"
# As short as a schedule's stage may be.
_CURE_MIN = 0.1
# One in so many parts is scrapped instead of laid up.
SCRAPPED = 15


@dataclass
class Floor:
    """Who does the work, by the same service but not over the bad line, and which orders were cancelled."""

    api: Any
    cancelled: set[str]
    scrapped: int = 0
    _cures: list[tuple[datetime, str]] = field(default_factory=list)

    def prepare(self) -> None:
        stage = {
            "name": "room",
            "low_c": 15,
            "high_c": 30,
            "minimum_min": _CURE_MIN,
            "over_c": None,
            "air_over_c": None,
        }
        makers.schedule(self.api, _SCHEDULE, evidence="declared", stages=[stage])
        for part_number in PART_NUMBERS:
            makers.design(self.api, part_number)

    def turn(self) -> None:
        """Everything that can be done now, one act on each part."""
        for part in self._in("laying"):
            if int(part["code"][1:6]) % SCRAPPED == 0 and part["order"] not in self.cancelled:
                self._do(f"/v1/parts/{part['code']}/scrapping", {"method": "cut up"}, who="lead")
                self.scrapped += 1
            else:
                self._do(f"/v1/parts/{part['code']}/closing")
        self._cure([part["code"] for part in self._in("laid up")])
        for part in self._in("cured"):
            self._do(f"/v1/parts/{part['code']}/demoulding", {"temperature_c": 20})
            self._do(f"/v1/parts/{part['code']}/inspections", {"accepted": True}, who="quality")
            self._do(f"/v1/parts/{part['code']}/release", {"reviewed": True}, who="lead")
        for part in self._in("returned"):
            for hold in self._get(f"/v1/parts/{part['code']}")["holds"]:
                self._do(f"/v1/holds/{hold['id']}/lifting", {"why": "sanded"}, who="quality")
            self._do(f"/v1/parts/{part['code']}/release", {"reviewed": True}, who="lead")

    def _cure(self, codes: list[str]) -> None:
        if codes:
            cure = self._do("/v1/cures", {"schedule": _SCHEDULE, "parts": codes[:50]})["code"]
            self._cures.append((datetime.now(UTC), cure))
        for begun, cure in list(self._cures):
            if (datetime.now(UTC) - begun).total_seconds() > _CURE_MIN * 60 + 1:
                self._do(f"/v1/cures/{cure}/declaration", {"remark": "in the warm room"})
                self._do(f"/v1/cures/{cure}/end")
                self._cures.remove((begun, cure))

    def _in(self, state: str) -> list[dict[str, Any]]:
        rows: list[dict[str, Any]] = self._get(f"/v1/parts?state={state.replace(' ', '%20')}&limit=50")
        return rows

    def _get(self, path: str) -> Any:
        self.api.shop.clock.now = datetime.now(UTC)
        return self.api.get(path)

    def _do(self, path: str, body: Any = None, who: str = "laminator") -> Any:
        """One act; somebody else at the same thing is waited for."""
        for _ in range(100):
            self.api.shop.clock.now = datetime.now(UTC)
            answer = self.api.call("POST", path, body, who=who)
            if answer.status_code == 201:
                return answer.get_json()
            assert answer.get_json()["type"] == "/problems/still-running", answer.get_json()
        raise AssertionError(f"{path} is never done")
