"""Deviation permits (before an act) and concessions (after it): one person asks, another signs.

The job in hand need not wait for the signature; the release does.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from peewee import JOIN

from schemas.words import Decision, Kind, PermissionKind, Role
from service.operations.door.operation import Work, operation
from service.operations.door.refusals import SecondPersonRequired, Unprocessable, WrongState
from service.operations.door.rows import find_row
from service.operations.door.views import Page, page
from service.operations.ledger import ledger
from service.operations.ledger.flags import lift, place_hold_on
from service.records.base import as_word
from service.records.items import Flag, Hold, Item, Permission
from service.records.journal import Deed
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
    asked_by: int
    asked_by_name: str
    asked_at: datetime
    signed_by: int | None
    signed_by_name: str | None
    signed_at: datetime | None
    remark: str | None


@operation
def ask_permission(
    work: Work, *, kind: PermissionKind, item: str, reasons: Sequence[str], until: datetime | None = None
) -> PermissionView:
    """Ask for a deviation permit before a use, or for a concession after something happened. `why` is needed."""
    found = ledger.lock_one(work, item)
    why = work.act.why
    if why is None:
        raise Unprocessable("Say in `why` on what grounds it should be permitted.", pointer="/why")
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
    row = Permission.create(
        kind=kind,
        item=found,
        reasons=list(dict.fromkeys(reasons)),
        flags=flags,
        why=why,
        until=until,
        decision=Decision.ASKED,
        asked_by=work.act.person,
        asked_at=work.act.occurred_at,
        asked_in=work.deed,
    )
    work.touch(found)
    work.note(permission=row.id, kind=kind, item=found.code, reasons=reasons)
    return view_permission(row)


@operation
def sign_permission(work: Work, *, permission: int, permitted: bool, remark: str | None = None) -> PermissionView:
    """Sign or refuse a permit or concession. Whoever asked, or did what it is about, cannot sign it."""
    row = find_row(Permission, permission, "permission")
    item = ledger.lock_one(work, row.item.code)
    if row.decision != Decision.ASKED:
        raise WrongState(f"{row.kind.capitalize()} {permission} is decided already: {row.decision}.")
    _refuse_own(work, row)
    decision = Decision.PERMITTED if permitted else Decision.REFUSED
    signed = {
        "decision": decision,
        "signed_by": work.act.person,
        "signed_at": work.act.occurred_at,
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


def _refuse_own(work: Work, row: Permission) -> None:
    doers = {row.asked_by_id}
    if row.flags:
        deeds = Flag.select(Flag.deed).where(Flag.id.in_(row.flags))
        doers |= {d.person_id for d in Deed.select(Deed.person).where(Deed.id.in_(deeds))}
    if work.act.person in doers:
        raise SecondPersonRequired(
            "Whoever asked for it or did it cannot sign it.",
            way_out="A second person with the lead's or quality's role signs.",
        )


def _let_go(work: Work, row: Permission) -> None:
    """A signed concession lifts the holds that its flags placed by themselves."""
    for hold in Hold.select().where(Hold.flag.in_(row.flags) & Hold.lifted_at.is_null()):
        lift(work, hold)


def _stop(work: Work, row: Permission) -> None:
    """A refused deviation permit stops what was made under it while it was only asked for."""
    if row.kind != PermissionKind.DEVIATION_PERMIT:
        return
    flags = list(Flag.select().where(Flag.permission == row.id))
    items = {f.item_id: f for f in flags}
    codes = [i.code for i in Item.select(Item.code).where(Item.id.in_(list(items)))]
    for item in sorted(ledger.lock(work, *codes).values() if codes else [], key=lambda i: i.id):
        reason = f"Deviation permit {row.id} was refused: {items[item.id].sentence}"
        place_hold_on(work, item, reason, flag=items[item.id].id)


def answers_to(flags: Iterable[Flag]) -> dict[int, Permission | None]:
    """For each flag the permission that answers it: a signed one if there is, else one that is asked for."""
    rows = list(flags)
    if not rows:
        return {}
    items = {f.item_id for f in rows}
    concessions = list(
        Permission.select().where(
            (Permission.kind == PermissionKind.CONCESSION)
            & Permission.item.in_(items)
            & (Permission.decision != Decision.REFUSED)
        )
    )
    named = {f.permission for f in rows if f.permission}
    permits = {p.id: p for p in Permission.select().where(Permission.id.in_(named))} if named else {}
    answers: dict[int, Permission | None] = {}
    for flag in rows:
        found = [p for p in concessions if flag.id in p.flags]
        permit = permits.get(flag.permission or 0)
        if permit is not None and permit.decision != Decision.REFUSED:
            found.append(permit)
        found.sort(key=lambda p: (p.decision != Decision.PERMITTED, p.id))
        answers[flag.id] = found[0] if found else None
    return answers


def open_flags(items: Iterable[int]) -> list[Flag]:
    """The stopping flags on these items that no signed permission answers."""
    flags = list(Flag.select().where(Flag.item.in_(list(items)) & (Flag.stops == True)).order_by(Flag.id))  # noqa: E712
    answers = answers_to(flags)
    return [f for f in flags if (a := answers[f.id]) is None or a.decision != Decision.PERMITTED]


def list_permissions(
    *,
    after: int | None,
    limit: int,
    decision: Decision | None = None,
    kind: PermissionKind | None = None,
    item: str | None = None,
) -> Page[PermissionView]:
    """List permits and concessions, for instance those that wait for a signature."""
    asker, signer = Person.alias(), Person.alias()
    query = (
        Permission.select(Permission, Item.id, Item.code, asker.id, asker.name, signer.id, signer.name)
        .join(Item)
        .switch(Permission)
        .join(asker, on=(Permission.asked_by == asker.id))
        .switch(Permission)
        .join(signer, JOIN.LEFT_OUTER, on=(Permission.signed_by == signer.id))
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
    return PermissionView(
        id=row.id,
        kind=as_word(PermissionKind, row.kind),
        item=row.item.code,
        reasons=tuple(row.reasons),
        flags=tuple(row.flags),
        why=row.why,
        until=row.until,
        decision=as_word(Decision, row.decision),
        asked_by=row.asked_by_id,
        asked_by_name=row.asked_by.name,
        asked_at=row.asked_at,
        signed_by=row.signed_by_id,
        signed_by_name=row.signed_by.name if row.signed_by is not None else None,
        signed_at=row.signed_at,
        remark=row.remark,
    )


_SIGNERS = (Role.LEAD, Role.QUALITY)


# The reasons that a deviation permit can answer; all others are settled otherwise.
PERMITTABLE = frozenset({"open-too-long", "expired", "too-cold", "stored-outside"})
