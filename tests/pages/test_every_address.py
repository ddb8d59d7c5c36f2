"""Every address of the pages answers with few statements. `test_each_address_as_seen.py` looks at each in a browser."""

import re
from typing import Any

import pytest

from tests import makers
from tests.journeys import floor
from tests.pages.hand import HTML, hand_of
from tests.statements import statements

pytestmark = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
MOST_STATEMENTS = 25


def a_days_work(api: Any) -> dict[str, str]:
    """A shop in which each kind of thing stands somewhere in the middle of its life: letter -> code."""
    yard = floor.founded(api)
    part = yard.part(yard.design(plies=[]))
    yard.pot(part)
    running = yard.bench.mixed(130)
    mix = running["code"] if isinstance(running, dict) else running
    api.post(f"/v1/parts/{part}/closing")
    body = {"schedule": "Alder 10 with post-cure", "parts": [part], "place": yard.oven}
    cures = api.call("POST", "/v1/cures", body, who="lead")
    cure = cures.get_json()["code"] if cures.status_code == 201 else makers.cured(api, part)
    hold = {"item": yard.bench.fast_can, "reason": "cloudy"}
    api.post("/v1/holds", hold, who="lead")
    lot = api.get(f"/v1/containers/{yard.bench.slow_can}")["lot"]
    api.post(
        "/v1/recalls",
        {"item": yard.bench.fast_can, "reason": "the supplier calls it back", "papers": False},
        who="lead",
    )
    badge = api.post(f"/v1/people/{api.shop.people['laminator']}/badges", who="administrator")["code"]
    mould = api.post("/v1/moulds", {"name": "Rudder half mould"}, who="lead")["code"]
    kit = api.post("/v1/kits", {"design": yard.design("HY-205"), "cuts": [{"roll": yard.roll, "length_mm": 1500}]})[
        "code"
    ]
    order = {"system": "order book", "reference": "SO-1", "lines": [{"part_number": "HY-205", "quantity": 2}]}
    api.post("/v1/orders", order, who="lead")
    return {"C": yard.bench.slow_can, "M": mix, "P": part, "R": cure, "L": lot, "B": badge, "T": mould,
            "S": yard.bench.scale, "A": yard.bench.place, "K": kit}  # fmt: skip


def addresses(api: Any, codes: dict[str, str]) -> list[str]:
    """Every page that is read, with a code of its kind in it."""
    app = api.client.application
    found = set()
    for rule in app.url_map.iter_rules():
        if "GET" not in rule.methods or rule.endpoint not in app.extensions["rights of pages"]:
            continue
        letter = re.search(r"<thing\((\w)\):code>", str(rule))
        if letter is None:
            found.add(str(rule).replace("<int:recall>", "1").replace("<int:order>", "1"))
        elif codes[letter[1]]:
            found |= {str(rule).replace(letter[0], codes[letter[1]]), f"/I/{codes[letter[1]]}"}
    return sorted(found - {f"/I/{codes['B']}"})


def test_each_address_answers_with_few_statements(api: Any) -> None:
    codes = a_days_work(api)
    quality, lead = hand_of(api, "quality"), hand_of(api, "lead")
    counted = {}
    every = addresses(api, codes)
    assert len(every) > 55
    for path in every:
        # What things cost is for the lead and the office.
        hand = lead if "/cost" in path else quality
        with statements() as said:
            answer = hand.client.get(path, headers=HTML)
        assert answer.status_code == 200, path
        assert 'id="page"' in answer.get_data(as_text=True), path
        counted[path] = len(said)
    assert max(counted.values()) <= MOST_STATEMENTS, sorted(counted.items(), key=lambda one: -one[1])[:5]
