"""Badges: a printed label that says who is at the tablet. A badge signs nothing."""

from dataclasses import dataclass

from schemas.words import Kind, State
from service.operations.door.operation import Work, operation
from service.operations.door.people import make_key, require_human
from service.operations.door.refusals import Unprocessable, WrongState
from service.operations.door.rows import find_row
from service.operations.ledger import ledger
from service.records.people import AccessKey, BrowserSession, Person


@dataclass(frozen=True, slots=True)
class BadgeView:
    """A badge, and whose it is.

    Attributes
    ----------
    key
        The key that it stands for; revoking that withdraws the badge as well.
    """

    code: str
    person: int
    name: str
    state: State
    key: int


@operation
def issue_badge(work: Work, *, person: int) -> BadgeView:
    """Issue a badge to a person. Its label is printed like any other; scanned in the shop, it says who taps."""
    row = find_row(Person, person, "person")
    require_human(row)
    if not row.active:
        raise Unprocessable(f"{row.name} no longer works here.", way_out="Say that they do, then issue the badge.")
    item = ledger.new_item(work, Kind.BADGE, name=row.name, state=State.IN_USE)
    _, key = make_key(person=row.id, system=None, at=work.act.recorded_at, badge=item.code)
    work.note(badge=item.code, person=row.id, key=key.id)
    return BadgeView(item.code, row.id, row.name, State.IN_USE, key.id)


@operation
def withdraw_badge(work: Work, *, badge: str) -> BadgeView:
    """Withdraw a badge that was lost or given back; the browsers at which it was scanned forget it at once."""
    item = ledger.lock_one(work, badge, Kind.BADGE)
    key = AccessKey.get(AccessKey.badge == item.code)
    if item.state == State.WITHDRAWN or key.revoked_at is not None:
        raise WrongState(f"{item.code} is withdrawn already.")
    at = work.act.recorded_at
    ledger.set_state(work, item, State.WITHDRAWN)
    AccessKey.update(revoked_at=at).where(AccessKey.id == key.id).execute()
    lasting = (BrowserSession.key == key.id) & BrowserSession.ended_at.is_null()
    BrowserSession.update(ended_at=at).where(lasting).execute()
    work.note(badge=item.code, person=key.person_id, key=key.id)
    person = Person.get_by_id(key.person_id)
    return BadgeView(item.code, person.id, person.name, State.WITHDRAWN, key.id)
