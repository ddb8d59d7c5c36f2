"""What is fitted into an assembly, and what that goes into: what counts as failed, good and gone, over HTTP."""

from typing import Any

import pytest

from tests import makers
from tests.reports.test_what_failed import bench as bench

_SOFT = [{"kind": "soft", "zone": "root"}]


class _Yard:
    """Floats from one of two cans, each fitted into a frame, and that into a hull, which is shipped."""

    def __init__(self, bench: makers.Mixing) -> None:
        self.bench, self.api = bench, bench.api
        self.bad, self.good = makers.cans(self.api, bench.resin, bench.place, "R-2", count=2)

    def make(self, can: str, component: str | None = None) -> str:
        part = str(self.api.post("/v1/parts", {"part_number": "HY-204"})["code"])
        mix = self.bench.start(130, containers=[{"container": can}, {"container": self.bench.slow_can}])["code"]
        self.bench.pour(mix, can, 100.0)
        self.bench.pour(mix, self.bench.slow_can, 30.0)
        self.bench.stir(mix)
        self.bench.apply(mix, part)
        self.api.post(f"/v1/mixes/{mix}/closing", {"left_g": 5, "loss_g": 1, "cup_kept": False})
        if component is not None:
            self.api.post(f"/v1/parts/{part}/components", {"component": component})
        self.api.post(f"/v1/parts/{part}/closing")
        makers.cured(self.api, part)
        self.api.post(f"/v1/parts/{part}/demoulding", {"temperature_c": 20})
        self.api.post(f"/v1/parts/{part}/trimming", {"mass_g": 400})
        self.api.post(f"/v1/parts/{part}/inspections", {"accepted": True}, who="lead")
        self.api.post(f"/v1/parts/{part}/release", {"reviewed": True}, who="quality")
        return part

    def shipped(self, can: str) -> tuple[str, str, str]:
        small = self.make(can)
        middle = self.make(self.bench.resin_can, small)
        whole = self.make(self.bench.resin_can, middle)
        self.api.post(f"/v1/parts/{whole}/shipment", {"customer": "Club", "document": "LN 1"}, who="lead")
        return small, middle, whole

    def came_back(self, whole: str) -> None:
        self.api.post(f"/v1/parts/{whole}/return", {"reason": "soft"}, who="lead")
        self.api.post(
            "/v1/nonconformances", {"item": whole, "found": "soft", "failed": True, "defects": _SOFT}, who="lead"
        )

    def suspects(self, part: str) -> Any:
        return self.api.get(f"/v1/parts/{part}/investigation", who="quality")["suspects"]


@pytest.fixture
def yard(bench: makers.Mixing) -> _Yard:
    return _Yard(bench)


def test_a_component_of_what_failed_did_not_hold(yard: _Yard) -> None:
    """The can of the floats that made three hulls soft had nine parts, six of them good: the floats and the frames."""
    all_of_them = [yard.shipped(can) for can in (yard.bad, yard.good) * 3]
    became = yard.suspects(all_of_them[0][2])["became"]
    assert {n: v for n, v in became.items() if v} == {"gone": 6, "fitted": 12}
    for _, _, whole in all_of_them[::2]:
        yard.came_back(whole)
    for part in all_of_them[0]:
        found = yard.suspects(part)
        assert {n: v for n, v in found["became"].items() if v} == {"failed": 3, "gone": 3, "fitted": 12}
        first = found["ranked"][0]
        assert yard.bad[:6] in first["name"]
        assert (first["exposed"], first["others"]) == ({"parts": 3, "failed": 3}, {"parts": 3, "failed": 0})
        assert (first["p"], found["smallest_p"]) == (pytest.approx(1 / 20), pytest.approx(1 / 20))
    # Said of the float itself, it failed as well as its hull did.
    small = all_of_them[0][0]
    yard.api.post("/v1/nonconformances", {"item": small, "found": "soft", "failed": True, "defects": _SOFT}, who="lead")
    assert {n: v for n, v in yard.suspects(small)["became"].items() if v} == {"failed": 4, "gone": 3, "fitted": 11}


def test_a_component_counts_by_itself_until_its_assembly_is_judged(yard: _Yard) -> None:
    small = yard.make(yard.bad)
    whole = str(yard.api.post("/v1/parts", {"part_number": "HY-204"})["code"])
    yard.api.post(f"/v1/parts/{whole}/components", {"component": small})
    assert {n: v for n, v in yard.suspects(whole)["became"].items() if v} == {"good": 1, "not_judged": 1}
    yard.api.post(f"/v1/parts/{whole}/closing")
    yard.api.post(
        f"/v1/parts/{whole}/inspections", {"accepted": False, "defects": [{**_SOFT[0], "accepted": False}]}, who="lead"
    )
    assert {n: v for n, v in yard.suspects(small)["became"].items() if v} == {"failed": 1, "fitted": 1}
