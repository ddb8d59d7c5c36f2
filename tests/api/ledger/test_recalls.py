"""A recall over HTTP: from each kind of thing, from some time on; its papers, its bounds, and what it refuses."""

import csv
import io
from dataclasses import replace
from typing import Any

import pypdfium2
import pytest

from schemas.words import IssuedKind, Kind, State
from service.database import connected, rows_of
from service.operations.door.act import Act
from service.operations.ledger import contents, issuing, recall_printing, recalled
from service.operations.ledger import recall as reading_of_recalls
from service.operations.ledger.issuing import Drawn
from service.operations.ledger.recalled import gone_sql, out_sql, to_fetch, where_it_is
from service.reports.drawing import recall_papers
from tests import makers
from tests.journeys.floor import Floor, founded
from tests.pages.hand import hand_of


@pytest.fixture
def floor(api: Any) -> Floor:
    return founded(api)


def _open(floor: Floor, **asked: Any) -> Any:
    return floor.api.post("/v1/recalls", {"reason": "soft parts", "papers": False, **asked}, who="lead")


def test_each_kind_of_thing_is_called_back_with_all_that_it_reaches_and_spares_the_rest(floor: Floor) -> None:
    api, bench = floor.api, floor.bench
    good = makers.cans(api, bench.slow, bench.place, "26-0731", net_g=2000)[0]
    design, clothed = floor.design(plies=[]), floor.design("HY-205")
    one, other = floor.part(design), floor.part(design)
    with_kit, with_other = (floor.part(clothed, mould=floor.mould["code"]), floor.part(clothed))
    pot, second = floor.pot(one)["code"], floor.pot(other, cans=(bench.resin_can, good))["code"]
    kit, of_the_same_roll = floor.kit(clothed, with_kit), floor.kit(clothed, with_other)
    for part in (one, other):
        floor.close_lay_up(part)
    cures = []
    for part in (one, other):
        cures.append(api.post("/v1/cures", {"schedule": "Alder 10 with post-cure", "parts": [part],
                                            "place": floor.oven})["code"])  # fmt: skip
    lot = api.get(f"/v1/containers/{bench.slow_can}")["lot"]
    person = api.shop.people["laminator"]
    reached = {
        lot: {bench.slow_can, pot, one},
        bench.slow_can: {bench.slow_can, pot, one},
        pot: {pot, one},
        kit: {kit, with_kit},
        floor.roll: {floor.roll, kit, of_the_same_roll, with_kit, with_other},
        cures[0]: {cures[0], one},
        one: {one},
        bench.scale: {pot, second, one, other},
        floor.oven: {*cures, one, other},
        floor.mould["code"]: {with_kit},
    }
    spared = {}
    for thing, pieces in reached.items():
        found = _open(floor, item=thing)
        assert {p["code"] for p in found["pieces"]} == pieces, thing
        assert all(p["on_hold"] for p in found["pieces"]), thing
        assert sum(t["pieces"] for t in found["totals"]) == found["pieces_count"] == len(pieces)
        spared[thing] = {s["what"].split()[0]: s["parts"] for s in found["spared"]}
    # The other pot of the same resin, the other kit of the roll, the oven's other cure.
    assert spared[pot] == {bench.resin_can: 1}
    assert spared[kit] == {floor.roll: 1}
    assert spared[cures[0]] == {floor.oven: 1}
    task = _open(floor, person=person, task="weighed by")
    assert {p["code"] for p in task["pieces"]} == {pot, second, one, other}
    assert _open(floor, person=person, task="laid by")["of"] == "what Laminator did (laid by)"
    refused = api.post("/v1/recalls", {"person": person, "task": "welded by", "reason": "x"}, who="lead", expect=422)
    assert "laid by, " in refused["way_out"]
    assert "weighed by" in refused["way_out"]


def test_what_was_decanted_before_the_time_is_spared_and_what_is_void_or_unknown_calls_nothing_back(
    floor: Floor,
) -> None:
    api, bench = floor.api, floor.bench
    design = floor.design(plies=[])
    early, late = floor.part(design), floor.part(design)
    jug = api.post(f"/v1/containers/{bench.slow_can}/decants", {"mass_g": 800, "tare_g": 85})["code"]
    since = floor.clock.forward(hours=1)
    floor.pot(early, cans=(bench.resin_can, jug))
    pot = floor.pot(late)["code"]
    api.post(f"/v1/items/{bench.slow_can}/labels", {"size": "100x50"})
    api.post(f"/v1/items/{bench.slow_can}/labels/replacement", {"size": "62", "why": "resin ran over it"})
    scanned = f"https://potmark.heron-yard.example/I/{bench.slow_can}"
    for address, said in ((f"{scanned}/1", "is void"), (f"{scanned}/9", "has no label 9")):
        refused = api.post("/v1/recalls", {"item": address, "reason": "lid off"}, who="lead", expect=422)
        assert said in refused["detail"]
        assert refused["errors"][0]["pointer"] == "/item"
    assert api.get("/v1/recalls") == api.get("/v1/holds?standing=true") == []
    found = _open(floor, item=f"{scanned}/2", since=since.isoformat())
    assert {p["code"] for p in found["pieces"]} == {bench.slow_can, pot, late}
    assert api.get(f"/v1/parts/{early}")["holds"] == []
    assert next((s["parts"], "in that time" in s["because"]) for s in found["spared"]) == (1, True)
    # Its hold is shown wherever the part is: page of the part, list, record, board.
    held = api.get("/v1/parts?on_hold=true")
    assert [(p["code"], p["on_hold"]) for p in held] == [(late, True)]
    assert [h["on"] for h in api.get(f"/v1/parts/{late}")["holds"]] == [bench.slow_can]
    assert api.get(f"/v1/parts/{late}/record")["on_hold"] is True
    hand = hand_of(api)
    for page in (f"/I/{late}", "/board"):
        hand.open(page)
        assert f"Recall {found['id']}: soft parts" in hand.page, page


def _papers(api: Any, issued: list[dict[str, Any]]) -> dict[str, dict[str, bytes]]:
    """What is attached to each issued paper, by the paper's number."""
    found = {}
    for one in issued:
        content = api.call("GET", f"/v1/issues/{one['sha256']}/file", who="lead").data
        pdf = pypdfium2.PdfDocument(content)
        files = [pdf.get_attachment(place) for place in range(pdf.count_attachments())]
        found[one["document"]] = {file.get_name(): bytes(file.get_data()) for file in files}
    return found


def test_one_call_holds_it_and_issues_its_papers_and_a_machine_without_a_key_still_holds(floor: Floor) -> None:
    api, bench = floor.api, floor.bench
    part = floor.part(floor.design(plies=[]))
    pot = floor.pot(part)["code"]
    floor.close_lay_up(part)
    floor.cure(part)
    floor.cups_hard(pot)
    floor.finish(part)
    floor.release(part)
    floor.ship(part, "Canal boats")
    application = api.client.application
    usual = application.extensions["settings"]
    application.extensions["settings"] = replace(usual, signing_key="/nowhere/key")
    body = {"item": pot, "reason": "soft parts"}
    asked = {"who": "lead", "Idempotency_Key": "call it back"}
    unsigned = api.post("/v1/recalls", body, **asked)
    application.extensions["settings"] = usual
    assert unsigned["papers"] == []
    assert "key" in unsigned["not_printed"]
    assert all(p["on_hold"] for p in unsigned["pieces"])
    # Sent again, it is the same recall, and what was missing is printed; once.
    signed = [api.post("/v1/recalls", body, **asked) for _ in range(2)]
    assert [one["id"] for one in signed] == [unsigned["id"]] * 2
    assert [one["document"] for one in signed[0]["papers"]] == ["RC-1", "RT-1", "RW-1", "RL-1-1", "LT-1", "LW-1"]
    assert signed[0]["papers"] == signed[1]["papers"] == api.get("/v1/recalls/1")["papers"]
    assert len(api.get("/v1/issues")) == 6
    attached = _papers(api, [one for one in signed[0]["papers"] if one["document"] in ("RC-1", "RL-1-1")])
    assert attached["RC-1"].keys() == {f"recall-1-pick-up-list.{end}" for end in ("json", "csv", "xlsx")}
    listed = csv.DictReader(io.StringIO(attached["RC-1"]["recall-1-pick-up-list.csv"].decode("utf-8-sig")))
    assert {row["code"] for row in listed} == {pot, part}
    letter = attached["RL-1-1"]["recall-1-parts.csv"].decode("utf-8-sig")
    made = api.get(f"/v1/parts/{part}")
    assert list(csv.reader(io.StringIO(letter))) == [
        ["recall", "customer", "serial", "part", "found", "remark", "document", "issue", "shipped_on", "shipped_with",
         "order", "part_number", "order_serial"],
        ["1", "Canal boats", part, made["name"], "", "", "RL-1-1", "1", made["shipment"]["shipped_on"],
         "delivery note 1187", "", "HY-204", ""],
    ]  # fmt: skip
    assert bench.slow_can not in letter


def test_a_letters_number_stays_its_customers_and_so_many_letters_are_issued_at_a_time(
    floor: Floor, monkeypatch: pytest.MonkeyPatch
) -> None:
    api = floor.api
    design = floor.design(plies=[], need_g=600)
    parts = [floor.part(design) for _ in range(3)]
    floor.released(*parts)
    for part, customer in zip(parts, ("Canal boats", "Aft club", "Rowing club"), strict=True):
        floor.ship(part, customer)
    monkeypatch.setattr(recall_printing, "MOST_LETTERS", 2)
    asked = {"who": "lead", "Idempotency_Key": "call it back"}
    body = {"item": floor.bench.slow_can, "reason": "soft parts"}
    first = api.post("/v1/recalls", body, **asked)
    assert first["customers"] == ["Aft club", "Canal boats", "Rowing club"]
    assert first["customers_count"] == 3
    assert first["not_printed"].startswith("One letter is not issued yet.")
    numbers = [one["document"] for one in first["papers"]]
    assert [n for n in numbers if n.startswith("RL-")] == ["RL-1-1", "RL-1-2"]
    # The first customer has sent all back: the others' letters keep their numbers, and theirs is not written again.
    api.post(f"/v1/parts/{parts[1]}/return", {"reason": "called back"}, who="lead")
    second = api.post("/v1/recalls", body, **asked)
    assert second["not_printed"] is None
    assert [one["document"] for one in second["papers"]][-1] == "RL-1-3"
    now = api.get("/v1/recalls/1")
    assert now["customers"] == ["Aft club", "Canal boats", "Rowing club"]
    letter = _papers(api, [one for one in now["papers"] if one["document"] == "RL-1-3"])["RL-1-3"]
    assert "Rowing club" in letter["recall-1-parts.csv"].decode("utf-8-sig")
    refused = api.post("/v1/issues", {"kind": "recall letter", "subject": "1-1"}, who="lead", expect=404)
    assert refused["detail"] == "Aft club has nothing of recall 1 any more, so there is no letter 1."
    assert len(pypdfium2.PdfDocument(api.call("GET", "/v1/recalls/1/letters.pdf").data)) == 2
    # What was said to have come back is asked for no more, though the books have it with the customer still.
    api.post("/v1/recalls/1/steps", {"item": parts[0], "found": "returned"})
    assert len(pypdfium2.PdfDocument(api.call("GET", "/v1/recalls/1/letters.pdf").data)) == 1
    table = api.post("/v1/issues", {"kind": "recall letters table", "subject": "1"}, who="lead")
    content = api.call("GET", f"/v1/issues/{table['sha256']}/file").data.decode("utf-8-sig")
    assert {row["customer"] for row in csv.DictReader(io.StringIO(content))} == {"Rowing club"}


def test_whoever_cut_a_kit_is_called_back_by_that_task_in_the_reports_own_words(floor: Floor) -> None:
    """Who cut is told by the cutting alone; what others cut is spared."""
    api = floor.api
    design = floor.design("HY-205")
    mine, others = floor.part(design), floor.part(design)
    kit = floor.kit(design, mine)
    cut = {"design": design, "cuts": [{"roll": floor.roll, "length_mm": 1500, "waste_mm": 40}], "mass_g": 420}
    second = api.post("/v1/kits", cut, who="second laminator")["code"]
    api.post(f"/v1/parts/{others}/kits", {"kit": second, "backers_counted": 3})
    found = _open(floor, person=api.shop.people["laminator"], task="cut the kit")
    assert {p["code"] for p in found["pieces"]} == {kit, mine}
    assert [s["parts"] for s in found["spared"]] == [1]
    for task in ("laid plies", "laid by"):
        laid = _open(floor, person=api.shop.people["laminator"], task=task)
        assert {p["code"] for p in laid["pieces"]} == {mine, others}, task
    nobody = {"person": api.shop.people["quality"], "task": "cut the kit", "reason": "x"}
    refused = api.post("/v1/recalls", nobody, who="lead", expect=422)
    assert refused["way_out"] == "No task of theirs is on record."


def test_a_recall_of_many_pieces_tells_the_first_and_counts_and_lists_all(
    floor: Floor, monkeypatch: pytest.MonkeyPatch
) -> None:
    api, bench = floor.api, floor.bench
    design = floor.design(plies=[])
    parts = [floor.part(design) for _ in range(3)]
    pot = floor.pot(*((part, 160) for part in parts))["code"]
    monkeypatch.setattr(reading_of_recalls, "MOST_PIECES", 2)
    monkeypatch.setattr(recall_papers, "MOST_ATTACHED", 4)
    found = _open(floor, item=bench.slow_can)
    every = {bench.slow_can, pot, *parts}
    assert (len(found["pieces"]), found["pieces_count"], found["left"]) == (2, 5, 4)
    assert {t["where"]: t["pieces"] for t in found["totals"]} == {"opened": 1, "in work": 3, "no more": 1}
    path = f"/v1/recalls/{found['id']}/pieces"
    assert {p["code"] for p in api.get(f"{path}?limit=50")} == every
    assert [p["code"] for p in api.get(f"{path}?left=false")] == [pot]
    api.post(f"/v1/recalls/{found['id']}/steps", {"item": parts[0], "found": "found"})
    left = [p["code"] for p in api.get(f"{path}?left=true&sort=oldest")]
    assert left == [code for code in [p["code"] for p in api.get(path)] if code in {bench.slow_can, *parts[1:]}]
    assert api.call("GET", "/v1/recalls/99/pieces").status_code == 404
    first = api.call("GET", f"{path}?limit=2")
    assert "after=" in first.headers["Link"]
    table = api.call("GET", f"/v1/recalls/{found['id']}/pick-up-list.csv").data.decode("utf-8-sig")
    assert {row["code"] for row in csv.DictReader(io.StringIO(table))} == every
    # A list so long is not in its paper once more: the paper names the documents that have it.
    paper = pypdfium2.PdfDocument(api.call("GET", f"/v1/recalls/{found['id']}/pick-up-list.pdf").data)
    assert paper.count_attachments() == 0
    said = " ".join(" ".join(page.get_textpage().get_text_range() for page in paper).split())
    assert "5 pieces and its table is a document of its own" in said
    assert f"RT-{found['id']} and RW-{found['id']}, at /v1/recalls/{found['id']}/pick-up-list.csv" in said
    refused = api.refused(f"/v1/recalls/{found['id']}/closing", {"effectiveness": "x"}, "wrong-state", who="quality")
    assert refused["detail"].startswith("Nobody has said what became of ")


def test_the_table_of_a_recall_of_150000_pieces_is_kept_and_what_is_larger_still_is_read_elsewhere(
    api: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its rows have some 110 letters each: seventeen megabytes."""
    size = 17_000_000

    def press(kind: IssuedKind, subject: str, act: Act) -> Drawn:
        return Drawn(subject, 1, "0" * 64, bytes(size), (1, "0" * 64))

    monkeypatch.setattr(issuing, "_press", press)
    asked = {"kind": "recall table", "subject": "1"}
    kept = api.post("/v1/issues", asked, who="lead")
    assert (kept["document"], kept["size"]) == ("RT-1", size)
    assert api.call("GET", f"/v1/issues/{kept['sha256']}/file").data == bytes(size)
    size = 65_000_000
    refused = api.post("/v1/issues", {**asked, "subject": "2"}, who="lead", expect=422)
    assert "RT-2 would have 65.0 MB; at most 64 MB are kept" in refused["detail"]
    assert "pick-up-list.csv" in refused["way_out"]


def test_what_a_statement_takes_for_gone_or_shipped_is_what_the_words_say(application: Any) -> None:
    """The conditions in SQL and the rules in Python agree on every kind in every state."""
    with connected():
        for kind in Kind:
            for state in State:
                one = f"(SELECT '{kind}' AS kind, '{state}' AS state) AS i"
                gone, out = rows_of(f"SELECT {gone_sql('i')}, {out_sql('i')} FROM {one}")[0]
                assert bool(gone) == (not to_fetch(kind, state)), (kind, state)
                assert bool(out) == (kind == Kind.PART and where_it_is(kind, state) == "shipped"), (kind, state)


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_what_went_into_a_piece_is_asked_by_the_piece_and_not_by_every_pair_of_pieces(
    api: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With an index over both ends SQLite tried each of 150,000 pieces as the source of each other."""
    asked: list[tuple[str, tuple[Any, ...]]] = []

    def seen(sql: str, *given: Any) -> list[tuple[Any, ...]]:
        asked.append((sql, given))
        return []

    monkeypatch.setattr(recalled, "rows_of", lambda *_: [])
    monkeypatch.setattr(contents, "rows_of", seen)
    recalled.reach_of(recalled.Root(1, None, None, "a pot", Kind.MIX, None, None))
    with connected():
        plan = [row[3] for row in rows_of(f"EXPLAIN QUERY PLAN {asked[0][0]}", *asked[0][1])]
    looked_up = [step for step in plan if step.startswith("SEARCH m ") and "(target_id=?" in step]
    assert looked_up
    assert not any("source_id=?" in step for step in looked_up)
