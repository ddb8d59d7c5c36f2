"""Heads signed by the command, here and from another machine; an account compared with them; a restore that is said."""

import json
import shutil
import sqlite3
from collections.abc import Callable
from pathlib import Path

from tests.cli.conftest import Server, Shell


def test_a_head_is_signed_kept_and_continued_and_a_cut_is_seen(potmark: Shell) -> None:
    potmark.init()
    key = potmark.folder / "potmark-seal.key"
    assert key.stat().st_mode & 0o077 == 0
    first = potmark.done("seal", "--folder", "kept")
    assert Path(first).name == "head-000000000001.json"
    assert "nothing to sign" in potmark.done("seal", "--folder", "kept"), "to keep a head is nothing new"
    copy = potmark.folder / "copy.db"
    with sqlite3.connect(potmark.folder / "potmark.db") as old, sqlite3.connect(copy) as new:
        old.backup(new)
    potmark.done("people", "add", "Ida Holm", "--role", "laminator")
    told = potmark.folder / "told"
    second = potmark.done("seal", "--folder", "kept", "--then", f"cp -t {_folder(told)}").splitlines()[0]
    assert [file.name for file in told.iterdir()] == [Path(second).name]
    said = potmark.done("check", "--against", first, "--against", second)
    assert said.count("The account continues from the head") == 2
    head = json.loads(json.loads((potmark.folder / second).read_text())["head"])
    assert head["before"]["number"] == 1
    typed = f"{head['number']} {head['hash'][:20]}"
    assert "continues from the head" in potmark.done("check", "--against", typed)

    shutil.copy(copy, potmark.folder / "potmark.db")
    for part in ("-wal", "-shm"):
        (potmark.folder / f"potmark.db{part}").unlink(missing_ok=True)
    cut = potmark("check", "--against", typed)
    assert (cut.returncode, "something was cut off" in cut.stdout) == (1, True)
    not_signed = potmark("seal", "--folder", "kept")
    assert (not_signed.returncode, "Not signed: the journal does not continue" in not_signed.stdout) == (1, True)
    potmark.done("restored", "--why", "the disk died; the copy of the night before")
    third = potmark.done("seal", "--folder", "kept")
    head = json.loads(json.loads((potmark.folder / third).read_text())["head"])
    assert head["abandoned"] == [int(typed.split()[0])], "the signer goes on, and says which head does not hold"


def _folder(path: Path) -> Path:
    path.mkdir()
    return path


def test_another_machine_follows_over_http_and_signs_with_a_key_of_its_own(
    potmark: Shell, serve: Callable[..., Server]
) -> None:
    access = potmark.init()
    server = serve()
    own = potmark.folder / "elsewhere"
    own.mkdir()
    (own / "access").write_text(access + "\n")
    (own / "key").write_text("07" * 32)
    asked = ("seal", "--folder", str(own / "heads"), "--service", server.address, "--access", str(own / "access"))
    done = potmark(*asked, POTMARK_SEAL_KEY=str(own / "key"))
    assert done.returncode == 0, done.stderr
    _, heads = server.call("/v1/heads", key=access)
    signed = json.loads(Path(done.stdout.strip()).read_text())
    assert [(h["head"], h["signature"]) for h in heads] == [(signed["head"], signed["signature"])]
    (own / "access").write_text("not a key")
    assert "answered 401" in potmark(*asked, POTMARK_SEAL_KEY=str(own / "key")).stderr


def test_what_is_no_head_and_no_key_is_said_in_a_sentence(potmark: Shell) -> None:
    potmark.founded()
    wrong = potmark.folder / "wrong.json"
    wrong.write_text("%PDF-1.7")
    assert "it is no JSON" in potmark.refused_here("check", "--against", str(wrong))
    wrong.write_text('{"head": "{}", "signature": "AAAA", "public_key": "AAAA"}')
    assert "cannot be read" in potmark.refused_here("check", "--against", str(wrong))
    assert "neither a file nor a head as it is printed" in potmark.refused_here("check", "--against", "12 xyz")
    assert "--service and --access go together" in potmark.refused_here("seal", "--service", "http://127.0.0.1:1")
    key = potmark.folder / "key"
    key.write_text("short")
    assert "does not hold a key" in potmark.refused_here("seal", POTMARK_SEAL_KEY=str(key))
    assert "cannot be read" in potmark.refused_here("seal", POTMARK_SEAL_KEY=str(potmark.folder / "none"))
