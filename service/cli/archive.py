"""Commands that carry a whole account out and in: as one file that can be read without this program."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

import click

from service import opening
from service.cli.asking import DIFFERS, DONE, Command, note
from service.config import Settings, sqlite_file
from service.database import connected, database, open_database
from service.opening import Trouble
from service.operations.door import founding, signatures
from service.operations.ledger import archive
from service.operations.ledger.archive import Archived, NotAnArchive
from service.operations.ledger.checking import check_account


@click.command(cls=Command)
@click.argument("file", type=click.Path(path_type=Path))
@click.pass_obj
def export(settings: Settings, file: Path) -> int:
    """Write the whole account into FILE, a zip.

    It is readable without Potmark, by what README.txt in it says: a file of JSON lines for each table, and all
    documents. It may be made while the service runs, and `potmark import` makes the same account of it, on either
    database. Keys are not in it, nor what was answered to whom; what is left out is listed there and here.
    """
    opening.open_account(settings)
    part = file.with_name(f"{file.name}.part")
    if file.exists():
        raise Trouble(f"{file} is there already; name another file.")
    try:
        with connected():
            written = archive.write_archive(part)
        part.rename(file)
    except FileExistsError:
        raise Trouble(f"{part} is there: an export that is under way, or was cut short; remove it.") from None
    except OSError as error:
        part.unlink(missing_ok=True)
        raise Trouble(f"{file} cannot be written: {error.strerror}.") from None
    except BaseException:
        part.unlink(missing_ok=True)
        raise
    _list_left_out(written)
    print(f"{_counted(written)} of {written.site} are in {file}.")
    return DONE


@click.command("import", cls=Command)
@click.argument("file", type=click.Path(path_type=Path))
@click.pass_obj
def take_in(settings: Settings, file: Path) -> int:
    """Make the account that FILE holds.

    FILE is what `potmark export` wrote. The database that POTMARK_DATABASE names has to be without an account. All
    comes in or nothing, and the account is checked as `potmark check` does; status 1 if it differs from its journal, as
    then the exported one did. Keys and signed heads are put in their places by hand.
    """
    lite = sqlite_file(settings.database)
    if lite is not None and not lite.parent.is_dir():
        raise Trouble(f"There is no folder {lite.parent} to make the database in.")
    with _nothing_half_made(lite):
        open_database(settings.database)
        signatures.look_in(opening.secrets_key_file(settings))
        with connected():
            if founding.is_founded():
                raise Trouble("There is an account in this database already; nothing was changed.")
            if founding.unknown_steps():
                raise Trouble("The database has another program's schema; name an empty one.")
            try:
                taken = archive.take_in(file, at=datetime.now(UTC))
            except NotAnArchive as trouble:
                raise Trouble(str(trouble)) from None
            _list_left_out(taken)
            result = check_account()
    print(f"{_counted(taken)} of {taken.site} were taken in.")
    if result.agrees:
        print(f"{result.rows:,} rows checked: all agree.")
        return DONE
    print(f"{result.rows:,} rows checked: {result.differences:,} differ from the journal, as they did where they were.")
    for difference in result.first:
        print(f"- {difference.sentence}")
    return DIFFERS


@contextmanager
def _nothing_half_made(lite: Path | None) -> Iterator[None]:
    """A file that was not there before is not there afterwards either, if it goes wrong."""
    made = lite is not None and not lite.exists()
    try:
        yield
    except BaseException:
        if made and lite is not None:
            database.close_all()
            for end in ("", "-wal", "-shm"):
                lite.with_name(lite.name + end).unlink(missing_ok=True)
        raise


def _counted(of: Archived) -> str:
    return f"{of.rows:,} rows, {of.documents:,} documents and {of.entries:,} journal entries"


def _list_left_out(of: Archived) -> None:
    for what, why in of.left_out.items():
        note(f"Left out: {what} ({why}).")
