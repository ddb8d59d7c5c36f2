"""The guides' own requests, sent as they stand there, one guide after the other; and what their pages promise."""

import html
import json
import os
import re
import subprocess
from datetime import timedelta
from functools import reduce
from operator import getitem
from typing import Any

import pytest
from standardwebhooks.webhooks import Webhook

from schemas.words import HookEvent
from service.pages.guides import EVENTS, GUIDES
from service.pages.open_pages import _reasons
from tests import makers

_BLOCK = re.compile(r'<pre class="(\w+)">(.*?)</pre>', re.DOTALL)
_SETS = re.compile(r"# (\w+) is the answer's ([\w.]+)")
_STATUS = re.compile(r"# answered (\d+)")


def _blocks(api: Any, name: str) -> list[tuple[str, str]]:
    page = api.client.get(f"/guide/{name}").get_data(as_text=True)
    return [(kind, html.unescape(text)) for kind, text in _BLOCK.findall(page)]


def _requests(text: str) -> list[tuple[str, list[str]]]:
    """The commands of a block, each with the remarks behind it."""
    found: list[tuple[str, list[str]]] = []
    for line in text.replace("\\\n", " ").split("\n"):
        if line.startswith("curl "):
            found.append((line, []))
        elif line.startswith("#"):
            found[-1][1].append(line)
        else:
            found[-1] = (f"{found[-1][0]}\n{line}", found[-1][1])
    return found


def _send(api: Any, command: str, known: dict[str, str]) -> Any:
    """Do what curl does with what a shell makes of it that knows these names, and no others."""
    shell = ["sh", "-euc", f'curl() {{ printf "%s\\0" "$@"; }}\n{command}']
    told = subprocess.run(shell, env={"PATH": os.defpath, **known}, capture_output=True, text=True, check=True).stdout
    words = iter(told.split("\0")[:-1])
    headers, body, method, address = {}, None, "GET", ""
    for word in words:
        if word == "-H":
            name, _, value = next(words).partition(": ")
            headers[name] = value
        elif word == "-d":
            body, method = next(words), "POST" if method == "GET" else method
        elif word == "-X":
            method = next(words)
        else:
            address = word
    json.loads(body or "{}")
    return api.client.open(address, method=method, data=body, headers=headers)


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_every_request_of_every_guide_is_answered_as_the_guide_says(api: Any) -> None:
    bench, clock, keys = makers.mixing(api), api.shop.clock, api.shop.keys
    makers.design(api, "HY-204")
    known = {
        "POTMARK": "", "ADMIN": keys["administrator"], "FLOOR": keys["laminator"], "LEAD": keys["lead"],
        "QUALITY": keys["quality"], "PART_NUMBER": "HY-204",
        "SYSTEM": str(bench.system), "HARDENER": str(bench.slow), "RESIN_CAN": bench.resin_can,
        "HARDENER_CAN": bench.slow_can, "SCALE": bench.scale, "LAYING": makers.started_part(api),
        "LOT": api.get(f"/v1/containers/{bench.resin_can}")["lot"],
        "BEGAN": clock.now.isoformat(), "NOW": (clock.now + timedelta(minutes=3)).isoformat(),
    }  # fmt: skip
    clock.forward(minutes=3)
    sent = dict.fromkeys(GUIDES, 0)
    for name in GUIDES:
        for kind, text in _blocks(api, name):
            for command, remarks in _requests(text) if kind == "call" else ():
                answer = _send(api, command, known)
                said = "\n".join(remarks)
                expected = int(found[1]) if (found := _STATUS.search(said)) else 0
                told = answer.get_data(as_text=True)
                assert answer.status_code in ((expected,) if expected else (200, 201)), (name, command, told)
                sent[name] += 1
                for variable, where in _SETS.findall(said):
                    value = str(reduce(getitem, where.split("."), answer.get_json()))
                    assert name != "retry" or known.get(variable, value) == value, "done once"
                    known[variable] = value
    assert all(number >= 2 for number in sent.values()), sent
    assert api.get(f"/v1/mixes/{known['MIX']}")["state"] == "closed"


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_the_receiver_of_the_guide_takes_what_is_genuine_and_nothing_else(api: Any) -> None:
    code = dict(_blocks(api, "webhooks"))
    made: dict[str, Any] = {}
    exec(code["receiver"], made)
    from service.sending.posting import as_said, signed

    secret, payload = bytes(32), code["payload"]
    assert set(json.loads(payload)) == {"type", "timestamp", "data"}
    headers = signed(payload, message="1", at=api.shop.clock.now.now(api.shop.clock.now.tzinfo), secrets=[secret])
    assert made["receive"](as_said(secret), headers, payload.encode())["data"]["part"] == "P00012Q"
    with pytest.raises(Exception, match="No matching signature"):
        made["receive"](as_said(b"another one, of thirty-two bytes"), headers, payload.encode())
    assert Webhook(as_said(secret)).verify(payload, headers)
    assert list(EVENTS) == list(HookEvent), "each event is told of"
    page = api.client.get("/guide/webhooks").get_data(as_text=True)
    assert [event for event in HookEvent if f"<code>{event}</code>" not in page] == []


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_each_reason_says_what_it_means_the_way_out_and_what_a_program_does(api: Any) -> None:
    for kind, reason in _reasons().items():
        page = api.client.get(f"/problems/{kind}").get_data(as_text=True)
        assert page.count("<dt>Way out</dt><dd>") == page.count("<dt>A program</dt><dd>") == 1, kind
        assert len(reason["meaning"]) > 15, kind
        assert len(reason["way_out"]) > 15, kind
        assert reason["meaning"].rstrip(".") not in reason["way_out"], kind
    retried = [kind for kind, reason in _reasons().items() if "same Idempotency-Key" in reason["program"]]
    assert sorted(retried) == ["clock-set-back", "internal", "still-running"]
    assert api.client.get("/guide/nothing").status_code == 404
