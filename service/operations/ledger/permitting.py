"""Deviation permits (before an act) and concessions (after it): one person asks, another signs.

The job in hand need not wait for the signature; the release does.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from peewee import JOIN

from schemas.words import Alone, Decision, Kind, PermissionKind, Role
from service.operations.door.acts import ACTS
from service.operations.door.operation import Work, operation
from service.operations.door.refusals import Unprocessable, WrongState
from service.operations.door.rows import find_row
from service.operations.door.views import Page, page
from service.operations.ledger import ledger
from service.operations.ledger.flags import lift, place_hold_on
from service.operations.ledger.graph import closure
from service.operations.ledger.second import makers_of, require_second
from service.records.base import as_word, known
from service.records.items import Flag, Hold, Item, Permission
from service.records.journal import Deed
from service.records.lookups import another
from service.records.people import Person


@dataclass(frozen=True, slots=True)
class PermissionView:
    id: int
    kind: PermissionKind
    item: str
    reasons: tuple[str, ...]
    flags: tuple[int, ...]
    why: str
    until: datetime | None
    decision: Decision
    asked_by_id: int
    asked_by: str
    asked_at: datetime
    signed_by_id: int | None
    signed_by: str | None
    signed_at: datetime | None
    remark: str | None
    withdrawn_by_id: int | None
    withdrawn_by: str | None
    withdrawn_at: datetime | None
    withdrawn_because: str | None


# What answers a flag: a permit that was withdrawn still covers what was done under it.
COVERS = (Decision.PERMITTED, Decision.WITHDRAWN)


@operation
def ask_permission(
    work: Work, *, kind: PermissionKind, item: str, reasons: Sequence[str], until: datetime | None = None
) -> PermissionView:
    """Ask for a deviation permit before a use, or for a concession after something happened. `why` is needed."""
    found = ledger.lock_one(work, item)
    why = work.act.why
    if why is None:
        raise Unprocessable("Say on what grounds it should be permitted.", pointer="/why", answer_with={"why": None})
    if until is not None and until <= work.act.occurred_at:
        raise Unprocessable("until has to lie ahead.", pointer="/until")
    flags: list[int] = []
    if kind == PermissionKind.DEVIATION_PERMIT:
        if found.kind not in (Kind.CONTAINER, Kind.LOT):
            raise Unprocessable(
                "A deviation permit is for a container or a lot; what has happened already needs a concession.",
                pointer="/kind",
            )
        strange = [reason for reason in reasons if reason not in PERMITTABLE]
        if strange:
            raise Unprocessable(
                f"{strange[0]} is nothing that a permit could answer; there are {', '.join(sorted(PERMITTABLE))}.",
                pointer="/reasons",
            )
    else:
        flags = [f.id for f in open_flags([found.id]) if f.kind in set(reasons)]
        if not flags:
            raise Unprocessable(f"Nothing of that kind is open on {found.code}; look at its flags.", pointer="/reasons")
    return view_permission(_asked(work, kind, found, reasons, why, flags=flags, until=until))


def ask_permit(work: Work, item: Item, reasons: Sequence[str]) -> Permission:
    """Ask, within an act that says why, for the permit that its own flag is answered by once it is signed."""
    return _asked(work, PermissionKind.DEVIATION_PERMIT, item, reasons, known(work.act.why))


def _asked(
    work: Work,
    kind: PermissionKind,
    item: Item,
    reasons: Sequence[str],
    why: str,
    *,
    flags: Sequence[int] = (),
    until: datetime | None = None,
) -> Permission:
    row: Permission = Permission.create(
        kind=kind,
        item=item,
        reasons=list(dict.fromkeys(reasons)),
        flags=list(flags),
        why=why,
        until=until,
        decision=Decision.ASKED,
        asked_by=work.act.person,
        asked_at=work.act.occurred_at,
        asked_in=work.deed,
    )
    work.touch(item)
    work.note(permission=row.id, kind=kind, item=item.code, reasons=reasons)
    return row


@operation
def sign_permission(work: Work, *, permission: int, permitted: bool, remark: str | None = None) -> PermissionView:
    """Sign or refuse a permit or concession. Whoever asked, or did what it is about, cannot sign it."""
    row = find_row(Permission, permission, "permission")
    item = ledger.lock_one(work, row.item.code)
    if row.decision != Decision.ASKED:
        raise WrongState(f"{row.kind.capitalize()} {permission} is decided already: {row.decision}.")
    ledger.refuse_before(work, row.asked_at, f"{row.kind.capitalize()} {permission} was asked for")
    if permitted:
        _refuse_ended(row)
    _refuse_own(work, row, item)
    decision = Decision.PERMITTED if permitted else Decision.REFUSED
    signed = {
        "decision": decision,
        "signed_by": work.act.person,
        "signed_at": work.act.recorded_at,
        "signed_in": work.deed,
        "remark": remark,
    }
    Permission.update(signed).where(Permission.id == row.id).execute()
    for name, value in signed.items():
        setattr(row, name, value)
    work.touch(item)
    work.note(permission=row.id, decision=decision, remark=remark)
    if permitted:
        _let_go(work, row)
    else:
        _stop(work, row)
    return view_permission(row)


@operation
def withdraw_permission(work: Work, *, permission: int) -> PermissionView:
    """End a signed deviation permit before its time; `why` is needed. What was done under it stays covered."""
    row = find_row(Permission, permission, "permission")
    item = ledger.lock_one(work, row.item.code)
    why = work.act.why
    if why is None:
        raise Unprocessable("Say for what reason it is withdrawn.", pointer="/why", answer_with={"why": None})
    if row.kind != PermissionKind.DEVIATION_PERMIT:
        raise WrongState(
            f"Concession {permission} accepted something that has happened; there is nothing left to withdraw.",
            way_out="If it should not have been accepted, open a nonconformance: it holds at once.",
        )
    if row.decision != Decision.PERMITTED:
        raise WrongState(
            f"Deviation permit {permission} is {row.decision}; only a signed one can be withdrawn.",
            way_out="Sign it or refuse it." if row.decision == Decision.ASKED else "Nothing has to be done.",
        )
    ledger.refuse_before(work, known(row.signed_at), f"Deviation permit {permission} was signed")
    withdrawn = {
        "decision": Decision.WITHDRAWN,
        "withdrawn_by": work.act.person,
        "withdrawn_at": work.act.recorded_at,
        "withdrawn_in": work.deed,
        "withdrawn_because": why,
    }
    Permission.update(withdrawn).where(Permission.id == row.id).execute()
    for name, value in withdrawn.items():
        setattr(row, name, value)
    work.touch(item)
    work.note(permission=row.id, decision=Decision.WITHDRAWN)
    return view_permission(row)


def _refuse_ended(row: Permission) -> None:
    """A refusal ends what was asked earlier for the same thing: it cannot be signed any more."""
    later = Permission.select().where(
        (Permission.item == row.item_id)
        & (Permission.kind == row.kind)
        & (Permission.id > row.id)
        & (Permission.decision == Decision.REFUSED)
    )
    for other in later.order_by(Permission.id.desc()):
        same = set(row.flags) & set(other.flags) if row.flags else set(row.reasons) & set(other.reasons)
        if same:
            raise WrongState(
                f"{row.kind.capitalize()} {other.id} for the same was asked later and refused.",
                way_out="Ask anew, and say what has changed since.",
            )


def _refuse_own(work: Work, row: Permission, item: Item) -> None:
    """Whoever asked, did what was flagged, or mixed, laid or cured what it is about or is made of, does not sign."""
    doers = {row.asked_by_id}
    if row.flags:
        about = list(Flag.select(Flag.item, Deed.person).join(Deed).where(Flag.id.in_(row.flags)).tuples())
        flagged = {number for number, _ in about if number is not None}
        made_of = closure(flagged, back=True).values()
        doers |= {person for _, person in about} | makers_of(flagged.union(*made_of))
    require_second(
        work, Alone.PERMIT, doers, roles=ACTS["sign_permission"].roles, item=item,
        sentence="Whoever asked for it or did it cannot sign it.",
    )  # fmt: skip


def _let_go(work: Work, row: Permission) -> None:
    """A signed concession lifts the holds that its flags placed by themselves."""
    for hold in Hold.select().where(Hold.flag.in_(row.flags) & Hold.lifted_at.is_null()):
        lift(work, hold)


def _stop(work: Work, row: Permission) -> None:
    """A refused deviation permit stops what was made under it while it was only asked for.

    A refused concession ends an earlier one that was signed: what that one had let go is held again.
    """
    flags = list(
        Flag.select().where(Flag.permission == row.id)
        if row.kind == PermissionKind.DEVIATION_PERMIT
        else Flag.select().where(Flag.id.in_(_let_go_before(row)))
    )
    items = {f.item_id: f for f in flags}
    codes = [i.code for i in Item.select(Item.code).where(Item.id.in_(list(items)))]
    for item in sorted(ledger.lock(work, *codes).values() if codes else [], key=lambda i: i.id):
        reason = f"{row.kind.capitalize()} {row.id} was refused: {items[item.id].sentence}"
        place_hold_on(work, item, reason, flag=items[item.id].id)


def _let_go_before(row: Permission) -> list[int]:
    earlier = Permission.select().where(
        (Permission.item == row.item_id) & (Permission.kind == row.kind) & (Permission.id < row.id)
    )
    signed = [set(p.flags) for p in earlier.where(Permission.decision == Decision.PERMITTED)]
    again = set(row.flags) & set().union(*signed)
    holds = Hold.select(Hold.flag).where(Hold.flag.in_(list(again)) & Hold.lifted_at.is_null(False))
    return sorted({flag for (flag,) in holds.tuples()})


def answers_to(flags: Iterable[Flag]) -> dict[int, Permission | None]:
    """For each flag the permission that answers it: a signed one if there is, else one that is asked for.

    A concession that was asked later and refused ends the earlier ones. A permit that was withdrawn since still covers
    what was done under it (`COVERS`).
    """
    rows = list(flags)
    if not rows:
        return {}
    items = {f.item_id for f in rows}
    concessions = list(
        Permission.select().where((Permission.kind == PermissionKind.CONCESSION) & Permission.item.in_(items))
    )
    named = {f.permission for f in rows if f.permission}
    permits = {p.id: p for p in Permission.select().where(Permission.id.in_(named))} if named else {}
    answers: dict[int, Permission | None] = {}
    for flag in rows:
        about = [p for p in concessions if flag.id in p.flags]
        refused = max((p.id for p in about if p.decision == Decision.REFUSED), default=0)
        found = [p for p in about if p.id > refused]
        permit = permits.get(flag.permission or 0)
        if permit is not None and permit.decision != Decision.REFUSED:
            found.append(permit)
        found.sort(key=lambda p: (p.decision not in COVERS, p.id))
        answers[flag.id] = found[0] if found else None
    return answers


def open_flags(items: Iterable[int]) -> list[Flag]:
    """The stopping flags on these items that no signed permission answers."""
    flags = list(Flag.select().where(Flag.item.in_(list(items)) & (Flag.stops == True)).order_by(Flag.id))  # noqa: E712
    answers = answers_to(flags)
    return [f for f in flags if not covered(answers[f.id])]


def covered(answer: Permission | None) -> bool:
    """Is this answer a signed one, be it withdrawn for later uses? One that is only asked for covers nothing yet."""
    return answer is not None and answer.decision in COVERS


def named(answer: Permission) -> str:
    """A permission in a sentence, with whether it was withdrawn since."""
    since = ", withdrawn since for later use" if answer.decision == Decision.WITHDRAWN else ""
    return f"{answer.kind} {answer.id}{since}"


def list_permissions(
    *,
    after: int | None,
    limit: int,
    decision: Decision | None = None,
    kind: PermissionKind | None = None,
    item: str | None = None,
) -> Page[PermissionView]:
    """List permits and concessions, for instance those that wait for a signature."""
    asker, signer, ender = another(Person, "asker"), another(Person, "signer"), another(Person, "ender")
    query = (
        Permission.select(
            Permission, Item.id, Item.code, asker.id, asker.name, signer.id, signer.name, ender.id, ender.name
        )
        .join(Item)
        .switch(Permission)
        .join(asker, on=(Permission.asked_by == asker.id))
        .switch(Permission)
        .join(signer, JOIN.LEFT_OUTER, on=(Permission.signed_by == signer.id))
        .switch(Permission)
        .join(ender, JOIN.LEFT_OUTER, on=(Permission.withdrawn_by == ender.id))
    )
    if decision is not None:
        query = query.where(Permission.decision == decision)
    if kind is not None:
        query = query.where(Permission.kind == kind)
    if item is not None:
        query = query.where(Permission.item == ledger.find(item).id)
    return page(query, Permission.id, after=after, limit=limit, view=view_permission)


def read_permission(permission: int) -> PermissionView:
    """One permit or concession."""
    return view_permission(find_row(Permission, permission, "permission"))


def view_permission(row: Permission) -> PermissionView:
    # Often the same person, who is looked up once.
    ended_by = row.signed_by if row.withdrawn_by_id == row.signed_by_id else row.withdrawn_by
    return PermissionView(
        id=row.id,
        kind=as_word(PermissionKind, row.kind),
        item=row.item.code,
        reasons=tuple(row.reasons),
        flags=tuple(row.flags),
        why=row.why,
        until=row.until,
        decision=as_word(Decision, row.decision),
        asked_by_id=row.asked_by_id,
        asked_by=row.asked_by.name,
        asked_at=row.asked_at,
        signed_by_id=row.signed_by_id,
        signed_by=row.signed_by.name if row.signed_by is not None else None,
        signed_at=row.signed_at,
        remark=row.remark,
        withdrawn_by_id=row.withdrawn_by_id,
        withdrawn_by=ended_by.name if row.withdrawn_by_id is not None and ended_by is not None else None,
        withdrawn_at=row.withdrawn_at,
        withdrawn_because=row.withdrawn_because,
    )


_SIGNERS = (Role.LEAD, Role.QUALITY)


# The reasons that a deviation permit can answer; all others are settled otherwise.
PERMITTABLE = frozenset(
    {"open-too-long", "expired", "too-cold", "stored-outside"}
    | {"tack-life-over", "tack-life-not-known", "out-life-over", "out-life-not-known"}
)
