"""Cloth that is cut already: kits that lie ready for these designs, each of which one part takes instead of a roll."""

from collections.abc import Collection, Sequence
from datetime import datetime

from schemas.words import State
from service.operations.building.timeline import Unit
from service.operations.building.wanted import MOST_PARTS, Cloth
from service.operations.ledger.graph import standing_holds
from service.records.items import Flag, Item
from service.records.materials import Container, Lot, Material
from service.records.parts import Cut, Design, Kit


def kits_for(
    units: Sequence[Unit], cloths: dict[int, tuple[Cloth, ...]], *, at: datetime
) -> dict[tuple[int, int], str]:
    """Line and part -> the kit that is cut for it; the oldest first, and others who come first have theirs first.

    Counted is a kit that holds every ply of cloth that its design asks for, with no hold on it or on what it was cut
    from and nothing noted against it. One of prepreg goes on using up its lives, and is not counted; nor is one that is
    a share of several for a part.
    """
    designs = {unit.line.design.id: unit.line.design for unit in units if cloths[unit.line.design.id]}
    ready = _ready(designs, at=at)
    found: dict[tuple[int, int], str] = {}
    for unit in units:
        waiting = ready.get(unit.line.design.id)
        if waiting:
            found[unit.line.number, unit.part] = waiting.pop(0)
    return found


def _ready(designs: dict[int, Design], *, at: datetime) -> dict[int, list[str]]:
    """The codes of kits by design, the oldest first, as many as one check could take."""
    rows = list(
        Kit.select(Kit.item, Kit.design, Item.code)
        .join(Item, on=(Kit.item == Item.id))
        .where(
            Kit.design.in_(list(designs))
            & (Item.state == State.CUT)
            & (Kit.of.is_null() | (Kit.of == 1))
            & Kit.item.not_in(Flag.select(Flag.item))
        )
        .order_by(Kit.item)
        .limit(MOST_PARTS)
        .tuples()
    )
    kits = [row[0] for row in rows]
    holds, plies, prepreg = standing_holds(kits, at=at), *_cut(kits)
    found: dict[int, list[str]] = {}
    for number, design, code in rows:
        if not holds[number] and number not in prepreg and _asked(designs[design]) <= plies.get(number, set()):
            found.setdefault(design, []).append(code)
    return found


def _asked(design: Design) -> set[int]:
    return {ply["number"] for ply in design.plies}


def _cut(kits: Collection[int]) -> tuple[dict[int, set[int]], set[int]]:
    """Kit -> the plies that are in it; and the kits with prepreg among them."""
    plies: dict[int, set[int]] = {}
    prepreg: set[int] = set()
    query = (
        Cut.select(Cut.kit, Cut.plies, Material.out_time)
        .join(Container, on=(Cut.roll == Container.item))
        .join(Lot, on=(Container.lot == Lot.item))
        .join(Material, on=(Lot.material == Material.id))
        .where(Cut.kit.in_(list(kits)))
    )
    for kit, numbers, lives in query.tuples():
        plies.setdefault(kit, set()).update(numbers)
        if lives is not None:
            prepreg.add(kit)
    return plies, prepreg
