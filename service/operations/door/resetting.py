"""A secret that was forgotten or locked: another person unlocks it, two others let its person set a new one."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from service.operations.door.acts import ACTS
from service.operations.door.operation import Work, operation
from service.operations.door.others import who_else
from service.operations.door.refusals import SecondPersonRequired, Unprocessable, WrongState
from service.operations.door.rows import find_row
from service.records.people import Person, SecretReset, SecretTry, SigningKey


@dataclass(frozen=True, slots=True)
class ResetView:
    """Somebody's secret set anew: asked for by one person, agreed to by another.

    Attributes
    ----------
    asked_by
        Name of the person who asked for it.
    agreed_at
        From then on the person sets a new secret; until somebody else agrees the old one holds.
    agreed_by
        Name of the second person.
    """

    person: int
    why: str
    asked_at: datetime
    asked_by: str
    agreed_at: datetime | None
    agreed_by: str | None


@dataclass(frozen=True, slots=True)
class UnlockedView:
    """A person whose secret may be tried again.

    Attributes
    ----------
    failed_before
        How many wrong ones had been tried.
    """

    person: int
    failed_before: int


def key_of(person: int) -> SigningKey | None:
    return SigningKey.get_or_none((SigningKey.person == person) & SigningKey.ended_at.is_null())


def end_key(key: SigningKey, at: datetime) -> None:
    SigningKey.update(ended_at=at).where((SigningKey.id == key.id) & SigningKey.ended_at.is_null()).execute()


@operation
def unlock_secret(work: Work, *, person: int) -> UnlockedView:
    """Let somebody else's secret be tried again after too many wrong ones."""
    row = find_row(Person, person, "person")
    if row.id == work.act.person:
        raise SecondPersonRequired(
            "Nobody unlocks their own secret.", way_out=who_else(ACTS["unlock_secret"].roles, {row.id})
        )
    tried = SecretTry.get_or_none(SecretTry.person == row.id)
    failed = tried.failed if tried is not None else 0
    SecretTry.update(failed=0).where(SecretTry.person == row.id).execute()
    work.note(person=row.id, failed_before=failed)
    return UnlockedView(person=row.id, failed_before=failed)


@operation
def ask_secret_reset(work: Work, *, person: int) -> ResetView:
    """Ask that somebody may set a new secret who has forgotten theirs; another person has to agree."""
    row = find_row(Person, person, "person")
    if work.act.why is None:
        raise Unprocessable("Say why the secret has to be set anew.", pointer="/why", answer_with={"why": None})
    if row.id == work.act.person:
        raise SecondPersonRequired(
            "Two other people set a secret anew, never its own person.",
            way_out="Who knows theirs sets another one (POST /v1/secret).",
        )
    if key_of(row.id) is None:
        raise WrongState(f"{row.name} has no secret.", way_out="They set one themselves (POST /v1/secret).")
    if _open_reset(row.id) is not None:
        raise WrongState(f"That of {row.name} is asked for already.", way_out="A second person agrees to it.")
    reset = SecretReset.create(person=row, why=work.act.why, asked_at=work.act.recorded_at, asked_by=work.act.person)
    work.note(reset=reset.id, person=row.id)
    return _view_reset(reset)


@operation
def agree_secret_reset(work: Work, *, person: int) -> ResetView:
    """Agree, as a second person, that somebody sets a new secret: the old one signs nothing any more."""
    row = find_row(Person, person, "person")
    reset = _open_reset(row.id)
    if reset is None:
        raise WrongState(f"Nobody asked that the secret of {row.name} be set anew.", way_out="Ask for it first.")
    if work.act.person in (reset.asked_by_id, row.id):
        who = "who asked for it" if work.act.person == reset.asked_by_id else "whose secret it is"
        raise SecondPersonRequired(
            f"The one {who} cannot agree to it.",
            way_out=who_else(ACTS["agree_secret_reset"].roles, {reset.asked_by_id, row.id}),
        )
    at = work.act.recorded_at
    SecretReset.update(agreed_at=at, agreed_by=work.act.person).where(SecretReset.id == reset.id).execute()
    end_secret(row.id, at)
    work.note(reset=reset.id, person=row.id)
    return _view_reset(SecretReset.get_by_id(reset.id))


def end_secret(person: int, at: datetime) -> bool:
    """What a person had as a secret signs nothing any more; had they one?"""
    key = key_of(person)
    if key is not None:
        end_key(key, at)
    SecretTry.update(failed=0).where(SecretTry.person == person).execute()
    return key is not None


def _open_reset(person: int) -> SecretReset | None:
    return SecretReset.get_or_none((SecretReset.person == person) & SecretReset.agreed_at.is_null())


def last_reset(person: int) -> ResetView | None:
    agreed = (SecretReset.person == person) & SecretReset.agreed_at.is_null(False)
    row = SecretReset.select().where(agreed).order_by(SecretReset.id.desc()).first()
    return None if row is None else _view_reset(row)


def _view_reset(row: SecretReset) -> ResetView:
    named: Mapping[int, str] = {
        person.id: person.name for person in Person.select().where(Person.id.in_([row.asked_by_id, row.agreed_by_id]))
    }
    return ResetView(
        person=row.person_id, why=row.why, asked_at=row.asked_at, asked_by=named[row.asked_by_id],
        agreed_at=row.agreed_at, agreed_by=named[row.agreed_by_id] if row.agreed_by_id is not None else None,
    )  # fmt: skip
