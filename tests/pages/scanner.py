"""A scanner that types like a keyboard: each key carries the time at which the scanner sent it.

The page tells a scan by the times of its keys, so these are given and not left to how quick this machine is today.
"""

import time
from typing import Any

PACE_S = 0.005
_PUNCTUATION = {":": "Semicolon", "/": "Slash", ".": "Period"}


def scan(page: Any, text: str, *, stops: dict[int, float] | None = None) -> None:
    """Types `text` and Enter; `stops` are the seconds that the scanner waits before the key at an index."""
    sent = page.context.new_cdp_session(page)
    at = time.time()
    for index, letter in enumerate([*text, "\r"]):
        at += (stops or {}).get(index, PACE_S)
        key = _key(letter)
        sent.send("Input.dispatchKeyEvent", {"type": "keyDown", "timestamp": at, **key})
        sent.send("Input.dispatchKeyEvent", {"type": "keyUp", "timestamp": at, **key, "text": ""})
    sent.detach()


def _key(letter: str) -> dict[str, Any]:
    if letter == "\r":
        return {"key": "Enter", "code": "Enter", "text": letter, "windowsVirtualKeyCode": 13}
    code = _PUNCTUATION.get(letter) or (f"Digit{letter}" if letter.isdigit() else f"Key{letter.upper()}")
    return {"key": letter, "code": code, "text": letter, "modifiers": 8 if letter.isupper() or letter == ":" else 0}
