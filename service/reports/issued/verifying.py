"""Is this file an issued document as it was issued? Worked out from file, certificates and a head alone: no network.

The order is that of what can be wrong: whether it is a PDF, bears one signature, is whole, has nothing added, is not
altered, and by whose key it was signed. Only what is signed by one of the certificates is believed of what it says.

The envelope of a signature (CMS, RFC 5652) has a few bytes that no signature covers. Ours are made in one way only, so
it is made anew from what is covered and compared: not a byte of the file may differ. pyHanko reads and validates the
rest, and is loaded when first used.
"""

import hashlib
import io
import logging
import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from cryptography import x509
from cryptography.hazmat.primitives import serialization

from service.operations.ledger.sealed import IssuedDocument, SignedHead, printed
from service.reports.issued.signer import RESERVED, fingerprint_of
from service.reports.issued.statement import Statement, read_statement
from service.reports.issued.thread import in_a_thread_of_its_own

# The names of a file's answers, each of which is told apart by who reads them with a program.
UNALTERED = "unaltered"
NO_PDF = "no PDF"
UNSIGNED = "unsigned"
ADDED_TO = "added to after signing"
ALTERED = "bytes altered"
DAMAGED = "saved anew or damaged"
OTHER_SIGNER = "another signer"
NO_DOCUMENT = "no issued document"
SUPERSEDED = "superseded"
NOT_LISTED = "not in the head"
OTHER_ACCOUNT = "head of another account"

_RANGE = re.compile(rb"/ByteRange\s*\[\s*0\s+([0-9]{1,12})\s+([0-9]{1,12})\s+([0-9]{1,12})\s*\]")
_HEX = re.compile(rb"<([0-9A-F]+)>")


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that was looked at: whether it holds, in words."""

    holds: bool
    sentence: str


@dataclass(frozen=True, slots=True)
class Verdict:
    """What was found of a file: one of the names above, each thing that was looked at, and what the document says."""

    answer: str
    findings: tuple[Finding, ...]
    statement: Statement | None = None

    @property
    def is_true(self) -> bool:
        return all(finding.holds for finding in self.findings)


class _Stop(Exception):
    """Something does not hold, so that nothing after it counts."""

    def __init__(self, answer: str, sentence: str) -> None:
        self.answer, self.sentence = answer, sentence
        super().__init__(sentence)


def verify(content: bytes, certificates: Sequence[x509.Certificate], head: SignedHead | None = None) -> Verdict:
    """What holds of a file and what does not; with a ``head`` also whether it is listed there, or superseded."""
    found: list[Finding] = []
    try:
        envelope = _whole(content)
        found.append(Finding(True, "Not a byte of it was altered, added or taken away since it was signed."))
        signer, said = _signed(content, envelope, certificates)
        found.append(Finding(True, f"It was signed with the certificate {_short(signer)} that you gave."))
        statement = read_statement(said)
        if statement is None:
            raise _Stop(NO_DOCUMENT, "What stands under the signature is not the statement of an issued document.")
    except _Stop as stop:
        return Verdict(stop.answer, (*found, Finding(False, stop.sentence)))
    found.append(Finding(True, _in_words(statement)))
    answer = UNALTERED
    if head is not None:
        against, finding = _beside(statement, hashlib.sha256(content).hexdigest(), head)
        answer = against or UNALTERED
        found.append(finding)
    return Verdict(answer, tuple(found), statement)


def _in_words(said: Statement) -> str:
    return (
        f"It is {said.document}, issue {said.issue}, of {said.shop}; by the shop's own clock it was issued on "
        f"{said.at:%-d %b %Y %H:%M} UTC. It follows the journal's entry {printed(said.number, said.hash)}."
    )


@dataclass(frozen=True, slots=True)
class _Envelope:
    """The signature's container: as it stands in the file, and what of it is covered by the signature.

    Attributes
    ----------
    der : the bytes of the container.
    certificates : those in it.
    attributes, signature : what is signed, and the signature of it.
    names : the hash that the file is signed to have.
    """

    der: bytes
    certificates: tuple[bytes, ...]
    attributes: Any
    signature: bytes
    names: bytes | None


def _whole(content: bytes) -> _Envelope:
    """The signature of a file that is covered by it from the first byte to the last, and has the hash that it names."""
    if not content.startswith(b"%PDF-"):
        raise _Stop(NO_PDF, "It is not a PDF.")
    ranges = _RANGE.findall(content)
    if b"%%EOF" not in content[-1024:]:
        raise _Stop(DAMAGED, "It is cut off: it has no end, as every PDF has.")
    if not ranges:
        raise _Stop(
            UNSIGNED,
            "It bears no signature: either it never had one, such as a live view, or a program that saved or printed "
            "it anew left it out.",
        )
    before, start, rest = (int(number) for number in ranges[0])
    end = start + rest
    gap = content[before:start]
    figures = _HEX.fullmatch(gap)
    if before > start or len(gap) != RESERVED + 2 or figures is None:
        raise _Stop(
            DAMAGED, "Its signature does not stand where it says: another program saved it anew, or damaged it."
        )
    if len(content) < end:
        raise _Stop(DAMAGED, f"It is cut off: {end - len(content)} of its bytes are missing.")
    envelope = _envelope(figures[1])
    has = hashlib.sha256(content[:before] + content[start:end]).digest()
    if len(content) > end and envelope.names == has:
        raise _Stop(
            ADDED_TO, f"It was signed as a file of {end:,} bytes; {len(content) - end:,} bytes were added after that."
        )
    if envelope.names != has or len(content) != end:
        raise _Stop(ALTERED, "It was altered after it was signed: its bytes have another hash than was signed.")
    if len(ranges) > 1:
        raise _Stop(ADDED_TO, "It bears more than one signature; an issued document has one.")
    return envelope


def _envelope(figures: bytes) -> _Envelope:
    import asn1crypto.tsp  # noqa: F401 - it tells of attributes that a signature has, before any is read
    from asn1crypto import cms

    raw = bytes.fromhex(figures.decode("ascii"))
    try:
        # What fills the room that was kept free is no part of it.
        container = cms.ContentInfo.load(raw, strict=False)
        der = container.dump()
        if raw[len(der) :].strip(b"\0") or container["content_type"].native != "signed_data":
            raise ValueError(figures)
        data = container["content"]
        (info,) = data["signer_infos"]
        attributes = info["signed_attrs"]
        named = [bytes(one["values"][0].native) for one in attributes if one["type"].native == "message_digest"]
        return _Envelope(
            der=der,
            certificates=tuple(one.chosen.dump() for one in data["certificates"] or ()),
            attributes=attributes,
            signature=bytes(info["signature"].native),
            names=named[0] if len(named) == 1 else None,
        )
    except Exception:
        # Its parts are read as they are asked for, and each of them may be broken in a way of its own.
        raise _Stop(ALTERED, "It was altered after it was signed: the signature in it cannot be read.") from None


def _signed(
    content: bytes, envelope: _Envelope, certificates: Sequence[x509.Certificate]
) -> tuple[x509.Certificate, str]:
    """By which of the certificates it was signed, and what stands under the signature."""
    embedded = envelope.certificates
    signer = next((one for one in certificates if _der(one) in embedded), None)
    if signer is None:
        raise _Stop(
            OTHER_SIGNER,
            "It was signed by somebody else: with none of the certificates that you gave, but with "
            f"{', '.join(hashlib.sha256(one).hexdigest()[:16] for one in embedded) or 'none that it names'}.",
        )
    if envelope.der != _as_we_make_it(envelope, signer):
        raise _Stop(ALTERED, "It was altered after it was signed: the signature is not in the form that we make.")
    return signer, _validated(content, signer)


def _der(certificate: x509.Certificate) -> bytes:
    return certificate.public_bytes(serialization.Encoding.DER)


def _short(certificate: x509.Certificate) -> str:
    return fingerprint_of(certificate)[:16]


def _as_we_make_it(envelope: _Envelope, signer: x509.Certificate) -> bytes:
    """The same envelope made anew around what the signature covers: the signed attributes, and the signature."""
    from asn1crypto import algos, cms
    from asn1crypto import x509 as asn1_x509

    certificate = asn1_x509.Certificate.load(_der(signer))
    sha256 = algos.DigestAlgorithm({"algorithm": "sha256"})
    anew = cms.SignerInfo(
        {
            "version": "v1",
            "sid": cms.SignerIdentifier(
                "issuer_and_serial_number",
                cms.IssuerAndSerialNumber({"issuer": certificate.issuer, "serial_number": certificate.serial_number}),
            ),
            "digest_algorithm": sha256,
            "signed_attrs": envelope.attributes,
            "signature_algorithm": algos.SignedDigestAlgorithm({"algorithm": "sha256_rsa"}),
            "signature": envelope.signature,
        }
    )
    data = cms.SignedData(
        {
            "version": "v1",
            "digest_algorithms": cms.DigestAlgorithms((sha256,)),
            "encap_content_info": {"content_type": "data"},
            "certificates": [certificate],
            "signer_infos": [anew],
        }
    )
    return bytes(cms.ContentInfo({"content_type": "signed_data", "content": data}).dump())


def _validated(content: bytes, signer: x509.Certificate) -> str:
    """pyHanko's own word that the one signature of the file is sound and covers all of it; what stands under it."""
    from asn1crypto import x509 as asn1_x509
    from pyhanko.pdf_utils.reader import PdfFileReader
    from pyhanko.sign.validation import SignatureCoverageLevel, validate_pdf_signature
    from pyhanko_certvalidator import ValidationContext

    root = asn1_x509.Certificate.load(_der(signer))
    try:
        with _silent():
            signatures = list(PdfFileReader(io.BytesIO(content)).embedded_signatures)
            (signature,) = signatures
            trusted = ValidationContext(trust_roots=[root], allow_fetching=False)
            status: Any = in_a_thread_of_its_own(lambda: validate_pdf_signature(signature, trusted, skip_diff=True))
            said = str(signature.sig_object.get("/Reason", ""))
    except Exception:
        # A file that somebody made to mislead can break a reader anywhere.
        raise _Stop(DAMAGED, "It cannot be read to its end: another program saved it anew, or damaged it.") from None
    if not (status.intact and status.valid and status.coverage is SignatureCoverageLevel.ENTIRE_FILE):
        raise _Stop(ALTERED, "It was altered after it was signed: its signature does not hold.")
    return said


@contextmanager
def _silent() -> Iterator[None]:
    """What a reader says of a broken file is said by us in one sentence."""
    loggers = [logging.getLogger(name) for name in ("pyhanko", "pyhanko_certvalidator")]
    before = [logger.disabled for logger in loggers]
    levels = [logger.level for logger in loggers]
    for logger in loggers:
        logger.setLevel(logging.CRITICAL + 1)
    try:
        yield
    finally:
        for logger, level, disabled in zip(loggers, levels, before, strict=True):
            logger.setLevel(level)
            logger.disabled = disabled


def _beside(said: Statement, sha256: str, signed: SignedHead) -> tuple[str | None, Finding]:
    """The document beside a head that was sealed after it."""
    head = signed.head
    name = f"The head of entry {printed(head.number, head.hash)}, signed on {head.at:%-d %b %Y},"
    if head.founding != said.founding:
        return OTHER_ACCOUNT, Finding(False, f"{name} is of another account than the document.")
    of_this = [one for one in head.documents if one.document == said.document]
    later = max((one.issue for one in of_this if one.issue > said.issue), default=None)
    if later is not None:
        listed = " lists it too, but" if IssuedDocument(said.document, said.issue, sha256) in of_this else ""
        return SUPERSEDED, Finding(
            False, f"{name}{listed} lists issue {later} of {said.document}: this issue is superseded."
        )
    if IssuedDocument(said.document, said.issue, sha256) in of_this:
        return None, Finding(True, f"{name} lists this very file, and no later issue of it.")
    if any(one.issue == said.issue for one in of_this):
        return NOT_LISTED, Finding(
            False, f"{name} lists another file as this issue: this one was not issued by the shop."
        )
    if head.number <= said.number:
        return NOT_LISTED, Finding(False, f"{name} is older than the document; a head sealed after it can list it.")
    if head.before is not None and head.before[0] > said.number:
        return NOT_LISTED, Finding(
            False,
            f"{name} lists what was issued since entry {head.before[0]}, and the document follows entry {said.number}: "
            "ask for the first head after that.",
        )
    return NOT_LISTED, Finding(
        False, f"{name} does not list it: it was issued after that head was sealed, or not by the shop."
    )
