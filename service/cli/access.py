"""Commands on who may come in: people, and keys of people and of programs."""

import click

from schemas.words import Role, Scope
from service import opening
from service.cli.asking import DONE, Command, Name, Number, every, machines_act, note, print_table
from service.config import Settings
from service.database import connected, reading
from service.opening import Trouble
from service.operations.door import people as acts
from service.operations.door.people import KeyView, PersonView


@click.group(no_args_is_help=False)
def people() -> None:
    """Add and list people."""


@people.command("add", cls=Command)
@click.argument("name", type=Name())
@click.option(
    "--role",
    "roles",
    required=True,
    multiple=True,
    type=click.Choice([role.value for role in Role]),
    help="Repeat it for several roles.",
)
@click.pass_obj
def add_person(settings: Settings, name: str, roles: tuple[str, ...]) -> int:
    """Add a person."""
    opening.open_account(settings)
    with connected():
        view = acts.add_person(machines_act(), name=name, roles=[Role(role) for role in roles])
    print(f"{view.name} is person {view.id}: {', '.join(view.roles)}.")
    return DONE


@people.command("recover", cls=Command)
@click.argument("name", type=Name())
@click.pass_obj
def recover(settings: Settings, name: str) -> int:
    """Make someone who is here an administrator again, with a new key.

    For a shop whose last administrator lost the key or left. Whoever may run this on the machine itself may do it; the
    journal says so.
    """
    opening.open_account(settings)
    with connected():
        person = _person(name, gone_too=True)
        made = acts.recover_administrator(machines_act(recovering=True), person=person.id)
    note(f"{person.name} is an administrator. Key {made.id}, shown this once:")
    print(made.secret)
    return DONE


@people.command("list", cls=Command)
@click.pass_obj
def list_people(settings: Settings) -> int:
    """List people."""
    opening.open_account(settings)
    with reading():
        found = every(acts.list_people)
    rows = [(str(p.id), p.name, ", ".join(p.roles), "" if p.active else "no longer here") for p in found]
    print_table(("person", "name", "roles", ""), rows)
    return DONE


@click.group(no_args_is_help=False)
def keys() -> None:
    """Hand out, list and revoke keys."""


@keys.command("add", cls=Command)
@click.option("--person", type=Name(), help="Someone who is here already.")
@click.option("--system", type=Name(60), help="A program, which acts in its own name.")
@click.option(
    "--scope",
    "scopes",
    multiple=True,
    type=click.Choice([scope.value for scope in Scope]),
    help="What a program's key opens; repeat it for several. All but goods in and registers, if left out.",
)
@click.pass_obj
def add_key(settings: Settings, person: str | None, system: str | None, scopes: tuple[str, ...]) -> int:
    """Make a key for a person or a system; it is shown once."""
    if (person is None) == (system is None):
        raise click.UsageError("Give --person or --system, one of the two")
    opening.open_account(settings)
    with connected():
        whose = _person(person) if person is not None else None
        opens = [Scope(scope) for scope in scopes] or None
        number = whose.id if whose is not None else None
        made = acts.add_key(machines_act(), person=number, system=system, scopes=opens)
    note(f"Key {made.id}, of {whose.name if whose is not None else system}, shown this once:")
    print(made.secret)
    return DONE


@keys.command("list", cls=Command)
@click.pass_obj
def list_keys(settings: Settings) -> int:
    """List keys, without their secrets."""
    opening.open_account(settings)
    with reading():
        names = {p.id: p.name for p in every(acts.list_people)}
        found: list[KeyView] = every(acts.list_keys)
    rows = []
    for key in found:
        whose = names[key.person] if key.person is not None else f"system {key.system}"
        revoked = f"{key.revoked_at:%Y-%m-%d}" if key.revoked_at else ""
        rows.append((str(key.id), whose, ", ".join(key.scopes or ()), f"{key.created_at:%Y-%m-%d}", revoked))
    print_table(("key", "of", "opens", "made", "revoked"), rows)
    return DONE


@keys.command("revoke", cls=Command)
@click.argument("number", type=Number("key"))
@click.pass_obj
def revoke_key(settings: Settings, number: int) -> int:
    """Revoke a key at once, by its number in `potmark keys list`."""
    opening.open_account(settings)
    with connected():
        acts.revoke_key(machines_act(), key=number)
    print(f"Key {number} opens nothing any more.")
    return DONE


def _person(name: str, *, gone_too: bool = False) -> PersonView:
    everyone: list[PersonView] = every(acts.list_people)
    found = next((p for p in everyone if p.name.casefold() == name.casefold()), None)
    if found is None:
        raise Trouble(f'There is no {name} here; `potmark people add "{name}" --role …` adds a person.')
    if not found.active and not gone_too:
        raise Trouble(f"{found.name} no longer works here.")
    return found
