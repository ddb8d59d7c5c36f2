"""What a pot is to be mixed from: an approved system, the right pair of cans, each fit for use."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from schemas.words import Component, Kind, State
from service.operations.door.operation import Work
from service.operations.door.refusals import PeroxideBarred, Unprocessable, WrongPair
from service.operations.ledger import ledger
from service.operations.pots.system import SystemView, hardeners_of, view_system
from service.operations.pots.systems import SYSTEMS, refuse_peroxide
from service.operations.stock import load
from service.operations.stock.fitness import Answer, stops_a_start
from service.operations.stock.peroxides import keep_apart
from service.operations.stock.picking import fit_among, on_shelf
from service.operations.stock.using import refuse_unfit
from service.records.base import known
from service.records.items import Item
from service.records.journal import Document
from service.records.materials import Container, ResinSystem, SystemHardener


@dataclass(frozen=True, slots=True)
class Chosen:
    """A can that was scanned for the pot, which component it is, and how much it is to give."""

    item: Item
    loaded: load.Loaded
    answer: Answer
    component: Component
    mass_mg: int | None

    @property
    def free_mg(self) -> int:
        return max(0, self.loaded.facts.balance - self.loaded.facts.reserved)


@dataclass(frozen=True, slots=True)
class Recipe:
    """What a pot is mixed from: the system, its hardener, the cans that were scanned, and what else is on the shelf."""

    system: ResinSystem
    hardeners: list[SystemHardener]
    hardener: SystemHardener
    chosen: list[Chosen]
    shelf: list[load.Loaded]

    @property
    def frozen(self) -> Document:
        """What was frozen of the system when it was approved."""
        return known(self.system.document)

    @property
    def view(self) -> SystemView:
        return view_system(self.system, self.hardeners, self.frozen.sha256)

    @property
    def promoter(self) -> dict[str, Any] | None:
        """The promoter that its catalyst needs, unless the resin came with it in."""
        kept: dict[str, Any] | None = (self.hardener.catalyst or {}).get("promoter")
        return kept

    @property
    def scanned_first(self) -> tuple[Component, ...]:
        """What is scanned for the start: where a promoter goes in, the peroxide stays away until it is stirred in."""
        second = Component.HARDENER if self.promoter is None else Component.PROMOTER
        return (Component.RESIN, second)

    def chosen_of(self, component: Component, need_mg: int) -> list[tuple[list[Chosen], int]]:
        """The cans of a component and what they are to give; of a blend in the cup each hardener by its fraction."""
        chosen = [one for one in self.chosen if one.component == component]
        blend = self.hardener.blend
        apart = component == Component.HARDENER and blend is not None
        if not apart or all(one.loaded.material.id == self.hardener.material_id for one in chosen):
            return [(chosen, need_mg)]
        if any(one.loaded.material.id == self.hardener.material_id for one in chosen):
            raise WrongPair(
                f"{self.hardener.material.name} blended in a can and its hardeners were scanned together.",
                way_out="Scan the blended can, or the two hardeners.",
            )
        first, second = blend["of"]
        share = round(need_mg * first["fraction_pct"] / 100)
        cans = {p["material"]: [c for c in chosen if c.loaded.material.id == p["material"]] for p in blend["of"]}
        for part in blend["of"]:
            if not cans[part["material"]]:
                raise Unprocessable(f"Scan {part['name']} too: it is part of the blend.", pointer="/containers")
        return [(cans[first["material"]], share), (cans[second["material"]], need_mg - share)]

    def fit(self, work: Work, component: Component) -> list[load.Loaded]:
        """The cans of a component that are fit for use, in the order in which they are to be used up."""
        material = self.system.resin_id if component == Component.RESIN else self.hardener.material_id
        if component == Component.PROMOTER:
            material = known(self.promoter)["material"]
        return fit_among(self.shelf, material, at=work.act.occurred_at, site=work.site)


def find_recipe(work: Work, system: int, hardener: int | None, containers: Sequence[Mapping[str, Any]]) -> Recipe:
    """The right pair first, then fit for use."""
    row = SYSTEMS.current(system, pointer="/system")
    codes = [line["container"] for line in containers]
    if len(set(codes)) < len(codes):
        raise Unprocessable("Name each container once.", pointer="/containers")
    locked = ledger.lock(work, *codes, kinds=[Kind.CONTAINER])
    own = hardeners_of([row.id])[row.id]
    for one in own:
        one.system = row
    scanned = {can.id: can for can in locked.values()}
    named = _hardener(row, own, hardener, scanned)
    if named.catalyst is None:
        refuse_peroxide(row.resin)
        refuse_peroxide(named.material)
    # What was scanned is locked, and known better so than as it stands on the shelf.
    promoter = (named.catalyst or {}).get("promoter")
    blended = [part["material"] for part in (named.blend or {}).get("of", ())]
    second = [promoter["material"]] if promoter is not None else [named.material_id, *blended]
    others = [can for can in on_shelf([row.resin_id, *second]) if can.id not in scanned]
    shelf = load.load([*scanned.values(), *others], at=work.act.occurred_at, site=work.site)
    loaded = {r.item.code: r for r in shelf}
    keep_apart([loaded[code].material for code in codes])
    chosen = [_chosen(work, loaded[line["container"]], line.get("mass_mg"), row, own, named) for line in containers]
    there = [r for r in shelf if r.item.balance > 0 and r.item.state in (State.SEALED, State.OPEN)]
    return Recipe(system=row, hardeners=own, hardener=named, chosen=chosen, shelf=there)


def _hardener(
    row: ResinSystem, rows: Sequence[SystemHardener], wanted: int | None, cans: Mapping[int, Item]
) -> SystemHardener:
    """The hardener that was named, or else the one that was scanned."""
    if wanted is not None:
        found = next((h for h in rows if h.material_id == wanted), None)
        if found is None:
            raise Unprocessable(
                f"Material {wanted} is no hardener of {row.name}; its hardeners are "
                f"{', '.join(f'{h.material.name} ({h.material_id})' for h in rows)}.",
                pointer="/hardener",
            )
        return found
    materials = Container.select(Container.material).where(Container.item.in_(list(cans)))
    scanned = {can.material_id for can in materials}
    among = [h for h in rows if h.material_id in scanned]
    blend = next((h for h in rows if h.blend and {p["material"] for p in h.blend["of"]} <= scanned), None)
    if len(among) > 1 and blend is not None:
        return blend
    if len(among) > 1:
        raise WrongPair(
            f"Two hardeners of {row.name} were scanned: {' and '.join(h.material.name for h in among)}.",
            way_out="A blend of hardeners is a recipe of its own. Scan one hardener, or name the one that is meant.",
        )
    if among:
        return among[0]
    if len(rows) == 1:
        return rows[0]
    raise Unprocessable("Say which hardener of the system is meant, or scan its can.", pointer="/hardener")


def _chosen(
    work: Work,
    loaded: load.Loaded,
    mass_mg: int | None,
    row: ResinSystem,
    rows: Sequence[SystemHardener],
    hardener: SystemHardener,
) -> Chosen:
    """A can that was scanned: the right pair first, then fit for use."""
    component = _component(loaded, row, rows, hardener)
    answer = loaded.judged(at=work.act.occurred_at, site=work.site)
    # All of it reserved is a matter of stock, settled below: whoever comes second is told what is left.
    if stops_a_start(answer) and any(r.kind != "reserved" for r in answer.reasons if r.decision is None):
        raise refuse_unfit(work, loaded, answer)
    return Chosen(loaded.item, loaded, answer, component, mass_mg)


def _component(
    loaded: load.Loaded, row: ResinSystem, rows: Sequence[SystemHardener], hardener: SystemHardener
) -> Component:
    if loaded.material.id == row.resin_id:
        return Component.RESIN
    promoter = (hardener.catalyst or {}).get("promoter")
    if promoter is not None and loaded.material.id == promoter["material"]:
        return Component.PROMOTER
    if promoter is not None and loaded.material.id == hardener.material_id:
        raise PeroxideBarred(
            f"{loaded.item.code} {loaded.material.name} is the peroxide; {promoter['name']} goes in before it.",
            way_out="Scan resin and promoter. The peroxide is scanned by itself when the promoter is stirred in.",
        )
    blended = [part["material"] for part in (hardener.blend or {}).get("of", ())]
    if loaded.material.id == hardener.material_id or loaded.material.id in blended:
        return Component.HARDENER
    expected = [
        {"component": Component.RESIN, "material": row.resin_id, "name": row.resin.name},
        {"component": Component.HARDENER, "material": hardener.material_id, "name": hardener.material.name},
    ]
    other = next((h for h in rows if h.material_id == loaded.material.id), None)
    if other is not None:
        raise WrongPair(
            f"{loaded.item.code} is {loaded.material.name} ({other.speed}); this pot is planned with "
            f"{hardener.material.name} ({hardener.speed}).",
            way_out=f"Scan {hardener.material.name}, or start the pot with hardener {other.material_id}: "
            f"{other.parts_by_weight:g} parts to 100, and another pot life.",
            container=loaded.item.code,
            expected=expected,
            other_recipe={
                "hardener": other.material_id,
                "name": other.material.name,
                "speed": other.speed,
                "parts_by_weight": other.parts_by_weight,
            },
        )
    raise WrongPair(
        f"{loaded.item.code} is {loaded.material.name}; {row.name} is {row.resin.name} with {hardener.material.name}.",
        way_out=f"Scan {row.resin.name} or {hardener.material.name}.",
        container=loaded.item.code,
        expected=expected,
    )
