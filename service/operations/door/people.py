"""The site, its people and their keys."""

import secrets
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from hashlib import sha256
from typing import Annotated, Any

from schemas.words import Alone, Role, Scope, Weekday
from service.database import locked
from service.operations.door.formerly import require_reason
from service.operations.door.operation import Work, operation, within
from service.operations.door.refusals import AlreadyThere, NotAllowed, Unprocessable, WrongState
from service.operations.door.resetting import end_secret
from service.operations.door.rows import change_row, find_row
from service.operations.door.scopes import USUAL
from service.operations.door.shop import the_site
from service.operations.door.views import Page, page, page_of
from service.records.base import as_word, known
from service.records.people import MACHINE, AccessKey, Person, PersonRole, Site


@dataclass(frozen=True, slots=True)
class SiteView:
    """The shop and its settings.

    Attributes
    ----------
    secret_least
        So many characters a secret has at least with which a person signs.
    alone_in
        For what there is no second person here: records print what was done alone.
    alone_because
        Why there is none.
    weekdays
        On which days the shop works; null: on all of them.
    opens_at
        From when on, by the shop's clock; null: from midnight.
    closes_at
        Until when; null: until midnight.
    closed_on
        Days on which it is closed besides.
    mould_hours
        From the start of a part to its demoulding, where its mould says nothing else; null: not known.
    currency
        Of prices, by ISO 4217.
    """

    name: str
    zone: str
    late_after_min: int
    correction_share_pct: int
    secret_least: int
    alone_in: tuple[Alone, ...]
    alone_because: str | None
    weekdays: tuple[Weekday, ...] | None
    opens_at: str | None
    closes_at: str | None
    closed_on: tuple[date, ...]
    mould_hours: float | None
    currency: str | None
    version: int


@dataclass(frozen=True, slots=True)
class PersonView:
    """A person; `secret` is that of a key made in the same act, shown once.

    Attributes
    ----------
    is_system
        A program that acts in its own name; it has no roles, and signs nothing.
    """

    id: int
    name: str
    roles: tuple[Role, ...]
    active: bool
    is_system: bool
    version: int
    secret: str | None = None


@dataclass(frozen=True, slots=True)
class KeyView:
    """A key; its secret is shown once, when it is made, and never kept.

    Attributes
    ----------
    secret
        Shown once, when the key is made.
    badge
        The badge that stands for this key; it has no secret that anybody knows.
    claimed_at
        When its person made it one that nobody else has seen.
    acts_as
        In whose name a system's key acts: the system's own, which is among the people.
    scopes
        What a system's key opens.
    """

    id: int
    person: int | None
    system: str | None
    role: Role | None
    created_at: datetime
    revoked_at: datetime | None
    badge: str | None = None
    claimed_at: datetime | None = None
    acts_as: int | None = None
    scopes: tuple[Scope, ...] | None = None
    secret: str | None = None


def read_site() -> SiteView:
    """The shop and its settings."""
    return _view_site(the_site())


def _view_site(row: Site) -> SiteView:
    return SiteView(
        name=row.name,
        zone=row.zone,
        late_after_min=row.late_after_min,
        correction_share_pct=row.correction_share_pct,
        secret_least=row.secret_least,
        alone_in=tuple(Alone(one) for one in row.alone_in or ()),
        alone_because=row.alone_because,
        weekdays=None if row.weekdays is None else tuple(Weekday(day) for day in row.weekdays),
        opens_at=row.opens_at,
        closes_at=row.closes_at,
        closed_on=tuple(date.fromisoformat(day) for day in row.closed_on or ()),
        mould_hours=row.mould_hours,
        currency=row.currency,
        version=row.version,
    )


@operation
def change_site(work: Work, *, version: int, **changes: Annotated[Any, Site]) -> SiteView:
    """Change the shop's settings."""
    require_reason(work, "a setting of the shop")
    if "alone_in" in changes:
        changes["alone_because"] = work.act.why if changes["alone_in"] else None
    if "closed_on" in changes:
        changes["closed_on"] = sorted({day.isoformat() for day in changes["closed_on"]})
    opens, closes = (changes.get(name, getattr(work.site, name)) for name in ("opens_at", "closes_at"))
    if opens is not None and closes is not None and closes <= opens:
        raise Unprocessable(
            f"The shop opens at {opens} and closes at {closes}; it has to close later.",
            pointer="/closes_at" if "closes_at" in changes else "/opens_at",
        )
    change_row(work, work.site, version, changes)
    return _view_site(work.site)


@operation
def add_person(work: Work, *, name: str, roles: Sequence[Role], with_key: bool = False) -> PersonView:
    """Add a person with one or several roles; with their key in the same act if asked, which is shown once."""
    if with_key and work.act.idempotency_key is not None:
        raise Unprocessable("A key's secret cannot be shown twice; send no Idempotency-Key here.")
    other = Person.get_or_none(Person.name == name)
    if other is not None:
        way_out = "Add something that tells the two apart."
        raise AlreadyThere(f"There is a {name} already.", way_out=way_out, person=other.id)
    row = Person.create(name=name, since=work.act.occurred_at)
    _set_roles(row, roles)
    work.note(person=row.id, name=name, roles=roles)
    secret = within(work, add_key, person=row.id).secret if with_key else None
    return replace(view_person(row), secret=secret)


@operation
def change_person(
    work: Work, *, person: int, version: int, roles: Sequence[Role] | None = None, **changes: Annotated[Any, Person]
) -> PersonView:
    """Change a person's name, roles, or whether they still work here."""
    row = find_row(Person, person, "person")
    if roles is not None:
        require_human(row, "/roles")
    if (roles is not None and Role.ADMINISTRATOR not in roles) or changes.get("active") is False:
        _refuse_without_administrator(row)
    if changes.get("name", row.name) != row.name:
        require_reason(work, f"the name of {row.name}")
    held = _roles_of([row.id])[row.id]
    if roles is not None:
        work.note(person=row.id, roles={"before": tuple(held), "after": roles})
        changes = changes or {"name": row.name}
    change_row(work, row, version, changes)
    if roles is not None:
        PersonRole.delete().where(PersonRole.person == row.id).execute()
        _set_roles(row, roles)
        held = sorted(dict.fromkeys(roles))
    return view_person(row, held)


def _refuse_without_administrator(leaving: Person) -> None:
    """Somebody has to be able to hand out keys: the last administrator keeps the role until another one has it."""
    administrators = list(
        locked(
            Person.select(Person)
            .join(PersonRole, on=(PersonRole.person == Person.id))
            .where((PersonRole.role == Role.ADMINISTRATOR) & Person.active)
            .order_by(Person.id)
        )
    )
    if [person.id for person in administrators] == [leaving.id]:
        raise WrongState(
            f"{leaving.name} is the last administrator here; without one, nobody could hand out a key.",
            way_out="Give the role to someone else first.",
        )


@operation
def recover_administrator(work: Work, *, person: int) -> KeyView:
    """Make someone who is here an administrator again, with a new key, from the machine itself.

    For the day when the last administrator has lost the key or has left. It stands in the journal like any other act.
    """
    row = find_row(Person, person, "person")
    require_human(row)
    if not row.active:
        change_row(work, row, row.version, {"active": True})
    held = {r.role for r in PersonRole.select().where(PersonRole.person == row.id)}
    if Role.ADMINISTRATOR not in held:
        PersonRole.create(person=row, role=Role.ADMINISTRATOR)
    secret, key = make_key(person=row.id, system=None, at=work.act.recorded_at)
    # Whoever lost the key may have lost the secret, too; and here there may be no two others to set it anew.
    had = end_secret(row.id, work.act.recorded_at)
    work.note(person=row.id, roles=sorted({*held, Role.ADMINISTRATOR}), key=key.id, recovered=True, secret_ended=had)
    return _view_key(key, secret)


def _set_roles(row: Person, roles: Sequence[Role]) -> None:
    PersonRole.insert_many([{"person": row.id, "role": role} for role in dict.fromkeys(roles)]).execute()


def read_person(person: int) -> PersonView:
    """One person."""
    return view_person(find_row(Person, person, "person"))


def list_people(*, after: int | None, limit: int) -> Page[PersonView]:
    """List people, and the systems that act in their own names."""
    query = Person.select().where(Person.id != MACHINE)
    return page_of(query, Person.id, after=after, limit=limit, views=_view_people)


def _view_people(rows: Sequence[Person]) -> Iterator[PersonView]:
    held = _roles_of([row.id for row in rows])
    return (view_person(row, held[row.id]) for row in rows)


def _roles_of(people: Sequence[int]) -> dict[int, list[Role]]:
    found: dict[int, list[Role]] = {person: [] for person in people}
    rows = PersonRole.select().where(PersonRole.person.in_(list(people))).order_by(PersonRole.role)
    for row in rows if people else ():
        found[row.person_id].append(as_word(Role, row.role))
    return found


def view_person(row: Person, held: Sequence[Role] | None = None) -> PersonView:
    """A person; ``held`` are their roles, where they are at hand."""
    roles = _roles_of([row.id])[row.id] if held is None else held
    return PersonView(id=row.id, name=row.name, roles=tuple(roles), active=row.active, is_system=row.is_system,
                      version=row.version)  # fmt: skip


@operation
def add_key(
    work: Work, *, person: int | None = None, system: str | None = None, scopes: Sequence[Scope] | None = None
) -> KeyView:
    """Make a key for a person, or for a system, which acts in its own name within the scopes of its key.

    The secret is shown once.
    """
    if (person is None) == (system is None):
        raise Unprocessable("A key belongs to a person or to a system; give one of the two.", pointer="/person")
    if work.act.idempotency_key is not None:
        raise Unprocessable("A key's secret cannot be shown twice; send no Idempotency-Key here.")
    if person is not None:
        if scopes is not None:
            raise Unprocessable("A person has roles; scopes are those of a system's key.", pointer="/scopes")
        require_human(find_row(Person, person, "person", pointer="/person"), "/person")
        secret, row = make_key(person=person, system=None, at=work.act.recorded_at)
        work.note(key=row.id, person=person)
        return _view_key(row, secret)
    opens = sorted(set(USUAL if scopes is None else scopes))
    itself = _system_called(known(system), work.act.occurred_at)
    secret, row = make_key(person=None, system=system, at=work.act.recorded_at, acts_as=itself.id, scopes=opens)
    work.note(key=row.id, system=system, acts_as=itself.id, scopes=opens)
    return _view_key(row, secret)


def require_human(row: Person, pointer: str | None = None) -> None:
    """A system has neither roles, nor a badge, nor a key of a person."""
    if row.is_system:
        raise Unprocessable(
            f"{row.name} is a system; what it may do are the scopes of its key.",
            way_out="Make a key for the system by its name.",
            pointer=pointer,
        )


def _system_called(name: str, at: datetime) -> Person:
    """The system of that name, which a new key of it goes on being."""
    row = Person.get_or_none(Person.name == name)
    if row is None:
        return Person.create(name=name, is_system=True, since=at)
    if not row.is_system or row.id == MACHINE:
        raise AlreadyThere(f"There is a person {name} already.", way_out="Call the system otherwise.", person=row.id)
    if not row.active:
        raise WrongState(f"{name} is said to be no longer here.", way_out="Say that it is, then make the key.")
    return row


def make_key(
    *,
    person: int | None,
    system: str | None,
    at: datetime,
    badge: str | None = None,
    acts_as: int | None = None,
    scopes: Sequence[Scope] | None = None,
) -> tuple[str, AccessKey]:
    """A new secret of 256 random bits and its row, which keeps only the SHA-256."""
    secret = secrets.token_urlsafe(32)
    row = AccessKey.create(
        digest=_digest(secret),
        person=person,
        system=system,
        role=Role.INTEGRATOR if system is not None else None,
        created_at=at,
        badge=badge,
        acts_as=acts_as,
        scopes=scopes,
    )
    return secret, row


def claim(work: Work, row: AccessKey) -> KeyView:
    """Make a key that was handed out its person's own: what somebody else has seen opens nothing any more."""
    if row.claimed_at is not None:
        raise WrongState("This key is yours alone already.")
    row.claimed_at = work.act.recorded_at
    secret = secrets.token_urlsafe(32)
    AccessKey.update(digest=_digest(secret), claimed_at=row.claimed_at).where(AccessKey.id == row.id).execute()
    work.note(key=row.id, claimed=True)
    return _view_key(row, secret)


def _digest(secret: str) -> str:
    return sha256(secret.encode()).hexdigest()


@operation
def revoke_key(work: Work, *, key: int) -> KeyView:
    """Revoke a key at once."""
    row = find_row(AccessKey, key, "key")
    if row.revoked_at is not None:
        raise WrongState(f"Key {key} is revoked already.")
    if row.id == work.act.key:
        raise NotAllowed("This is the key you came in with; revoke it with another one.")
    AccessKey.update(revoked_at=work.act.recorded_at).where(AccessKey.id == key).execute()
    row.revoked_at = work.act.recorded_at
    work.note(key=key, revoked=True)
    return _view_key(row)


def list_keys(*, after: int | None, limit: int) -> Page[KeyView]:
    """List keys, without their secrets."""
    return page(AccessKey.select(), AccessKey.id, after=after, limit=limit, view=_view_key)


def _view_key(row: AccessKey, secret: str | None = None) -> KeyView:
    return KeyView(
        id=row.id,
        person=row.person_id,
        system=row.system,
        role=as_word(Role, row.role),
        created_at=row.created_at,
        revoked_at=row.revoked_at,
        badge=row.badge,
        claimed_at=row.claimed_at,
        acts_as=row.acts_as_id,
        scopes=tuple(Scope(scope) for scope in row.scopes) if row.scopes is not None else None,
        secret=secret,
    )
