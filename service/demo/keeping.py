"""The invented workshop on disk: built once into a folder of its own, and what a newcomer is told about it."""

import fcntl
import json
import os
import shlex
from collections.abc import Callable
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from service.config import Settings, signing_files
from service.database import database, open_database
from service.opening import Trouble
from service.operations.door import founding

# What can be opened without a key.
_OPEN = frozenset(
    {
        "api_documentation",
        "container_page",
        "expired_container_page",
        "partner_container_page",
        "weigh_page",
        "board_page",
    }
)


@dataclass(frozen=True, slots=True)
class Workshop:
    """A demo workshop that is there: its database and what its builder said of it (keys, links, the failed part).

    ``held`` keeps anyone from building it anew, for as long as this process or one that it forked lives.
    """

    file: Path
    told: dict[str, Any]
    held: int

    def settings(self, settings: Settings) -> Settings:
        # An invented workshop is open to whoever stands in the same network as it.
        network = settings.shop_network or "127.0.0.0/8,::1/128,10.0.0.0/8,172.16.0.0/12,192.168.0.0/16"
        own = {"signing_key": "", "signing_certificate": "", "secrets_key": ""}
        return replace(settings, database=_url(self.file), shop_network=network, **own)  # type: ignore[arg-type]

    def described(self, address: str) -> dict[str, Any]:
        links = {name: address + path for name, path in self.told["links"].items()}
        told = {name: self.told[name] for name in ("keys", "secrets", "badges", "failed_part")}
        return {"address": address, "links": links, **told}


def prepare(folder: Path, *, fresh: bool, progress: Callable[[str], None], story: str = "epoxy") -> Workshop:
    """The workshop in ``folder``: the one that is there, or a new one if there is none or a fresh one is asked for."""
    file, keys, telling = folder / "potmark.db", folder / "keys.json", folder / "building.json"
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        held = os.open(folder, os.O_RDONLY | os.O_CLOEXEC)
    except OSError as error:
        raise Trouble(f"The demo workshop cannot be kept in {folder}: {error.strerror or error}.") from None
    _hold(held, fcntl.LOCK_SH, folder)
    if not fresh and file.is_file() and keys.is_file():
        return _kept(file, keys, held)
    _hold(held, fcntl.LOCK_EX, folder)
    if file.exists() and not (keys.is_file() or telling.is_file()):
        os.close(held)
        raise Trouble(f"{file} is no demo workshop, and one built here would take its place; name another --folder.")
    try:
        # Built under other names, so that one which was interrupted is never taken for the whole; its keys are there
        # before it is and take their name last, so that it is never taken for somebody's own account either.
        building = folder / "building.db"
        _remove(building)
        summary = _build(building, progress, story)
        _write_for_me_alone(telling, json.dumps(summary, ensure_ascii=False, indent=2))
        keys.unlink(missing_ok=True)
        _remove(file)
        os.replace(building, file)
        os.replace(telling, keys)
    except OSError as error:
        raise Trouble(f"The demo workshop cannot be kept in {folder}: {error.strerror or error}.") from None
    _hold(held, fcntl.LOCK_SH, folder)
    return _signing(Workshop(file=file, told=summary, held=held))


def _signing(workshop: Workshop) -> Workshop:
    """The workshop with a key beside it that its papers are signed with when they are issued."""
    from service.reports.issued.signer import keep_signer

    try:
        keep_signer("Heron Yard", *signing_files(Settings(database=_url(workshop.file))), at=datetime.now(UTC))
    except OSError as error:
        raise Trouble(f"The demo workshop's signing key cannot be kept: {error.strerror or error}.") from None
    return workshop


def _hold(folder: int, how: int, name: Path) -> None:
    """Hold the folder, shared to use the workshop and alone to build it; the system lets go at the holder's death."""
    try:
        fcntl.flock(folder, how | fcntl.LOCK_NB)
    except BlockingIOError:
        os.close(folder)
        doing = "is being built" if how == fcntl.LOCK_SH else "is in use"
        raise Trouble(
            f"The demo workshop in {name} {doing} by another Potmark; stop that one first (Ctrl-C where it runs)."
        ) from None


def _kept(file: Path, keys: Path, held: int) -> Workshop:
    again = "--fresh begins again"
    try:
        told = json.loads(keys.read_text("utf-8"))
    except (OSError, ValueError):
        raise Trouble(f"What was kept of the demo workshop in {keys} cannot be read; {again}.") from None
    open_database(_url(file))
    try:
        of_this_version = not (founding.pending_steps() or founding.unknown_steps())
    finally:
        database.close_all()
    if not of_this_version:
        raise Trouble(f"The demo workshop in {file.parent} was built by another version of Potmark; {again}.")
    return _signing(Workshop(file=file, told=told, held=held))


def _build(file: Path, progress: Callable[[str], None], story: str) -> dict[str, Any]:
    from service.demo import STORIES

    summary = STORIES[story](_url(file), datetime.now(UTC).date(), progress)
    # Closing the last connection folds SQLite's write-ahead log into the file.
    database.close_all()
    return asdict(summary)


def in_words(told: dict[str, Any], *, served: bool) -> str:
    """Keys and links for a person: what opens in a browser, and what a terminal can fetch, once it is served."""
    address, keys, links = told["address"], told["keys"], told["links"]
    widest = max(len(role) for role in keys)
    wide = max(len(name) for name in links)
    behind = {name: link for name, link in links.items() if name not in _OPEN}
    lines = [
        f"The demo workshop {'answers' if served else 'is built; the same with --serve lets it answer'} at {address}",
        "",
        "Keys, one for each role:",
        *(f"  {role.ljust(widest)}  {key}" for role, key in keys.items()),
        "",
        "What they sign with, when a page or POST /v1/signing asks for it:",
        *(f"  {role.ljust(widest)}  {secret}" for role, secret in told["secrets"].items()),
        "",
        "Badges, to be scanned or typed at a page:",
        *(f"  {role.ljust(widest)}  {badge}" for role, badge in told["badges"].items()),
        "",
        "Open to all:",
        *(f"  {_label(name).ljust(wide)}  {link}" for name, link in links.items() if name in _OPEN),
        "",
        f"In a browser: open {address}/enter, give the quality key, then open these",
        f"(part {told['failed_part']} is the one that failed):",
        *(f"  {_label(name).ljust(wide)}  {link}" for name, link in behind.items()),
        "",
        "In a terminal:",
        f"  KEY={keys['quality']}",
        *(
            f'  curl -H "Authorization: Bearer $KEY" {shlex.quote(link)} -o {_file(name, link)}'
            for name, link in behind.items()
            if link.startswith(f"{address}/v1/")
        ),
    ]
    return "\n".join(lines)


def _file(name: str, link: str) -> str:
    return f"{name}.pdf" if link.endswith(".pdf") else f"{name}.json"


def _label(name: str) -> str:
    return name.replace("_", " ")


def _url(file: Path) -> str:
    return f"sqlite:///{file}"


def _remove(file: Path) -> None:
    for name in (file, Path(f"{file}-wal"), Path(f"{file}-shm")):
        name.unlink(missing_ok=True)


def _write_for_me_alone(file: Path, text: str) -> None:
    with open(file, "w", encoding="utf-8", opener=lambda name, flags: os.open(name, flags, 0o600)) as out:
        out.write(text + "\n")
