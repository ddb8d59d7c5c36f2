"""A certificate for the shop's own network: a local authority, and the certificate of the service that it vouches for.

Whoever trusts a home-made authority trusts it for every site there is. So this one may vouch for the given names and
nothing else (name constraints, RFC 5280 4.2.1.10), and its key is needed only to renew: it can be kept elsewhere.
"""

import ipaddress
import os
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from service.opening import Trouble

AUTHORITY_YEARS = 10
# Phones refuse a longer one, even from an authority that they were told to trust (825 days: support.apple.com/103769).
SERVICE_DAYS = 730
# A clock on a phone may run a little behind.
_HEADROOM = timedelta(hours=1)


@dataclass(frozen=True, slots=True)
class Made:
    """The files of a certificate, and the fingerprint by which a phone's owner can tell the right authority."""

    authority: Path
    certificate: Path
    key: Path
    fingerprint: str
    names: tuple[str, ...]
    until: datetime
    authority_is_new: bool


def make_certificate(folder: Path, names: Sequence[str], *, at: datetime) -> Made:
    """Make the service's certificate in ``folder``, and the authority behind it unless one is there for these names.

    Raises
    ------
    Trouble
        The folder cannot be used, or the authority in it may not vouch for one of the names.
    """
    alternatives = [_name(name) for name in names]
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        authority, authority_key, fresh = _authority(folder, alternatives, at)
        key = ec.generate_private_key(ec.SECP256R1())
        until = at + timedelta(days=SERVICE_DAYS)
        certificate = _service(authority, authority_key, key, alternatives, at, until)
        _write(folder / "potmark.key", _key_text(key), secret=True)
        _write(folder / "potmark.crt", _text(certificate) + _text(authority))
    except OSError as error:
        raise Trouble(f"No certificate can be kept in {folder}: {error.strerror or error}.") from None
    return Made(
        authority=folder / "authority.crt",
        certificate=folder / "potmark.crt",
        key=folder / "potmark.key",
        fingerprint=authority.fingerprint(hashes.SHA256()).hex(" ", 2).upper(),
        names=tuple(names),
        until=until,
        authority_is_new=fresh,
    )


def in_words(made: Made) -> str:
    """What to do with the files: how the service is told, and how a phone is."""
    first = "A new authority" if made.authority_is_new else "The authority that was there"
    return "\n".join(
        [
            f"{first} vouches for {', '.join(made.names)} and for nothing else. Until {made.until:%-d %B %Y}.",
            "",
            "The service takes it by two settings:",
            f"  POTMARK_TLS_CERTIFICATE={made.certificate}",
            f"  POTMARK_TLS_KEY={made.key}",
            "",
            f"A phone or tablet is told to trust it once. Bring {made.authority} to it (by cable or mail; it is no "
            "secret), then",
            "  Android: open the file, or Settings, Security, Encryption and credentials, Install a certificate, "
            "CA certificate.",
            "  iPhone, iPad: open the file, install the profile in Settings; then Settings, General, About, "
            "Certificate Trust Settings, and switch it on.",
            "  A computer: import it into the browser's or the system's certificate authorities.",
            "Where the device shows the authority's SHA-256 fingerprint, it has to be this one:",
            f"  {made.fingerprint}",
            "",
            f"Keep {made.authority.with_suffix('.key')} away from the service, on a stick in a drawer: it is needed "
            "only to renew.",
        ]
    )


def _name(text: str) -> x509.GeneralName:
    try:
        return x509.IPAddress(ipaddress.ip_address(text))
    except ValueError:
        pass
    try:
        return x509.DNSName(text.lower())
    except ValueError:
        raise Trouble(f"“{text}” is neither a host name nor an address.") from None


def _authority(
    folder: Path, names: list[x509.GeneralName], at: datetime
) -> tuple[x509.Certificate, ec.EllipticCurvePrivateKey, bool]:
    """The authority in the folder, or a new one if there is none."""
    certificate_file, key_file = folder / "authority.crt", folder / "authority.key"
    if not certificate_file.exists():
        key = ec.generate_private_key(ec.SECP256R1())
        made = _root(key, names, at)
        _write(key_file, _key_text(key), secret=True)
        _write(certificate_file, _text(made))
        return made, key, True
    try:
        there = x509.load_pem_x509_certificate(certificate_file.read_bytes())
        kept = serialization.load_pem_private_key(key_file.read_bytes(), password=None)
    except FileNotFoundError:
        raise Trouble(f"{key_file} is missing: bring the authority's key back to renew with it.") from None
    except ValueError:
        raise Trouble(f"The authority in {folder} cannot be read; move it away to make a new one.") from None
    if not isinstance(kept, ec.EllipticCurvePrivateKey) or kept.public_key() != there.public_key():
        raise Trouble(f"{key_file} is not the key of {certificate_file}.")
    if there.not_valid_after_utc < at + timedelta(days=SERVICE_DAYS):
        raise Trouble(f"{certificate_file} ends too soon; move it away to make a new authority.")
    allowed = there.extensions.get_extension_for_class(x509.NameConstraints).value.permitted_subtrees or []
    missing = [str(name.value) for name in _constraints(names) if name not in allowed]
    if missing:
        raise Trouble(
            f"The authority in {folder} may not vouch for {', '.join(missing)}; move it away to make a new one, "
            "and tell the phones again."
        )
    return there, kept, False


def _constraints(names: list[x509.GeneralName]) -> list[x509.GeneralName]:
    """What the authority may vouch for: a name, or an address as a network of one."""
    return [
        x509.IPAddress(ipaddress.ip_network(name.value)) if isinstance(name, x509.IPAddress) else name for name in names
    ]


def _subject(text: str) -> x509.Name:
    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, text)])


def _root(key: ec.EllipticCurvePrivateKey, names: list[x509.GeneralName], at: datetime) -> x509.Certificate:
    who = _subject("Potmark authority of this workshop")
    return (
        x509.CertificateBuilder()
        .subject_name(who)
        .issuer_name(who)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(at - _HEADROOM)
        .not_valid_after(at + timedelta(days=365 * AUTHORITY_YEARS))
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(key_cert_sign=True, crl_sign=True), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .add_extension(x509.NameConstraints(permitted_subtrees=_constraints(names), excluded_subtrees=None), True)
        .sign(key, hashes.SHA256())
    )


def _service(
    authority: x509.Certificate,
    authority_key: ec.EllipticCurvePrivateKey,
    key: ec.EllipticCurvePrivateKey,
    names: list[x509.GeneralName],
    at: datetime,
    until: datetime,
) -> x509.Certificate:
    return (
        x509.CertificateBuilder()
        .subject_name(_subject("Potmark"))
        .issuer_name(authority.subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(at - _HEADROOM)
        .not_valid_after(until)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(x509.SubjectAlternativeName(names), critical=False)
        .add_extension(_usage(digital_signature=True), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(authority_key.public_key()), critical=False)
        .sign(authority_key, hashes.SHA256())
    )


def _usage(**given: bool) -> x509.KeyUsage:
    every = (
        "digital_signature", "content_commitment", "key_encipherment", "data_encipherment", "key_agreement",
        "key_cert_sign", "crl_sign", "encipher_only", "decipher_only",
    )  # fmt: skip
    return x509.KeyUsage(**{name: given.get(name, False) for name in every})


def _text(certificate: x509.Certificate) -> bytes:
    return certificate.public_bytes(serialization.Encoding.PEM)


def _key_text(key: ec.EllipticCurvePrivateKey) -> bytes:
    return key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )


def _write(file: Path, content: bytes, *, secret: bool = False) -> None:
    """Write under another name first, so that a service that starts meanwhile finds the old file or the new one."""
    building = file.with_name(f".{file.name}.new")
    building.unlink(missing_ok=True)
    mode = 0o600 if secret else 0o644
    with open(building, "xb", opener=lambda name, flags: os.open(name, flags, mode)) as out:
        out.write(content)
    os.replace(building, file)
