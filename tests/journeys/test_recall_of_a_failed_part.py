"""A failed part leads to its suspect; the recall finds and holds the sisters, its letters print, a second closes it."""

import csv
import hashlib
import io
from datetime import timedelta
from typing import Any

import pypdfium2
import pytest
from openpyxl import load_workbook

from labels.codes import make
from service.database import connected
from service.operations.ledger.recalling import keep_drill
from tests import makers
from tests.journeys.floor import Floor


def _text(pdf: bytes) -> list[str]:
    return [" ".join(page.get_textpage().get_text_range().split()) for page in pypdfium2.PdfDocument(pdf)]


def test_from_a_failed_part_to_a_closed_recall(floor: Floor) -> None:
    """Two cans of two lots side by side: what was made of one comes back soft; all of it is found, held, followed."""
    api, bench = floor.api, floor.bench
    (bad,) = makers.cans(api, bench.slow, bench.place, "26-0731", net_g=4000)
    design = floor.design(plies=[], need_g=600)
    made: dict[str, list[str]] = {"bad": [], "good": []}
    pots: dict[str, str] = {}
    for number in range(4):
        for which, can in (("bad", bad), ("good", bench.slow_can)):
            part = floor.part(design, customer="Rowing club" if number % 2 else "Canal boats")
            pots[part] = floor.pot(part, cans=(bench.resin_can, can))["code"]
            floor.close_lay_up(part)
            made[which].append(part)
    parts = [*made["bad"], *made["good"]]
    floor.cure(*parts)
    floor.cups_hard(*pots.values())
    for part in parts[:3] + parts[4:]:
        floor.finish(part)
        floor.release(part)
    for part, customer in zip(made["bad"][:3], ("Rowing club", "Canal boats", "Rowing club"), strict=True):
        floor.ship(part, customer)
    soft = [{"kind": "soft", "zone": "root"}]
    came_back = {"item": made["bad"][0], "found": "soft", "in_service": True, "failed": True, "defects": soft}
    api.post("/v1/nonconformances", came_back, who="quality")
    back = {"item": made["bad"][1], "found": "soft as well", "in_service": True, "failed": True, "defects": soft}
    seq = _entry(api, api.post("/v1/nonconformances", back, who="quality"))
    # Rejected at inspection counts as failed like what came back.
    api.post(f"/v1/parts/{made['bad'][3]}/demoulding", {"temperature_c": 24})
    api.post(
        f"/v1/parts/{made['bad'][3]}/inspections",
        {"accepted": False, "remark": "soft", "defects": [{**soft[0], "accepted": False}]},
        who="quality",
    )
    found = api.get(f"/v1/parts/{made['bad'][0]}/investigation", who="quality")["suspects"]
    assert (found["became"]["failed"], found["became"]["good"], found["became"]["gone"]) == (3, 4, 1)
    first = found["ranked"][0]
    names = [first["name"], *first["cannot_separate"]]
    assert f"hardener can {bad[:6]} {bad[6:]}" in names
    assert (first["exposed"], first["others"]) == ({"parts": 4, "failed": 3}, {"parts": 4, "failed": 0})
    # A failure that a correction took away has not happened.
    api.post(
        f"/v1/journal/{seq}/corrections", {"declaration": "did not occur", "why": "another shop's part"}, who="lead"
    )
    became = api.get(f"/v1/parts/{made['bad'][0]}/investigation", who="quality")["suspects"]["became"]
    assert (became["failed"], became["gone"], became["corrected_away"]) == (2, 2, 1)
    # And so says every other look at them: what came back and what was rejected, not what was corrected away.
    failed = {made["bad"][0], made["bad"][3]}
    forward = api.get(f"/v1/items/{bad}/trace?direction=forward")["items"]
    assert {i["code"] for i in forward if i["failed"]} == failed
    shared = {s["code"]: s["failed"] for s in api.get(f"/v1/parts/{made['bad'][1]}/sharing")["shared"]}
    assert shared[bad] == 2

    lot = api.get(f"/v1/containers/{bad}")["lot"]
    body = {"item": lot, "reason": "soft parts.", "notice": "Lot 26-0731: water in the drum."}
    recall = api.post("/v1/recalls", body, who="lead")
    reached = {bad, *made["bad"], *(pots[p] for p in made["bad"])}
    fetched = {p["code"]: p["where"] for p in recall["pieces"] if p["to_fetch"]}
    assert {p["code"] for p in recall["pieces"]} - reached == {
        api.get(f"/v1/parts/{parts[0]}")["cures"][0]["code"]
    } or ({p["code"] for p in recall["pieces"]} == reached)
    assert fetched == {bad: "opened", made["bad"][3]: "in work"} | dict.fromkeys(made["bad"][:3], "shipped")
    assert all(p["on_hold"] for p in recall["pieces"] if p["to_fetch"])
    assert {p["code"] for p in recall["pieces"] if p["failed"]} == failed
    assert recall["customers"] == ["Canal boats", "Rowing club"]
    papers = ["RC-1", "RT-1", "RW-1", "RL-1-1", "RL-1-2", "LT-1", "LW-1"]
    assert [(one["document"], one["issue"]) for one in recall["papers"]] == [(number, 1) for number in papers]
    spared = {s["what"].split(",")[0]: s["parts"] for s in recall["spared"]}
    assert spared[f"lot {api.get(f'/v1/containers/{bench.slow_can}')['lot']}"] == 4
    path = f"/v1/recalls/{recall['id']}"
    _papers(api, path, recall, made["bad"])
    _kept(api, recall, made["bad"])
    _drilled(api, lot, made["bad"])
    _followed_and_closed(api, path, recall, fetched)


def _entry(api: Any, opened: dict[str, Any]) -> int:
    entries = api.get(f"/v1/journal?item={opened['item']}&limit=200", who="lead")
    return int(next(e["seq"] for e in entries if e["operation"] == "open_nonconformance"))


def _drilled(api: Any, lot: str, made: list[str]) -> None:
    """By hand: 4000 g came, four pots of 500 g took 115.4 g each, and nothing was scrapped, lost or found."""
    with connected():
        drill = keep_drill(api.shop.act("administrator"), seed=1, lot=lot)
    assert (drill.parts, drill.shipped, drill.customers) == (4, 3, ("Canal boats", "Rowing club"))
    assert drill.spared == 4
    balance = drill.balance
    assert (balance.unit, balance.came, balance.left) == ("mg", 4_000_000, 4_000_000 - balance.used)
    assert balance.used == 4 * 115_400
    assert (balance.thrown_away, balance.unexplained, balance.difference) == (0, 0, 0)
    share = 115.4 / 500
    assert (balance.in_parts, balance.in_pots) == (round(4 * 486_000 * share), 0)
    assert (balance.lost_in_pots, balance.missing_in_pots) == (round(4 * 14_000 * share), 0)
    kept = api.call("GET", f"/v1/documents/{drill.document}", who="lead").get_json()
    assert (kept["lot"], kept["balance"]["used"]) == (lot, balance.used)
    # What stayed in the cups of these pots is in the trace.
    away = api.get(f"/v1/items/{lot}/trace?direction=forward")["went_away"]
    assert {one["kind"]: (one["times"], one["amount_g"]) for one in away} == {
        "left in cup": (len(made), 4 * 12.5),
        "loss": (len(made), 4 * 1.5),
    }


def _papers(api: Any, path: str, recall: dict[str, Any], shipped: list[str]) -> None:
    """The same pieces in the same columns on each; each letter names what its customer has, and nobody else."""
    table = api.call("GET", f"{path}/pick-up-list.csv").data.decode("utf-8-sig")
    rows = list(csv.DictReader(io.StringIO(table)))
    assert [r["code"] for r in rows] == [p["code"] for p in recall["pieces"]]
    book = load_workbook(io.BytesIO(api.call("GET", f"{path}/pick-up-list.xlsx").data))
    sheet = list(book.worksheets[0].iter_rows(values_only=True))
    assert list(sheet[0]) == list(rows[0])
    assert [r[3] for r in sheet[1:]] == [r["code"] for r in rows]
    listed = " ".join(_text(api.call("GET", f"{path}/pick-up-list.pdf").data))
    assert "5 pieces to find" in listed
    assert "water in the drum" in listed
    letters = _text(api.call("GET", f"{path}/letters.pdf").data)
    assert len(letters) == 2
    canal, rowing = letters
    assert "Canal boats" in canal
    assert "Our reason: soft parts. serial" in canal
    # Another recall may call back more: this letter speaks for its own.
    assert "This recall calls back no other part that you have from us." in canal
    assert "Rowing club" not in canal
    assert f"{shipped[1][:6]} {shipped[1][6:]}" in canal
    assert all(f"{p[:6]} {p[6:]}" in rowing for p in (shipped[0], shipped[2]))


def _kept(api: Any, recall: dict[str, Any], shipped: list[str]) -> None:
    """Tables and workbooks are issues of their own: the same bytes whenever they are fetched, known by their hash."""
    kept = {one["document"]: one for one in recall["papers"]}
    files = {}
    for number, ending, media in (("RT-1", "csv", "text/csv"), ("RW-1", "xlsx", "sheet"), ("LT-1", "csv", "text/csv"),
                                  ("LW-1", "xlsx", "sheet")):  # fmt: skip
        answers = [api.call("GET", f"/v1/issues/{kept[number]['sha256']}/file") for _ in range(2)]
        assert answers[0].data == answers[1].data
        assert hashlib.sha256(answers[0].data).hexdigest() == kept[number]["sha256"]
        assert answers[0].headers["Content-Disposition"].endswith(f"{number}-1.{ending}")
        assert media in answers[0].content_type
        files[number] = answers[0].data
    assert api.client.get(f"/v1/issues/{kept['RT-1']['sha256']}").get_json()["document"] == "RT-1"
    table = list(csv.reader(io.StringIO(files["RT-1"].decode("utf-8-sig"))))
    assert table[0] == ["recall", "where", "kind", "code", "name", "state", "place", "customer", "mass_g", "on_hold",
                        "to_fetch", "found", "found_at", "remark", "document", "issue", "length_mm", "amount_pieces",
                        "shipped_on", "shipped_with", "order", "part_number", "order_serial"]  # fmt: skip
    assert [row[3] for row in table[1:]] == [p["code"] for p in recall["pieces"]]
    assert {tuple(row[14:16]) for row in table[1:]} == {("RT-1", "1")}
    book = list(load_workbook(io.BytesIO(files["RW-1"])).worksheets[0].iter_rows(values_only=True))
    assert [row[3] for row in book] == [row[3] for row in table]
    letters = list(csv.reader(io.StringIO(files["LT-1"].decode("utf-8-sig"))))
    assert letters[0] == ["recall", "customer", "serial", "part", "found", "remark", "document", "issue", "shipped_on",
                          "shipped_with", "order", "part_number", "order_serial"]  # fmt: skip
    assert sorted((row[1], row[2]) for row in letters[1:]) == sorted(
        [("Canal boats", shipped[1]), ("Rowing club", shipped[0]), ("Rowing club", shipped[2])]
    )
    book = list(load_workbook(io.BytesIO(files["LW-1"])).worksheets[0].iter_rows(values_only=True))
    assert [row[2] for row in book] == [row[2] for row in letters]
    # Nothing has changed, so nothing is issued anew; as it stands after a step, a second issue takes its place.
    same = api.post("/v1/issues", {"kind": "recall table", "subject": "1"}, who="lead")
    assert (same["issue"], same["unchanged"], same["sha256"]) == (1, True, kept["RT-1"]["sha256"])


def _followed_and_closed(api: Any, path: str, recall: dict[str, Any], fetched: dict[str, str]) -> None:
    closing = {"effectiveness": "all five accounted for within a day"}
    refused = api.refused(f"{path}/closing", closing, "wrong-state", who="quality")
    assert "Nobody has said what became of" in refused["detail"]
    words = ("found", "returned", "not found", "returned", "scrapped")
    for code, word in zip(fetched, words, strict=True):
        told = api.post(f"{path}/steps", {"item": code, "found": word, "remark": "=1+1"})
    assert told["left"] == 0
    again = api.post("/v1/issues", {"kind": "recall table", "subject": "1"}, who="lead")
    assert (again["document"], again["issue"]) == ("RT-1", 2)
    assert api.client.get(f"/v1/issues/{recall['papers'][1]['sha256']}").get_json()["superseded"] is True
    assert "'=1+1" in api.call("GET", f"{path}/pick-up-list.csv").get_data(as_text=True), "a remark is no formula"
    api.refused(f"{path}/closing", closing, "second-person-required", who="lead")
    closed = api.post(f"{path}/closing", closing, who="quality")
    assert (closed["effectiveness"], closed["closed_by"]) == (closing["effectiveness"], "Quality")
    api.refused(f"{path}/steps", {"item": recall["pieces"][0]["code"], "found": "found"}, "wrong-state")
    assert [r["id"] for r in api.get("/v1/recalls?closed=true")] == [recall["id"]]


def test_what_cannot_be_called_back_says_why_and_leaves_nothing_half_done(floor: Floor) -> None:
    api = floor.api
    api.post("/v1/recalls", {"item": make("L", 99999), "reason": "x"}, who="lead", expect=422)
    api.post("/v1/recalls", {"reason": "neither thing nor person"}, who="lead", expect=422)
    unused = makers.place(api, "Shelf that nothing was made at")
    refused = api.post("/v1/recalls", {"item": unused, "reason": "cold"}, who="lead", expect=422)
    assert refused["detail"].startswith("Nothing was made with ")
    assert refused["detail"].endswith("Shelf that nothing was made at: there is nothing to call back.")
    future = {"item": floor.bench.slow_can, "reason": "x", "since": (floor.clock.now + timedelta(days=1)).isoformat()}
    refused = api.post("/v1/recalls", future, who="lead", expect=422)
    assert (refused["errors"][0]["pointer"], "in the future" in refused["detail"]) == ("/since", True)
    assert api.get("/v1/recalls") == []
    assert api.get("/v1/holds?standing=true") == []


def test_a_failed_part_without_comparable_sisters_says_what_would_have_to_be_known(floor: Floor) -> None:
    """Alone, then beside one that is not judged, then beside one that failed as well: each has its own sentence."""
    api, design = floor.api, floor.design(plies=[])

    def said() -> str:
        return str(api.get(f"/v1/parts/{part}/investigation", who="quality")["suspects"]["sentence"])

    part = floor.part(design)
    assert said().startswith("No part failed in this time")
    api.post("/v1/nonconformances", {"item": part, "found": "soft", "failed": True}, who="quality")
    assert said().startswith("No other part was made in this time")
    sister = floor.part(design)
    assert said().endswith("Inspect its sisters: 1 part of this time is not judged.")
    api.post("/v1/nonconformances", {"item": sister, "found": "soft", "failed": True}, who="quality")
    assert said().startswith("All 2 parts that are judged failed, so nothing tells them apart")


@pytest.mark.parametrize("what", ["scale", "person"])
def test_what_was_done_in_a_time_is_called_back_and_the_rest_is_spared(floor: Floor, what: str) -> None:
    """A scale between two of its checks, or a person's task: the tool goes on, and what came before it is not held."""
    api, bench = floor.api, floor.bench
    design = floor.design(plies=[])
    before, within = floor.part(design), floor.part(design)
    floor.pot(before)
    since = floor.clock.forward(hours=1)
    pot = floor.pot(within)["code"]
    who = {"item": bench.scale} if what == "scale" else {"person": api.shop.people["laminator"], "task": "weighed by"}
    recall = api.post("/v1/recalls", {**who, "since": since.isoformat(), "reason": "the check failed"}, who="lead")
    assert {p["code"] for p in recall["pieces"]} == {pot, within}
    assert [h["on"] for h in api.get(f"/v1/parts/{within}")["holds"]] == [pot]
    assert api.get(f"/v1/parts/{before}")["holds"] == []
    because = {
        "scale": "It was not used for them in that time.",
        "person": "That was not done for them in that time, but at another.",
    }
    assert {"parts": 1, "because": because[what]}.items() <= recall["spared"][0].items()
    # What nothing of it was weighed into has no mass of it: not one of nothing.
    paper = " ".join(_text(api.call("GET", f"/v1/recalls/{recall['id']}/pick-up-list.pdf").data))
    assert "no more there to find 1 – 0" in paper
    if what == "scale":
        assert [(s["parts"]) for s in recall["spared"]] == [1]
