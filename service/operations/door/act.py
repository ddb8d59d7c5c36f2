"""Who does something, when, and why: what every writing operation is told, and never looks up for itself."""

from dataclasses import dataclass, field
from datetime import datetime

from schemas.words import Role, Scope
from service.operations.door.expected import Expected
from service.operations.door.signatures import Signing
from service.records.people import MACHINE, MACHINE_NAME


@dataclass(slots=True)
class Outcome:
    """What is known of an act when it is done: the tag at which it left the part or lot that it answers with."""

    tag: str | None = None


@dataclass(frozen=True, slots=True)
class Act:
    """One act of one person.

    Attributes
    ----------
    person, roles : who acts, and with which roles.
    site : where.
    occurred_at, recorded_at : when it happened, and when the service was told; both in UTC.
    key : the access key that opened the door.
    signing : the key that their secret gives, if they have just given it.
    badge : a badge was scanned and no key was given; it says who taps.
    system : the system that acts, if one does, in its own name; a system signs nothing.
    scopes : what its key opens, if it came in with one.
    stated_at : when the caller said that it happened, if they said it; an age told by a waiting page is no statement.
    expects : what its caller has read of the thing that it is on; it is refused if that has changed.
    outcome : written when it is done.
    code_only : the caller wants no view of what the act left behind, only its code; for acts by the thousand.
    """

    person: int
    roles: frozenset[Role]
    site: int
    occurred_at: datetime
    recorded_at: datetime
    key: int | None = None
    system: str | None = None
    scopes: frozenset[Scope] | None = None
    device: str | None = None
    idempotency_key: str | None = None
    why: str | None = None
    stated_at: datetime | None = None
    signing: Signing | None = None
    badge: bool = False
    code_only: bool = False
    expects: Expected | None = None
    outcome: Outcome = field(default_factory=Outcome, compare=False, repr=False)

    @property
    def caller(self) -> str:
        """Whose idempotency keys these are: a person's or a system's, whichever access key they came in with."""
        return f"system {self.system}" if self.system is not None else f"person {self.person}"


def by_the_machine(site: int, at: datetime, *, device: str) -> Act:
    """An act of the service itself, in its own name: from the command line, or what it writes down by itself."""
    roles = frozenset({Role.ADMINISTRATOR})
    return Act(MACHINE, roles, site, occurred_at=at, recorded_at=at, system=MACHINE_NAME, device=device)
