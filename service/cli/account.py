"""Commands on the whole account: found it, prove it, bring it to the schema of this version."""

import time
from datetime import UTC, datetime

import click

from service import opening
from service.cli import sealing
from service.cli.asking import DIFFERS, DONE, Command, Name, Zone, note
from service.cli.signer import make_signing_pair
from service.config import Settings, sqlite_file
from service.database import connected, open_database
from service.opening import Trouble
from service.operations.door import founding, signatures
from service.operations.ledger.checking import check_account
from service.operations.ledger.sealed import printed


@click.command(cls=Command)
@click.option("--site", required=True, type=Name(), help="What the shop is called.")
@click.option("--zone", required=True, type=Zone(), help="Its time zone, such as Europe/Copenhagen.")
@click.option("--administrator", required=True, type=Name(), help="Who hands out keys.")
@click.pass_obj
def init(settings: Settings, site: str, zone: str, administrator: str) -> int:
    """Start a new account: tables, site, administrator, keys.

    One key signs heads of the journal (see `potmark seal`), another issued documents; their files are named. The
    administrator's key is printed this once and kept nowhere. An account that is there already is left as it is.
    """
    file = sqlite_file(settings.database)
    if file is not None and not file.parent.is_dir():
        raise Trouble(f"There is no folder {file.parent} to make the database in.")
    open_database(settings.database)
    with connected():
        if founding.is_founded():
            raise Trouble("There is an account in this database already; nothing was changed.")
        at = datetime.now(UTC)
        key = sealing.make_key_file(settings)
        signing, _ = make_signing_pair(settings, site, at=at)
        guard = opening.make_secrets_key(settings) or opening.secrets_key_file(settings)
        founding.migrate()
        founded = founding.found(site=site, zone=zone, administrator=administrator, at=at)
    note(f"The key that heads of the journal are signed with is in {key}; see `potmark seal --help`.")
    note(f"The key that issued documents are signed with is in {signing}, its certificate beside it.")
    note(f"The key that guards people's secrets is in {guard}; keep a copy of it beside the backups.")
    note(f"{site} is founded. The key of {administrator}, administrator, shown this once:")
    print(founded.key)
    return DONE


@click.command(cls=Command)
@click.option(
    "--against",
    "kept",
    multiple=True,
    metavar="HEAD",
    help="A head that was kept elsewhere: its file, or what was typed from paper, in quotes. Repeat it for several.",
)
@click.pass_obj
def check(settings: Settings, kept: tuple[str, ...]) -> int:
    """Work the account out again from its history; prove the journal.

    Every balance, state and hold follows from what happened, every entry of the journal from the one before it, every
    document from its hash, and every row of every table is as the last entry that names it left it. Status 1 if
    anything differs; the first twenty differences are named.
    """
    opening.open_account(settings)
    began = time.monotonic()
    against = sealing.anchors(kept)
    result = check_account(against=against, public_key=sealing.public_key(settings))
    looked = (
        f"{result.items:,} items, {result.movements:,} movements, {result.entries:,} journal entries, "
        f"{result.documents:,} documents, {result.rows:,} rows checked in {time.monotonic() - began:.1f} s"
    )
    if result.agrees:
        _say_unproved()
        print(f"{looked}: all agree.")
        for head in against:
            print(f"The account continues from the head {printed(head.number, head.figures)} ({head.where}).")
        return DONE
    _say_unproved()
    print(f"{looked}: {result.differences:,} {'difference' if result.differences == 1 else 'differences'}.")
    for difference in result.first:
        print(f"- {difference.sentence}")
    if result.differences > len(result.first):
        print(f"… and {result.differences - len(result.first):,} more.")
    return DIFFERS


def _say_unproved() -> None:
    with connected():
        unproved = founding.has_secrets() and not signatures.has_pepper()
    if unproved:
        note(
            "Nothing is wrong by that, but whose the signatures are was not proved: it takes the key that guards "
            "people's secrets. Put its file beside the account, or name it in POTMARK_SECRETS_KEY, and check again."
        )


@click.command(cls=Command)
@click.pass_obj
def upgrade(settings: Settings) -> int:
    """Bring the database to this version's schema; keep a backup first.

    All steps are applied or none; the journal names the rows that they changed. Stop the service before.
    """
    opening.open_founded(settings)
    with connected():
        guard = None if founding.has_secrets() else opening.make_secrets_key(settings)
    applied = founding.migrate(at=datetime.now(UTC))
    for step in applied:
        print(f"Applied {step}.")
    if guard is not None:
        note(f"The key that guards people's secrets is in {guard}; keep a copy of it beside the backups.")
    if not applied:
        print("The database is up to date already.")
    return DONE
