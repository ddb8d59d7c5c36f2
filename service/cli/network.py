"""Commands on how phones in the shop reach the service."""

from datetime import UTC, datetime
from pathlib import Path
from urllib.parse import urlsplit

import click

from service import reach
from service.cli.asking import DONE, Command
from service.config import Settings
from service.opening import Trouble


@click.command(cls=Command)
@click.option("--folder", default="certificates", metavar="FOLDER", show_default=True, help="Where the files are kept.")
@click.option(
    "--name", "names", multiple=True, metavar="HOST", help="Host name or address of the service; repeat it for several."
)
@click.pass_obj
def certificate(settings: Settings, folder: str, names: tuple[str, ...]) -> int:
    """Make a certificate for the shop's own network.

    It says how a phone is told to trust it. Without --name it is for the host of POTMARK_ADDRESS. Run again, it renews
    the certificate and keeps the authority.
    """
    from service.certificates import in_words, make_certificate

    if not names:
        if reach.opens_only_here(settings.address):
            raise Trouble(
                f"{settings.address} is this machine's name for itself, which no phone can open; give --name, or set "
                "POTMARK_ADDRESS to what phones can open."
            )
        names = (urlsplit(settings.address).hostname or "",)
    print(in_words(make_certificate(Path(folder), names, at=datetime.now(UTC))))
    return DONE
