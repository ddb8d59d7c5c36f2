"""Issued documents: numbered, signed, kept byte for byte; equal facts not twice; anyone may ask about a hash."""

import hashlib
import io
import re
import threading
from dataclasses import replace
from pathlib import Path
from typing import Any

import pypdfium2
import pytest
from peewee import IntegrityError

from service.config import signing_files
from service.database import connected, database
from service.operations.ledger.checking import check_account
from service.records.issues import LARGEST_BYTES, DocumentIssue
from service.reports.issued.signer import certificates_in, fingerprint_of, keep_signer, load_signer
from service.reports.issued.verifying import verify
from tests import makers
from tests.budgets.office import hand_in_head
from tests.forging import beside_any_act, forge


def _part(api: Any) -> str:
    makers.design(api)
    return str(api.post("/v1/parts", {"part_number": "HY-204"})["code"])


def _issue(api: Any, part: str, kind: str = "part record", **more: Any) -> Any:
    return api.post("/v1/issues", {"kind": kind, "subject": part}, who="quality", **more)


def _file(api: Any, issue: Any) -> bytes:
    answer = api.call("GET", f"/v1/issues/{issue['sha256']}/file", who="lead")
    assert (answer.status_code, answer.mimetype) == (200, "application/pdf")
    return bytes(answer.get_data())


def _text(pdf: bytes) -> str:
    pages = [page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(pdf)]
    return re.sub(r"\s+", " ", " ".join(pages))


def test_an_issue_is_kept_byte_for_byte_and_superseded_only_by_new_facts(api: Any) -> None:
    part = _part(api)
    before = api.get("/v1/journal", who="lead")[-1]
    first = _issue(api, part)
    assert (first["document"], first["issue"], first["issued_by"]) == (f"PR-{part}", 1, "Quality")
    assert first["head"].replace(" ", "") == f"{before['seq']}{before['hash'][:20]}"
    pdf = _file(api, first)
    assert hashlib.sha256(pdf).hexdigest() == first["sha256"]
    # To a reader that is not ours: one signature of the kind that archives take, and still the archive file it was.
    read = pypdfium2.PdfDocument(pdf)
    assert (pypdfium2.raw.FPDF_GetSignatureCount(read), read.count_attachments(), read.get_version()) == (1, 1, 17)
    assert b"/ETSI.CAdES.detached" in pdf
    text = _text(pdf)
    for printed in (f"No. PR-{part}, issue 1", f"Follows entry {first['head']} of the journal", "by Quality"):
        assert printed in text
    assert "Live view" not in text

    api.shop.clock.forward(days=2)
    again = _issue(api, part)
    assert (again["unchanged"], {**again, "unchanged": False}) == (True, first), "equal facts are not issued twice"
    assert _file(api, again) == pdf
    live = api.call("GET", f"/v1/parts/{part}/record.pdf", who="lead").get_data()
    assert "Live view, not issued" in _text(live)

    api.post(f"/v1/parts/{part}/steps", {"kind": "note", "remark": "a dry patch was wetted again"})
    second = _issue(api, part)
    assert (second["issue"], second["unchanged"]) == (2, False)
    rows = api.get(f"/v1/issues?subject={part}", who="lead")
    assert [(row["issue"], row["superseded"]) for row in rows] == [(1, True), (2, False)]
    assert _file(api, first) == pdf
    # What anyone may know who holds the file, and nothing else.
    ours = api.client.get(f"/v1/issues/{first['sha256'].upper()}")
    assert ours.get_json() == {"document": f"PR-{part}", "issue": 1, "superseded": True}
    assert api.client.get(f"/v1/issues/{second['sha256']}").get_json()["superseded"] is False
    # The next head lists both, by which they are known without a network.
    listed = [(d.document, d.issue, d.sha256) for d in hand_in_head(api).head.documents]
    assert listed == [(row["document"], row["issue"], row["sha256"]) for row in rows]
    # And the sheet for the drawer has that head, and how many it lists.
    sheet = api.call("GET", "/v1/heads.pdf", who="lead")
    assert (sheet.status_code, sheet.mimetype) == (200, "application/pdf")
    head = api.get("/v1/heads", who="lead")[0]
    assert re.search(
        rf"{head['printed']} 3 Nov 2026 \d\d:\d\d 2\b|{head['printed']} 5 Nov 2026 \d\d:\d\d 2\b",
        _text(sheet.get_data()),
    )
    assert check_account().agrees
    # A part record counts as a part of its history, and changes nothing in what it says.
    entry = api.get(f"/v1/journal?item={part}&operation=issue_document", who="lead")
    assert [e["items"] for e in entry] == [[part], [part]]


def test_what_cannot_be_issued_or_is_not_known_is_said_and_leaves_nothing(api: Any) -> None:
    part = _part(api)
    problem = api.refused(
        "/v1/issues", {"kind": "certificate of conformity", "subject": part}, "wrong-state", who="quality"
    )
    assert "not released" in problem["detail"]
    for subject in ("P00099X", "not a code"):
        body = {"kind": "part record", "subject": subject}
        problem = api.post("/v1/issues", body, expect=422, who="quality")
        assert problem["errors"][0]["pointer"] == "/subject"
    api.refused("/v1/issues", {"kind": "part record", "subject": part}, "not-allowed", status=403)
    usual = api.client.application.extensions["settings"]
    for key, said in (("/nowhere/key", "cannot be read"), (usual.signing_certificate, "does not hold a key")):
        api.client.application.extensions["settings"] = replace(usual, signing_key=key)
        problem = api.refused("/v1/issues", {"kind": "part record", "subject": part}, "wrong-state", who="quality")
        assert said in problem["detail"]
    api.client.application.extensions["settings"] = usual
    assert api.get("/v1/issues", who="lead") == []
    assert api.client.get(f"/v1/issues/{'0' * 64}").get_json()["type"] == "/problems/unknown"
    for wrong in ("0" * 63, "g" * 64, "0" * 3000, "%00"):
        answer = api.client.get(f"/v1/issues/{wrong}")
        assert (answer.status_code, "64 figures" in answer.get_json()["detail"]) == (404, True), wrong


def test_any_file_is_only_hashed_and_what_is_not_ours_is_said_and_leaves_nothing(api: Any) -> None:
    """No key, no reading of what came: a picture, half a PDF, two hundred pages that nobody here issued."""
    before = len(api.get("/v1/journal?limit=200", who="quality"))
    long = pypdfium2.PdfDocument.new()
    for _ in range(200):
        long.new_page(595, 842)
    pages = io.BytesIO()
    long.save(pages)
    for content in (b"GIF89a", b"%PDF-1.7 and no more", pages.getvalue()):
        sent = {"file": (io.BytesIO(content), "record.pdf")}
        answer = api.client.post("/verify", data=sent, headers={}, follow_redirects=True)
        assert answer.status_code == 404
        assert "Not known" in answer.get_data(as_text=True)
        answer = api.client.get(f"/v1/issues/{hashlib.sha256(content).hexdigest()}")
        assert (answer.status_code, answer.get_json()["type"]) == (404, "/problems/unknown")
    assert "No file came" in api.client.post("/verify", data={}).get_data(as_text=True)
    assert len(api.get("/v1/journal?limit=200", who="quality")) == before


def test_an_investigation_is_issued_once_its_file_is_no_systems_and_certificates_are_renewed(
    api: Any, tmp_path: Path
) -> None:
    part = _part(api)
    issued = _issue(api, part, "investigation report")
    api.shop.clock.forward(minutes=5)
    assert _issue(api, part, "investigation report")["unchanged"], "the time of asking alone is nothing new"
    path = f"/v1/issues/{issued['sha256']}/file"
    assert api.call("GET", path, who="integrator").status_code == 403
    # With a new key and certificate, which the open address gives out beside those that were used before.
    settings = api.client.application.extensions["settings"]
    renewed = replace(settings, signing_key=f"{tmp_path}/key", signing_certificate=f"{tmp_path}/certificate")
    keep_signer("Test yard", *signing_files(renewed), at=api.shop.clock.now)
    api.client.application.extensions["settings"] = renewed
    record = _issue(api, part)
    answer = api.call("GET", f"/v1/issues/{record['sha256']}/file", who="integrator")
    assert answer.status_code == 200
    known = certificates_in(api.client.get("/v1/certificate").get_data(), "the answer")
    assert [fingerprint_of(one) for one in known] == [
        load_signer(*signing_files(s)).fingerprint for s in (renewed, settings)
    ]
    for content, signed_with in ((answer.get_data(), known[0]), (_file(api, issued), known[1])):
        assert verify(content, known).is_true
        assert verify(content, [one for one in known if one != signed_with]).answer == "another signer"


def test_two_at_once_make_one_issue_and_a_repeated_request_is_answered_again(api: Any) -> None:
    part = _part(api)
    answers: list[Any] = [None, None]
    together = threading.Barrier(2)

    def run(number: int) -> None:
        one = replace(api, client=api.client.application.test_client())
        together.wait(timeout=30)
        answers[number] = _issue(one, part, Idempotency_Key=f"tap {number}")

    threads = [threading.Thread(target=run, args=(number,)) for number in (0, 1)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
    assert {(a["issue"], a["sha256"]) for a in answers} == {(1, answers[0]["sha256"])}
    assert sorted(a["unchanged"] for a in answers) == [False, True]
    api.post(f"/v1/parts/{part}/steps", {"kind": "note", "remark": "trimmed at the root"})
    assert _issue(api, part, Idempotency_Key="tap 0") == answers[0], "the same tap again, though the facts are new"
    assert len(api.get("/v1/issues", who="lead")) == 1
    with connected():
        assert check_account().agrees


def test_the_check_compares_what_is_kept_with_its_hash_and_the_database_takes_nothing_boundless(api: Any) -> None:
    part = _part(api)
    _issue(api, part)
    with connected():
        row = DocumentIssue.select().dicts().get() | {"id": 2, "issue": 2, "sha256": "1" * 64}
        for size in (0, LARGEST_BYTES + 1):
            with pytest.raises(IntegrityError), beside_any_act(), database.atomic():
                DocumentIssue.create(**{**row, "size": size})
        assert forge("UPDATE document_issue SET content = ?", b"%PDF-1.7 another") == 1
        said = [d.sentence for d in check_account().first]
    assert f"Issue 1 of PR-{part} is not as it was issued." in said
