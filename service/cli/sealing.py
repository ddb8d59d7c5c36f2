"""Commands on heads of the journal: sign the next one, compare with those kept elsewhere, say that of a restore."""

import json
import os
import shlex
import subprocess
import urllib.error
import urllib.request
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Protocol

import click

from service import opening
from service.cli.asking import DIFFERS, DONE, Command, machines_act, note
from service.config import Settings
from service.database import connected, reading
from service.opening import Trouble
from service.operations.ledger import heads
from service.operations.ledger.against import Anchor
from service.operations.ledger.following import CannotContinue, ChainEntry, next_head
from service.operations.ledger.sealed import (
    NotAHead,
    SignedHead,
    new_key,
    public_key_of,
    read_head,
    read_printed,
    sign_head,
)

_PAGE = 200


class Source(Protocol):
    """An account whose journal is followed: its entries from a number on, and where a signed head is handed in."""

    def entries(self, after: int) -> Iterator[ChainEntry]: ...
    def keep(self, signed: SignedHead) -> None: ...


class Here:
    """The account that POTMARK_DATABASE names."""

    def entries(self, after: int) -> Iterator[ChainEntry]:
        following: int | None = after
        while following is not None:
            with reading():
                page = heads.list_chain(after=following or None, limit=_PAGE)
            yield from (ChainEntry(row.seq, row.hash, row.body) for row in page.rows)
            following = page.next_after

    def keep(self, signed: SignedHead) -> None:
        act = machines_act()
        heads.keep_head(act, head=signed.text, signature=signed.signature, public_key=signed.public_key)


class Elsewhere:
    """An account that a service answers for, asked over HTTP with somebody's key."""

    def __init__(self, address: str, key: str) -> None:
        self._address, self._key = address.rstrip("/"), key

    def entries(self, after: int) -> Iterator[ChainEntry]:
        path: str | None = f"/v1/chain?since={after}&limit={_PAGE}"
        while path is not None:
            rows, path = self._ask(path)
            yield from (ChainEntry(row["seq"], row["hash"], row["body"]) for row in rows)

    def keep(self, signed: SignedHead) -> None:
        said = {"head": signed.text, "signature": signed.signature, "public_key": signed.public_key}
        self._ask("/v1/heads", json.dumps(said).encode())

    def _ask(self, path: str, body: bytes | None = None) -> tuple[Any, str | None]:
        headers = {"Authorization": f"Bearer {self._key}", "Content-Type": "application/json"}
        try:
            asked = urllib.request.Request(self._address + path, data=body, headers=headers)
            with urllib.request.urlopen(asked, timeout=60) as answer:
                link = answer.headers.get("Link", "")
                return json.load(answer), link.partition("<")[2].partition(">")[0] or None
        except urllib.error.HTTPError as error:
            raise Trouble(f"{self._address} answered {error.code}: {_detail(error)}") from None
        except (urllib.error.URLError, OSError, ValueError) as error:
            said = getattr(error, "reason", None) or error
            raise Trouble(f"{self._address} cannot be asked: {said}.") from None


def _detail(error: urllib.error.HTTPError) -> str:
    try:
        return str(json.load(error)["detail"])
    except (ValueError, KeyError, TypeError):
        return error.reason or "no reason given."


@click.command(cls=Command)
@click.option("--folder", default="heads", metavar="FOLDER", show_default=True, help="Where the signed heads are kept.")
@click.option("--service", metavar="ADDRESS", help="Follow the account behind this address instead of the database.")
@click.option(
    "--access",
    metavar="FILE",
    help="With --service: a file that holds a key of the service, that of a lead, of quality or an administrator.",
)
@click.option("--then", "command", metavar="COMMAND", help="Run this with the file of the new head as its last word.")
@click.pass_obj
def seal(settings: Settings, folder: str, service: str | None, access: str | None, command: str | None) -> int:
    """Sign how far the journal has come.

    It has to continue the last head in the folder: everything that was written since then is worked out again, and a
    journal that was cut or written anew is not signed. Best run on another machine, with --service, a key of its own in
    POTMARK_SEAL_KEY and the folder there. Nothing is signed while nothing has been written.
    """
    if (service is None) != (access is None):
        raise click.UsageError("--service and --access go together")
    key = _private_key(settings)
    own = _own_heads(Path(folder), public_key_of(key))
    if service is not None and access is not None:
        source: Source = Elsewhere(service, _word_in(access))
        return _seal(source, key, own, Path(folder), command)
    opening.open_account(settings)
    with connected():
        return _seal(Here(), key, own, Path(folder), command)


def _seal(source: Source, key: bytes, own: list[SignedHead], folder: Path, command: str | None) -> int:
    try:
        head = next_head(source.entries, [signed.head for signed in own], at=datetime.now(UTC).replace(microsecond=0))
    except CannotContinue as trouble:
        print(f"Not signed: {trouble}")
        return DIFFERS
    if head is None:
        print(f"Nothing was written since head {own[-1].head.number}; there is nothing to sign.")
        return DONE
    signed = sign_head(head, key)
    file = _keep_file(folder, signed)
    source.keep(signed)
    print(file)
    if command is None:
        return DONE
    done = subprocess.run([*shlex.split(command), str(file)], check=False)
    if done.returncode:
        note(f"{command} ended with status {done.returncode}; the head is in {file} all the same.")
        return DIFFERS
    return DONE


def _keep_file(folder: Path, signed: SignedHead) -> Path:
    file = folder / f"head-{signed.head.number:012d}.json"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        building = file.with_suffix(".part")
        building.write_text(signed.as_file(), "utf-8")
        os.replace(building, file)
    except OSError as error:
        raise Trouble(f"The head cannot be kept in {folder}: {error.strerror or error}.") from None
    return file


def _own_heads(folder: Path, public_key: str) -> list[SignedHead]:
    """The heads that this signer signed before, in their order."""
    found = []
    for file in sorted(folder.glob("head-*.json")) if folder.is_dir() else ():
        signed = head_in(file)
        if signed.public_key != public_key:
            raise Trouble(f"{file} is signed with another key than is used now; give each key a folder of its own.")
        found.append(signed)
    return sorted(found, key=lambda signed: signed.head.number)


def head_in(file: Path) -> SignedHead:
    """The head that a file holds; what is none is said in a sentence."""
    try:
        return read_head(file.read_text("utf-8"))
    except NotAHead as wrong:
        raise Trouble(f"{file}: {wrong}") from None
    except (OSError, UnicodeDecodeError) as error:
        raise Trouble(f"{file} cannot be read: {getattr(error, 'strerror', None) or 'it is no text'}.") from None


def anchors(given: tuple[str, ...]) -> list[Anchor]:
    """Heads from elsewhere: files of signed heads, or what somebody typed from paper."""
    found = []
    for each in given:
        file = Path(each)
        if file.is_file():
            found.append(Anchor.of(each, head_in(file)))
            continue
        try:
            number, figures = read_printed(each)
        except NotAHead as wrong:
            raise Trouble(str(wrong)) from None
        found.append(Anchor("typed", number, figures))
    return found


def _private_key(settings: Settings) -> bytes:
    file = opening.seal_key_file(settings)
    try:
        key = bytes.fromhex(file.read_text("ascii").strip())
    except OSError as error:
        said = f"The key to sign with, {file}, cannot be read: {error.strerror}; `potmark init` makes it."
        raise Trouble(said) from None
    except ValueError:
        key = b""
    if len(key) != 32:
        raise Trouble(f"{file} does not hold a key: 64 figures, as `potmark init` writes them.")
    return key


def public_key(settings: Settings) -> str | None:
    """The public half of this machine's key, if there is one here."""
    return public_key_of(_private_key(settings)) if opening.seal_key_file(settings).is_file() else None


def make_key_file(settings: Settings) -> Path:
    """The key that heads are signed with, in a file for this user alone; one that is there already is kept."""
    file = opening.seal_key_file(settings)
    if not file.exists():
        try:
            with open(file, "x", encoding="ascii", opener=lambda name, flags: os.open(name, flags, 0o600)) as out:
                out.write(new_key().hex() + "\n")
        except OSError as error:
            raise Trouble(f"The key for heads of the journal cannot be written to {file}: {error.strerror}.") from None
    return file


def _word_in(name: str) -> str:
    try:
        return Path(name).read_text("utf-8").strip()
    except (OSError, UnicodeDecodeError) as error:
        raise Trouble(f"{name} cannot be read: {getattr(error, 'strerror', None) or 'it is no text'}.") from None


@click.command(cls=Command)
@click.option("--why", required=True, help="What happened, and which copy it was restored from.")
@click.pass_obj
def restored(settings: Settings, why: str) -> int:
    """Say in the journal that the account was restored from a backup.

    A restore looks like a cut: heads newer than the copy do not hold any more. This says so before anyone asks.
    """
    opening.open_account(settings)
    with connected():
        view = heads.declare_restored(replace(machines_act(), why=why))
    print(f"The journal says now that the account was restored; the copy ended with entry {view.last_entry}.")
    return DONE
