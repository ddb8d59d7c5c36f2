"""Moulds: cleaned, released, repaired between two pulls, and whether one is ready for the next part."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from peewee import JOIN, fn

from schemas.words import Kind, MaterialKind, State, ToolState, TreatmentKind
from service.operations.door.formerly import called_then
from service.operations.door.operation import Work, operation
from service.operations.door.refusals import Unprocessable, WrongState
from service.operations.door.shop import the_site, time_in_shop
from service.operations.door.views import Page, by_state, page, page_of
from service.operations.ledger import ledger
from service.operations.ledger.flags import stands
from service.operations.ledger.graph import HoldView, StandingHold, by_hold, hold_views, standing_holds
from service.operations.stock.load import Loaded
from service.operations.stock.using import judge_use, load_used, note_opened
from service.records.base import as_word, known
from service.records.items import Item
from service.records.journal import Deed
from service.records.lookups import another, newest_in_each, rows_among
from service.records.parts import Mould, MouldTreatment, Part
from service.records.people import Person

# States in which a part still lies in its mould.
MOST_TREATMENTS = 20
"""A mould says its newest treatments; the list of them has all."""
IN_MOULD = (State.LAYING, State.LAID_UP, State.CURING, State.CURED)


@dataclass(frozen=True, slots=True)
class TreatmentView:
    kind: TreatmentKind
    container: str | None
    coats: int | None
    ready_at: datetime | None
    remark: str | None
    occurred_at: datetime
    by: str


@dataclass(frozen=True, slots=True)
class MouldView:
    """A mould: its treatments, and whether it is free and ready.

    Attributes
    ----------
    ready_at
        When the release agent's wait is over; nothing while there is none on it.
    release_pulls_left
        For how many more pulls the release on it lasts; nothing while there is none.
    hours
        From the start of a part to its demoulding here; null: as the shop has it for all moulds.
    not_ready
        What its release lacks, in sentences.
    in_it
        Codes of the parts that still lie in it.
    treatments
        The newest 20, oldest first; GET /v1/moulds/{code}/treatments lists all.
    """

    code: str
    name: str
    state: ToolState
    place: str | None
    place_name: str | None
    part_number: str | None
    pulls: int
    ready_at: datetime | None
    ready: bool
    release_pulls_left: int | None
    hours: float | None
    not_ready: tuple[str, ...]
    in_it: tuple[str, ...]
    treatments: tuple[TreatmentView, ...]
    holds: tuple[HoldView, ...]
    version: int


@dataclass(frozen=True, slots=True)
class NotReady:
    """One thing that speaks against starting a part in a mould."""

    kind: str
    sentence: str


@operation
def add_mould(
    work: Work,
    *,
    name: str,
    part_number: str | None = None,
    place: str | None = None,
    pulls: int = 0,
    release_pulls: int | None = None,
    hours: float | None = None,
) -> MouldView:
    """Add a mould, with the pulls that it has had already."""
    where = ledger.find(place, Kind.PLACE) if place else None
    item = ledger.new_item(work, Kind.MOULD, name=name, state=State.IN_USE, place=where)
    Mould.create(item=item, part_number=part_number, pulls=pulls, release_pulls=release_pulls, hours=hours)
    work.note(mould=item.code, name=name, pulls=pulls)
    return _answered(work, item)


@operation
def set_up_mould(work: Work, *, mould: str, hours: float | None = None) -> MouldView:
    """Say how long a part takes a mould, from its start to its demoulding; null: as the shop has it for all moulds."""
    item = ledger.lock_one(work, mould, Kind.MOULD)
    row = Mould.get_by_id(item.id)
    Mould.update({"hours": hours}).where(Mould.item == item.id).execute()
    work.note(mould=item.code, hours=hours, before=row.hours)
    work.touch(item)
    return _answered(work, item)


@operation
def treat_mould(
    work: Work,
    *,
    mould: str,
    kind: TreatmentKind,
    container: str | None = None,
    coats: int | None = None,
    remark: str | None = None,
    confirmed: bool = False,
) -> MouldView:
    """Record that a mould was cleaned, got a release coat, or was repaired. A release coat starts its wait.

    Cleaning and repair take the release off; what was used reaches every part that is made on it before the release is
    used up: with the next pull, or after the pulls that a semi-permanent release lasts. A part in the mould is asked
    about first.
    """
    locked = ledger.lock(work, *[c for c in (mould, container) if c], kinds=[Kind.MOULD, Kind.CONTAINER])
    item = locked[mould]
    used = locked[container] if container else None
    if item.state == State.WITHDRAWN:
        raise WrongState(f"{item.code} was taken out of use.")
    loaded = load_used(work, used) if used is not None else None
    row = Mould.get_by_id(item.id)
    lying = lying_in([item.id])
    if lying and not confirmed and kind == TreatmentKind.RELEASE_COAT:
        raise WrongState(
            f"{', '.join(lying[item.id])} still lies in {item.code}.",
            way_out="Scan the mould that is in front of you; if it is this one, confirm it.",
            answer_with={"confirmed": True},
            reasons=["mould-occupied"],
        )
    on: dict[str, Any] = {"ready_at": None, "release_until_pull": None, "coats_on": None, "coats_asked": None}
    if kind == TreatmentKind.RELEASE_COAT:
        on = _laid_on(work, row, loaded, coats or 1)
    ready_at, until_pull = on["ready_at"], on["release_until_pull"]
    if loaded is not None:
        judge_use(work, loaded, item)
        note_opened(work, loaded.item)
    MouldTreatment.create(
        mould=item.id,
        kind=kind,
        container=used.id if used is not None else None,
        coats=coats,
        until_pull=until_pull,
        ready_at=ready_at,
        remark=remark,
        occurred_at=work.act.occurred_at,
        deed=work.deed,
    )
    Mould.update(on).where(Mould.item == item.id).execute()
    work.touch(item, *([used] if used is not None else []))
    work.note(mould=item.code, treatment=kind, container=container, coats=coats, ready_at=ready_at, remark=remark)
    return _answered(work, item, lying)


def _laid_on(work: Work, row: Mould, loaded: Loaded | None, coats: int) -> dict[str, Any]:
    """What is on a mould after these coats; coats add up while a release is on."""
    ready_at = _wait_over(work, loaded)
    material = known(loaded).material
    lasts = row.release_pulls or material.release_pulls or 1
    before = row.coats_on or 0 if row.ready_at is not None else 0
    return {
        "ready_at": ready_at,
        "release_until_pull": row.pulls + lasts,
        "coats_on": before + coats,
        "coats_asked": material.release_coats,
    }


def count_pull(form: Item) -> None:
    """One more pull. It takes the release with it, unless that one is semi-permanent and lasts for more."""
    row = Mould.get_by_id(form.id)
    pulls = row.pulls + 1
    more: dict[str, Any] = {"pulls": pulls}
    if row.release_until_pull is None or pulls >= row.release_until_pull:
        more |= {"ready_at": None}
    Mould.update(more).where(Mould.item == form.id).execute()


def _wait_over(work: Work, loaded: Loaded | None) -> datetime:
    """When the release agent's wait is over; at once where its data sheet gives none."""
    if loaded is None:
        raise Unprocessable("Scan the release agent that was laid on.", pointer="/container")
    material = loaded.material
    if material.kind != MaterialKind.RELEASE_AGENT:
        raise Unprocessable(
            f"{loaded.item.code} is {material.name}, a {material.kind}, not a release agent.", pointer="/container"
        )
    return work.act.occurred_at + timedelta(minutes=material.release_wait_min or 0)


def not_ready(mould: Mould, item: Item, *, at: datetime, zone: str, part_number: str) -> list[NotReady]:
    """What speaks against starting a part in this mould now, each in one sentence."""
    found = _release_wanting(mould, item, at=at, zone=zone)
    lying = lying_in([item.id]).get(item.id)
    if lying:
        found.append(NotReady("mould-occupied", f"{', '.join(lying)} still lies in {item.code}."))
    if mould.part_number is not None and mould.part_number != part_number:
        found.append(NotReady("other-mould", f"{item.code} is the mould of {mould.part_number}, not of {part_number}."))
    return found


def _release_wanting(mould: Mould, item: Item, *, at: datetime, zone: str) -> list[NotReady]:
    """What the release on a mould lacks: a coat, its wait, or all of it."""
    if mould.ready_at is None:
        lasted = mould.release_until_pull
        if lasted is not None and mould.pulls >= lasted:
            sentence = f"The release on {item.code} has had the pulls that it lasts for; lay it on again."
        else:
            sentence = f"{item.code} has no release on it; lay it on."
        return [NotReady("no-release", sentence)]
    found = []
    if at < mould.ready_at:
        when = time_in_shop(mould.ready_at, now=at, zone=zone)
        found.append(NotReady("release-wait", f"The release agent on {item.code} needs until {when}."))
    if mould.coats_asked is not None and (mould.coats_on or 0) < mould.coats_asked:
        have = mould.coats_on or 0
        sentence = f"{have} of {mould.coats_asked} release coats {'is' if have == 1 else 'are'} on {item.code}."
        found.append(NotReady("release-coats", sentence))
    return found


def lying_in(moulds: Sequence[int]) -> dict[int, list[str]]:
    """For each of these moulds the codes of the parts that are still in it."""
    query = (
        Item.select(Part.mould, Item.code)
        .join(Part, on=(Part.item == Item.id))
        .where(Part.mould.in_(list(moulds)) & Part.demoulded_at.is_null() & Item.state.in_(IN_MOULD))
        .order_by(Item.id)
    )
    found: dict[int, list[str]] = {}
    for mould, code in query.tuples():
        found.setdefault(mould, []).append(code)
    return found


def used_since_last_pull(item: Item) -> list[Item]:
    """The release agents and cleaners that this mould has seen since the last part came out of it, and the
    semi-permanent release that is still on it."""
    last = Part.select(fn.MAX(Part.demoulded_at)).where(Part.mould == item.id).scalar()
    stood = (MouldTreatment.mould == item.id) & stands(MouldTreatment.deed)
    query = MouldTreatment.select(MouldTreatment.container).where(stood & MouldTreatment.container.is_null(False))
    if last is not None:
        pulls = Mould.select(Mould.pulls).where(Mould.item == item.id).scalar()
        cleaned = MouldTreatment.select(fn.MAX(MouldTreatment.id)).where(
            stood & (MouldTreatment.kind != TreatmentKind.RELEASE_COAT)
        )
        still_on = (MouldTreatment.until_pull > pulls) & (MouldTreatment.id > fn.COALESCE(cleaned, 0))
        query = query.where((MouldTreatment.occurred_at > last) | still_on)
    return list(Item.select().where(Item.id.in_(query)).order_by(Item.id))


def read_mould(mould: str, *, at: datetime) -> MouldView:
    """One mould: pulls, treatments, what lies in it, and whether it is ready."""
    return view_mould(ledger.find(mould, Kind.MOULD), at=at)


def list_moulds(
    *, at: datetime, after: int | None, limit: int, part_number: str | None = None, state: State | None = None,
    on_hold: bool | None = None,
) -> Page[MouldView]:  # fmt: skip
    """List moulds, by part number, state or hold."""
    query = Item.select(Item).join(Mould, on=(Mould.item == Item.id))
    if part_number is not None:
        query = query.where(Mould.part_number == part_number)
    query, key = by_state(query, Kind.MOULD, Mould.item, state)
    query = by_hold(query, on_hold, at=at)
    return page_of(query, key, after=after, limit=limit, views=lambda items: view_moulds(items, at=at))


def list_treatments(mould: str, *, after: int | None, limit: int) -> Page[TreatmentView]:
    """List the treatments of a mould, newest first."""
    item = ledger.find(mould, Kind.MOULD)
    query = _treatments().where(MouldTreatment.mould == item.id)
    return page(query, MouldTreatment.id, after=after, limit=limit, view=_treatment, newest_first=True)


def _treatments() -> Any:
    """Treatments with who did each, and the code of what was used."""
    cans = another(Item, "cans")
    return (
        MouldTreatment.select(MouldTreatment, called_then(Person, Deed.occurred_at).alias("by"), cans.code.alias("can"))
        .join(Deed)
        .join(Person)
        .switch(MouldTreatment)
        .join(cans, JOIN.LEFT_OUTER, on=(MouldTreatment.container == cans.id))
        .where(stands(MouldTreatment.deed))
        .objects()
    )


def _treatment(row: Any) -> TreatmentView:
    return TreatmentView(
        kind=as_word(TreatmentKind, row.kind),
        container=row.can,
        coats=row.coats,
        ready_at=row.ready_at,
        remark=row.remark,
        occurred_at=row.occurred_at,
        by=row.by,
    )


def view_mould(item: Item, *, at: datetime) -> MouldView:
    return view_moulds([item], at=at)[0]


def _answered(work: Work, item: Item, lying: Mapping[int, Sequence[str]] | None = None) -> MouldView:
    at, zone = work.act.occurred_at, work.site.zone
    return work.answer(item, lambda one: view_moulds([one], at=at, zone=zone, lying=lying)[0])


def view_moulds(
    items: Sequence[Item],
    *,
    at: datetime,
    zone: str | None = None,
    lying: Mapping[int, Sequence[str]] | None = None,
) -> tuple[MouldView, ...]:
    """Any number of moulds in a fixed number of statements; the shop's zone and what lies in them may be at hand."""
    ids = [item.id for item in items]
    if not ids:
        return ()
    moulds = {mould.item_id: mould for mould in rows_among(Mould, Mould.item, ids)}
    places = {i.id: i for i in rows_among(Item, Item.id, {i.place_id for i in items if i.place_id is not None})}
    query = _treatments().where(newest_in_each(MOST_TREATMENTS, MouldTreatment.id, MouldTreatment.mould, ids))
    treatments: dict[int, list[Any]] = {}
    for row in query.order_by(MouldTreatment.id):
        treatments.setdefault(row.mould_id, []).append(row)
    holds = standing_holds(ids, at=at)
    in_them = lying_in(ids) if lying is None else lying
    clock_zone = zone or the_site().zone
    return tuple(
        _mould(
            item,
            moulds[item.id],
            places.get(item.place_id or 0),
            treatments.get(item.id, ()),
            holds[item.id],
            tuple(in_them.get(item.id, ())),
            at=at,
            zone=clock_zone,
        )
        for item in items
    )


def _mould(
    item: Item,
    mould: Mould,
    place: Item | None,
    treatments: Sequence[Any],
    holds: list[StandingHold],
    lying: tuple[str, ...],
    *,
    at: datetime,
    zone: str,
) -> MouldView:
    wanting = _release_wanting(mould, item, at=at, zone=zone)
    return MouldView(
        code=item.code,
        name=item.name,
        state=as_word(ToolState, item.state),
        place=place.code if place is not None else None,
        place_name=place.name if place is not None else None,
        part_number=mould.part_number,
        pulls=mould.pulls,
        ready_at=mould.ready_at,
        ready=not wanting and not lying and not holds and item.state == State.IN_USE,
        release_pulls_left=(mould.release_until_pull or mould.pulls + 1) - mould.pulls
        if mould.ready_at is not None
        else None,
        hours=mould.hours,
        not_ready=tuple(one.sentence for one in wanting),
        in_it=lying,
        treatments=tuple(_treatment(row) for row in treatments),
        holds=hold_views(holds),
        version=item.version,
    )
