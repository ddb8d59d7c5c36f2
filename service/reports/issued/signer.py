"""The key and certificate with which issued documents are signed, and the signature itself.

A signature is PAdES (ETSI EN 319 142-1, from memory) with RSA and SHA-256: with others the file would say that it is
PDF 2.0, and be no PDF/A-3 any more. pyHanko makes it and is loaded when first used.
"""

import io
import os
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import rsa
from cryptography.x509.oid import NameOID

from service.reports.issued.thread import in_a_thread_of_its_own

FIELD = "Issued"
# So many figures in hexadecimal are kept free for it.
RESERVED = 8192
# Of these, what a signature takes beside its certificate and the signed number.
_ATTRIBUTES = 1000
# Nothing is gained by its end: a document that was issued stays one.
_VALID = timedelta(days=30 * 365)
_KEY_BITS = 2048


class CannotSign(Exception):
    """There is no key to sign with here, or what is there is none; the sentence says which and what to do."""


@dataclass(frozen=True, slots=True)
class Signer:
    """A private key and its certificate."""

    key: rsa.RSAPrivateKey
    certificate: x509.Certificate

    @property
    def fingerprint(self) -> str:
        return fingerprint_of(self.certificate)

    @property
    def pem(self) -> str:
        return self.certificate.public_bytes(serialization.Encoding.PEM).decode("ascii")


def fingerprint_of(certificate: x509.Certificate) -> str:
    """SHA-256 of a certificate, in hexadecimal."""
    return certificate.fingerprint(hashes.SHA256()).hex()


def certificates_in(content: bytes, name: str) -> list[x509.Certificate]:
    """The certificates of a PEM file, newest first as they stand."""
    try:
        found = x509.load_pem_x509_certificates(content)
    except ValueError:
        found = []
    if not found:
        raise CannotSign(f"{name} holds no certificate: PEM, as /v1/certificate gives it.")
    return found


def load_signer(key_file: Path, certificate_file: Path) -> Signer:
    """The signer in these files; the first certificate is the one that counts."""
    try:
        key_text, certificate_text = key_file.read_bytes(), certificate_file.read_bytes()
    except OSError as error:
        raise CannotSign(
            f"Issued documents are signed, and {error.filename} cannot be read: {error.strerror}; "
            "`potmark signer` makes a key and its certificate."
        ) from None
    try:
        key = serialization.load_pem_private_key(key_text, password=None)
    except (ValueError, TypeError):
        raise CannotSign(f"{key_file} does not hold a key: PEM, without a passphrase.") from None
    certificate = certificates_in(certificate_text, str(certificate_file))[0]
    if not isinstance(key, rsa.RSAPrivateKey):
        raise CannotSign(f"The key in {key_file} is not RSA, which an archive file (PDF/A-3) is signed with.")
    if key.public_key() != certificate.public_key():
        raise CannotSign(f"The key in {key_file} is not that of the certificate in {certificate_file}.")
    room = len(certificate.public_bytes(serialization.Encoding.DER)) + key.key_size // 8 + _ATTRIBUTES
    if room > RESERVED // 2:
        raise CannotSign(f"The certificate in {certificate_file} is too long for a signature of {RESERVED // 2} bytes.")
    return Signer(key, certificate)


def make_signer(shop: str, *, at: datetime) -> Signer:
    """A new key and a certificate that it signs itself: who trusts it got it from the shop."""
    key = rsa.generate_private_key(public_exponent=65537, key_size=_KEY_BITS)
    # X.520 allows a common name of 64 characters.
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, shop[:64])])
    usage = dict.fromkeys(
        ("key_encipherment", "data_encipherment", "key_agreement", "key_cert_sign", "crl_sign", "encipher_only",
         "decipher_only"), False,
    )  # fmt: skip
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(at - timedelta(days=1))
        .not_valid_after(at + _VALID)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(x509.KeyUsage(digital_signature=True, content_commitment=True, **usage), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .sign(key, hashes.SHA256())
    )
    return Signer(key, made)


def write_signer(signer: Signer, key_file: Path, certificate_file: Path) -> None:
    """Keep both: the key for this user alone, the certificate for anyone who asks."""
    private = signer.key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    for file, content in ((key_file, private), (certificate_file, signer.pem.encode())):
        with open(file, "xb", opener=lambda name, flags: os.open(name, flags, 0o600)) as out:
            out.write(content)


def keep_signer(shop: str, key_file: Path, certificate_file: Path, *, at: datetime) -> None:
    """Make a signer in these files, unless there is one."""
    if not key_file.exists() and not certificate_file.exists():
        write_signer(make_signer(shop, at=at), key_file, certificate_file)


def sign_pdf(pdf: bytes, signer: Signer, *, reason: str, shop: str) -> bytes:
    """The file with a signature added that allows no change; ``reason`` is what a reader shows beside it."""
    from asn1crypto import keys
    from asn1crypto import x509 as asn1_x509
    from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
    from pyhanko.sign import signers
    from pyhanko.sign.fields import MDPPerm, SigSeedSubFilter
    from pyhanko_certvalidator.registry import SimpleCertificateStore

    private = signer.key.private_bytes(
        serialization.Encoding.DER, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    certificate = asn1_x509.Certificate.load(signer.certificate.public_bytes(serialization.Encoding.DER))
    hand = signers.SimpleSigner(
        signing_cert=certificate,
        signing_key=keys.PrivateKeyInfo.load(private),
        cert_registry=SimpleCertificateStore(),
    )
    meta = signers.PdfSignatureMetadata(
        field_name=FIELD,
        md_algorithm="sha256",
        subfilter=SigSeedSubFilter.PADES,
        certify=True,
        docmdp_permissions=MDPPerm.NO_CHANGES,
        reason=reason,
        name=shop,
    )
    writer: Any = IncrementalPdfFileWriter(io.BytesIO(pdf))
    by = signers.PdfSigner(meta, signer=hand)
    signed: io.BytesIO = in_a_thread_of_its_own(lambda: by.sign_pdf(writer, bytes_reserved=RESERVED))
    return signed.getvalue()
