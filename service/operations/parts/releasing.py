"""Release and shipment: all that is open is listed at once, and whoever releases a part did not make it alone."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from schemas.words import Alone, Disposition, Kind, MovementKind, State, Unit
from service.operations.door.acts import ACTS
from service.operations.door.operation import Work, operation
from service.operations.door.refusals import NotReleased, OnHold, Unprocessable, WrongState
from service.operations.door.shop import day_in_shop, the_site, time_in_shop
from service.operations.ledger import ledger
from service.operations.ledger.flags import stands
from service.operations.ledger.permitting import answers_to, covered
from service.operations.ledger.second import makers_of, require_second
from service.operations.parts.as_designed import as_designed
from service.operations.parts.part import PartInHand, cures_in, gone, load_part, still_here, untold_lots
from service.operations.parts.review import Answers, ReviewPoint, to_read
from service.operations.parts.settling import settled
from service.operations.parts.view import PartView, answered
from service.records.base import known
from service.records.cures import Cure
from service.records.items import Flag, Item
from service.records.parts import Inspection, Nonconformance, Part, Shipment
from service.records.people import PersonRole, Site

_SIGNERS, _QUALITY, _BENCH = "lead or quality", "quality", "laminator"


@dataclass(frozen=True, slots=True)
class OpenPoint:
    """Something that has to be settled before a release: on which item, what, and by whom.

    Attributes
    ----------
    who
        Whose it is to settle.
    """

    item: str
    kind: str
    what: str
    who: str


@dataclass(frozen=True, slots=True)
class ReleaseCheck:
    """Everything that stands between a part and its release."""

    code: str
    open: tuple[OpenPoint, ...]
    review: tuple[ReviewPoint, ...]


def check_release(part: str, *, at: datetime, asker: int | None = None) -> ReleaseCheck:
    """What is still open on a part, by whom it is settled, and what has to be read before it is released.

    Who may release parts, but not this one since they had a hand in making it, reads that too.
    """
    return check_item(ledger.find(part, Kind.PART), site=the_site(), at=at, asker=asker)


def check_item(item: Item, *, site: Site, at: datetime, asker: int | None) -> ReleaseCheck:
    """The same for a part that was found already."""
    held = load_part(item)
    check = _check(held, site, at=at)
    return replace(check, open=(*_over(held), *_own_work(held, asker, site), *check.open))


def still_open(held: PartInHand, *, at: datetime) -> tuple[OpenPoint, ...]:
    """What stands between a part in hand and its release."""
    return _found(held, _grounds(held), at=at)[0]


def _over(held: PartInHand) -> Iterable[OpenPoint]:
    """A part that was released, or that is not here any more, is not released again."""
    said = gone(held.item) or ("was released already" if held.row.released_at is not None else None)
    if said is not None:
        yield OpenPoint(held.item.code, "over", f"{held.item.code} {said}.", "nobody")


def _own_work(held: PartInHand, asker: int | None, site: Site) -> Iterable[OpenPoint]:
    if asker is None or Alone.RELEASE in (site.alone_in or ()) or asker not in _makers(held):
        return
    roles = PersonRole.select().where((PersonRole.person == asker) & PersonRole.role.in_(ACTS["release_part"].roles))
    if roles.exists():
        what = f"You started, mixed, laid up or cured {held.item.code}; a second person releases it."
        yield OpenPoint(held.item.code, "second-person", what, f"another {_SIGNERS}")


@dataclass(frozen=True, slots=True)
class _Grounds:
    """What a release is judged by: the items that a part is made of, their flags, and what answers these."""

    items: dict[int, Item]
    flags: list[Flag]
    answers: Answers
    settled_by: dict[int, str]


def _grounds(held: PartInHand) -> _Grounds:
    ids = held.made_of | {held.item.id}
    flags = list(Flag.select().where(Flag.item.in_(ids)).order_by(Flag.id))
    items = {i.id: i for i in Item.select().where(Item.id.in_(ids))}
    return _Grounds(items, flags, answers_to(flags), settled(held, flags, items))


def _check(held: PartInHand, site: Site, *, at: datetime) -> ReleaseCheck:
    on = _grounds(held)
    found, to_say = _found(held, on, at=at)
    review = (*to_read(held, on.items, on.flags, on.answers, on.settled_by, at=at, zone=site.zone), *to_say)
    return ReleaseCheck(code=held.item.code, open=found, review=review)


def _found(held: PartInHand, on: _Grounds, *, at: datetime) -> tuple[tuple[OpenPoint, ...], list[ReviewPoint]]:
    """What is open, and what is not as designed and need only be read."""
    item, items = held.item, on.items.values()
    inspected = _last_inspection(item)
    not_marked, to_say = _not_as_designed(held, on.flags, again=inspected is not None)
    found = (
        *_unfinished(item, held.row),
        *_holds(held, at),
        *_stopping_flags(on.flags, on.answers, on.settled_by, on.items),
        *not_marked,
        *_cures(held, [i for i in items if i.kind == Kind.PART]),
        *_unclosed([i for i in items if i.kind == Kind.MIX]),
        *_inspected(item, inspected),
        *_undecided(set(on.items), on.items),
        *_unknown(held),
    )
    return found, to_say


def _not_as_designed(
    held: PartInHand, flags: Sequence[Flag], *, again: bool
) -> tuple[list[OpenPoint], list[ReviewPoint]]:
    """What is not as designed and no flag says in these words yet: what stops first has to be marked."""
    told = {flag.sentence for flag in flags if flag.item_id == held.item.id}
    found = [one for one in as_designed(held).found if one.sentence not in told]
    what = f"Inspect the part {'again ' if again else ''}to have it marked."
    stops = [OpenPoint(held.item.code, f.kind, f"{f.sentence} {what}", _BENCH) for f in found if f.stops]
    return stops, [ReviewPoint(held.item.code, f.kind, f.sentence) for f in found if not f.stops]


def _unfinished(item: Item, row: Part) -> Iterable[OpenPoint]:
    if row.laid_up_at is None:
        yield OpenPoint(item.code, "lay-up", "The lay-up was not closed.", _BENCH)
    if row.demoulded_at is None:
        yield OpenPoint(item.code, "in-mould", "It was not demoulded.", _BENCH)


def _holds(held: PartInHand, at: datetime) -> Iterable[OpenPoint]:
    for hold in held.holds(at):
        yield OpenPoint(hold.on, "on-hold", f"On hold: {hold.reason}", _QUALITY)


def _stopping_flags(
    flags: Sequence[Flag], answers: Answers, settled_by: Mapping[int, str], codes: dict[int, Item]
) -> Iterable[OpenPoint]:
    for flag in flags:
        asked = answers[flag.id]
        if not flag.stops or covered(asked):
            continue
        if flag.id in settled_by:
            continue
        waits = (
            f" {asked.kind.capitalize()} {asked.id} is asked for and not signed yet."
            if asked is not None
            else " It needs a concession."
        )
        yield OpenPoint(codes[flag.item_id].code, flag.kind, flag.sentence + waits, _SIGNERS)


def _cures(held: PartInHand, parts: list[Item]) -> Iterable[OpenPoint]:
    """Each part, and each that was fitted into it, was in a cure that passed, or in one that was conceded."""
    fitted = cures_in([part.id for part in parts if part.id != held.item.id])
    cures_of: dict[int, list[Any]] = {**fitted, held.item.id: held.cures}
    failed = {part.id: cures_of[part.id] for part in parts if not any(c.passed for c in cures_of[part.id])}
    conceded = _conceded(failed)
    for part in sorted(parts, key=lambda p: p.id):
        cures = cures_of[part.id]
        running = [c for c in cures if c.ended_at is None]
        if not cures:
            yield OpenPoint(part.code, "no-cure", "No cure is recorded.", _BENCH)
        elif running:
            yield OpenPoint(part.code, "no-cure", f"Cure {running[0].known.code} has not ended.", _BENCH)
        elif part.id in failed and part.id not in conceded:
            yield OpenPoint(part.code, "no-cure", "No cure was passed.", _SIGNERS)


def _conceded(failed: Mapping[int, Sequence[Cure]]) -> set[int]:
    """A failed cure counts when the flag that its verdict raised was answered by a signed concession."""
    judged = {cure.judged_in_id for cures in failed.values() for cure in cures if cure.judged_in_id is not None}
    if not judged:
        return set()
    flags = list(Flag.select().where(Flag.deed.in_(judged) & (Flag.stops == True)))  # noqa: E712
    answers = answers_to(flags)
    good = {(flag.item_id, flag.deed_id) for flag in flags if covered(answers[flag.id])}
    return {
        part
        for part, cures in failed.items()
        if any((item, cure.judged_in_id) in good for cure in cures for item in (cure.item_id, part))
    }


def _unclosed(mixes: list[Item]) -> Iterable[OpenPoint]:
    """A pot whose account is not closed may have gone anywhere."""
    for mix in sorted(mixes, key=lambda m: m.id):
        if mix.state in (State.WEIGHING, State.RUNNING):
            yield OpenPoint(mix.code, "mix-open", f"The account of pot {mix.code} is not closed.", _BENCH)


def _last_inspection(item: Item) -> Inspection | None:
    found: Inspection | None = (
        Inspection.select()
        .where((Inspection.part == item.id) & stands(Inspection.deed))
        .order_by(Inspection.id.desc())
        .first()
    )
    return found


def _inspected(item: Item, last: Inspection | None) -> Iterable[OpenPoint]:
    """The last inspection accepted it, or what it found was decided to be used as it is."""
    if last is None:
        yield OpenPoint(item.code, "no-inspection", "It was not inspected.", _BENCH)
        return
    if last.accepted:
        return
    opened = Nonconformance.get_or_none((Nonconformance.item == item.id) & (Nonconformance.deed == last.deed_id))
    if opened is None or opened.disposition != Disposition.USE_AS_IS:
        yield OpenPoint(item.code, "no-inspection", "Its last inspection did not accept it.", _BENCH)


def _undecided(ids: set[int], codes: dict[int, Item]) -> Iterable[OpenPoint]:
    rows = Nonconformance.select().where(Nonconformance.item.in_(ids) & Nonconformance.decided_at.is_null())
    for row in rows.order_by(Nonconformance.id):
        what = f"Nonconformance {row.id} is not decided: {row.found}"
        yield OpenPoint(codes[row.item_id].code, "nonconformance", what, _QUALITY)


def _unknown(held: PartInHand) -> Iterable[OpenPoint]:
    """Lots that nobody knows, in a part that must be traceable, and that no flag names so that it could be conceded."""
    for lot in untold_lots(held)[held.item.id] if held.design.traceable else []:
        what = f"The maker's lot of {lot.code} {lot.name} is not known; inspect the part again to have it marked."
        yield OpenPoint(held.item.code, "lot-not-known", what, _BENCH)


@operation
def release_part(work: Work, *, part: str, reviewed: bool = False) -> PartView:
    """Release a part, when nothing is open any more. `reviewed` says that what had to be read was read."""
    item = ledger.lock_one(work, part, Kind.PART)
    still_here(item)
    held = load_part(item)
    row = held.row
    if row.released_at is not None:
        raise WrongState(f"{item.code} was released already.")
    require_second(
        work, Alone.RELEASE, _makers(held), roles=ACTS["release_part"].roles, item=item,
        sentence=f"Whoever started, mixed, laid up or cured {item.code} does not release it.",
    )  # fmt: skip
    # A signature bears the service's own time, and is judged at it: told of earlier it goes behind no hold.
    check = _check(held, work.site, at=work.act.recorded_at)
    if check.open or (check.review and not reviewed):
        raise _not_released(check)
    held.update(released_at=work.act.recorded_at, released_by=work.act.person)
    held.released_by = work.who
    ledger.set_state(work, item, State.RELEASED)
    work.note(part=item.code, released=True, reviewed=check.review)
    return answered(work, held)


def _release_stands(held: PartInHand, site: Site, *, at: datetime) -> None:
    """What a release rested on may be gone since: an inspection corrected away, a nonconformance opened."""
    check = _check(held, site, at=at)
    if check.open:
        refused = _not_released(check)
        refused.sentence = f"The release of {check.code} does not stand any more: {check.open[0].what}"
        refused.way_out = "Settle what is listed as open; each line says who can. The release then stands again."
        raise refused


def _not_released(check: ReleaseCheck) -> NotReleased:
    facts: dict[str, Any] = {
        "open": [{"item": p.item, "kind": p.kind, "what": p.what, "who": p.who} for p in check.open],
        "review": [{"item": p.item, "kind": p.kind, "what": p.what} for p in check.review],
    }
    if check.open:
        more = f" And {len(check.open) - 1} more." if len(check.open) > 1 else ""
        return NotReleased(
            f"{check.code} is not ready for release: {check.open[0].what}{more}",
            way_out="Settle what is listed as open; each line says who can.",
            **facts,
        )
    count = len(check.review)
    return NotReleased(
        f"{count} {'entry has' if count == 1 else 'entries have'} to be read before {check.code} is released.",
        way_out="Read what is listed for review, then say that you did.",
        answer_with={"reviewed": True},
        **facts,
    )


def _makers(held: PartInHand) -> set[int]:
    """Who started the part, mixed for it, laid it up or cured it. A system makes nothing by starting it."""
    return makers_of(held.made_of | {held.item.id})


@operation
def ship_part(
    work: Work, *, part: str, document: str, customer: str | None = None, shipped_on: date | None = None
) -> PartView:
    """Ship a released part to its customer: with which document, and on which day."""
    item = ledger.lock_one(work, part, Kind.PART)
    held = load_part(item)
    row = held.row
    still_here(item)
    if row.released_at is None:
        raise WrongState(f"{item.code} is not released.", way_out="The lead or quality releases it first.")
    holds = held.holds(work.act.recorded_at)
    if holds:
        raise OnHold(
            f"{item.code} is on hold: {holds[0].reason}",
            way_out="Quality says why and lifts the hold.",
            holds=[{"id": h.id, "on": h.on, "reason": h.reason} for h in holds],
        )
    _release_stands(held, work.site, at=work.act.recorded_at)
    on = _day_of_shipping(work, held, shipped_on)
    to = customer or row.customer
    if to is None:
        raise Unprocessable("Say which customer gets it.", pointer="/customer")
    Shipment.create(
        part=row,
        customer=to,
        document=document,
        shipped_on=on,
        deed=work.deed,
    )
    ledger.move(work, kind=MovementKind.SHIPMENT, source=item, amount=1, unit=Unit.PIECE)
    held.update(shipped_at=work.act.occurred_at)
    ledger.set_state(work, item, State.SHIPPED)
    work.note(part=item.code, shipped_to=to, document=document, shipped_on=on)
    return answered(work, held)


def _day_of_shipping(work: Work, held: PartInHand, stated: date | None) -> date:
    """A part is shipped after it was released, and not on a day that is still to come."""
    released, today = known(held.row.released_at), day_in_shop(work.act.recorded_at, work.site)
    if stated is None:
        if work.act.occurred_at < released:
            when = time_in_shop(released, now=work.act.recorded_at, zone=work.site.zone)
            raise Unprocessable(f"{held.item.code} was released at {when}, and is shipped after that.",
                                pointer="/occurred_at")  # fmt: skip
        return day_in_shop(work.act.occurred_at, work.site)
    first = day_in_shop(released, work.site)
    if not first <= stated <= today:
        raise Unprocessable(
            f"{held.item.code} was released on {first:%-d %b %Y}; say a day from then to today, {today:%-d %b %Y}.",
            pointer="/shipped_on",
        )
    return stated
