"""The customer's record: this part and nothing else, in one document whose fingerprint can be checked."""

import hashlib
import json
import re
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pypdfium2
import pytest

from labels.codes import grouped, make
from schemas.words import Decision
from service.operations.parts.findings import NonconformanceView
from service.operations.parts.view import InspectionView, StepView
from service.reports.conformity import conformity_of
from service.reports.document import as_document, canonical, fingerprint
from service.reports.drawing.paper import Stamp, conformity_pdf, record_pdf
from service.reports.reading.assembly import Component
from service.reports.reading.entries import _before_and_after
from service.reports.reading.proof import ActEntry, LiftedHold, LoggerFile, LoggerUsed, Signed
from service.reports.record import record_of, without_others
from service.reports.wording import NARROW, fact
from tests.reports import accounts
from tests.reports.accounts import DAY, PART

OTHER = make("P", 89)


@pytest.mark.parametrize("written", [OTHER, grouped(OTHER), OTHER.lower(), f"{OTHER[:-1]}-{OTHER[-1]}"])
def test_the_code_of_another_part_is_left_out_however_it_is_written(written: str) -> None:
    assert without_others(f"like {written}, soft", frozenset({PART})) == "like another part, soft"


def test_its_own_code_other_kinds_and_misread_codes_stay() -> None:
    wrong = PART[:-1] + ("A" if PART[-1] != "A" else "B")
    text = f"{PART} {grouped(PART)} {make('M', 1180)} {wrong} P-12 HY-204"
    assert without_others(text, frozenset({PART})) == text


def test_no_typed_text_tells_a_customer_of_another_part() -> None:
    said = f"soft like {OTHER}"
    pot = accounts.pot(skipped=(make("C", 9),), skipped_why=f"kept for {OTHER}", life_note=said)
    found = NonconformanceView(3, PART, said, True, True, DAY, "Quinn", (), None, said, None, None)
    account = accounts.account(
        pots=(pot,),
        nonconformances=(found,),
        on_hold=(f"six sisters of {OTHER} are soft",),
        permits=(replace(accounts.concession(4, item=pot.code), why=said),),
        marks=(accounts.mark(pot.code, "ratio-outside", sentence=said, permit=4, part=OTHER),),
        inspections=(InspectionView(1, True, said, ({"name": said, "value": 1},), DAY, "Lin"),),
        steps=(StepView("note", {"text": said, OTHER: 1}, None, DAY, "Lin"),),
    )
    document = canonical(record_of(account, {})).decode()
    assert OTHER not in document
    assert "skipped_why" in document
    assert "kept for" not in document, "what was skipped in the store is the shop's own"
    assert "six sisters" not in document, "a customer reads that it is on hold, not the reasons"
    assert json.loads(document)["on_hold"] is True
    assert json.loads(document)["nonconformances"][0]["found"] == "soft like another part"


def test_a_component_is_no_other_part() -> None:
    account = accounts.account(
        components=(Component(OTHER, "Rib", "fitted", "HY-9", "A", DAY, DAY, "Ida", (1, 2), (3,), (), ()),),
        steps=(StepView("note", {"text": f"{OTHER} bonded"}, None, DAY, "Lin"),),
    )
    record = record_of(account, {})
    assert record.steps[0].facts["text"] == f"{OTHER} bonded"


def test_the_record_has_no_sisters_no_suspects_and_no_prices() -> None:
    """Shop rule 43."""
    document = as_document(record_of(accounts.account(materials=(accounts.open_too_long(),)), {}))
    words = canonical(document).decode().casefold()
    assert not {"suspects", "sisters", "shared", "price", "left_g"} & set(document)
    assert not any(word in words for word in ('suspect"', "sister", "price", "€"))
    assert document["standing_out"][0]["rest"] == "; the limit is 180."


def test_the_same_facts_give_the_same_bytes_and_others_do_not() -> None:
    one, two = (canonical(record_of(accounts.account(), {})) for _ in range(2))
    assert one == two
    assert fingerprint(one) == hashlib.sha256(one).hexdigest()
    other = canonical(record_of(accounts.account(mass_mg=690_001), {}))
    assert fingerprint(other) != fingerprint(one)


def test_masses_leave_as_grams_and_instants_with_their_zone() -> None:
    document = as_document(record_of(accounts.account(), {}))
    assert document["mass_g"] == 690
    assert document["pots"][0]["weighings"][0]["net_g"] == 220.4
    assert document["started_at"] == "2026-11-03T09:00:00Z"
    assert document["materials"][0]["good_until"] == "2027-03-31"
    assert as_document({"left_mg": None, "at": datetime(2026, 1, 2, tzinfo=UTC), "on": date(2026, 1, 2)}) == {
        "left_g": None,
        "at": "2026-01-02T00:00:00Z",
        "on": "2026-01-02",
    }
    assert as_document(Decision.ASKED) == "asked"


def test_signatures_are_name_meaning_and_time_in_their_order() -> None:
    account = accounts.account(
        steps=(StepView("closing", {"missing": []}, True, DAY + timedelta(hours=1), "Lin"),),
        inspections=(InspectionView(1, True, None, (), DAY + timedelta(days=2), "Mo"),),
        permits=(accounts.concession(4, item=make("M", 1180)), accounts.concession(5, item=PART, decision="asked")),
    )
    signed = [(s.meaning, s.name) for s in record_of(account, {}).signatures]
    assert signed == [
        ("lay-up complete", "Lin"),
        ("concession 4", "Quinn"),
        ("inspected and accepted", "Mo"),
        ("released", "Ida"),
    ]


def test_a_signature_is_printed_with_its_meaning_its_key_and_the_hash_of_what_was_signed() -> None:
    at = DAY + timedelta(days=4)
    acts = (ActEntry(812, "release_part", "releasing the part", (PART,), "Quinn Berg", at, at),)
    signed = Signed(812, "released", 3, "5f" * 32, "q83v" * 22)
    permits = (accounts.concession(4, item=PART),)
    part = accounts.account(released_at=at, released_by="Quinn Berg", acts=acts, signed=(signed,), permits=permits)
    record = record_of(part, {})
    assert [s.signed for s in record.signatures if s.meaning == "released"] == [signed]
    stamp = Stamp(f"CC-{PART}", 1, "Quinn Berg")
    paper = {
        "record": record_pdf(record, origin="https://potmark.heron-yard.example", at=at),
        "certificate": conformity_pdf(
            conformity_of(record), origin="https://potmark.heron-yard.example", at=at, head="900 0011", stamp=stamp
        ),
    }
    for what, pdf in paper.items():
        text = "".join(page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(pdf))
        bare = re.sub(r"[\s\u00ad-]+", "", text)
        for said in ("signed“released”withkey3", "entry812", signed.sha256, signed.signature):
            assert said in bare, (what, said)
        assert "ratio outside" in " ".join(text.split()), f"the {what} says what a permit is for in words"


def test_what_a_record_rests_on_is_printed_with_it() -> None:
    """Calibrations as they were kept then, the loggers' files by their hash, entries by number, holds that were lifted
    with the reason, and when the paper was printed."""
    used = (
        LoggerUsed("Oven logger 2", date(2026, 1, 12), "Tarn Metrology, 7718", date(2026, 10, 1), overdue=True),
        LoggerUsed("Oven logger 3", None, None, None, overdue=False),
    )
    cure, at = make("R", 12), DAY + timedelta(days=5, hours=2)
    files = (LoggerFile(cure, "Oven logger 2", 31, "7c" * 32),)
    holds = (LiftedHold(make("M", 1180), "cup still soft", DAY, "Quinn", at, "Mo Berg", "hard on the second morning"),)
    acts = tuple(ActEntry(n, "stir", "stirring the pot", (PART,), "Lin", DAY, DAY) for n in (812, 813, 814, 902))
    account = accounts.account(loggers=used, files=files, lifted_holds=holds, acts=acts)
    pdf = record_pdf(record_of(account, {}), origin="https://heron.example", at=at)
    text = re.sub(r"\s+", " ", " ".join(p.get_textpage().get_text_range() for p in pypdfium2.PdfDocument(pdf)))
    said = "calibrated 12 Jan 2026, Tarn Metrology, 7718, good until 1 Oct 2026: over when it was used"
    assert said in text
    assert "no calibration was kept of it when its file was read" in text
    assert "document 31, SHA-256 " + "7c" * 32 in re.sub(r"(?<=7c) (?=7c)", "", text)
    assert "Entries 812–814, 902" in text
    assert "cup still soft Quinn 3 Nov 2026 10:00 Mo Berg 8 Nov 2026 12:00 hard on the second morning" in text
    assert "as the account stood on 8 Nov 2026 12:00" in text


def test_what_a_corrected_entry_had_said_is_in_grams_and_in_words_on_paper_too() -> None:
    """The journal keeps milligrams; no page shows those."""
    asked = {"mass_mg": 1_050_200, "why": None, "parts": [{"part": PART, "mass_mg": 480_000}], "temperature_c": 24.5}
    before, after = _before_and_after({"asked": asked}, {})
    assert after == {}
    assert before == {"mass_g": 1050.2, "parts": [{"part": PART, "mass_g": 480}], "temperature_c": 24.5}
    assert [fact(name, value).replace(NARROW, " ") for name, value in before.items()] == [
        "mass 1050.2 g", f"parts part: {PART} and mass 480 g", "temperature 24.5 °C"
    ]  # fmt: skip
