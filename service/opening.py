"""The account as the command line opens it: reachable, founded, and of the schema that this program knows."""

import fcntl
import os
from pathlib import Path
from urllib.parse import urlsplit

from peewee import PeeweeException

from service.config import Settings, beside, sqlite_file
from service.database import database, is_busy, open_database
from service.operations.door import founding, signatures


class Trouble(Exception):
    """Something foreseeable stands in the way; the sentence says what, and what to do."""


def open_account(settings: Settings) -> None:
    """Make the account ready for use, or say in one sentence why it cannot be used. Leaves no connection behind.

    A missing SQLite file is not made by looking, since an empty account in the wrong folder looks like lost data.
    """
    open_founded(settings)
    pending = founding.pending_steps()
    if pending:
        database.close_all()
        raise Trouble(
            f"The database lacks {_steps(len(pending))} that this program needs: "
            "keep a backup, stop the service, run `potmark upgrade`."
        )


def open_founded(settings: Settings) -> None:
    """As ``open_account``, but leaves steps of the schema pending."""
    file = sqlite_file(settings.database)
    if file is not None and not file.is_file():
        raise Trouble(f"There is no database at {file}; `potmark init` makes one, POTMARK_DATABASE names another.")
    open_database(settings.database)
    signatures.look_in(secrets_key_file(settings))
    try:
        founded, unknown = founding.is_founded(), founding.unknown_steps()
    finally:
        # A connection must not live on into the server's worker processes.
        database.close_all()
    if unknown:
        raise Trouble(
            f"The database is newer than this program, which does not know {_steps(len(unknown))} of its schema: "
            "install the newer Potmark."
        )
    if not founded:
        raise Trouble("The database is empty; `potmark init` founds the account.")


def stay_with(settings: Settings) -> None:
    """Keep anyone from building a demo workshop where this SQLite account lies, as long as this process lives, or one
    that it forks. Any number of processes may stay."""
    file = sqlite_file(settings.database)
    if file is None:
        return
    folder = file.resolve().parent
    try:
        # Never closed: the system lets go of it at the end of the last process.
        fcntl.flock(os.open(folder, os.O_RDONLY | os.O_CLOEXEC), fcntl.LOCK_SH | fcntl.LOCK_NB)
    except BlockingIOError:
        raise Trouble(
            f"A demo workshop is being built in {folder} by another Potmark; wait until it is done."
        ) from None
    except OSError:
        # A folder that may be searched and not read, or a disk without locks: nobody can build there either.
        return


def seal_key_file(settings: Settings) -> Path:
    """Where the key is that heads of the journal are signed with: beside an SQLite file, unless a setting names it."""
    return Path(settings.seal_key) if settings.seal_key else beside(settings) / "potmark-seal.key"


def secrets_key_file(settings: Settings) -> Path:
    """Where the key is that people's secrets are guarded with: beside an SQLite file, unless a setting names it."""
    return Path(settings.secrets_key) if settings.secrets_key else beside(settings) / "potmark-secrets.key"


def make_secrets_key(settings: Settings) -> Path | None:
    """Make that file, for this user alone; where it is, if there was none."""
    file = secrets_key_file(settings)
    try:
        return file if signatures.make_pepper(file) else None
    except OSError as error:
        raise Trouble(f"The key that guards secrets cannot be written to {file}: {error.strerror}.") from None


def in_words(error: PeeweeException, settings: Settings) -> str:
    """What the driver says when the database cannot be used, as one sentence without the password."""
    lines = str(error).strip().splitlines()
    said = (lines[0] if lines else type(error).__name__).rstrip(".")
    password = urlsplit(settings.database).password
    if password:
        said = said.replace(password, "…")
    where = sqlite_file(settings.database) or urlsplit(settings.database).hostname or "the server that is named"
    if is_busy(error):
        return f"The database at {where} is in use by someone else; try again in a moment."
    return f"The database at {where} cannot be used: {said}."


def _steps(count: int) -> str:
    return "one step" if count == 1 else f"{count} steps"
