"""The investigation report, the shop's own: what stands out, suspects, and who else shares what went into a part.

It says suspects, never cause (shop rule 43).
"""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from schemas.words import Kind, State
from service.operations.cures.curves import CurePlot
from service.operations.ledger import sharing
from service.operations.ledger.failing import failed_among
from service.operations.ledger.graph import held_items, standing_holds
from service.records.items import Item
from service.records.mixes import Closing
from service.reports.finding.comparing import FAILED_OUTCOMES, Compared, Sister, compare
from service.reports.finding.standing_out import Finding, stand_out
from service.reports.finding.suspected import Suspects
from service.reports.finding.suspects import find_suspects
from service.reports.finding.unusual import unusual
from service.reports.reading.account import PartAccount
from service.reports.reading.curves import read_curves
from service.reports.reading.ground import Ground, load_ground
from service.reports.reading.part import account_of
from service.reports.wording import code

CAUTION = (
    "It says what goes together, not what caused it: suspects, never causes.",
    "This report does not replace the data sheet, approved data or licensed people where a part carries a life.",
)
_FINISHED = (State.RELEASED,)
_OUT = (State.SHIPPED, State.FITTED)
_KIND_ORDER = (Kind.CONTAINER, Kind.LOT, Kind.MIX, Kind.KIT, Kind.CURE, Kind.MOULD, Kind.SCALE, Kind.PLACE)


@dataclass(frozen=True, slots=True)
class Shared:
    """Something that went into this part, and how the parts that share it stand; this part is counted with them.

    Of more than 500 others the newest 500 are named.
    """

    name: str
    code: str
    kind: Kind
    parts: int
    in_work: int
    finished: int
    shipped: int
    scrapped: int
    failed: int
    suspicious: bool
    others: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PotClosed:
    """How one of the pots ended, with what went into other parts."""

    code: str
    applied_mg: int
    left_mg: int
    loss_mg: int
    left_estimated: bool
    loss_estimated: bool


@dataclass(frozen=True, slots=True)
class Exposed:
    """A sister that shares a suspect, where it is now, and how old the container was that was beyond its limit.

    Attributes
    ----------
    age
        How old the container was that was beyond its limit.
    on_hold
        Whether a hold stands that is on it or on something that it was made of.
    """

    sister: Sister
    suspects: tuple[str, ...]
    age: str | None
    on_hold: bool


@dataclass(frozen=True, slots=True)
class Relative:
    """One thing that the part was made of, or the part itself, as the drawn genealogy shows it."""

    code: str
    kind: Kind
    failed: bool
    held: bool


@dataclass(frozen=True, slots=True)
class Investigation:
    """All that the shop knows that may bear on a part.

    Attributes
    ----------
    account
        All that is on this part, as in its record, with the flags and the shop's own notes.
    standing_out
        The gravest first.
    only_here
        What no other part shares.
    pots_closed
        How each pot ended: applied_g, left_g, loss_g, and what of it is estimated.
    """

    kind: str
    at: datetime
    account: PartAccount
    standing_out: tuple[Finding, ...]
    suspects: Suspects
    compared_newest_only: bool
    shared: tuple[Shared, ...]
    only_here: tuple[str, ...]
    sisters: tuple[Exposed, ...]
    pots_closed: tuple[PotClosed, ...]
    caution: tuple[str, ...]
    curves: dict[str, CurePlot] = field(default_factory=dict, metadata={"document": False})
    # For the drawing alone: the parts list has the same in words.
    family: tuple[Relative, ...] = field(default=(), metadata={"document": False})
    links: tuple[tuple[str, str], ...] = field(default=(), metadata={"document": False})

    @property
    def code(self) -> str:
        return self.account.code

    @property
    def failed(self) -> bool:
        """Whether this part failed, as in every trace: it came back, was rejected, scrapped or decided unfit."""
        return any(one.failed and one.code == self.code for one in self.family)

    @property
    def shop(self) -> str:
        return self.account.shop

    @property
    def zone(self) -> str:
        return self.account.zone


def investigate(part: str, *, at: datetime) -> Investigation:
    """What may bear on a part: what stands out first, then suspects with their numbers, and who else shares what."""
    ground = load_ground(part)
    account = account_of(ground, at=at)
    compared = compare(ground.root.id, at=at)
    suspects = find_suspects(
        account.code,
        outcomes=compared.outcomes,
        factors=compared.factors,
        aged=compared.aged,
        numbers=compared.numbers,
        times=compared.times,
        hardness=compared.hardness,
        worked_on_again=compared.worked_on_again,
    )
    family = _family(ground)
    itself = (account.state, any(one.failed and one.code == account.code for one in family))
    shared = sorted(
        _shared(sharing.shares(ground.root), account, itself, suspects, compared),
        key=lambda s: (-s.failed, _KIND_ORDER.index(Kind(s.kind)), s.code),
    )
    return Investigation(
        kind="investigation report",
        at=at,
        account=account,
        standing_out=stand_out(account, suspects, unusual(account.code, compared.numbers, compared.outcomes)),
        suspects=suspects,
        compared_newest_only=compared.capped,
        shared=tuple(s for s in shared if s.parts > 1),
        only_here=tuple(s.code for s in shared if s.parts == 1),
        sisters=tuple(_exposed(account.code, suspects, compared.sisters)),
        pots_closed=_closings(ground),
        caution=CAUTION,
        curves=read_curves(account.cures),
        family=family,
        links=_links(ground),
    )


def _family(ground: Ground) -> tuple[Relative, ...]:
    holds = standing_holds(ground.items)
    failed = failed_among(ground.items)
    return tuple(
        Relative(i.code, Kind(i.kind), i.state == State.FAILED or i.id in failed, bool(holds[i.id]))
        for i in ground.items.values()
    )


def _links(ground: Ground) -> tuple[tuple[str, str], ...]:
    ends = ((m.source_id, m.target_id) for m in ground.movements)
    return tuple(sorted({(ground.code(a), ground.code(b)) for a, b in ends if a in ground.items and b in ground.items}))


def _shared(
    things: Iterable[sharing.Shared],
    account: PartAccount,
    itself: tuple[str, bool],
    suspects: Suspects,
    compared: Compared,
) -> Iterable[Shared]:
    """One row for each thing; a container beyond its limit has one for each side of the limit."""
    strong = {s.code for s in suspects.ranked if s.stands_alone and s.kind != "age"}
    too_old = {s.code for s in suspects.ranked if s.stands_alone and s.kind == "age"}
    nouns = {m.container: m.noun for m in account.materials}
    # However they failed.
    beyond_it = {aged.code: aged.after - {account.code} for aged in compared.aged}
    sisters = compared.sisters
    for thing in things:
        name = _name(thing, nouns.get(thing.code))
        split = next((s for s in suspects.splits if s.code == thing.code), None)
        named = [o.code for o in thing.newest]
        if split is None:
            yield _counted(name, thing, Counter(thing.counts), named, itself, thing.code in strong)
            continue
        late = beyond_it[thing.code]
        states = Counter((str(sisters[code].state), sisters[code].outcome in FAILED_OUTCOMES) for code in late)
        limit = f"day {split.limit_days}" if split.because == "opened" else "its date"
        beyond = split.own_days > split.limit_days
        yield _counted(
            f"{name}, after {limit}", thing, states, sorted(late, key=lambda c: (len(c), c))[-sharing.MOST_NAMED :],
            itself if beyond else None, thing.code in too_old,
        )  # fmt: skip
        yield _counted(
            f"{name}, before", thing, Counter(thing.counts) - states, [c for c in named if c not in late],
            None if beyond else itself, False,
        )  # fmt: skip


def _name(thing: sharing.Shared, noun: str | None) -> str:
    words = {Kind.LOT: "lot", Kind.MIX: "pot", Kind.KIT: "kit", Kind.CURE: "cure", Kind.CONTAINER: "container",
             Kind.MOULD: "mould", Kind.SCALE: "scale", Kind.PLACE: "place"}  # fmt: skip
    name = f"{noun or words[Kind(thing.kind)]} {code(thing.code)}"
    return f"{name}, {thing.name}" if thing.kind in (Kind.LOT, Kind.MOULD, Kind.SCALE, Kind.PLACE) else name


def _counted(
    name: str,
    thing: sharing.Shared,
    states: Counter[tuple[str, bool]],
    named: Sequence[str],
    itself: tuple[str, bool] | None,
    suspicious: bool,
) -> Shared:
    """The others by their state and whether they failed, and this part with them where it belongs there."""
    if itself is not None:
        states = states + Counter({itself: 1})
    finished, shipped, scrapped = (
        sum(n for (state, _), n in states.items() if state in wanted) for wanted in (_FINISHED, _OUT, (State.SCRAPPED,))
    )
    parts = states.total()
    return Shared(
        name=name,
        code=thing.code,
        kind=Kind(thing.kind),
        parts=parts,
        in_work=parts - finished - shipped - scrapped,
        finished=finished,
        shipped=shipped,
        scrapped=scrapped,
        failed=sum(n for (_, failed), n in states.items() if failed),
        suspicious=suspicious,
        others=tuple(named),
    )


def _exposed(part: str, suspects: Suspects, sisters: Mapping[str, Sister]) -> Iterable[Exposed]:
    """The parts that share what is suspicious, with where each is now; those beyond a limit in the order of age."""
    strong = [s for s in suspects.ranked if s.stands_alone]
    days = {p.part: p.days for split in suspects.splits for p in split.points if p.days > split.limit_days}
    ages = {
        p.part: f"{p.days} d open" if split.because == "opened" else f"{p.days} d past"
        for split in suspects.splits
        for p in split.points
        if p.days > split.limit_days
    }
    reached: dict[str, list[str]] = {}
    for suspect in strong:
        for one in suspect.parts:
            if one != part and one in sisters:
                reached.setdefault(one, []).append(suspect.name)
    order = sorted(reached, key=lambda c: (c not in days, -days.get(c, 0), -len(reached[c]), c))
    held = _held() if order else set()
    return [Exposed(sisters[c], tuple(reached[c]), ages.get(c), c in held) for c in order]


def _held() -> set[str]:
    """The parts that a standing hold reaches."""
    on_hold = Item.select(Item.code).where((Item.kind == Kind.PART) & Item.id.in_(held_items()))
    return {code for (code,) in on_hold.tuples()}


def _closings(ground: Ground) -> tuple[PotClosed, ...]:
    codes: dict[int, Item] = {i.id: i for i in ground.of_kind(Kind.MIX)}
    query = Closing.select().where(Closing.mix.in_(list(codes))).order_by(Closing.mix, Closing.id)
    rows = [row for row in query if row.deed_id not in ground.corrected]
    return tuple(
        PotClosed(codes[r.mix_id].code, r.applied_mg, r.left_mg, r.loss_mg, r.left_estimated, r.loss_estimated)
        for r in rows
    )
