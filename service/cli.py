"""The `potmark` command: found an account, serve it, look after its keys, check it, bring it up to date.

Nothing is asked interactively. What goes wrong foreseeably is one sentence on the error output and status 2.
"""

import argparse
import difflib
import json
import os
import sys
import time
import zoneinfo
from collections.abc import Callable, Iterable, Sequence
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path
from typing import Any, NoReturn

from marshmallow import ValidationError
from peewee import DatabaseError, InterfaceError, OperationalError

from schemas.fields import Text
from schemas.words import Role
from service import opening, serving
from service.config import MEANING, Settings, WrongSetting, read_settings
from service.database import connected, open_database, reading
from service.opening import Trouble
from service.operations.door import founding, people, shop
from service.operations.door.act import Act
from service.operations.door.people import KeyView, PersonView
from service.operations.door.refusals import Refusal
from service.operations.ledger.checking import check_account

DONE, DIFFERS, REFUSED = 0, 1, 2

_ABOUT = """\
Keeps a composites workshop's account of what went into what, and serves it over HTTP.

First steps:
  potmark demo --serve       look around in an invented workshop, without founding anything
  potmark init --site "Heron Yard" --zone Europe/Copenhagen --administrator "Ada Lund"
  potmark people add "Ida Holm" --role laminator
  potmark keys add --person "Ida Holm"
  potmark serve
"""


class _Parser(argparse.ArgumentParser):
    def error(self, message: str) -> NoReturn:
        raise Trouble(f"{message[:1].upper()}{message[1:]}; `{self.prog} --help` says more.")


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; the number is the exit status."""
    settings = Settings()
    os.umask(0o077)  # an account and its keys are for the service's own user
    try:
        asked = _parser().parse_args(arguments)
        settings = read_settings()
        command: Callable[[argparse.Namespace, Settings], int] = asked.command
        return command(asked, settings)
    except (WrongSetting, Trouble, Refusal) as trouble:
        return _say(str(trouble))
    except (OperationalError, InterfaceError) as error:
        return _say(opening.in_words(error, settings))
    except DatabaseError as error:
        if type(error) is not DatabaseError:
            raise  # a statement of ours is wrong, which is not foreseeable
        return _say(opening.in_words(error, settings))
    except BrokenPipeError:
        # Whoever read our output has gone; let Python's own last flush go nowhere.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return REFUSED
    except KeyboardInterrupt:
        return 130


def _say(sentence: str) -> int:
    print(f"potmark: {sentence}", file=sys.stderr)
    return REFUSED


def _init(asked: argparse.Namespace, settings: Settings) -> int:
    site, administrator = _name("--site", asked.site), _name("--administrator", asked.administrator)
    zone = _zone(asked.zone)
    file = opening.sqlite_file(settings.database)
    if file is not None and not file.parent.is_dir():
        raise Trouble(f"There is no folder {file.parent} to make the database in.")
    open_database(settings.database)
    with connected():
        if founding.is_founded():
            raise Trouble("There is an account in this database already; nothing was changed.")
        founding.migrate()
        founded = founding.found(site=site, zone=zone, administrator=administrator, at=datetime.now(UTC))
    _note(f"{site} is founded. The key of {administrator}, administrator, shown this once:")
    print(founded.key)
    return DONE


def _serve(asked: argparse.Namespace, settings: Settings) -> int:
    opening.open_account(settings)
    serving.check_address(settings.bind)
    serving.serve(
        settings, ready=lambda: _note(f"Potmark answers at {serving.address(settings.bind)} (Ctrl-C stops it).")
    )
    return DONE


def _demo(asked: argparse.Namespace, settings: Settings) -> int:
    from service.demo import keeping

    if asked.serve:
        serving.check_address(settings.bind)
    workshop = keeping.prepare(Path(asked.folder), fresh=asked.fresh, progress=_note)

    def show() -> None:
        told = workshop.described(serving.address(settings.bind))
        print(json.dumps(told, ensure_ascii=False) if asked.json else keeping.in_words(told), flush=True)

    if asked.serve:
        serving.serve(workshop.settings(settings), ready=show)
    else:
        show()
    return DONE


def _people_add(asked: argparse.Namespace, settings: Settings) -> int:
    opening.open_account(settings)
    name = _name("NAME", asked.name)
    with connected():
        view = people.add_person(_act(), name=name, roles=[Role(role) for role in asked.role])
    print(f"{view.name} is person {view.id}: {', '.join(view.roles)}.")
    return DONE


def _people_list(asked: argparse.Namespace, settings: Settings) -> int:
    opening.open_account(settings)
    with reading():
        found = _all(people.list_people)
    rows = [(str(p.id), p.name, ", ".join(p.roles), "" if p.active else "no longer here") for p in found]
    _print_table(("person", "name", "roles", ""), rows)
    return DONE


def _keys_add(asked: argparse.Namespace, settings: Settings) -> int:
    opening.open_account(settings)
    with connected():
        if asked.person is not None:
            person = _person(_name("--person", asked.person))
            made, whose = people.add_key(_act(), person=person.id), person.name
        else:
            whose = _name("--system", asked.system, longest=60)
            made = people.add_key(_act(), system=whose)
    _note(f"Key {made.id}, of {whose}, shown this once:")
    print(made.secret)
    return DONE


def _keys_list(asked: argparse.Namespace, settings: Settings) -> int:
    opening.open_account(settings)
    with reading():
        names = {p.id: p.name for p in _all(people.list_people)}
        found: list[KeyView] = _all(people.list_keys)
    rows = []
    for key in found:
        whose = names[key.person] if key.person is not None else f"system {key.system}"
        revoked = f"{key.revoked_at:%Y-%m-%d}" if key.revoked_at else ""
        rows.append((str(key.id), whose, f"{key.created_at:%Y-%m-%d}", revoked))
    _print_table(("key", "of", "made", "revoked"), rows)
    return DONE


def _keys_revoke(asked: argparse.Namespace, settings: Settings) -> int:
    opening.open_account(settings)
    with connected():
        people.revoke_key(_act(), key=asked.number)
    print(f"Key {asked.number} opens nothing any more.")
    return DONE


def _check(asked: argparse.Namespace, settings: Settings) -> int:
    opening.open_account(settings)
    began = time.monotonic()
    result = check_account()
    looked = (
        f"{result.items:,} items, {result.movements:,} movements, {result.entries:,} journal entries and "
        f"{result.documents:,} documents checked in {time.monotonic() - began:.1f} s"
    )
    if result.agrees:
        print(f"{looked}: all agree.")
        return DONE
    print(f"{looked}: {result.differences:,} {'difference' if result.differences == 1 else 'differences'}.")
    for difference in result.first:
        print(f"- {difference.sentence}")
    if result.differences > len(result.first):
        print(f"… and {result.differences - len(result.first):,} more.")
    return DIFFERS


def _upgrade(asked: argparse.Namespace, settings: Settings) -> int:
    opening.open_founded(settings)
    applied = founding.migrate()
    for step in applied:
        print(f"Applied {step}.")
    if not applied:
        print("The database is up to date already.")
    return DONE


def _act() -> Act:
    """An act from the command line: whoever may run it here acts as the shop's administrator."""
    administrator = next((p for p in _all(people.list_people) if p.active and Role.ADMINISTRATOR in p.roles), None)
    if administrator is None:
        raise Trouble("Nobody active here has the administrator's role, so there is nobody to act for.")
    now = datetime.now(UTC)
    return Act(
        person=administrator.id,
        roles=frozenset(Role(role) for role in administrator.roles),
        site=shop.the_site().id,
        occurred_at=now,
        recorded_at=now,
        device="command line",
    )


def _person(name: str) -> PersonView:
    everyone: list[PersonView] = _all(people.list_people)
    found = next((p for p in everyone if p.name.casefold() == name.casefold()), None)
    if found is None:
        raise Trouble(f'There is no {name} here; `potmark people add "{name}" --role …` adds a person.')
    if not found.active:
        raise Trouble(f"{found.name} no longer works here.")
    return found


def _all(listing: Callable[..., Any]) -> list[Any]:
    found: list[Any] = []
    after = None
    while True:
        page = listing(after=after, limit=200)
        found += page.rows
        if page.next_after is None:
            return found
        after = page.next_after


def _name(option: str, given: str, *, longest: int = 80) -> str:
    try:
        return str(Text(longest=longest).deserialize(given))
    except ValidationError as error:
        raise Trouble(f"{option}: {error.messages[0]}") from None


def _zone(given: str) -> str:
    known = zoneinfo.available_timezones()
    if given not in known:
        near = difflib.get_close_matches(given, sorted(known), n=3)
        raise Trouble(
            f"--zone: {given} is no time zone of the IANA database; "
            + (f"did you mean {' or '.join(near)}?" if near else "write it as in Europe/Copenhagen.")
        )
    return given


def _note(sentence: str) -> None:
    """Say something to the reader without putting it into a pipe."""
    print(sentence, file=sys.stderr, flush=True)


def _print_table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> None:
    lines = [heads, *rows]
    widths = [max(len(line[i]) for line in lines) for i in range(len(heads))]
    for line in lines:
        print("  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)).rstrip())


def _number(text: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) < 16):
        raise argparse.ArgumentTypeError(f"{text} is not the number of a key")
    return int(text)


def _parser() -> argparse.ArgumentParser:
    width = max(len(name) for name in MEANING)
    settings = "\n".join(f"  {name.ljust(width)}  {text}" for name, text in MEANING.items())
    parser = _Parser(
        prog="potmark",
        description=_ABOUT,
        epilog=f"Settings come from the environment:\n{settings}",
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="version", version=f"potmark {version('potmark')}")
    commands = parser.add_subparsers(title="Commands", metavar="COMMAND", required=True)

    def add(within: Any, name: str, help: str, command: Callable[..., int]) -> argparse.ArgumentParser:
        made: argparse.ArgumentParser = within.add_parser(name, help=help, description=help, allow_abbrev=False)
        made.set_defaults(command=command)
        return made

    init = add(commands, "init", "Start a new account: tables, site, administrator and their key.", _init)
    init.add_argument("--site", required=True, metavar="NAME", help="what the shop is called")
    init.add_argument("--zone", required=True, metavar="ZONE", help="its time zone, such as Europe/Copenhagen")
    init.add_argument("--administrator", required=True, metavar="NAME", help="who hands out keys")

    add(commands, "serve", "Serve the account over HTTP until SIGTERM or Ctrl-C.", _serve)

    demo = add(
        commands, "demo", "Build an invented workshop, apart from any real account, and say how to enter.", _demo
    )
    demo.add_argument("--serve", action="store_true", help="serve it as well, until Ctrl-C")
    demo.add_argument("--fresh", action="store_true", help="begin again instead of keeping what is there")
    demo.add_argument("--json", action="store_true", help="print keys and links as one JSON object")
    demo.add_argument("--folder", default=".demo", metavar="FOLDER", help="where it is kept (.demo)")

    named = commands.add_parser("people", help="Add and list people.", allow_abbrev=False)
    within = named.add_subparsers(title="Commands", metavar="COMMAND", required=True)
    one = add(within, "add", "Add a person.", _people_add)
    one.add_argument("name", metavar="NAME")
    one.add_argument(
        "--role", required=True, action="append", choices=[r.value for r in Role], help="repeat for several"
    )
    add(within, "list", "List people.", _people_list)

    keys = commands.add_parser("keys", help="Hand out, list and revoke keys.", allow_abbrev=False)
    within = keys.add_subparsers(title="Commands", metavar="COMMAND", required=True)
    key = add(within, "add", "Make a key for a person or a system; it is shown once.", _keys_add)
    whose = key.add_mutually_exclusive_group(required=True)
    whose.add_argument("--person", metavar="NAME", help="someone who is here already")
    whose.add_argument("--system", metavar="NAME", help="a program, which names the person it acts for at each act")
    add(within, "list", "List keys, without their secrets.", _keys_list)
    gone = add(within, "revoke", "Revoke a key at once.", _keys_revoke)
    gone.add_argument("number", metavar="NUMBER", type=_number, help="its number in `potmark keys list`")

    add(commands, "check", "Work the whole account out again from its history and prove the journal.", _check)
    add(commands, "upgrade", "Bring the database to the schema of this version; keep a backup first.", _upgrade)
    return parser
