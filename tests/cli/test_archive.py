"""`potmark export` and `potmark import`: a whole account in one file, and an account again, or nothing."""

import json
import zipfile
from collections.abc import Callable
from datetime import UTC, datetime

import pytest

from service.database import connected, database, open_database, tables, writing
from service.operations.door import founding
from tests.cli.conftest import Shell


@pytest.fixture
def exported(potmark: Shell) -> Shell:
    potmark.founded()
    status, said, _ = potmark.here("export", "account.zip")
    assert (status, said.endswith("of Heron Yard are in account.zip.\n")) == (0, True)
    return potmark


NEW = {"POTMARK_DATABASE": "sqlite:///new.db"}


def _rewritten(shell: Shell, change: Callable[[str, bytes], bytes | None]) -> None:
    """The archive with some of its files changed, or left out."""
    file = shell.folder / "account.zip"
    with zipfile.ZipFile(file) as packed:
        files = {name: change(name, packed.read(name)) for name in packed.namelist()}
    with zipfile.ZipFile(file, "w") as packed:
        for name, content in files.items():
            if content is not None:
                packed.writestr(name, content)


def _nothing_is_there(shell: Shell) -> None:
    assert [f.name for f in shell.folder.iterdir() if f.name.startswith("new")] == []


def test_an_account_goes_out_once_and_comes_in_once(exported: Shell) -> None:
    there = exported.refused_here("export", "account.zip")
    assert there == "account.zip is there already; name another file."
    assert exported.refused_here("import", "account.zip").startswith("There is an account in this database already")
    status, said, noted = exported.here("import", "account.zip", **NEW)
    assert (status, said.splitlines()[-1].endswith(": all agree.")) == (0, True)
    for left_out in ("potmark-secrets.key", "answer", "signing_token"):
        assert f"Left out: {left_out}" in noted
    assert exported.here("check", **NEW)[0] == 0
    assert exported.here("export", "again.zip", **NEW)[0] == 0
    assert (exported.folder / "again.zip").read_bytes() == (exported.folder / "account.zip").read_bytes()


def test_an_export_is_read_without_the_program(exported: Shell) -> None:
    with zipfile.ZipFile(exported.folder / "account.zip") as packed:
        contents = json.loads(packed.read("contents.json"))
        people = [json.loads(line) for line in packed.read("tables/person.ndjson").splitlines()]
        told = packed.read("README.txt").decode()
        names = set(packed.namelist())
    assert [person["name"] for person in people[:2]] == ["Potmark", "Ada Lund"]
    assert people[1]["active"] is True
    assert contents["tables"]["hold"]["columns"]["item_id"] == "the id of item"
    assert contents["tables"]["hold"]["columns"]["placed_at"] == "instant"
    assert contents["head"]["number"] == contents["tables"]["entry"]["rows"]
    assert not {f"tables/{table}.ndjson" for table in contents["left_out"]["tables"]} & names
    assert "SHA-256(previous + body)" in told


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("tables/person.ndjson", b"Ida Lund", "The table person in account.zip is not as it was written"),
        ("tables/person.ndjson", None, "The table person is missing or damaged in account.zip"),
        ("contents.json", b"{}", "account.zip is not what `potmark export` writes."),
    ],
)
def test_what_is_not_as_it_was_written_comes_in_not_at_all(
    exported: Shell, name: str, content: bytes | None, said: str
) -> None:
    def change(found: str, was: bytes) -> bytes | None:
        if found != name:
            return was
        return content and (was.replace(b"Ada Lund", content) if b"Lund" in content else content)

    _rewritten(exported, change)
    assert exported.refused_here("import", "account.zip", **NEW).startswith(said)
    _nothing_is_there(exported)


def test_what_is_no_archive_comes_in_not_at_all(exported: Shell) -> None:
    (exported.folder / "account.zip").write_bytes(b"PK?")
    assert exported.refused_here("import", "account.zip", **NEW) == "account.zip cannot be read as a zip file."
    assert exported.refused_here("import", "none.zip", **NEW) == "There is no file none.zip."
    _nothing_is_there(exported)


def test_an_archive_of_a_later_version_says_so(exported: Shell) -> None:
    def later(name: str, was: bytes) -> bytes:
        if name != "contents.json":
            return was
        said = json.loads(was)
        return json.dumps({**said, "steps": [*said["steps"], "9000_later"]}).encode()

    _rewritten(exported, later)
    assert "install the Potmark that wrote it" in exported.refused_here("import", "account.zip", **NEW)
    _nothing_is_there(exported)


def test_an_archive_of_an_earlier_version_is_brought_up_to_this_one(potmark: Shell) -> None:
    """As the version wrote it that had all steps but the last: without what came with that, which is empty here."""
    open_database(f"sqlite:///{potmark.folder}/potmark.db")
    with connected():
        steps = founding.all_steps()
        founding.make_schema(steps[-2])
        had = {name: columns for name, (columns, _) in tables().items()}
        founding.migrate()
        # Founding names the steps that there are.
        with writing():
            database.execute_sql("DELETE FROM schema_migration WHERE name = ?", (steps[-1],))
        founding.found(site="Heron Yard", zone="Europe/Copenhagen", administrator="Ada Lund", at=datetime.now(UTC))
        with writing():
            database.execute_sql(
                "INSERT INTO schema_migration (name, applied) VALUES (?, ?)", (steps[-1], "2026-01-01")
            )
    database.close_all()
    status, _, wrong = potmark.here("export", "account.zip")
    assert status == 0, wrong

    def earlier(name: str, was: bytes) -> bytes | None:
        if name == "contents.json":
            said = json.loads(was)
            said["steps"] = steps[:-1]
            said["tables"] = {table: form for table, form in said["tables"].items() if table in had}
            for table, form in said["tables"].items():
                form["columns"] = {c: told for c, told in form["columns"].items() if c in had[table]}
            return json.dumps(said).encode()
        return was if not name.startswith("tables/") or name[7:-7] in had else None

    _rewritten(potmark, earlier)
    status, said, wrong = potmark.here("import", "account.zip", **NEW)
    assert status == 0, (said, wrong)
    assert "all agree" in said
    assert potmark.here("upgrade", **NEW)[1] == "The database is up to date already.\n"
