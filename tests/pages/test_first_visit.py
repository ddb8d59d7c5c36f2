"""What a phone has to load before it sees its first page, over a shop's weak network."""

import gzip
import re
from typing import Any

import pytest

from tests import makers
from tests.pages.hand import hand_of

_MOST_BYTES = 100_000
_NAMED = re.compile(r'(?:href|src)="(/static/[^"]+)"|url\("([^"]+)"\)|(?:from|import) "\./([^"]+)"')


def _loaded(client: Any, path: str, seen: dict[str, int]) -> None:
    answer = client.get(path, headers={"Accept": "text/html", "Accept-Encoding": "gzip"})
    assert answer.status_code == 200, path
    content = answer.get_data()
    seen[path] = len(content)
    text = gzip.decompress(content).decode() if answer.headers.get("Content-Encoding") == "gzip" else ""
    if answer.mimetype == "text/html":
        text = content.decode()
    for page, style, script in _NAMED.findall(text):
        named = page or f"{path.rpartition('/')[0]}/{style or script}"
        if named not in seen:
            _loaded(client, named, seen)


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_the_first_visit_is_under_a_hundred_kilobytes_with_its_fonts(api: Any) -> None:
    mixing, hand = makers.mixing(api), hand_of(api)
    pot = mixing.start(260)["code"]
    for path in (f"/I/{mixing.slow_can}", f"/I/{pot}", "/board", "/scan"):
        seen: dict[str, int] = {}
        _loaded(hand.client, path, seen)
        kinds = {name.rpartition(".")[2] for name in seen}
        assert {"css", "js", "woff2"} <= kinds, "style, scripts and fonts are counted in"
        assert sum(seen.values()) < _MOST_BYTES, seen
