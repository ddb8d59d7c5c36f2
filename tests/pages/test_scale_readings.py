"""A scale on a real pseudo-terminal: `potmark scale` reads it, the service receives it, the tablet shows it."""

import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import expect

from service.cli.scale import hand_over
from tests import makers

POTMARK = Path(sys.executable).with_name("potmark")


def _until(found: Callable[[], Any], *, within_s: float = 30) -> Any:
    ends = time.monotonic() + within_s
    while time.monotonic() < ends:
        if said := found():
            return said
        time.sleep(0.05)
    raise AssertionError("it did not come")


@pytest.fixture
def wire() -> Iterator[tuple[int, str]]:
    """Both ends of a serial line: what the scale writes to, and the name of the port."""
    scale_end, port_end = os.openpty()
    yield scale_end, os.ttyname(port_end)
    os.close(scale_end)
    os.close(port_end)


def test_a_settled_reading_is_handed_over_once() -> None:
    """Twice the same, or one and then quiet; what moves, is negative or foreign counts not; failures are repeated."""
    sent: list[str] = []
    answers = iter([False, True, True, True])

    def send(line: str) -> bool:
        sent.append(line)
        return next(answers)

    lines = ["US, 99.0 g", "ST,100.0 g", "ST,100.0 g", "ST,100.0 g", "ST,100.0 g", None, "hello", "-1.0 g", None]
    hand_over([*lines, "ST,60.0 g", None, None, "ST,60.0 g", "ST,0.0 g", None, "ST,60.0 g", None], send, None)
    assert sent == ["ST,100.0 g", "ST,100.0 g", "ST,60.0 g", "ST,60.0 g"]


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_a_pot_is_weighed_by_what_the_scale_sends(
    new_tablet: Any, api: Any, served: str, wire: tuple[int, str], tmp_path: Path
) -> None:
    scale_end, port = wire
    mixing = makers.mixing(api)
    pot = mixing.start(260)["code"]
    key = tmp_path / "key"
    key.write_text(api.shop.keys["laminator"])
    address = f"http://127.0.0.1:{served.rpartition(':')[2]}"
    command = [POTMARK, "scale", "--port", port, "--scale", mixing.scale, "--key-file", key, "--address", address]
    running = subprocess.Popen(command, stderr=subprocess.PIPE, text=True, cwd=tmp_path)
    try:
        assert running.stderr is not None
        assert "Ctrl-C stops it" in running.stderr.readline()
        os.write(scale_end, b"US,GS,+  150.3 g\r\nST,GS,+  200.0 g\r\nST,GS,+  200.0 g\r\n")
        readings = _until(lambda: api.get(f"/v1/scales/{mixing.scale}/readings"))
        assert [(r["line"], r["reading_g"]) for r in readings] == [("ST,GS,+  200.0 g", 200)]
        tablet = new_tablet()
        tablet.sign_on(api.shop.keys["laminator"], after=f"/I/{pot}")
        expect(tablet.page.locator(".moment")).to_contain_text("200")
        os.write(scale_end, b"ST,GS,+  200.1 g\r\n")
        expect(tablet.page.get_by_text("The scale sent 200.1 g.")).to_be_visible()
        expect(tablet.page.get_by_label("What the scale shows")).to_have_value("200.1")
        tablet.page.get_by_role("button", name="Enter the reading").click()
        expect(tablet.page.locator(".moment")).to_contain_text("60.0")
        tablet.page.get_by_label("What the scale shows").first.fill("60,0")
        tablet.page.get_by_role("button", name="Enter the reading").click()
        expect(tablet.page.locator("#page")).to_contain_text("Ratio is right")
        told = api.get(f"/v1/mixes/{pot}")["pours"]
        assert [(p["net_g"], p["source"]) for p in told] == [(200.1, "captured"), (60, "typed")]
    finally:
        running.terminate()
        running.communicate(timeout=10)
