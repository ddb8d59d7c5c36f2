"""What is left in a container, by the scale: gross less the empty weight of its own kind of pack (shop rule 8)."""

from peewee import fn

from schemas.words import Kind, MovementKind, State, Unit
from service.operations.door.operation import Work, operation
from service.operations.door.refusals import ReadItBack, Unprocessable, WrongState
from service.operations.ledger import ledger
from service.operations.stock.containers import ContainerView, answered
from service.operations.stock.using import more_than_labelled_mg, settle_empty
from service.records.items import Item
from service.records.materials import Container, Material


@operation
def weigh_back(
    work: Work, *, container: str, gross_mg: int, tare_mg: int | None = None, read_back_mg: int | None = None
) -> ContainerView:
    """Weigh a container with what is left in it; the book follows the scale, and says by how much it was off."""
    item = ledger.lock_one(work, container, Kind.CONTAINER)
    row = Container.get_by_id(item.id)
    if item.unit != Unit.MILLIGRAM or item.state == State.SCRAPPED:
        raise WrongState(f"{item.code} cannot be weighed back: it is {item.state} and kept by {item.unit}.")
    tare = tare_mg or row.tare_mg or tare_of_pack(row)
    if tare is None:
        raise Unprocessable(
            "What the empty can weighs is not known: give that too, from its own pack or the first empty one.",
            pointer="/tare_g",
        )
    net = gross_mg - tare
    if net < 0:
        raise Unprocessable(
            f"The empty container alone weighs {tare / 1000:g} g; read the scale again.", pointer="/gross_g"
        )
    _read_back(item, row, net, gross_mg, read_back_mg)
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
    return answered(work, item)


def tare_of_pack(row: Container) -> int | None:
    """The empty weight of a pack of this size: of another one of the material, or what is kept of the material.

    What is kept of the material is about the one pack that it comes in; where it has come in several, it says nothing.
    A container that was filled here has a weight of its own.
    """
    if row.parent_id is not None:
        return None
    packs = (Container.material == row.material_id) & Container.parent.is_null()
    same = Container.select(Container.tare_mg).where(
        packs & (Container.net == row.net) & Container.tare_mg.is_null(False)
    )
    newest = same.order_by(Container.item.desc()).first()
    if newest is not None:
        return int(newest.tare_mg)
    sizes = Container.select(fn.COUNT(Container.net.distinct())).where(packs).scalar()
    tare: int | None = Material.get_by_id(row.material_id).tare_mg if sizes == 1 else None
    return tare


def _read_back(item: Item, row: Container, net: int, gross: int, again: int | None) -> None:
    """More than the container holds when full is asked for once more; a can may hold a little more than its label."""
    full = max(row.net, item.balance)
    if net <= full + more_than_labelled_mg(row) or again == gross:
        return
    if again is not None:
        raise ReadItBack(
            f"{gross / 1000:g} g and {again / 1000:g} g are two readings.",
            way_out="Weigh it once more; nothing was stored.",
            answer_with={"read_back_g": None},
        )
    raise ReadItBack(
        f"{net / 1000:g} g would be in {item.code}, which holds {full / 1000:g} g. Weigh it once more.",
        way_out="Give the figure that the scale shows now; nothing was stored yet.",
        answer_with={"read_back_g": None},
        net_g=net / 1000,
        full_g=full / 1000,
    )
