"""Kits: fabric cut from rolls for a part, with clean hands, and weighed before any resin is mixed.

Every length that comes off a roll is kit, waste or offcut (shop rule 12); an offcut is a roll with a code of its own.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from schemas.words import Kind, KitState, MaterialKind, MovementKind, State, Unit
from service.formulas.kits import KitCheck, KitMass, kit_check
from service.operations.door.formerly import Formerly, called_then
from service.operations.door.operation import Work, operation
from service.operations.door.refusals import BarredFromTraceable, ShortStock, Unprocessable
from service.operations.door.rows import find_row
from service.operations.door.views import Page, by_state, page_of
from service.operations.ledger import ledger
from service.operations.ledger.flags import raise_flag
from service.operations.ledger.graph import HoldView, by_hold, hold_views, standing_holds
from service.operations.parts.designs import DESIGNS, DesignRef, design_ref
from service.operations.parts.plies import expected_kit
from service.operations.stock import load
from service.operations.stock.out_time import begin_with
from service.operations.stock.reserved import WHOLE_SHARE, Taken, ask_if_reserved, drawn_for
from service.operations.stock.using import judge_use, note_opened, require_fit, settle_empty
from service.records.base import as_word
from service.records.items import Item, Movement
from service.records.journal import Deed
from service.records.lookups import among
from service.records.materials import Container, Lot, Material
from service.records.parts import Cut, Design, Kit
from service.records.people import Person

_FABRIC = frozenset({MaterialKind.FABRIC})


@dataclass(frozen=True, slots=True)
class NewCut:
    """One length to be cut from a roll, and the plies that lie in it."""

    roll: str
    length_mm: int
    waste_mm: int = 0
    offcut_mm: int = 0
    plies: tuple[int, ...] | None = None

    @property
    def whole_mm(self) -> int:
        return self.length_mm + self.waste_mm + self.offcut_mm


@dataclass(frozen=True, slots=True)
class CutView:
    roll: str
    material_name: str
    lot: str
    makers_lot: str | None
    length_mm: int
    waste_mm: int
    offcut_mm: int
    offcut: str | None
    plies: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class KitView:
    """A kit of cut cloth, and what its mass says.

    Attributes
    ----------
    number
        3 of 4 for one part.
    doubtful
        A ply may be missing or there twice; nothing if it was not weighed.
    weighed
        What its mass says, in a sentence.
    part
        The part that it was laid into.
    """

    code: str
    name: str
    state: KitState
    design: DesignRef | None
    number: int | None
    of: int | None
    cut_at: datetime
    cut_by: str
    mass_mg: int | None
    expected_g: float | None
    spread_g: float | None
    doubtful: bool | None
    weighed: str | None
    cuts: tuple[CutView, ...]
    plies: tuple[int, ...]
    part: str | None
    holds: tuple[HoldView, ...]
    version: int


@operation
def cut_kit(
    work: Work,
    *,
    cuts: Sequence[Mapping[str, Any]],
    design: int | None = None,
    mass_mg: int | None = None,
    number: int | None = None,
    of: int | None = None,
    part: str | None = None,
    despite_reservation: bool = False,
) -> KitView:
    """Cut a kit: lengths from one or more rolls, waste, what goes back as an offcut, and what the kit weighs.

    `part` is the part of an order that it is for: what is reserved for that part is used up by it.
    """
    meant_for = ledger.find(part, Kind.PART) if part is not None else None
    if (number is None) != (of is None) or (number is not None and of is not None and number > of):
        raise Unprocessable("Give both, such as 3 of 4.", pointer="/of")
    plan: Design | None = find_row(Design, design, "design", pointer="/design") if design is not None else None
    if plan is not None:
        DESIGNS.require_approved(plan)
    wanted = [NewCut(**{**cut, "plies": None if cut.get("plies") is None else tuple(cut["plies"])}) for cut in cuts]
    rolls = ledger.lock(work, *{cut.roll for cut in wanted}, kinds=[Kind.CONTAINER])
    ordered = sorted(rolls.values(), key=lambda r: r.id)
    loaded = {r.item.code: r for r in load.load(ordered, at=work.act.occurred_at, site=work.site)}
    for code, one in loaded.items():
        _may_be_cut(work, one, sum(c.whole_mm for c in wanted if c.roll == code), plan)
    if plan is not None:
        wanted = [_with_plies(cut, index, loaded[cut.roll], plan) for index, cut in enumerate(wanted)]
    elif any(cut.plies for cut in wanted):
        raise Unprocessable("Plies have numbers in a design only; say which design it is.", pointer="/design")
    shares = {meant_for.id: WHOLE_SHARE} if meant_for is not None else {}
    leaving = [Taken(r, loaded[r.code].material.id, *_off(wanted, r.code)) for r in rolls.values() if r.code in loaded]
    ask_if_reserved(work, leaving, shares=shares, despite=despite_reservation)
    # What a prepreg has used of its lives goes on in its kit, which lies where its roll lies until it is moved.
    clocks = [one.facts.clocks for one in loaded.values() if one.facts.clocks is not None]
    place = next((r.item.place for r in loaded.values() if r.facts.clocks is not None), None)
    item = ledger.new_item(
        work,
        Kind.KIT,
        name=plan.name if plan is not None else "Kit",
        state=State.CUT,
        unit=Unit.MILLIMETRE,
        place=place,
    )
    begin_with(work, [item], clocks)
    kit = Kit.create(item=item, design=plan, cut_at=work.act.occurred_at, mass_mg=mass_mg, number=number, of=of)
    drawn_for(work, item, shares)
    for cut in wanted:
        _cut(work, kit, item, loaded[cut.roll], cut)
    for roll in rolls.values():
        settle_empty(work, roll)
    view = view_kit(item, at=work.act.occurred_at)
    if view.doubtful and view.weighed is not None:
        raise_flag(work, item, "kit-mass", view.weighed, stops=False)
    work.note(kit=item.code, design=design, mass_mg=mass_mg, cuts=wanted, weighed=view.weighed)
    return view


def _off(cuts: Sequence[NewCut], roll: str) -> tuple[int, int]:
    """What comes off a roll for good, and what of it stays as an offcut."""
    own = [cut for cut in cuts if cut.roll == roll]
    return sum(cut.length_mm + cut.waste_mm for cut in own), sum(cut.offcut_mm for cut in own)


def _may_be_cut(work: Work, loaded: load.Loaded, whole_mm: int, plan: Design | None) -> None:
    roll = loaded.item
    require_fit(work, loaded, wanted=_FABRIC)
    if whole_mm > roll.balance:
        raise ShortStock(
            f"{roll.balance} mm is left on {roll.code}, {whole_mm} mm is wanted.",
            way_out="Cut part of it from another roll, as another line.",
            left_mm=roll.balance,
            roll=roll.code,
        )
    if plan is not None and plan.traceable and not loaded.facts.lot_known:
        raise BarredFromTraceable(
            f"The maker's lot of {roll.code} is not known, and {plan.part_number} must be traceable.",
            way_out="Cut from a roll whose lot is known.",
            roll=roll.code,
        )


def _with_plies(cut: NewCut, index: int, loaded: load.Loaded, plan: Design) -> NewCut:
    """The plies of a cut: those named, which have to be of this cloth; else all that the design has of it."""
    at = f"/cuts/{index}/plies"
    roll, material = loaded.item, loaded.material.id
    of_cloth = {p["number"]: p["material"] for p in plan.plies}
    if cut.plies is None:
        return replace(cut, plies=tuple(n for n, m in of_cloth.items() if m == material))
    for number in cut.plies:
        if number not in of_cloth:
            raise Unprocessable(f"{plan.part_number} revision {plan.revision} has no ply {number}.", pointer=at)
        if of_cloth[number] != material:
            asked = Material.get_by_id(of_cloth[number]).name
            raise Unprocessable(f"Ply {number} is of {asked}; {roll.code} is {roll.name}.", pointer=at)
    return cut


def _cut(work: Work, kit: Kit, item: Item, loaded: load.Loaded, cut: NewCut) -> None:
    roll = loaded.item
    judge_use(work, loaded, item)
    note_opened(work, roll, loaded.container)
    movement = _off_the_roll(work, MovementKind.CUTTING, roll, item, cut.length_mm)
    if cut.waste_mm:
        _off_the_roll(work, MovementKind.WASTE, roll, None, cut.waste_mm)
    offcut = None
    if cut.offcut_mm:
        offcut = _offcut(work, roll, loaded.container, cut.offcut_mm)
        begin_with(work, [offcut], [c for c in [loaded.facts.clocks] if c is not None])
        _off_the_roll(work, MovementKind.OFFCUT, roll, offcut, cut.offcut_mm)
    Cut.create(
        kit=kit,
        roll=roll.id,
        movement=movement,
        kit_mm=cut.length_mm,
        waste_mm=cut.waste_mm,
        offcut_mm=cut.offcut_mm,
        offcut=offcut.id if offcut is not None else None,
        plies=list(cut.plies or ()),
        deed=work.deed,
    )


def _off_the_roll(work: Work, kind: MovementKind, roll: Item, target: Item | None, length_mm: int) -> Movement:
    return ledger.move(work, kind=kind, source=roll, target=target, amount=length_mm, unit=Unit.MILLIMETRE)


def _offcut(work: Work, roll: Item, row: Container, length_mm: int) -> Item:
    item = ledger.new_item(
        work, Kind.CONTAINER, name=roll.name, state=State.OPEN, unit=Unit.MILLIMETRE, place=roll.place
    )
    Container.create(
        item=item,
        lot=row.lot_id,
        material=row.material_id,
        receipt=row.receipt_id,
        parent=row,
        number=1,
        of=1,
        net=length_mm,
        expires_on=row.expires_on,
        opened_at=row.opened_at,
    )
    return item


def plies_of(kit: Kit) -> tuple[int, ...]:
    """The plies in a kit, each once, though one may have been pieced together from two rolls."""
    return _numbers(Cut.select(Cut.plies).where(Cut.kit == kit.item_id))


def _numbers(cuts: Iterable[Cut]) -> tuple[int, ...]:
    return tuple(sorted({number for cut in cuts for number in cut.plies}))


def laid_into(kit: Item) -> str | None:
    """The code of the part that a kit was laid into."""
    return _laid_into([kit.id]).get(kit.id)


def _laid_into(kits: Sequence[int]) -> dict[int, str]:
    rows = (
        Movement.select(Movement.source, Item.code)
        .join(Item, on=(Movement.target == Item.id))
        .where(Movement.source.in_(kits) & (Movement.kind == MovementKind.LAYING) & Movement.cancelled_by.is_null())
    )
    return dict(rows.tuples())


def read_kit(kit: str, *, at: datetime) -> KitView:
    """One kit: its plies, the rolls that they came from, and what it weighs."""
    return view_kit(ledger.find(kit, Kind.KIT), at=at)


def list_kits(
    *,
    at: datetime,
    after: int | None,
    limit: int,
    design: int | None = None,
    state: State | None = None,
    on_hold: bool | None = None,
) -> Page[KitView]:
    """List kits, by design, state or hold."""
    query = Item.select(Item).join(Kit, on=(Kit.item == Item.id))
    if design is not None:
        query = query.where(Kit.design == design)
    query, key = by_state(query, Kind.KIT, Kit.item, state)
    query = by_hold(query, on_hold, at=at)
    return page_of(query, key, after=after, limit=limit, views=lambda items: view_kits(items, at=at))


def view_kit(item: Item, *, at: datetime) -> KitView:
    return view_kits([item], at=at)[0]


def view_kits(items: Sequence[Item], *, at: datetime) -> tuple[KitView, ...]:
    """Any number of kits in a fixed number of queries."""
    ids = [item.id for item in items]
    kits = {k.item_id: k for k in Kit.select().where(Kit.item.in_(ids))}
    designs = {d.id: d for d in Design.select().where(Design.id.in_({k.design_id for k in kits.values()}))}
    cloths = Formerly(Material, among(Material.id, {p["material"] for d in designs.values() for p in d.plies}))
    cuts: dict[int, list[Cut]] = {}
    for cut in Cut.select().where(Cut.kit.in_(ids)).order_by(Cut.id):
        cuts.setdefault(cut.kit_id, []).append(cut)
    shown = _cut_views([cut for one in cuts.values() for cut in one])
    parts, holds = _laid_into(ids), standing_holds(ids, at=at)
    cutters = dict(
        Deed.select(Deed.id, called_then(Person, Deed.occurred_at))
        .join(Person)
        .where(Deed.id.in_([i.deed_id for i in items]))
        .tuples()
    )
    views = []
    for item in items:
        kit, design, plies = kits[item.id], designs.get(kits[item.id].design_id or 0), _numbers(cuts[item.id])
        # By what its cloth was known to weigh when it was cut.
        expected = expected_kit(design, cloths.all_at(kit.cut_at), plies) if design is not None else None
        check = _check(kit, expected)
        views.append(
            KitView(
                code=item.code,
                name=item.name,
                state=as_word(KitState, item.state),
                design=design_ref(design) if design is not None else None,
                number=kit.number,
                of=kit.of,
                cut_at=kit.cut_at,
                cut_by=cutters[item.deed_id],
                mass_mg=kit.mass_mg,
                expected_g=round(expected.expected_g, 1) if expected else None,
                spread_g=round(expected.spread_g, 1) if expected and design and design.piece_spread_pct else None,
                doubtful=check.doubtful if check else None,
                weighed=check.sentence if check else None,
                cuts=tuple(shown[cut.id] for cut in cuts[item.id]),
                plies=plies,
                part=parts.get(item.id),
                holds=hold_views(holds[item.id]),
                version=item.version,
            )
        )
    return tuple(views)


def _check(kit: Kit, expected: KitMass | None) -> KitCheck | None:
    """The weighed kit against what its plies should weigh; nothing where it was not weighed, or has no design."""
    if kit.mass_mg is None or expected is None:
        return None
    return kit_check(kit=expected, measured_g=kit.mass_mg / 1000)


def _cut_views(cuts: Sequence[Cut]) -> dict[int, CutView]:
    containers = {c.item_id: c for c in Container.select().where(Container.item.in_([c.roll_id for c in cuts]))}
    lots = {row.item_id: row for row in Lot.select().where(Lot.item.in_([c.lot_id for c in containers.values()]))}
    ids = [*containers, *lots, *(c.offcut_id for c in cuts if c.offcut_id)]
    items = {i.id: i for i in Item.select().where(Item.id.in_(ids))}
    return {
        cut.id: CutView(
            roll=items[cut.roll_id].code,
            material_name=items[cut.roll_id].name,
            lot=items[containers[cut.roll_id].lot_id].code,
            makers_lot=lots[containers[cut.roll_id].lot_id].makers_lot,
            length_mm=cut.kit_mm,
            waste_mm=cut.waste_mm,
            offcut_mm=cut.offcut_mm,
            offcut=items[cut.offcut_id].code if cut.offcut_id else None,
            plies=tuple(cut.plies),
        )
        for cut in cuts
    }
