"""A file, certificates, a head, and no network: each way in which a document can be untrue has an answer of its own."""

import asyncio
import io
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import cache

import pypdfium2
import pytest
from cryptography import x509

from service.operations.ledger.sealed import IssuedDocument, JournalHead, SignedHead, new_key, sign_head
from service.reports.issued import verifying
from service.reports.issued.signer import CannotSign, Signer, load_signer, make_signer, sign_pdf, write_signer
from service.reports.issued.statement import Statement, read_statement
from service.reports.issued.thread import in_a_thread_of_its_own
from service.reports.issued.verifying import Verdict, verify

AT = datetime(2026, 11, 3, 9, tzinfo=UTC)
SAID = Statement("PR-P00001R", 2, "Hærøn Yard", AT, "a" * 64, 12, "b" * 64, "c" * 64)


@cache
def signer(name: str = "Hærøn Yard") -> Signer:
    return make_signer(name, at=AT)


@cache
def plain(pages: int = 1) -> bytes:
    made, kept = pypdfium2.PdfDocument.new(), io.BytesIO()
    for _ in range(pages):
        made.new_page(595, 842)
    made.save(kept)
    return kept.getvalue()


@cache
def true() -> bytes:
    return sign_pdf(plain(), signer(), reason=SAID.text(), shop=SAID.shop)


def look(content: bytes, head: SignedHead | None = None, by: Sequence[x509.Certificate] = ()) -> Verdict:
    return verify(content, by or [signer().certificate], head)


def saved_anew(content: bytes) -> bytes:
    """What an editor of PDFs writes: all the same objects, in another order and at other places."""
    from pyhanko.pdf_utils.reader import PdfFileReader
    from pyhanko.pdf_utils.writer import copy_into_new_writer

    out = io.BytesIO()
    copy_into_new_writer(PdfFileReader(io.BytesIO(content))).write(out)
    return out.getvalue()


def test_documents_are_signed_and_verified_where_an_event_loop_runs() -> None:
    async def sign_and_verify() -> Verdict:
        return look(sign_pdf(plain(), signer(), reason=SAID.text(), shop=SAID.shop))

    # In a thread of the test's own: another test's browser may have left a loop running in this one.
    assert in_a_thread_of_its_own(lambda: asyncio.run(sign_and_verify())).answer == "unaltered"


def test_an_unaltered_document_is_true_and_says_what_it_is() -> None:
    verdict = look(true())
    assert (verdict.answer, verdict.is_true, verdict.statement) == ("unaltered", True, SAID)
    assert "PR-P00001R, issue 2, of Hærøn Yard" in verdict.findings[-1].sentence
    # After thirty years the certificate has run out, and the document is what it was.
    old = make_signer("Hærøn Yard", at=AT - timedelta(days=40 * 365))
    assert look(sign_pdf(plain(), old, reason=SAID.text(), shop=SAID.shop), by=[old.certificate]).is_true


@pytest.mark.parametrize(
    ("spoil", "answer", "said"),
    [
        (lambda b: b.replace(b"595", b"594", 1), "bytes altered", "another hash"),
        (lambda b: b + b"\n% a line", "added to after signing", "9 bytes were added"),
        (lambda b: b + plain(), "added to after signing", "were added"),
        (saved_anew, "saved anew or damaged", "another program saved it anew"),
        (lambda b: b[: len(b) // 2], "saved anew or damaged", "cut off"),
        (lambda b: b[:-9], "saved anew or damaged", "cut off"),
        (lambda b: b[:-1], "saved anew or damaged", "1 of its bytes"),
        (lambda b: plain(), "unsigned", "bears no signature"),
        (lambda b: plain(200), "unsigned", "bears no signature"),
        (lambda b: b"", "no PDF", "not a PDF"),
        (lambda b: b"GIF89a", "no PDF", "not a PDF"),
        (lambda b: b"%PDF-1.7 /ByteRange [0 5 9 3] %%EOF", "saved anew or damaged", "where it says"),
        (lambda b: sign_pdf(plain(), signer("Else"), reason=SAID.text(), shop="Else"), "another signer", "somebody"),
        (lambda b: sign_pdf(plain(), signer(), reason="Approved", shop="x"), "no issued document", "statement"),
    ],
)
def test_each_way_of_being_untrue_is_told_apart(spoil: object, answer: str, said: str) -> None:
    verdict = look(spoil(true()))  # type: ignore[operator]
    assert (verdict.answer, verdict.is_true) == (answer, False)
    assert said in verdict.findings[-1].sentence
    assert not verdict.findings[-1].holds


def test_a_change_that_a_reader_of_pdfs_appends_by_the_book_is_seen() -> None:
    """An incremental update is a file of its own to every reader, and the first signature in it still holds."""
    from pyhanko.pdf_utils.generic import pdf_name, pdf_string
    from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter

    writer = IncrementalPdfFileWriter(io.BytesIO(true()))
    writer.root[pdf_name("/Lang")] = pdf_string("en")
    writer.update_root()
    kept = io.BytesIO()
    writer.write(kept)
    assert look(kept.getvalue()).answer == "added to after signing"


def test_not_a_bit_can_be_turned_unseen_in_what_the_signature_does_not_cover() -> None:
    """The envelope of the signature stands in a gap of what is signed: each byte of it counts all the same."""
    content = true()
    gap = content.rindex(b"/Contents <")
    places = [*range(gap + 12, gap + 2600, 37), gap + 4000, gap + 8190, 3, len(content) - 3]
    unseen = []
    for place in places:
        for bit in (1, 32):
            spoilt = bytearray(content)
            spoilt[place] ^= bit
            if look(bytes(spoilt)).is_true:
                unseen.append((place - gap, bit))
    assert unseen == []


def test_old_documents_hold_when_key_and_certificate_are_new() -> None:
    renewed = make_signer("Hærøn Yard", at=AT + timedelta(days=900))
    newer = sign_pdf(plain(), renewed, reason=replace(SAID, issue=3).text(), shop=SAID.shop)
    both = [renewed.certificate, signer().certificate]
    assert look(true(), by=both).is_true
    assert look(newer, by=both).is_true
    assert look(newer).answer == "another signer", "who has the old certificate alone has to ask for the new one"


def _head(*documents: tuple[str, int, bytes], number: int = 40, before: int | None = 10, **more: str) -> SignedHead:
    listed = tuple(IssuedDocument(d, issue, verifying.hashlib.sha256(b).hexdigest()) for d, issue, b in documents)
    head = JournalHead(
        number, "d" * 64, AT + timedelta(days=1), more.get("founding", "c" * 64),
        None if before is None else (before, "e" * 64), listed,
    )  # fmt: skip
    return sign_head(head, new_key())


@pytest.mark.parametrize(
    ("head", "answer", "said"),
    [
        (lambda: _head(("PR-P00001R", 2, true())), "unaltered", "lists this very file"),
        (lambda: _head(("PR-P00001R", 2, true()), ("PR-P00001R", 3, b"x")), "superseded", "issue 3"),
        (lambda: _head(("PR-P00001R", 5, b"x")), "superseded", "issue 5"),
        (lambda: _head(("PR-P00001R", 2, b"another")), "not in the head", "another file as this issue"),
        (lambda: _head(("PR-P00001R", 1, b"first")), "not in the head", "does not list it"),
        (lambda: _head(number=12), "not in the head", "older than the document"),
        (lambda: _head(before=20), "not in the head", "since entry 20"),
        (lambda: _head(founding="f" * 64), "head of another account", "another account"),
    ],
)
def test_a_head_says_whether_the_shop_lists_this_file_and_no_later_one(head: object, answer: str, said: str) -> None:
    verdict = look(true(), head())  # type: ignore[operator]
    assert (verdict.answer, verdict.is_true) == (answer, answer == "unaltered")
    assert said in verdict.findings[-1].sentence


def test_a_statement_is_read_as_it_was_written_and_no_other() -> None:
    assert read_statement(SAID.text()) == SAID
    assert read_statement(replace(SAID, shop="Yard. Data SHA-256, Ltd").text()).shop == "Yard. Data SHA-256, Ltd"  # type: ignore[union-attr]
    for other in ("", SAID.text() + " ", SAID.text().replace("issue 2", "issue 0"), SAID.text().replace("T09", "T99")):
        assert read_statement(other) is None, other


def test_a_key_that_is_none_or_another_certificates_is_said(tmp_path: object) -> None:
    from pathlib import Path

    from cryptography.hazmat.primitives import serialization
    from cryptography.hazmat.primitives.asymmetric import ec

    folder = Path(str(tmp_path))
    key, certificate = folder / "key", folder / "certificate"
    write_signer(signer(), key, certificate)
    assert load_signer(key, certificate).certificate == signer().certificate
    assert key.stat().st_mode & 0o077 == 0
    write_signer(signer("Else"), folder / "other", folder / "others")
    curve = ec.generate_private_key(ec.SECP256R1()).private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    (folder / "curve").write_bytes(curve)
    for pair, said in (
        ((folder / "none", certificate), "`potmark signer` makes"),
        ((certificate, certificate), "does not hold a key"),
        ((key, key), "holds no certificate"),
        ((folder / "other", certificate), "not that of the certificate"),
        ((folder / "curve", certificate), "not RSA"),
    ):
        with pytest.raises(CannotSign, match=said):
            load_signer(*pair)
