"""What a part of a design is planned to take: cloth by its nesting, resin and hardener by need and ratio.

The need of resin for a purpose is what the design states; where it states none for wet-out or gel coat, what follows
from its fibre fraction and its coat. A hardener is known where the system has one, or by the pots that the part had.
Money is reckoned at the price of each material that was said for its newest arrival.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from schemas.words import Kind, MaterialKind, PriceBasis
from service.database import each, listed, looked_up, rows_of
from service.formulas.ratio import split_total
from service.operations.building.recipes import current_systems
from service.operations.building.wanted import cloths_of
from service.operations.costs.flow import PER, Flow
from service.operations.parts.laminate import needs_not_stated
from service.operations.parts.plies import materials_of
from service.operations.pots.system import HardenerView, SystemView
from service.records.lookups import among
from service.records.materials import Material
from service.records.parts import Design
from service.records.people import Site

GAP_MM = 10
"""Between neighbouring pieces, for the knife: as for a design's own layout."""


@dataclass(frozen=True, slots=True)
class Card:
    """A material with the price of its newest arrival that has one: so many minor units for so much of it."""

    id: int
    name: str
    kind: MaterialKind
    minor: int | None
    amount: int | None


def cards_of(materials: Iterable[int], *, site: Site) -> dict[int, Card]:
    """In one statement."""
    found = rows_of(
        "SELECT a.id, a.name, a.kind, p.basis, p.minor, t.amount"
        f" FROM {looked_up()} {each('material', 'a', 'a.id = given.id')}"
        " LEFT JOIN price p ON p.id = (SELECT MAX(n.id) FROM price n WHERE n.receipt_id ="
        " (SELECT MAX(q.receipt_id) FROM price q JOIN receipt r ON r.id = q.receipt_id"
        " JOIN lot l ON l.item_id = r.lot_id WHERE l.material_id = a.id AND q.currency = ?))"
        " AND p.currency = ? LEFT JOIN receipt t ON t.id = p.receipt_id",
        listed(sorted(set(materials))),
        site.currency or "",
        site.currency or "",
    )
    cards = {}
    for number, name, kind, basis, minor, amount in found:
        per = None if basis is None else PER.get(PriceBasis(basis), amount)
        cards[number] = Card(number, name, MaterialKind(kind), minor, per)
    return cards


@dataclass(slots=True)
class Plan:
    """Of each material how much a part is planned to take [mg or mm], and what of it cannot be told."""

    amounts: dict[int, int] = field(default_factory=dict)
    sentences: list[str] = field(default_factory=list)

    def add(self, material: int, amount: int) -> None:
        self.amounts[material] = self.amounts.get(material, 0) + amount


def plans_of(numbers: Iterable[int], used: Mapping[int, set[int]]) -> dict[int, Plan]:
    """The plan of a part of each of these designs; ``used`` has the hardeners that its parts were mixed with."""
    designs = list(Design.select().where(among(Design.id, numbers)).order_by(Design.id))
    cards = materials_of([ply for row in designs for ply in row.plies])
    cloths = cloths_of(designs, gap_mm=GAP_MM, materials=cards)
    systems = current_systems({need["system"] for row in designs for need in row.resin_need if need.get("system")})
    found: dict[int, Plan] = {}
    for row in designs:
        plan = found[row.id] = Plan()
        for cloth in cloths[row.id]:
            if cloth.length_mm is None:
                plan.sentences.append(f"How much {cloth.material.name} it takes is not told by its pieces.")
            else:
                plan.add(cloth.material.id, cloth.length_mm)
        plan.sentences += [f"How much {core} it takes, the design does not say." for core in _cores(row, cards)]
        named = {need.get("system") for need in row.resin_need} - {None}
        # What is worked out is of the design's one system, if it names but one.
        only = next(iter(named)) if len(named) == 1 else None
        needs = [(need.get("system"), need["purpose"], need["mass_g"]) for need in row.resin_need]
        needs += [(only, purpose, mass_g) for purpose, mass_g in needs_not_stated(row, cards)]
        for name, purpose, mass_g in needs:
            _mix(plan, name, purpose, mass_g, systems, used.get(row.id, set()))
    return found


def _cores(row: Design, cards: Mapping[int, Material]) -> list[str]:
    plied = (cards[ply["material"]] for ply in row.plies)
    return sorted({card.name for card in plied if card.kind == MaterialKind.CORE})


def _mix(
    plan: Plan, name: str | None, purpose: str, mass_g: float, systems: Mapping[str, SystemView], used: set[int]
) -> None:
    system = systems.get(name) if name is not None else None
    if system is None:
        plan.sentences.append(f"{mass_g:g} g for {purpose}: no approved system is named for it.")
        return
    hardener = _hardener(system, used)
    if hardener is None:
        speeds = " or ".join(h.name for h in system.hardeners)
        plan.sentences.append(f"{mass_g:g} g of {system.name} for {purpose}: with {speeds}, nothing says which.")
        return
    resin = round(split_total(total_g=mass_g, ratio=hardener.ratio).resin_g * 1000)
    plan.add(system.resin, resin)
    rest = round(mass_g * 1000) - resin
    if hardener.blend is None:
        plan.add(hardener.material, rest)
        return
    first, second = hardener.blend.of
    share = round(rest * first.fraction_pct / 100)
    plan.add(first.material, share)
    plan.add(second.material, rest - share)


def _hardener(system: SystemView, used: set[int]) -> HardenerView | None:
    """The only one, or the one of them that was really used."""
    may = [h for h in system.hardeners if h.material in used] or list(system.hardeners)
    return may[0] if len(may) == 1 else None


def hardeners_used(flow: Flow, parts: Mapping[int, int]) -> dict[int, set[int]]:
    """Of each design (part -> design) the materials of the cans that were poured into its parts' pots."""
    found: dict[int, set[int]] = {}
    for part, design in parts.items():
        for moved in flow.into.get(part, ()):
            if flow.is_kind(moved.source, Kind.MIX) and moved.source is not None:
                for poured in flow.into.get(moved.source, ()):
                    thing = flow.things.get(poured.source or 0)
                    if thing is not None and thing.material is not None:
                        found.setdefault(design, set()).add(thing.material)
    return found
