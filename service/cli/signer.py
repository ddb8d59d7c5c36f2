"""Commands on issued documents: the key and certificate that they are signed with, and whether one is true."""

import os
from datetime import UTC, datetime
from pathlib import Path

import click

from service import opening
from service.cli.asking import DIFFERS, DONE, Command
from service.cli.sealing import head_in
from service.config import Settings, signing_files
from service.database import reading
from service.opening import Trouble
from service.operations.door.shop import the_site


@click.command(cls=Command)
@click.option("--renew", is_flag=True, help="Make a new pair; the old one stays beside it under the day's date.")
@click.pass_obj
def signer(settings: Settings, renew: bool) -> int:
    """Make key and certificate for signing issued documents.

    A pair that is there is left alone, unless --renew asks for another. What was signed with an old one goes on being
    verified: /v1/certificate gives out all certificates that were ever used.
    """
    opening.open_account(settings)
    with reading():
        shop = the_site().name
    files = signing_files(settings)
    there = [file for file in files if file.exists()]
    if there and not renew:
        print(f"{' and '.join(str(file) for file in there)} is there already; nothing was changed.")
        return DONE
    now = datetime.now(UTC)
    for file in there:
        aside = file.with_name(f"{file.stem}-until-{now:%Y%m%dT%H%M%SZ}{file.suffix}")
        os.replace(file, aside)
        print(f"{file} is kept as {aside}.")
    make_signing_pair(settings, shop, at=now)
    print(f"Issued documents are signed with {files[0]} from now on; its certificate is in {files[1]}.")
    return DONE


def make_signing_pair(settings: Settings, shop: str, *, at: datetime) -> tuple[Path, Path]:
    """A key and its certificate in their files; what is there already is kept."""
    from service.reports.issued.signer import keep_signer

    key, certificate = signing_files(settings)
    try:
        keep_signer(shop, key, certificate, at=at)
    except OSError as error:
        raise Trouble(
            f"The key that issued documents are signed with cannot be written to {key}: {error.strerror}."
        ) from None
    return key, certificate


# Longer than this no issued document is.
_LONGEST = 64_000_000


@click.command(cls=Command)
@click.argument("file", metavar="FILE.pdf")
@click.option(
    "--certificate", required=True, metavar="CERT.pem", help="The shop's certificates, as /v1/certificate gives them."
)
@click.option("--head", metavar="FILE", help="A head of the shop's journal that was sealed after the document.")
@click.pass_obj
def verify(settings: Settings, file: str, certificate: str, head: str | None) -> int:
    """Tell a true document from a false one, without a network.

    It says in words what holds and what does not; status 0 if all of it holds, 1 if not. It asks no account, so that it
    runs on any machine. With a head, it says too whether the shop lists this very file, or a later issue of it.
    """
    from service.reports.issued.signer import CannotSign, certificates_in
    from service.reports.issued.verifying import verify as look

    try:
        known = certificates_in(_content(certificate), certificate)
    except CannotSign as trouble:
        raise Trouble(str(trouble)) from None
    verdict = look(_content(file), known, head_in(Path(head)) if head is not None else None)
    print(f"{file}: {verdict.answer}.")
    for finding in verdict.findings:
        print(f"{'holds' if finding.holds else 'DOES NOT HOLD'}: {finding.sentence}")
    if verdict.is_true and head is None:
        print("Not looked at: whether a later issue has taken its place. A head (--head) tells, or the shop's /verify.")
    return DONE if verdict.is_true else DIFFERS


def _content(name: str) -> bytes:
    try:
        with open(name, "rb") as opened:
            content = opened.read(_LONGEST + 1)
    except OSError as error:
        raise Trouble(f"{name} cannot be read: {error.strerror}.") from None
    if len(content) > _LONGEST:
        raise Trouble(f"{name} is longer than any issued document.")
    return content
