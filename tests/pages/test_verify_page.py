"""The open page on which anyone who holds a paper asks whether it is true, in a real browser."""

import json
import urllib.request
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from tests.pages.conftest import HOST
from tests.pages.test_weigh_page import AA

pytestmark = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)


@pytest.fixture
def papers(api: Any, served: str, tmp_path: Path) -> dict[str, Path]:
    """Two issues of a part record as files, and the newer one with a byte turned."""
    design = {"part_number": "HY-204", "revision": "A", "name": "Rudder half"}
    number = api.post("/v1/designs", design, who="lead")["id"]
    api.post(f"/v1/designs/{number}/approval", who="second lead")
    part = api.post("/v1/parts", {"part_number": "HY-204"})["code"]
    found = {}
    for name in ("old", "new"):
        sha256 = _issued(served, part, api.shop.keys["quality"])
        content = api.call("GET", f"/v1/issues/{sha256}/file", who="lead").get_data()
        found[name] = tmp_path / f"{name}.pdf"
        found[name].write_bytes(content)
        api.post(f"/v1/parts/{part}/steps", {"kind": "note", "remark": "wetted again"})
    found["false"] = tmp_path / "false.pdf"
    found["false"].write_bytes(content[:2000] + bytes([content[2000] ^ 1]) + content[2001:])
    return found


def _issued(served: str, part: str, key: str) -> str:
    """Issued by the server's own threads: whoever drives a browser has no thread left for signing."""
    asked = urllib.request.Request(
        f"{served.replace(HOST, '127.0.0.1')}/v1/issues",
        data=json.dumps({"kind": "part record", "subject": part}).encode(),
        headers={"Authorization": f"Bearer {key}", "Content-Type": "application/json"},
    )
    with urllib.request.urlopen(asked, timeout=60) as answer:
        return str(json.load(answer)["sha256"])


@pytest.mark.parametrize("size", ["phone", "desk"], indirect=True)
def test_a_file_is_ours_or_superseded_or_not_known_and_the_page_can_be_read(
    new_tablet: Any, papers: dict[str, Path], size: Any
) -> None:
    tablet = new_tablet()
    page = tablet.page
    sent: list[str] = []
    page.on("request", lambda request: sent.append(f"{request.method} {request.url}"))
    tablet.open("/verify")
    # Without TLS no browser hashes: the file goes to the service. On a secure address it stays here.
    for address, posts in ((tablet.address, True), (tablet.address.replace(HOST, "127.0.0.1"), False)):
        for name, heading in (("new", "Ours, and it stands"), ("old", "Ours, and superseded"), ("false", "Not known")):
            sent.clear()
            page.goto(f"{address}/verify")
            page.get_by_label("PDF", exact=True).set_input_files(papers[name])
            page.get_by_role("button", name="Compare", exact=True).click()
            expect(page.get_by_role("heading", level=1)).to_contain_text(heading)
            assert any(one.startswith("POST") for one in sent) is posts
            for scheme in ("light", "dark"):
                page.emulate_media(color_scheme=scheme)
                violations = Axe().run(page, options=AA).response["violations"] if posts or name == "old" else []
                assert [(v["id"], v["nodes"][0]["html"]) for v in violations] == []
            assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), "nothing runs off the page"
    page.get_by_label("Or its SHA-256").fill("not a hash")
    page.get_by_role("button", name="Compare the figures").click()
    expect(page.get_by_role("alert")).to_contain_text("64 figures")
