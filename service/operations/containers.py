"""Cans, drums, bottles, jugs, rolls: opened, decanted, weighed back, moved, scrapped, and drawn from."""

from datetime import datetime, timedelta

from schemas.words import Decision, Kind, MaterialKind, MovementKind, State, Unit
from service.formulas.shelf_life import decant_expiry
from service.operations import ledger, stock
from service.operations.container_views import ContainerView, fit_instead, view_container
from service.operations.fitness import Answer, stops_a_start
from service.operations.flags import raise_flag
from service.operations.operation import Work, operation
from service.operations.refusals import MoreThanBooked, NotFit, SameLotOnly, ShortStock, Unprocessable, WrongState
from service.operations.views import ItemRef, ref
from service.records.items import Item, Movement
from service.records.materials import Container, Lot, Material

# Up to this much, or this share of its net, a can may hold more than its label says (shop rule 7).
_FOUND_MORE_MG = 50_000
_FOUND_MORE_SHARE = 0.02
# What the book keeps in an amount that is shown, and how that is called.
_SHOWN = {Unit.MILLIGRAM: (1000, "g"), Unit.MILLIMETRE: (1, "mm"), Unit.PIECE: (1, "pieces")}


def _answered(work: Work, item: Item) -> ContainerView:
    item = Item.get_by_id(item.id)
    loaded = stock.load_one(item, at=work.act.occurred_at, site=work.site)
    return view_container(loaded, loaded.judged(at=work.act.occurred_at, site=work.site))


@operation
def open_container(work: Work, *, container: str) -> ContainerView:
    """Note that a container was opened: from now on its opened life runs."""
    item = ledger.lock_one(container, Kind.CONTAINER)
    if item.state != State.SEALED:
        raise WrongState(f"{item.code} is {item.state}, not sealed.", way_out="It needs no opening any more.")
    note_opened(work, item)
    return _answered(work, item)


def note_opened(work: Work, item: Item) -> None:
    """A sealed container is open from its first draw on, whether anyone tapped or not."""
    if item.state != State.SEALED:
        return
    Container.update(opened_at=work.act.occurred_at).where(Container.item == item.id).execute()
    ledger.set_state(work, item, State.OPEN)


@operation
def decant(
    work: Work,
    *,
    container: str,
    mass_mg: int,
    into: str | None = None,
    tare_mg: int | None = None,
    place: str | None = None,
    cleaned: bool = False,
    blend: bool = False,
) -> ContainerView:
    """Decant into a new container, or fill one up again that holds the same lot or was emptied and cleaned.

    Two lots in one container are a blend: a new container with a code of its own and the earliest date of all.
    """
    locked = ledger.lock(*[c for c in (container, into) if c], kinds=[Kind.CONTAINER])
    source, old = locked[container], locked[into] if into else None
    require_fit(work, source)
    row = Container.get_by_id(source.id)
    if source.unit != Unit.MILLIGRAM:
        raise Unprocessable("Only what is weighed can be decanted.", pointer="/mass_g")
    if mass_mg > source.balance:
        raise ShortStock(f"Only {source.balance / 1000:g} g is left in {source.code}.", left_g=source.balance / 1000)
    where = ledger.find(place, Kind.PLACE) if place else source.place
    target = old
    if old is not None:
        target = _refilled(work, old, row, cleaned=cleaned, blend=blend)
    note_opened(work, source)
    row = Container.get_by_id(source.id)
    if target is None or target is not old:
        target = _child(work, source, row, mass_mg, tare_mg, where, blend_of=old if blend else None)
    ledger.move(work, kind=MovementKind.DECANT, source=source, target=target, amount=mass_mg, unit=Unit.MILLIGRAM)
    if target is old:
        _inherit(work, target, row)
    settle_empty(work, source)
    return _answered(work, target)


def _refilled(work: Work, old: Item, source: Container, *, cleaned: bool, blend: bool) -> Item | None:
    """The container that takes the fill: the old one if the lot is the same, nothing if a new one has to be made."""
    row = Container.get_by_id(old.id)
    if row.lot_id == source.lot_id and not row.blend:
        return old
    if old.balance == 0 and cleaned:
        return None
    if blend:
        if row.material_id != source.material_id:
            raise SameLotOnly(
                "Only lots of the same material can be blended.", way_out="Decant into another container."
            )
        return None
    raise SameLotOnly(
        f"{old.code} holds another lot.",
        way_out="Decant into a new container, empty and clean this one first, or say blend: it gets a code of its own.",
        lot=Item.get_by_id(row.lot_id).code,
    )


def _child(
    work: Work,
    source: Item,
    row: Container,
    mass_mg: int,
    tare_mg: int | None,
    place: Item | None,
    blend_of: Item | None,
) -> Item:
    child = ledger.new_item(work, Kind.CONTAINER, name=source.name, state=State.OPEN, unit=Unit.MILLIGRAM, place=place)
    rest = Container.get_by_id(blend_of.id) if blend_of is not None else None
    parents = [d for d in (row.expires_on, rest.expires_on if rest else None) if d is not None]
    opened = [d for d in (row.opened_at, rest.opened_at if rest else None) if d is not None]
    Container.create(
        item=child,
        lot=row.lot_id,
        material=row.material_id,
        receipt=row.receipt_id,
        parent=row,
        number=1,
        of=1,
        net=mass_mg + (blend_of.balance if blend_of is not None else 0),
        tare_mg=tare_mg,
        expires_on=decant_expiry(own=None, parents=parents),
        opened_at=min(opened, default=work.act.occurred_at),
        blend=blend_of is not None,
    )
    if blend_of is not None and blend_of.balance > 0:
        ledger.move(
            work,
            kind=MovementKind.DECANT,
            source=blend_of,
            target=child,
            amount=blend_of.balance,
            unit=Unit.MILLIGRAM,
        )
        settle_empty(work, blend_of)
    return child


def _inherit(work: Work, target: Item, source: Container) -> None:
    """A refilled container keeps the earlier date and the earlier opening of the two."""
    row = Container.get_by_id(target.id)
    dates = [d for d in (row.expires_on, source.expires_on) if d is not None]
    opened = [d for d in (row.opened_at, source.opened_at) if d is not None]
    Container.update(
        expires_on=decant_expiry(own=None, parents=dates), opened_at=min(opened, default=work.act.occurred_at)
    ).where(Container.item == target.id).execute()
    if target.state in (State.EMPTY, State.SEALED):
        ledger.set_state(work, target, State.OPEN)


@operation
def weigh_back(work: Work, *, container: str, gross_mg: int, tare_mg: int | None = None) -> ContainerView:
    """Weigh a container with what is left in it; the book follows the scale, and says by how much it was off."""
    item = ledger.lock_one(container, Kind.CONTAINER)
    row = Container.get_by_id(item.id)
    if item.unit != Unit.MILLIGRAM or item.state == State.SCRAPPED:
        raise WrongState(f"{item.code} cannot be weighed back: it is {item.state} and kept by {item.unit}.")
    tare = tare_mg or row.tare_mg
    if tare is None:
        raise Unprocessable(
            "The empty weight of this container is not known; give tare_g, from the pack or the first empty one.",
            pointer="/tare_g",
        )
    net = gross_mg - tare
    if net < 0:
        raise Unprocessable(
            f"The empty container alone weighs {tare / 1000:g} g; read the scale again.", pointer="/gross_g"
        )
    difference = net - item.balance
    work.note(container=item.code, gross_mg=gross_mg, tare_mg=tare, booked_mg=item.balance, found_mg=net)
    if difference > 0:
        ledger.move(work, kind=MovementKind.FOUND_MORE, target=item, amount=difference, unit=Unit.MILLIGRAM)
    elif difference < 0:
        ledger.move(work, kind=MovementKind.FOUND_LESS, source=item, amount=-difference, unit=Unit.MILLIGRAM)
    if tare_mg is not None:
        Container.update(tare_mg=tare_mg).where(Container.item == item.id).execute()
    work.touch(item)
    settle_empty(work, item)
    return _answered(work, item)


@operation
def move_item(work: Work, *, code: str, place: str) -> ItemRef:
    """Move anything with a code to another place. Cold stock is left closed until it has warmed up."""
    item = ledger.lock_one(code, Kind.CONTAINER, Kind.KIT, Kind.MIX, Kind.PART, Kind.MOULD, Kind.SCALE)
    where = ledger.find(place, Kind.PLACE)
    ledger.set_place(work, item, where)
    if item.kind == Kind.CONTAINER:
        material = Material.get_by_id(Container.get_by_id(item.id).material_id)
        if material.warm_up_hours:
            ready = work.act.occurred_at + timedelta(hours=material.warm_up_hours)
            Container.update(not_before=ready).where(Container.item == item.id).execute()
    return ref(item)


@operation
def scrap_container(work: Work, *, container: str, method: str) -> ContainerView:
    """Scrap a container with what is left in it. `method` says how it was made unusable; follow local waste rules."""
    item = ledger.lock_one(container, Kind.CONTAINER)
    if item.state == State.SCRAPPED:
        raise WrongState(f"{item.code} was scrapped already.")
    if item.balance > 0:
        ledger.move(work, kind=MovementKind.SCRAP, source=item, amount=item.balance, unit=Unit(item.unit))
    ledger.set_state(work, item, State.SCRAPPED)
    work.note(container=item.code, scrapped=method)
    return _answered(work, item)


def settle_empty(work: Work, item: Item) -> None:
    fresh = Item.get_by_id(item.id)
    if fresh.balance == 0 and fresh.state in (State.SEALED, State.OPEN):
        ledger.set_state(work, fresh, State.EMPTY)
    elif fresh.balance > 0 and fresh.state == State.EMPTY:
        ledger.set_state(work, fresh, State.OPEN)
    item.state = fresh.state if fresh.balance else State.EMPTY


def require_fit(
    work: Work, item: Item, *, wanted: frozenset[MaterialKind] | None = None, besides_mix: int | None = None
) -> tuple[stock.Loaded, Answer]:
    """Before an act: refuse with every reason and what to take instead, unless it is fit, permitted or asked for."""
    at = work.act.occurred_at
    loaded = stock.load_one(item, at=at, site=work.site, besides_mix=besides_mix)
    answer = loaded.judged(at=at, site=work.site, wanted=wanted)
    if stops_a_start(answer):
        raise refuse_unfit(loaded, answer, at=at)
    return loaded, answer


def refuse_unfit(loaded: stock.Loaded, answer: Answer, *, at: datetime) -> NotFit:
    instead = fit_instead(loaded, at=at)
    open_reasons = [r for r in answer.reasons if r.decision is None]
    can_be_permitted = bool(open_reasons) and all(r.may_permit for r in open_reasons)
    way_out = []
    if instead:
        way_out.append(f"Take {' or '.join(filter(None, [', '.join(instead[:-1]), instead[-1]]))} instead.")
    if can_be_permitted:
        way_out.append("Or ask for a deviation permit; a lead or quality signs it.")
    against = " ".join(r.sentence for r in answer.reasons if r.decision != Decision.PERMITTED)
    return NotFit(
        f"{loaded.item.code} {loaded.material.name}: {against}",
        way_out=" ".join(way_out) or "Scan another container.",
        container=loaded.item.code,
        answer=answer.answer,
        reasons=[
            {"kind": r.kind, "sentence": r.sentence, "may_permit": [str(role) for role in r.may_permit]}
            for r in answer.reasons
        ],
        instead=list(instead),
    )


def judge_use(work: Work, used: Item, on: Item, *, besides_mix: int | None = None) -> None:
    """After an act, which is recorded in any case: what should not have been used flags and holds what it went into."""
    at = work.act.occurred_at
    loaded = stock.load_one(used, at=at, site=work.site, besides_mix=besides_mix)
    answer = loaded.judged(at=at, site=work.site)
    for reason in answer.reasons:
        if reason.kind in ("empty", "reserved"):
            continue
        raise_flag(
            work,
            on,
            reason.kind,
            f"{used.code} {loaded.material.name}: {reason.sentence}",
            stops=True,
            permission=reason.permission,
            hold=reason.decision is None,
            container=used.code,
        )


def draw(
    work: Work,
    source: Item,
    target: Item,
    amount: int,
    *,
    kind: MovementKind,
    confirmed: bool,
    purpose: str | None = None,
) -> Movement:
    """Take from a container into something, past the book if need be (shop rule 7).

    A little more than booked is found automatically; a lot more is asked about, unless the person confirmed the can.
    """
    note_opened(work, source)
    excess = amount - source.balance
    if excess > 0:
        net = Container.get_by_id(source.id).net
        free = max(_FOUND_MORE_MG, int(net * _FOUND_MORE_SHARE)) if source.unit == Unit.MILLIGRAM else 0
        if excess > free and not confirmed:
            per, unit = _SHOWN[Unit(source.unit)]
            booked, taken = source.balance / per, amount / per
            raise MoreThanBooked(
                f"The book has {booked:g} {unit} in {source.code}, {taken:g} {unit} was taken. Another can?",
                way_out="Scan the can again and send its code; if it is this one, send confirmed: true.",
                container=source.code,
                **{f"booked_{unit}": booked, f"taken_{unit}": taken},
            )
        ledger.move(
            work, kind=MovementKind.FOUND_MORE, target=source, amount=excess, unit=Unit(source.unit), estimated=True
        )
        work.note(container=source.code, found_more=excess, confirmed=confirmed)
    movement = ledger.move(
        work, kind=kind, source=source, target=target, amount=amount, unit=Unit(source.unit), purpose=purpose
    )
    settle_empty(work, source)
    return movement


def lot_known(container: Container) -> bool:
    return Lot.get_by_id(container.lot_id).makers_lot is not None
