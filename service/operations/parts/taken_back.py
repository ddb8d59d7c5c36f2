"""What a part and its mould are again once an act on them is said not to have occurred."""

from datetime import datetime
from typing import Any

from peewee import JOIN

from schemas.words import OwnStep, State, StepKind, TreatmentKind
from service.operations.door.operation import Work
from service.operations.door.refusals import CannotUndo
from service.operations.ledger.flags import stands
from service.operations.parts.moulds import lying_in
from service.records.base import known
from service.records.items import Item
from service.records.materials import Container, Material
from service.records.parts import Mould, MouldTreatment, Part, PartStep

# More coats than that were never on a mould at once.
_MOST_COATS = 100


def put_part_back(work: Work, item: Item, operation: str) -> None:
    """What the row of a part kept of an act that did not occur."""
    if operation == "close_lay_up":
        Part.update(laid_up_at=None).where(Part.item == item.id).execute()
    elif operation == "demould":
        _back_into_the_mould(work, item)
    elif operation in ("trim", "record_part_step"):
        Part.update(mass_mg=_mass_mg(item)).where(Part.item == item.id).execute()


def _back_into_the_mould(work: Work, item: Item) -> None:
    row = Part.get_by_id(item.id)
    Part.update(demoulded_at=None).where(Part.item == item.id).execute()
    if row.mould_id is None:
        return
    form = work.item(row.mould_id)
    others = [code for code in lying_in([form.id]).get(form.id, ()) if code != item.code]
    if others:
        raise CannotUndo(
            f"{others[0]} has been started in {form.code} since.", way_out=f"Correct the start of {others[0]} first."
        )
    Mould.update(pulls=Mould.pulls - 1).where(Mould.item == form.id).execute()
    settle_mould(form)
    work.touch(form)


def _mass_mg(item: Item) -> int | None:
    """What the part weighed by the last weighing that stands."""
    weighed = PartStep.select().where(
        (PartStep.part == item.id) & PartStep.kind.in_([OwnStep.TRIMMING, StepKind.MASS]) & stands(PartStep.deed)
    )
    demoulded = PartStep.select().where(
        (PartStep.part == item.id) & (PartStep.kind == OwnStep.DEMOULDING) & stands(PartStep.deed)
    )
    out = demoulded.order_by(PartStep.id.desc()).first()
    for step in weighed.order_by(PartStep.id.desc()):
        counts = step.kind == OwnStep.TRIMMING or (out is not None and step.id > out.id)
        if counts and step.facts.get("mass_g") is not None:
            return round(step.facts["mass_g"] * 1000)
    return None


def refuse_if_built_on(form: Item, since: datetime) -> None:
    """What was on a mould when a part was started in it is in that part's record."""
    later = (
        Item.select(Item.code)
        .join(Part, on=(Part.item == Item.id))
        .where((Part.mould == form.id) & (Part.started_at >= since) & (Item.state != State.ABANDONED))
        .order_by(Item.id)
        .first()
    )
    if later is not None:
        raise CannotUndo(
            f"{later.code} was started in {form.code} since, with what was on it by the record.",
            way_out="Correct that start first; or open a nonconformance on the part.",
        )


def settle_mould(form: Item) -> None:
    """What is on a mould, by the treatments that stand and the pulls that it has had."""
    row = Mould.get_by_id(form.id)
    query = (
        MouldTreatment.select(MouldTreatment, Container, Material)
        .join(Container, JOIN.LEFT_OUTER)
        .join(Material, JOIN.LEFT_OUTER)
        .where((MouldTreatment.mould == form.id) & stands(MouldTreatment.deed))
        .order_by(MouldTreatment.id.desc())
    )
    on: dict[str, Any] = {"ready_at": None, "release_until_pull": None, "coats_on": None, "coats_asked": None}
    laid_at_pull = 0
    for coat in query.limit(_MOST_COATS):
        if coat.kind != TreatmentKind.RELEASE_COAT:
            break
        agent = known(coat.container).material
        if on["coats_on"] is None:
            used_up = row.pulls >= known(coat.until_pull)
            on = {
                "ready_at": None if used_up else coat.ready_at,
                "release_until_pull": coat.until_pull,
                "coats_on": 0,
                "coats_asked": agent.release_coats,
            }
        elif known(coat.until_pull) <= laid_at_pull:
            # It was used up when the next was laid on.
            break
        on["coats_on"] += coat.coats or 1
        laid_at_pull = known(coat.until_pull) - (row.release_pulls or agent.release_pulls or 1)
    Mould.update(on).where(Mould.item == form.id).execute()
