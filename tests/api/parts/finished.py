"""Parts that are made but for their inspection, and released ones."""

from typing import Any

from tests import makers
from tests.fresh import made_once


@made_once
def made(yard: Any, part_number: str = "HY-204", **facts: Any) -> str:
    """A part that is laid up, cured, demoulded and trimmed; nobody has inspected it yet."""
    makers.design(yard, part_number, plies=makers.plies(yard.glass, 0, 45), **facts)
    return another(yard, part_number)


def another(yard: Any, part_number: str = "HY-204") -> str:
    part = yard.post("/v1/parts", {"part_number": part_number})
    path = f"/v1/parts/{part['code']}"
    cut = {"design": part["design"]["id"], "cuts": [{"roll": yard.roll, "length_mm": 1000}]}
    yard.post(f"{path}/kits", {"kit": yard.post("/v1/kits", cut)["code"]})
    yard.post(f"{path}/closing")
    makers.cured(yard, part["code"])
    yard.post(f"{path}/demoulding", {"temperature_c": 20})
    yard.post(f"{path}/trimming", {"mass_g": 500})
    return str(part["code"])


def released(yard: Any, part: str) -> dict[str, Any]:
    yard.post(f"/v1/parts/{part}/inspections", {"accepted": True})
    view: dict[str, Any] = yard.post(f"/v1/parts/{part}/release", {"reviewed": True}, who="lead")
    return view
