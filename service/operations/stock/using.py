"""What other rooms ask of a can: may it be used, was it right to use it, take this much from it."""

from typing import Any

from schemas.words import Decision, MaterialKind, MovementKind, State, Unit
from service.operations.door.operation import Work
from service.operations.door.refusals import MoreThanBooked, NotFit
from service.operations.ledger import ledger
from service.operations.ledger.flags import raise_flag
from service.operations.stock import load
from service.operations.stock.fitness import Answer, stops_a_start
from service.operations.stock.peroxides import is_organic_peroxide
from service.operations.stock.picking import fit_instead
from service.operations.stock.reserved import Taken, ask_if_reserved
from service.operations.stock.then import judged_later
from service.records.base import known
from service.records.items import Flag, Item, Movement
from service.records.materials import Container

# Up to this much, or this share of its net, a can may hold more than its label says (shop rule 7).
_FOUND_MORE_MG = 50_000


_FOUND_MORE_SHARE = 0.02


# What the book keeps in an amount that is shown, and how that is called.
_SHOWN = {Unit.MILLIGRAM: (1000, "g"), Unit.MILLIMETRE: (1, "mm"), Unit.PIECE: (1, "pieces")}


def more_than_labelled_mg(row: Container) -> int:
    """How much more than its label says a can may hold, as a matter of course."""
    return max(_FOUND_MORE_MG, int(row.net * _FOUND_MORE_SHARE))


def note_opened(work: Work, item: Item, row: Any = None) -> None:
    """A sealed container is open from its first draw on, whether anyone tapped or not; `row` is its own, if at hand."""
    if item.state != State.SEALED:
        return
    if row is not None:
        row.opened_at = work.act.occurred_at
    Container.update(opened_at=work.act.occurred_at).where(Container.item == item.id).execute()
    ledger.set_state(work, item, State.OPEN)


def settle_empty(work: Work, item: Item) -> None:
    if item.balance == 0 and item.state in (State.SEALED, State.OPEN):
        ledger.set_state(work, item, State.EMPTY)
    elif item.balance > 0 and item.state == State.EMPTY:
        ledger.set_state(work, item, State.OPEN)


def require_fit(work: Work, loaded: load.Loaded, *, wanted: frozenset[MaterialKind] | None = None) -> Answer:
    """Before an act: refuse with every reason and what to take instead, unless it is fit, permitted or asked for."""
    answer = loaded.judged(at=work.act.occurred_at, site=work.site, wanted=wanted)
    if stops_a_start(answer):
        raise refuse_unfit(work, loaded, answer)
    return answer


def refuse_unfit(work: Work, loaded: load.Loaded, answer: Answer) -> NotFit:
    instead = fit_instead(loaded, at=work.act.occurred_at, site=work.site)
    open_reasons = [r for r in answer.reasons if r.decision is None]
    can_be_permitted = bool(open_reasons) and all(r.may_permit for r in open_reasons)
    way_out = []
    if instead:
        way_out.append(f"Take {' or '.join(filter(None, [', '.join(instead[:-1]), instead[-1]]))} instead.")
    if any(r.kind == "not-released" for r in open_reasons):
        way_out.append(f"{'Or the' if instead else 'The'} lead or quality releases lot {loaded.lot_item.code} first.")
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


def load_used(work: Work, used: Item, *, besides_mix: int | None = None) -> load.Loaded:
    """All that there is to know of a can that an act uses."""
    return load.load_one(used, at=work.act.occurred_at, site=work.site, besides_mix=besides_mix)


def judge_use(work: Work, used: load.Loaded, on: Item, *, as_catalyst: bool = False) -> list[Flag]:
    """After an act, which is recorded in any case: what should not have been used flags and holds what it went into.

    A use that is told later is judged by what was known when it happened, and by what was refused since.
    """
    act = work.act
    if act.occurred_at < act.recorded_at:
        reasons = judged_later(used, at=act.occurred_at, now=act.recorded_at, site=work.site)
    else:
        reasons = used.judged(at=act.occurred_at, site=work.site).reasons
    misused = []
    if is_organic_peroxide(used.material) and not as_catalyst:
        sentence = (
            f"{used.item.code} {used.material.name} is an organic peroxide: a catalyst of its systems, nothing else."
        )
        misused = [raise_flag(work, on, "peroxide-misused", sentence, stops=True, hold=True, container=used.item.code)]
    return misused + [
        raise_flag(
            work,
            on,
            reason.kind,
            f"{used.item.code} {used.material.name}: {reason.sentence}",
            stops=True,
            permission=reason.permission,
            hold=reason.decision is None,
            container=used.item.code,
        )
        for reason in reasons
        if reason.kind not in ("empty", "reserved")
    ]


def draw(
    work: Work,
    source: Item,
    row: Container,
    target: Item,
    amount: int,
    *,
    kind: MovementKind,
    confirmed: bool,
    despite_reservation: bool,
    planned: int = 0,
    purpose: str | None = None,
) -> Movement:
    """Take from a container into something, past the book if need be (shop rule 7).

    A little more than booked is found automatically; a lot more is asked about, unless the person confirmed the can. So
    is what goes beyond ``planned``, which was asked about at the start, where a reserved order is left short by it.
    """
    ask_if_reserved(work, [Taken(source, row.material_id, amount - planned)], into=target, despite=despite_reservation)
    note_opened(work, source, row)
    excess = amount - source.balance
    if excess > 0:
        free = more_than_labelled_mg(row) if source.unit == Unit.MILLIGRAM else 0
        if excess > free and not confirmed:
            per, unit = _SHOWN[Unit(known(source.unit))]
            booked, taken = source.balance / per, amount / per
            facts: dict[str, Any] = {f"booked_{unit}": booked, f"taken_{unit}": taken}
            raise MoreThanBooked(
                f"The book has {booked:g} {unit} in {source.code}, {taken:g} {unit} was taken. Another can?",
                way_out="Scan the can again; if it is this one, say so.",
                answer_with={"confirmed": True},
                container=source.code,
                **facts,
            )
        ledger.move(
            work,
            kind=MovementKind.FOUND_MORE,
            target=source,
            amount=excess,
            unit=Unit(known(source.unit)),
            estimated=True,
        )
        work.note(container=source.code, found_more=excess, confirmed=confirmed)
    movement = ledger.move(
        work, kind=kind, source=source, target=target, amount=amount, unit=Unit(known(source.unit)), purpose=purpose
    )
    settle_empty(work, source)
    return movement
