"""A part loaded once, and what every act on one needs: is it still here, its steps, its plies, marks for what should
not have been.

An act changes the part in hand with what it writes, and answers from it. What only some acts ask is read when it is
first asked, and kept.
"""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from typing import Any

from peewee import JOIN

from schemas.words import Disposition, Kind, MovementKind, State
from service.operations.door.formerly import called_then
from service.operations.door.operation import Work
from service.operations.door.refusals import WrongState
from service.operations.ledger.flags import raise_flag, stands
from service.operations.ledger.graph import StandingHold, closure, standing_holds
from service.operations.parts.asked import AsDesigned
from service.operations.parts.begun import begin_if_planned
from service.operations.parts.scrapping import ScrappingView, scrapping_of
from service.records.cures import Cure, Schedule
from service.records.items import Flag, Item, Movement
from service.records.journal import Deed
from service.records.lookups import another
from service.records.materials import Lot
from service.records.parts import Design, Kit, Nonconformance, Part, PartStep, PlyLaid
from service.records.people import Person

# A part that is in one of these is no longer in the shop's hands.
_GONE = {
    State.SHIPPED: "was shipped",
    State.SCRAPPED: "was scrapped",
    State.FITTED: "is fitted into an assembly",
    State.CANCELLED: "was planned and cancelled with its order",
    State.ABANDONED: "was never begun: its start was declared not to have occurred",
}


@dataclass(frozen=True, slots=True)
class Laid:
    """A ply that was laid: out of what, by whom."""

    row: PlyLaid
    source: str
    by: str


@dataclass
class PartInHand:
    """A part with its design, its mould, and who started and released it."""

    item: Item
    row: Part
    # Nothing while it is only planned.
    started_by: str | None
    released_by: str | None = None
    mould: Item | None = None
    # What the design asks compared with what went in, once it was asked for (as_designed.py).
    compared: AsDesigned | None = None
    _holds: list[StandingHold] | None = None

    @property
    def design(self) -> Design:
        design: Design = self.row.design
        return design

    @cached_property
    def plies(self) -> list[Laid]:
        """Those whose laying stands; who lays one adds it here."""
        rows: Any = (
            PlyLaid.select(PlyLaid, Item, called_then(Person, Deed.occurred_at).alias("by"))
            .join(Item, on=(PlyLaid.source == Item.id))
            .switch(PlyLaid)
            .join(Deed)
            .join(Person)
            .where((PlyLaid.part == self.item.id) & stands(PlyLaid.deed))
            .order_by(PlyLaid.id)
        )
        return [Laid(row, row.source.code, row.by) for row in rows]

    @property
    def missing(self) -> list[int]:
        """Numbers of the design's plies that nobody has laid, in the order of laying."""
        laid = {p.row.number for p in self.plies}
        return [p["number"] for p in self.design.plies if p["number"] not in laid]

    @cached_property
    def cures(self) -> list[Cure]:
        """The cures that it has been in, the last first, each with its schedule and its item."""
        return cures_in([self.item.id])[self.item.id]

    @cached_property
    def made_of(self) -> set[int]:
        """All that it was made of; an act that puts something in asks afterwards."""
        return closure([self.item.id], back=True)[self.item.id]

    @cached_property
    def inputs(self) -> list[Any]:
        """All that went into it and stands, with what it came from; as `made_of`, asked after something was put in."""
        query = Movement.select(Movement, Item).join(Item, on=(Movement.source == Item.id))
        stand = (Movement.target == self.item.id) & Movement.cancelled_by.is_null()
        return list(query.where(stand).order_by(Movement.occurred_at, Movement.id))

    @cached_property
    def kit_mg(self) -> list[int | None]:
        """What each of its kits weighed, nothing where it was not weighed."""
        kits = [m.source_id for m in self.inputs if m.source.kind == Kind.KIT]
        return [k.mass_mg for k in Kit.select(Kit.mass_mg).where(Kit.item.in_(kits))] if kits else []

    @cached_property
    def steps(self) -> list[PartStep]:
        """Those that stand, oldest first, with who took them; asked after a step was added."""
        by = called_then(Person, Deed.occurred_at).alias("by")
        query = PartStep.select(PartStep, by).join(Deed).join(Person)
        return list(query.where((PartStep.part == self.item.id) & stands(PartStep.deed)).order_by(PartStep.id))

    @cached_property
    def scrapping(self) -> ScrappingView | None:
        """How it was scrapped, if it was; the act that scraps it says so here, before its entry is written."""
        return scrapping_of(self.item.id, self.item.code) if self.item.state == State.SCRAPPED else None

    def holds(self, at: datetime) -> list[StandingHold]:
        """The holds that reach it, asked once; an act that places one asks afterwards."""
        if self._holds is None:
            self._holds = standing_holds([self.item.id], at=at)[self.item.id]
        return self._holds

    def update(self, **columns: Any) -> None:
        """Set columns of the part, in the database and here."""
        Part.update(**columns).where(Part.item == self.item.id).execute()
        for name, value in columns.items():
            setattr(self.row, name, value)


def load_parts(items: Iterable[Item]) -> list[PartInHand]:
    """These parts with what belongs to them, in one statement."""
    wanted = {item.id: item for item in items}
    starter, releaser, mould = another(Person, "starter"), another(Person, "releaser"), another(Item, "mould")
    rows: Any = (
        Part.select(
            Part,
            Design,
            mould,
            called_then(starter, Part.started_at).alias("starter"),
            called_then(releaser, Part.released_at).alias("releaser"),
        )
        .join(Design)
        .switch(Part)
        .join(starter, JOIN.LEFT_OUTER, on=(Part.started_by == starter.id), attr="starting")
        .switch(Part)
        .join(releaser, JOIN.LEFT_OUTER, on=(Part.released_by == releaser.id), attr="releasing")
        .switch(Part)
        .join(mould, JOIN.LEFT_OUTER, on=(Part.mould == mould.id), attr="form")
        .where(Part.item.in_(list(wanted)))
    )
    found = {}
    for row in rows:
        found[row.item_id] = PartInHand(
            item=wanted[row.item_id],
            row=row,
            started_by=row.starter,
            released_by=row.releaser,
            mould=None if row.mould_id is None else row.form,
        )
    return [found[number] for number in wanted]


def load_part(item: Item) -> PartInHand:
    return load_parts([item])[0]


def still_here(item: Item) -> None:
    """Nothing can be done to a part that has left, or that is no more."""
    said = gone(item)
    if said is not None:
        raise WrongState(f"{item.code} {said}.", way_out="Scan the part that is in front of you.")


def gone(item: Item) -> str | None:
    """In words where a part went that has left, or that is no more."""
    return _GONE.get(State(item.state))


def mark_if_late_in_life(work: Work, item: Item, what: str) -> None:
    """Lay-up on a part that is not being laid up: recorded, and marked unless rework or repair was decided."""
    still_here(item)
    begin_if_planned(work, item, what)
    if not late_in_life(item):
        return
    released = item.state == State.RELEASED
    raise_flag(
        work,
        item,
        "out-of-order",
        f"{what} when {item.code} was {item.state}.",
        stops=released,
        hold=released,
        state=item.state,
    )


def late_in_life(item: Item) -> bool:
    """Is it a part on which nothing is laid any more, unless rework or repair was decided?"""
    if item.state in (State.PLANNED, State.LAYING):
        return False
    return item.state == State.RELEASED or not _rework_decided(item)


def _rework_decided(item: Item) -> bool:
    return bool(
        Nonconformance.select()
        .where(
            (Nonconformance.item == item.id) & Nonconformance.disposition.in_([Disposition.REWORK, Disposition.REPAIR])
        )
        .exists()
    )


def add_step(work: Work, item: Item, kind: str, facts: dict[str, Any], *, passed: bool | None = None) -> PartStep:
    step = PartStep.create(
        part=item.id, kind=kind, facts=facts, passed=passed, occurred_at=work.act.occurred_at, deed=work.deed
    )
    work.touch(item)
    work.note(part=item.code, step=kind, facts=facts, passed=passed)
    return step


def untold_lots(*parts: PartInHand) -> dict[int, list[Item]]:
    """For each part the lots in it whose maker's number nobody knows, and that no flag names.

    A flag names a lot itself, or the pot that brought it.
    """
    ids = [part.item.id for part in parts]
    asked = [part for part in parts if "made_of" not in part.__dict__]
    for part, made_of in zip(asked, _closures([part.item.id for part in asked]), strict=True):
        part.made_of = made_of
    inside = set().union(*(part.made_of for part in parts))
    query = Item.select(Item).join(Lot, on=(Lot.item == Item.id)).where(Lot.makers_lot.is_null())
    unknown = list(query.where(Item.id.in_(inside)).order_by(Item.id)) if inside else []
    if not unknown:
        return {number: [] for number in ids}
    flags = list(Flag.select().where(Flag.item.in_(ids) & (Flag.kind == "lot-not-known")))
    codes = {flag.facts["mix"] for flag in flags if flag.facts.get("mix")}
    mixes = {m.code: m.id for m in Item.select(Item.id, Item.code).where(Item.code.in_(codes))} if codes else {}
    brought = closure(mixes.values(), back=True) if mixes else {}
    found: dict[int, list[Item]] = {}
    for part in parts:
        own = [flag.facts for flag in flags if flag.item_id == part.item.id]
        told = {facts.get("lot") for facts in own}
        by_pots = set().union(*(brought[mixes[f["mix"]]] for f in own if f.get("mix") in mixes))
        found[part.item.id] = [
            lot for lot in unknown if lot.id in part.made_of and lot.code not in told and lot.id not in by_pots
        ]
    return found


def _closures(ids: list[int]) -> list[set[int]]:
    found = closure(ids, back=True) if ids else {}
    return [found[number] for number in ids]


def mark_unknown_lots(work: Work, *parts: PartInHand) -> None:
    """A part that must be traceable, with a lot in it that nobody knows, is stopped; each lot is told once."""
    traceable = [part for part in parts if part.design.traceable]
    untold = untold_lots(*traceable) if traceable else {}
    for part in traceable:
        for lot in untold[part.item.id]:
            sentence = f"The maker's lot of {lot.code} {lot.name} is not known; {part.item.code} must be traceable."
            raise_flag(work, part.item, "lot-not-known", sentence, stops=True, hold=True, lot=lot.code)


def cures_in(parts: Collection[int]) -> dict[int, list[Cure]]:
    """The cures that each of these parts has been in, the last first, each with its schedule and its item."""
    found: dict[int, dict[int, Cure]] = {part: {} for part in parts}
    if not found:
        return {}
    rows: Any = (
        Cure.select(Cure, Schedule, Item, Movement.id, Movement.target)
        .join(Schedule)
        .switch(Cure)
        .join(Item, attr="known")
        .switch(Cure)
        .join(Movement, on=(Movement.source == Cure.item), attr="into")
        .where(
            Movement.target.in_(list(found)) & (Movement.kind == MovementKind.CURE) & Movement.cancelled_by.is_null()
        )
        .order_by(Movement.id.desc())
    )
    for cure in rows:
        found[cure.into.target_id].setdefault(cure.item_id, cure)
    return {part: list(cures.values()) for part, cures in found.items()}
