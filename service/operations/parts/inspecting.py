"""Inspection, and what follows when something is wrong: a nonconformance, a hold at once, a decision by another."""

from collections.abc import Mapping, Sequence
from typing import Any

from schemas.words import Alone, Disposition, Kind, MovementKind, ScrappedAs, State, Unit
from service.operations.door.acts import ACTS
from service.operations.door.operation import Work, operation
from service.operations.door.refusals import Unprocessable, WrongState
from service.operations.door.rows import find_row
from service.operations.ledger import ledger
from service.operations.ledger.flags import lift, place_hold_on, raise_flag
from service.operations.ledger.second import makers_of, require_second
from service.operations.parts.as_designed import mark_as_designed
from service.operations.parts.begun import begin_if_planned
from service.operations.parts.findings import NonconformanceView, view_nonconformance
from service.operations.parts.laminate import measured_on
from service.operations.parts.part import load_part, mark_unknown_lots
from service.operations.parts.planned import OUT_OF_THE_LINE, cancel_planned, place_in_line, plan_replacement
from service.operations.parts.scrapping import was_tested
from service.operations.parts.starting import scrap
from service.operations.parts.view import PartView, answered
from service.records.items import Hold, Item
from service.records.parts import Defect, Inspection, Nonconformance, Part

# Where rework and repair start again from.
_FINISHED = (State.CURED, State.TRIMMED, State.RELEASED, State.RETURNED)


_ELSEWHERE = (State.SHIPPED, State.FITTED)


@operation
def inspect_part(
    work: Work,
    *,
    part: str,
    accepted: bool,
    remark: str | None = None,
    measurements: Sequence[Mapping[str, Any]] = (),
    samples: Sequence[Mapping[str, Any]] = (),
    defects: Sequence[Mapping[str, Any]] = (),
) -> PartView:
    """Inspect a part: what was measured and found. Not accepted, it is a nonconformance and on hold at once.

    Of what was scrapped only what was sectioned or tested is inspected: that is what it was scrapped for.
    """
    item = ledger.lock_one(work, part, Kind.PART)
    if item.state in OUT_OF_THE_LINE and not was_tested(item):
        raise WrongState(
            f"{item.code} {'was scrapped' if item.state == State.SCRAPPED else 'was never begun'}.",
            way_out="Scan the part that is in front of you.",
        )
    begin_if_planned(work, item, "It was inspected")
    held = load_part(item)
    row = held.row
    _check_zones(row, defects)
    if accepted and not all(d["accepted"] for d in defects):
        raise Unprocessable("A part with a defect that is not accepted is not accepted.", pointer="/accepted")
    judged = [_judged(m) for m in (*measurements, *measured_on(held, samples))]
    inspection = Inspection.create(
        part=row,
        accepted=accepted,
        remark=remark,
        measurements=judged,
        occurred_at=work.act.occurred_at,
        deed=work.deed,
    )
    work.touch(item)
    work.note(part=item.code, inspection=inspection.id, accepted=accepted, measurements=judged, defects=list(defects))
    opened = None
    if not accepted:
        opened = _open(work, item, _found(remark, judged, defects), in_service=False, failed=False)
    for defect in defects:
        wrong = opened if opened is not None and not defect["accepted"] else None
        _defect(work, row, defect, inspection=inspection, nonconformance=wrong)
    if accepted:
        for measured in judged:
            if measured["within"] is False:
                raise_flag(
                    work, item, "out-of-limit", _measured(measured), stops=True, hold=True, name=measured["name"]
                )
    mark_unknown_lots(work, held)
    mark_as_designed(work, held)
    return answered(work, held)


def _check_zones(row: Part, defects: Sequence[Mapping[str, Any]]) -> None:
    for index, defect in enumerate(defects):
        if row.design.zones and defect["zone"] not in row.design.zones:
            raise Unprocessable(
                f"{defect['zone']} is none of the zones of {row.design.part_number}: {', '.join(row.design.zones)}.",
                pointer=f"/defects/{index}/zone",
            )


def _judged(measured: Mapping[str, Any]) -> dict[str, Any]:
    """The limits decide, not the person; nothing is decided where there are none."""
    value, low, high = measured["value"], measured.get("low"), measured.get("high")
    limited = low is not None or high is not None
    within = (low is None or value >= low) and (high is None or value <= high)
    return {
        "name": measured["name"],
        "value": value,
        "unit": measured.get("unit"),
        "low": low,
        "high": high,
        "within": within if limited else None,
        **({"sentence": measured["sentence"]} if "sentence" in measured else {}),
    }


def _measured(measured: Mapping[str, Any]) -> str:
    # A hardness is named after its scale: "Barcol is 22", not "Barcol is 22 Barcol".
    said_already = measured["unit"] and measured["unit"].casefold() in measured["name"].casefold()
    unit = f" {measured['unit']}" if measured["unit"] and not said_already else ""
    limits = [
        f"{word} {measured[end]:g}"
        for word, end in (("at least", "low"), ("at most", "high"))
        if measured[end] is not None
    ]
    name = f"{measured['name'][:1].upper()}{measured['name'][1:]}"
    return f"{name} is {measured['value']:g}{unit}; {' and '.join(limits)} is asked for."


def _found(remark: str | None, judged: Sequence[Mapping[str, Any]], defects: Sequence[Mapping[str, Any]]) -> str:
    """What is wrong, from what the inspection says."""
    parts = [f"{d['kind']} in {d['zone']}" + _size(d) for d in defects if not d["accepted"]]
    parts += [_measured(m).rstrip(".") for m in judged if m["within"] is False]
    parts += [remark] if remark else []
    return "; ".join(parts) or "not accepted at inspection"


def _size(defect: Mapping[str, Any]) -> str:
    return f", {defect['size_mm']:g} mm" if defect.get("size_mm") is not None else ""


def _defect(
    work: Work,
    row: Part,
    defect: Mapping[str, Any],
    *,
    inspection: Inspection | None = None,
    nonconformance: Nonconformance | None = None,
) -> None:
    Defect.create(
        inspection=inspection,
        nonconformance=nonconformance,
        part=row,
        kind=defect["kind"],
        zone=defect["zone"],
        size_mm=defect.get("size_mm"),
        limit_mm=defect.get("limit_mm"),
        accepted=defect["accepted"],
        remark=defect.get("remark"),
        deed=work.deed,
    )


def _open(work: Work, item: Item, found: str, *, in_service: bool, failed: bool) -> Nonconformance:
    row = Nonconformance.create(
        item=item,
        found=found,
        in_service=in_service,
        failed=failed,
        opened_at=work.act.occurred_at,
        opened_by=work.act.person,
        deed=work.deed,
    )
    place_hold_on(work, item, f"Nonconformance {row.id}: {found}", nonconformance=row.id)
    work.note(nonconformance=row.id, item=item.code, found=found, in_service=in_service, failed=failed)
    return row


@operation
def open_nonconformance(
    work: Work,
    *,
    item: str,
    found: str,
    in_service: bool = False,
    failed: bool = False,
    defects: Sequence[Mapping[str, Any]] = (),
) -> NonconformanceView:
    """Say what is wrong with something, found in the shop or by the customer. It is on hold at once."""
    thing = ledger.lock_one(work, item)
    if defects and thing.kind != Kind.PART:
        raise Unprocessable("Only a part has defects with zones; say what is wrong in a sentence.", pointer="/defects")
    part = load_part(thing).row if thing.kind == Kind.PART and defects else None
    if part is not None:
        _check_zones(part, defects)
    row = _open(work, thing, found, in_service=in_service, failed=failed)
    for defect in defects:
        if part is not None:
            _defect(work, part, {**defect, "accepted": False}, nonconformance=row)
    return view_nonconformance(row.id)


@operation
def decide_nonconformance(
    work: Work, *, nonconformance: int, disposition: Disposition, because: str
) -> NonconformanceView:
    """Decide on a nonconformance: use as is, rework, repair or scrap. Whoever opened it does not decide it as well."""
    about = Item.select(Item.code).join(Nonconformance).where(Nonconformance.id == nonconformance).first()
    if about is None:
        find_row(Nonconformance, nonconformance, "nonconformance")
    item = ledger.lock_one(work, about.code)
    row: Nonconformance = find_row(Nonconformance, nonconformance, "nonconformance")
    if row.disposition is not None:
        raise WrongState(f"Nonconformance {row.id} was decided already: {row.disposition}.")
    ledger.refuse_before(work, row.opened_at, f"Nonconformance {row.id} was opened")
    made = makers_of(load_part(item).made_of | {item.id} if item.kind == Kind.PART else [item.id])
    require_second(
        work, Alone.DECISION, {row.opened_by_id, *made}, roles=ACTS["decide_nonconformance"].roles, item=item,
        sentence="Whoever opened a nonconformance, or made the part, does not decide it.",
    )  # fmt: skip
    Nonconformance.update(
        disposition=disposition,
        decided_because=because,
        decided_at=work.act.recorded_at,
        decided_by=work.act.person,
        decided_in=work.deed,
    ).where(Nonconformance.id == row.id).execute()
    work.touch(item)
    work.note(nonconformance=row.id, item=item.code, disposition=disposition, because=because)
    if disposition == Disposition.SCRAP:
        _scrap(work, item, because)
    else:
        for hold in Hold.select().where((Hold.nonconformance == row.id) & Hold.lifted_at.is_null()):
            lift(work, hold)
        _go_on(work, item, row, disposition)
    return view_nonconformance(row.id)


def _go_on(work: Work, item: Item, row: Nonconformance, disposition: Disposition) -> None:
    """What was decided is read again at release; rework and repair are steps of their own, with pots and cures."""
    sentence = f"Nonconformance {row.id} ({row.found}): {disposition}."
    raise_flag(work, item, disposition.replace(" ", "-"), sentence, stops=False, nonconformance=row.id)
    if disposition == Disposition.USE_AS_IS or item.kind != Kind.PART or item.state not in _FINISHED:
        return
    Part.update(released_at=None, released_by=None).where(Part.item == item.id).execute()
    ledger.set_state(work, item, State.DEMOULDED)


def _scrap(work: Work, item: Item, because: str) -> None:
    """Scrapped is what is here; a part at the customer's stays where it is, and its hold stands."""
    if item.kind == Kind.PART:
        if item.state == State.PLANNED:
            cancel_planned(work, [item])
            plan_replacement(work, item, *place_in_line(item))
        elif item.state not in (*_ELSEWHERE, *OUT_OF_THE_LINE):
            scrap(work, item, because, ScrappedAs.FAILED)
        return
    states = {
        Kind.CONTAINER: State.SCRAPPED,
        Kind.KIT: State.SCRAPPED,
        Kind.LOT: State.REJECTED,
        Kind.MIX: State.DISCARDED,
        Kind.MOULD: State.WITHDRAWN,
        Kind.SCALE: State.WITHDRAWN,
        Kind.PLACE: State.WITHDRAWN,
    }
    state = states.get(Kind(item.kind))
    if state is None:
        return
    if item.balance > 0 and item.unit is not None:
        ledger.move(work, kind=MovementKind.SCRAP, source=item, amount=item.balance, unit=Unit(item.unit))
    ledger.set_state(work, item, state)
