"""Parts begin, are fitted into assemblies, and may be scrapped. Each has its code from the start.

A part is one piece from then on. When it leaves (shipped, scrapped, fitted) that piece is booked out of it, so that its
balance says whether it is still here. Fitting is two movements: the unmeasured one that carries the trace into the
assembly, which stays one piece whatever is bonded to it, and the piece that the component no longer is.
"""

from collections.abc import Iterable

from schemas.words import Kind, MovementKind, ScrappedAs, State, Unit
from service.operations.door.operation import Work, operation
from service.operations.door.refusals import OnHold, Unprocessable, WrongState
from service.operations.ledger import ledger
from service.operations.ledger.flags import raise_flag
from service.operations.ledger.graph import standing_holds
from service.operations.ledger.holding import require_not_held
from service.operations.parts.begun import begin, begin_if_planned
from service.operations.parts.designs import DESIGNS, find_design
from service.operations.parts.moulds import not_ready, used_since_last_pull
from service.operations.parts.part import PartInHand, load_part, mark_if_late_in_life, still_here
from service.operations.parts.planned import place_in_line, plan_replacement
from service.operations.parts.scrapping import ScrappingView
from service.operations.parts.view import PartView, answered
from service.records.base import known
from service.records.items import Item
from service.records.parts import Design, Mould, Part

_MAY_BE_FITTED = (State.CURED, State.DEMOULDED, State.TRIMMED, State.RELEASED)


@operation
def start_part(
    work: Work,
    *,
    design: int | None = None,
    part_number: str | None = None,
    revision: str | None = None,
    mould: str | None = None,
    order: str | None = None,
    customer: str | None = None,
    confirmed: bool = False,
) -> PartView:
    """Start a part: it gets its code now, before anything is laid. The mould has to be released and its wait over."""
    plan = find_design(design=design, part_number=part_number, revision=revision)
    DESIGNS.require_approved(plan)
    _, form, agents = _locked(work, None, mould)
    doubts = _doubts(work, form, plan.part_number, confirmed=confirmed)
    item = ledger.new_item(work, Kind.PART, name=plan.name, state=State.LAYING, unit=Unit.PIECE)
    row = Part.create(
        item=item,
        design=plan,
        mould=form.id if form is not None else None,
        order=order,
        customer=customer,
        started_at=work.act.occurred_at,
        started_by=work.act.person,
    )
    ledger.move(work, kind=MovementKind.MADE, target=item, amount=1, unit=Unit.PIECE)
    _into_mould(work, item, form, agents, doubts)
    work.note(part=item.code, design=plan.id, mould=mould, order=order, customer=customer)
    return answered(work, PartInHand(item, row, started_by=work.who, mould=form))


@operation
def start_planned_part(work: Work, *, part: str, mould: str | None = None, confirmed: bool = False) -> PartView:
    """Start a part that was planned for an order: in its mould, by its line's revision or the newest approved one.

    A hold on the part itself stops its start. A label that names another revision is replaced.
    """
    found, form, agents = _locked(work, part, mould)
    item = known(found)
    still_here(item)
    if item.state != State.PLANNED:
        raise WrongState(f"{item.code} was started already; it is {item.state}.", way_out="Go on with it as it is.")
    if item.holds:
        require_not_held(item)
    number = Design.select(Design.part_number).join(Part).where(Part.item == item.id).get().part_number
    doubts = _doubts(work, form, number, confirmed=confirmed)
    plan = begin(work, item, mould=form)
    _into_mould(work, item, form, agents, doubts)
    work.note(part=item.code, design=plan.id, mould=mould)
    return answered(work, load_part(item))


def _locked(work: Work, part: str | None, mould: str | None) -> tuple[Item | None, Item | None, list[Item]]:
    """The part that is there already, the mould, and the release agents on it; a mould that may not be used stops."""
    planned = ledger.find(part, Kind.PART) if part is not None else None
    found = ledger.find(mould, Kind.MOULD) if mould is not None else None
    agents = used_since_last_pull(found) if found is not None else []
    codes = [one.code for one in (planned, found, *agents) if one is not None]
    locked = ledger.lock(work, *codes) if codes else {}
    form = locked[found.code] if found is not None else None
    if form is not None:
        if form.state == State.WITHDRAWN:
            raise WrongState(f"{form.code} was taken out of use.", way_out="Take another mould.")
        require_not_held(form)
    return locked[planned.code] if planned is not None else None, form, [locked[a.code] for a in agents]


def _into_mould(
    work: Work, item: Item, form: Item | None, agents: Iterable[Item], doubts: Iterable[tuple[str, str]]
) -> None:
    """What the mould brings along: itself, the release agents on it, and what spoke against it."""
    if form is not None:
        ledger.made_with(work, item, "mould", used=form)
        work.touch(form)
    for agent in agents:
        ledger.move(work, kind=MovementKind.TREATMENT, source=agent, target=item, purpose="mould")
    for kind, sentence in doubts:
        raise_flag(work, item, kind, sentence, stops=False, why=work.act.why)


def _doubts(work: Work, form: Item | None, part_number: str, *, confirmed: bool) -> list[tuple[str, str]]:
    """What speaks against this mould now; refused, unless the person says why it is right nevertheless."""
    if form is None:
        return []
    mould = Mould.get_by_id(form.id)
    at = work.act.occurred_at
    found = not_ready(mould, form, at=at, zone=work.site.zone, part_number=part_number)
    if found and not (confirmed and work.act.why is not None):
        waiting = mould.ready_at is not None and at < mould.ready_at
        raise WrongState(
            " ".join(f.sentence for f in found),
            way_out="Make the mould ready first; or say why it is right as it is.",
            answer_with={"confirmed": True, "why": None},
            reasons=[f.kind for f in found],
            ready_at=known(mould.ready_at).isoformat().replace("+00:00", "Z") if waiting else None,
        )
    return [(f.kind, f.sentence) for f in found]


@operation
def bond_part(work: Work, *, part: str, component: str) -> PartView:
    """Fit a finished part into an assembly. The adhesive is a mix of its own, applied to the assembly for bonding."""
    if component == part:
        raise Unprocessable("A part cannot be fitted into itself.", pointer="/component")
    locked = ledger.lock(work, part, component, kinds=[Kind.PART])
    whole, piece = locked[part], locked[component]
    if piece.state not in _MAY_BE_FITTED:
        raise WrongState(
            f"{piece.code} is {piece.state}; only a cured part that is still here can be fitted.",
            way_out="Scan the part that is to be fitted.",
        )
    holds = standing_holds([piece.id], at=work.act.occurred_at)[piece.id]
    if holds:
        raise OnHold(
            f"{piece.code} is on hold: {holds[0].reason}",
            way_out="Quality says why and lifts the hold.",
            holds=[{"id": h.id, "on": h.on, "reason": h.reason} for h in holds],
        )
    mark_if_late_in_life(work, whole, f"{piece.code} was fitted")
    stood = ledger.state_then(work, piece)
    if not stood == piece.state == State.RELEASED:
        sentence = f"{piece.code} was fitted and had not been released; it was {stood}."
        raise_flag(work, whole, "component-not-released", sentence, stops=True, component=piece.code)
    ledger.move(work, kind=MovementKind.BONDING, source=piece, target=whole)
    ledger.move(work, kind=MovementKind.BONDING, source=piece, amount=1, unit=Unit.PIECE)
    ledger.set_state(work, piece, State.FITTED)
    return answered(work, load_part(whole))


@operation
def scrap_part(work: Work, *, part: str, method: str, scrapped_as: ScrappedAs | None = None) -> PartView:
    """Scrap a part. It stays in the record with all that went into it; `method` says how it was made unusable.

    It counts as failed, unless it is said that it was sectioned or tested, or is not wanted.
    """
    item = ledger.lock_one(work, part, Kind.PART)
    still_here(item)
    begin_if_planned(work, item, "It was scrapped")
    said = scrap(work, item, method, scrapped_as)
    held = load_part(item)
    held.scrapping = ScrappingView(said, method, work.act.occurred_at, work.who)
    return answered(work, held)


def scrap(work: Work, item: Item, method: str, scrapped_as: ScrappedAs | None) -> ScrappedAs:
    """Book the piece out and say how and as what, within another operation; where the shop replaces it, another one is
    planned. Of what an order was cancelled for nobody has to say that it is not wanted.
    """
    row, line = place_in_line(item)
    unless_said = ScrappedAs.NOT_WANTED if line is not None and line.order.cancelled_at else ScrappedAs.FAILED
    said = scrapped_as or unless_said
    ledger.move(work, kind=MovementKind.SCRAP, source=item, amount=1, unit=Unit.PIECE, purpose=said)
    ledger.set_state(work, item, State.SCRAPPED)
    work.note(part=item.code, scrapped=method, scrapped_as=said)
    work.write_items()
    plan_replacement(work, item, row, line)
    return said
