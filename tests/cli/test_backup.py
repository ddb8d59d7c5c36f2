"""`deploy/backup`: a copy that was restored and checked before anyone relies on it."""

import signal
import sqlite3
import subprocess
import tarfile
from collections.abc import Callable
from pathlib import Path

import psycopg
import pytest

from tests.cli.conftest import Server, Shell

TOP = Path(__file__).resolve().parent.parent.parent


@pytest.fixture
def account(potmark: Shell, database_url: str) -> Shell:
    if database_url.startswith("postgresql"):
        with psycopg.connect(database_url, autocommit=True) as db:
            db.execute("DROP SCHEMA public CASCADE")
            db.execute("CREATE SCHEMA public")
    potmark.environment["POTMARK_DATABASE"] = database_url
    potmark.init()
    potmark.done("people", "add", "Ida Holm", "--role", "laminator")
    (potmark.folder / "copies").mkdir()
    return potmark


def _account_folder(shell: Shell) -> Path:
    """Where the account's keys are: beside the file of an SQLite account, else where the command runs."""
    url = shell.environment["POTMARK_DATABASE"]
    return Path(url.removeprefix("sqlite:///")).parent if url.startswith("sqlite") else shell.folder


def _back_up(shell: Shell) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [TOP / "deploy" / "backup", "copies"],
        cwd=shell.folder,
        env=shell.environment,
        capture_output=True,
        text=True,
        timeout=120,
    )


def test_a_copy_is_restored_checked_and_named(account: Shell) -> None:
    head = account.done("seal", "--folder", str(_account_folder(account) / "heads"))
    head = str(Path(head).relative_to(_account_folder(account)))
    done = _back_up(account)
    assert done.returncode == 0, done.stderr
    checked, name, keys = done.stdout.splitlines()
    assert checked.startswith("0 items, 0 movements, 3 journal entries")
    copy = account.folder / name
    assert {copy, account.folder / keys} == set((account.folder / "copies").iterdir())
    assert copy.stat().st_mode & 0o077 == 0
    assert (account.folder / keys).stat().st_mode & 0o077 == 0
    with tarfile.open(account.folder / keys) as packed:
        files = {one.name.removeprefix("./"): packed.extractfile(one).read() for one in packed if one.isfile()}  # type: ignore[union-attr]
    places = ["potmark-seal.key", "potmark-secrets.key", "potmark-signing.key", "potmark-signing.crt", Path(head)]
    assert files == {str(place): (_account_folder(account) / place).read_bytes() for place in places}, (
        "with them heads and papers are signed on after a restore"
    )
    url = account.environment["POTMARK_DATABASE"]
    if url.startswith("sqlite"):
        account.environment["POTMARK_DATABASE"] = f"sqlite:///{copy}"
        assert "Ida Holm" in account.done("people", "list")
    else:
        with psycopg.connect(url) as db:
            left = db.execute("SELECT datname FROM pg_database WHERE datname LIKE 'potmark_restore%'").fetchall()
        assert left == []


def test_a_copy_that_does_not_agree_is_said(account: Shell) -> None:
    url = account.environment["POTMARK_DATABASE"]
    change = "UPDATE head SET seq = 7"
    if url.startswith("sqlite"):
        with sqlite3.connect(url.removeprefix("sqlite:///")) as lite:
            lite.execute(change)
        lite.close()
    else:
        with psycopg.connect(url, autocommit=True) as db:
            db.execute(change)
    done = _back_up(account)
    assert done.returncode == 1
    assert "of the journal is not as it was written" in done.stdout


def test_a_folder_that_is_not_there_is_said(potmark: Shell) -> None:
    done = _back_up(potmark)
    assert done.returncode == 2
    assert done.stderr == "backup: give the folder to keep the copy in, and make it first.\n"


def test_what_is_in_a_copy_what_is_not_and_what_to_do_is_said(potmark: Shell, serve: Callable[[], Server]) -> None:
    key = potmark.init().split()[-1]
    server = serve()
    assert server.call("/v1/secret", {"secret": "489021"}, key=key)[0] in {200, 201}
    server.stop(signal.SIGTERM)
    (potmark.folder / "copies").mkdir()
    done = _back_up(potmark)
    assert (done.returncode, done.stdout.count("\n")) == (0, 3)
    said = " ".join(done.stderr.split())
    assert "was not proved" not in said, "the copy is checked with the keys that are packed beside it"
    for told in ("the whole account", "the key that guards the secrets", "In neither: the settings", "To restore:"):
        assert told in said
    assert "Not found" not in said
    (potmark.folder / "potmark-secrets.key").rename(potmark.folder / "mislaid.key")
    said = " ".join(_back_up(potmark).stderr.split())
    assert "Not found, so in neither: the key that guards the secrets" in said
    assert "name it in POTMARK_SECRETS_KEY and back up again" in said
    assert "Nothing is wrong by that, but whose the signatures are was not proved" in said
    potmark.environment["POTMARK_SECRETS_KEY"] = str(potmark.folder / "mislaid.key")
    assert "Not found" not in _back_up(potmark).stderr
