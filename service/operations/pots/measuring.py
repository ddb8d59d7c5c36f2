"""Graduated cups and droppers: instruments beside the scales (shop rule 23a)."""

from schemas.words import Kind, ScaleForm, State
from service.operations.door.operation import Work, operation
from service.operations.door.refusals import AlreadyThere, Unprocessable
from service.operations.ledger import ledger
from service.operations.pots.scales import ScaleView, view_scale
from service.records.items import Item
from service.records.materials import Scale


def require_new_name(name: str) -> None:
    known = Item.get_or_none((Item.kind == Kind.SCALE) & (Item.name == name))
    if known is not None:
        raise AlreadyThere(f"There is an instrument {name} already.", way_out=f"Use {known.code}.", scale=known.code)


@operation
def add_measure(work: Work, *, name: str, step_ml: float, capacity_ml: float) -> ScaleView:
    """Add a graduated cup or dropper with its step and size. What it measures is weighed by density and step."""
    require_new_name(name)
    if step_ml >= capacity_ml:
        raise Unprocessable("The step has to be smaller than what the measure holds.", pointer="/step_ml")
    item = ledger.new_item(work, Kind.SCALE, name=name, state=State.IN_USE)
    Scale.create(
        item=item,
        form=ScaleForm.MEASURE,
        interval_mg=round(step_ml * 1000),
        repeatability_mg=0,
        maximum_mg=round(capacity_ml * 1000),
    )
    return view_scale(item, at=work.act.occurred_at, site=work.site)
