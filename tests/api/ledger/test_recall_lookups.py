"""By what a piece of a recall is looked up: a roll by its length, a part by when it came and with which paper."""

import csv
import io
from typing import Any

import pypdfium2
import pytest
from openpyxl import load_workbook

from service.reports.drawing.recall_papers import COLUMNS, LETTER_COLUMNS
from tests import makers
from tests.journeys.floor import Floor, founded
from tests.pages.hand import hand_of


@pytest.fixture
def floor(api: Any) -> Floor:
    return founded(api)


def _text(pdf: bytes) -> str:
    pages = pypdfium2.PdfDocument(pdf)
    return " ".join(" ".join(page.get_textpage().get_text_range() for page in pages).split())


def _rows(answer: Any) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(answer.data.decode("utf-8-sig"))))


def test_whoever_fetches_a_roll_or_a_kit_reads_how_much_of_it_has_to_be_there(floor: Floor) -> None:
    api = floor.api
    laid = floor.kit(floor.design("HY-205"), floor.part(floor.design("HY-205b"), mould=floor.mould["code"]))
    cut = {"roll": floor.roll, "length_mm": 1250, "waste_mm": 10, "offcut_mm": 702}
    kit = api.post("/v1/kits", {"cuts": [cut]})["code"]
    offcut = api.get(f"/v1/kits/{kit}")["cuts"][0]["offcut"]
    lot = api.get(f"/v1/containers/{floor.roll}")["lot"]
    found = api.post("/v1/recalls", {"item": lot, "reason": "wrong weave", "papers": False}, who="lead")
    lengths = {p["code"]: p["length_mm"] for p in found["pieces"] if p["length_mm"] is not None}
    left = 50_000 - 1540 - 1962
    assert lengths == {floor.roll: left, offcut: 702, kit: 1250, laid: 0}
    totals = {t["where"]: t["length_mm"] for t in found["totals"]}
    assert sum(length or 0 for length in totals.values()) == left + 702 + 1250
    listed = _rows(api.call("GET", "/v1/recalls/1/pick-up-list.csv"))
    assert {r["code"]: r["length_mm"] for r in listed if r["length_mm"]} == {k: str(v) for k, v in lengths.items()}
    paper = _text(api.call("GET", "/v1/recalls/1/pick-up-list.pdf").data)
    assert f"{left / 1000} m" in paper
    assert "0.702 m" in paper
    assert "1.25 m" in paper
    assert "“To be there” is how much" in paper
    hand = hand_of(api)
    hand.open("/recalls/1")
    assert "0.702\u202fm" in hand.page
    assert "1.25\u202fm" in hand.page


def test_what_comes_by_the_piece_is_counted_and_what_comes_by_mass_has_no_such_column(floor: Floor) -> None:
    api, bench = floor.api, floor.bench
    inserts = makers.material(api, "M6 insert", "core")
    facts = {"containers": [{"pieces": 40}], "no_expiry": True}
    box = makers.lot(api, inserts, bench.place, makers_lot="M6-1", **facts)["containers"][0]
    found = api.post("/v1/recalls", {"item": box, "reason": "thread too short", "papers": False}, who="lead")
    assert [(p["amount_pieces"], p["length_mm"], p["mass_g"]) for p in found["pieces"]] == [(40, None, None)]
    assert "40 pieces" in _text(api.call("GET", "/v1/recalls/1/pick-up-list.pdf").data)
    api.post("/v1/recalls", {"item": bench.slow_can, "reason": "cloudy", "papers": False}, who="lead")
    paper = _text(api.call("GET", "/v1/recalls/2/pick-up-list.pdf").data)
    assert "To find" in paper
    assert "to be there" not in paper.lower()


def test_a_letter_says_of_each_part_when_it_was_shipped_with_which_paper_and_for_which_order(floor: Floor) -> None:
    """A customer looks a part up by when it came and with which paper; the list tells whoever fetches it the same."""
    api = floor.api
    design = floor.design(plies=[], need_g=600)
    line = {"part_number": "HY-204", "quantity": 1, "serials": ["118-1"]}
    order = {"reference": "PO 7731", "customer": "Rowing club", "lines": [line]}
    placed = api.post("/v1/orders", order, who="integrator")["order"]["id"]
    ordered, plain = api.get(f"/v1/orders/{placed}/parts")[0]["code"], floor.part(design)
    api.post(f"/v1/parts/{ordered}/start", {})
    floor.released(ordered, plain)
    papers = {ordered: "DN 1187", plain: "DN 1202"}
    for part, document in papers.items():
        body = {"document": document, "customer": "Rowing club"}
        api.post(f"/v1/parts/{part}/shipment", body, who="lead")
        floor.clock.forward(days=3)
    days = {part: api.get(f"/v1/parts/{part}")["shipment"]["shipped_on"] for part in papers}
    assert days[ordered] < days[plain]
    recall = api.post("/v1/recalls", {"item": floor.bench.slow_can, "reason": "soft parts"}, who="lead")
    told = {
        p["code"]: tuple(p[name] for name in ("shipped_on", "shipped_with", "order", "part_number", "serial"))
        for p in recall["pieces"]
        if p["kind"] == "P"
    }
    expected = {
        ordered: (days[ordered], "DN 1187", "PO 7731", "HY-204", "118-1"),
        plain: (days[plain], "DN 1202", None, "HY-204", None),
    }
    assert told == expected
    asked = ("shipped_on", "shipped_with", "order", "part_number", "order_serial")
    shown = {part: tuple(value or "" for value in said) for part, said in expected.items()}
    issued = {one["document"]: f"/v1/issues/{one['sha256']}/file" for one in recall["papers"]}
    for table, key in (("RT-1", "code"), ("LT-1", "serial")):
        rows = [row for row in _rows(api.call("GET", issued[table])) if row[key] in papers]
        assert {row[key]: tuple(row[name] for name in asked) for row in rows} == shown, table
    sheet = load_workbook(io.BytesIO(api.call("GET", issued["LW-1"]).data)).worksheets[0]
    lines = list(sheet.iter_rows(values_only=True))
    assert lines[0] == LETTER_COLUMNS
    assert {line[2]: line[8:] for line in lines[1:]} == expected
    letter, listed = (_text(api.call("GET", issued[paper]).data) for paper in ("RL-1-1", "RC-1"))
    for paper in (letter, listed):
        assert all(words in paper for words in ("DN 1187", "DN 1202")), paper
    assert "order PO 7731" in letter
    assert "HY-204, serial 118-1" in letter
    hand = hand_of(api)
    hand.open("/recalls/1")
    assert "DN 1202" in hand.page
    # Sent out anew, it is looked up by the paper that it came with then.
    api.post(f"/v1/parts/{plain}/return", {"reason": "called back"}, who="lead")
    back = next(p for p in api.get("/v1/recalls/1")["pieces"] if p["code"] == plain)
    assert (back["where"], back["shipped_with"]) == ("in work", "DN 1202")
    assert "DN 1202" not in _text(api.call("GET", "/v1/recalls/1/letters.pdf").data)


def test_a_customer_by_two_spellings_is_written_one_letter_with_all_that_they_have(floor: Floor) -> None:
    """Two letters told them of the other's part that it is not called back."""
    api, design = floor.api, floor.design(plies=[], need_g=600)
    parts = [floor.part(design), floor.part(design), floor.part(design, order="PO 9", customer="Canal boats")]
    floor.released(*parts)
    for part, customer in zip(parts, ("Rowing Club", "rowing club", "Sailing school"), strict=True):
        floor.ship(part, customer)
    recall = api.post("/v1/recalls", {"item": floor.bench.slow_can, "reason": "soft parts"}, who="lead")
    issued = {one["document"]: one["sha256"] for one in recall["papers"]}
    assert [name for name in issued if name.startswith("RL-")] == ["RL-1-1", "RL-1-2"]
    said = _text(api.call("GET", f"/v1/issues/{issued['RL-1-1']}/file").data)
    assert "2 parts" in said
    assert all(f"{part[:6]} {part[6:]}" in said for part in parts[:2])
    # Whose order it was that another got the part of is nobody's business.
    assert "PO 9" not in _text(api.call("GET", f"/v1/issues/{issued['RL-1-2']}/file").data)
    refused = api.post("/v1/issues", {"kind": "recall letter", "subject": "1-3"}, who="lead", expect=404)
    assert refused["detail"] == "rowing club is Rowing Club in other letters, so there is no letter 3."
    assert len(pypdfium2.PdfDocument(api.call("GET", "/v1/recalls/1/letters.pdf").data)) == 2
    hand = hand_of(api, "lead")
    hand.open("/recalls/1")
    assert "not issued yet" not in hand.page
    assert "Letters to 2 customers" in hand.page
    api.post(f"/v1/parts/{parts[2]}/return", {"reason": "called back"}, who="lead")
    hand.open("/recalls/1")
    assert "Letters to 1 customer<" in hand.page


def test_whoever_has_got_more_of_it_than_their_letter_names_is_written_anew(floor: Floor) -> None:
    """A piece that left since, its hold lifted: the letter of before said that no other part is called back."""
    api, design = floor.api, floor.design(plies=[], need_g=600)
    first, second = floor.part(design), floor.part(design)
    floor.released(first, second)
    floor.ship(first, "Rowing club")
    body = {"item": floor.bench.slow_can, "reason": "soft parts"}
    asked = {"who": "lead", "Idempotency_Key": "call it back"}
    api.post("/v1/recalls", body, **asked)
    (hold,) = api.get("/v1/holds?standing=true")
    api.post(f"/v1/holds/{hold['id']}/lifting", {"why": "the wrong can"}, who="quality")
    floor.ship(second, "Rowing club")
    hand = hand_of(api, "lead")
    hand.open("/recalls/1")
    assert "3 of its papers are not issued yet." in hand.page
    again = api.post("/v1/recalls", body, **asked)
    issues = {one["document"]: one["issue"] for one in again["papers"]}
    assert issues == {"RC-1": 1, "RT-1": 1, "RW-1": 1, "RL-1-1": 2, "LT-1": 2, "LW-1": 2}
    (letter,) = [one["sha256"] for one in again["papers"] if one["document"] == "RL-1-1"]
    assert "2 parts" in _text(api.call("GET", f"/v1/issues/{letter}/file").data)
    hand.open("/recalls/1")
    assert "not issued yet" not in hand.page


def test_columns_stay_where_they_are_and_new_ones_come_after_the_last() -> None:
    assert COLUMNS[:16] == (
        "recall", "where", "kind", "code", "name", "state", "place", "customer", "mass_g", "on_hold", "to_fetch",
        "found", "found_at", "remark", "document", "issue",
    )  # fmt: skip
    assert COLUMNS[16:] == ("length_mm", "amount_pieces", "shipped_on", "shipped_with", "order", "part_number",
                            "order_serial")  # fmt: skip
    assert LETTER_COLUMNS[:8] == ("recall", "customer", "serial", "part", "found", "remark", "document", "issue")
    assert LETTER_COLUMNS[8:] == ("shipped_on", "shipped_with", "order", "part_number", "order_serial")
