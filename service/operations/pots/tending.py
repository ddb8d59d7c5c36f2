"""While a pot lives: first contact, stirring, the tray, fillers and how much of them."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from schemas.words import CountedOn, Kind, MaterialKind, MovementKind, Unit
from service.formulas.additives import additive_g
from service.operations.door.operation import Work, operation
from service.operations.door.refusals import Unprocessable, WrongState
from service.operations.ledger import ledger
from service.operations.ledger.amounts import grams
from service.operations.pots.clock import set_clock
from service.operations.pots.pot import Named, Pot, find_pot, flag_once, load_pot, require_open
from service.operations.pots.pouring import settle_mix
from service.operations.pots.view import MixView, answered, view_stirring
from service.operations.stock import load
from service.operations.stock.using import draw, judge_use, load_used
from service.records.base import known
from service.records.items import MadeWith
from service.records.mixes import Stirring

_FILLER_KINDS = frozenset({MaterialKind.FILLER, MaterialKind.PIGMENT})


# A pot is not older than that when it is started in the account.
_STARTED_LATE = timedelta(hours=12)


_CLOCK_SKEW = timedelta(minutes=2)


@operation
def note_contact(
    work: Work,
    *,
    mix: str,
    contact_at: datetime | None = None,
    temperature_c: float | None = None,
    temperature_of_air: bool | None = None,
) -> MixView:
    """Note when hardener met resin, and the temperature of the mix. Earlier is for anyone to say, later needs a why."""
    item = ledger.lock_one(work, mix, Kind.MIX)
    require_open(item)
    pot = load_pot(item)
    before = pot.mix.contact_at
    contact = contact_at or (before if before is not None else work.act.occurred_at)
    if contact > work.act.recorded_at + _CLOCK_SKEW:
        raise Unprocessable("Contact cannot lie ahead.", pointer="/contact_at")
    started: datetime = pot.mix.started_at
    if contact < started - _STARTED_LATE:
        raise Unprocessable("That is long before the pot was started; look at the time again.", pointer="/contact_at")
    if before is not None and contact > before and work.act.why is None:
        raise Unprocessable(
            "A later contact gives the pot a longer life; say how that is known.",
            pointer="/why",
            answer_with={"why": None},
        )
    columns: dict[str, object] = {"contact_at": contact}
    if temperature_c is not None:
        columns |= {"temperature_c": temperature_c, "temperature_of_air": bool(temperature_of_air)}
    elif temperature_of_air is not None:
        raise Unprocessable("Give the temperature that was read, too.", pointer="/temperature_of_air")
    if pot.catalyst is not None:
        _settle_dose(work, pot, columns, contact_said=contact_at is not None)
    else:
        set_clock(work, pot, **columns)
    work.touch(item)
    work.note(mix=item.code, contact={"before": before, "after": contact}, temperature_c=temperature_c)
    return answered(work, pot)


def _settle_dose(work: Work, pot: Pot, columns: dict[str, object], *, contact_said: bool) -> None:
    """How much catalyst goes with the resin's temperature; it may be measured again before any catalyst is in."""
    if not pot.both_in and not contact_said:
        del columns["contact_at"]
    for name, value in columns.items():
        setattr(pot.mix, name, value)
    settle_mix(work, pot, **columns)


@operation
def stir(
    work: Work,
    *,
    mix: str,
    started_at: datetime,
    ended_at: datetime,
    scraped: bool,
    second_cup: bool = False,
    before_contact: bool = False,
) -> MixView:
    """Record how the pot was stirred: from when to when, sides and base scraped or not, into a second cup or not.

    What was stirred before resin and hardener met is kept, and is no stirring of the mix.
    """
    item = ledger.lock_one(work, mix, Kind.MIX)
    require_open(item)
    pot = load_pot(item)
    if ended_at < started_at:
        raise Unprocessable("Stirring ended before it started; look at both times.", pointer="/ended_at")
    if ended_at > work.act.recorded_at + _CLOCK_SKEW:
        raise Unprocessable(
            "The end of the stirring lies ahead; enter it when the stirring is done.", pointer="/ended_at"
        )
    pot.stirrings.append(
        Stirring.create(
            mix=pot.mix,
            started_at=started_at,
            ended_at=ended_at,
            scraped=scraped,
            second_cup=second_cup,
            deed=work.deed,
        )
    )
    if pot.mix.contact_at is None and pot.both_in and not before_contact:
        # Separate cups that were stirred together have met.
        set_clock(work, pot, contact_at=started_at)
    work.touch(item)
    work.note(mix=item.code, stirred={"from": started_at, "to": ended_at}, scraped=scraped, second_cup=second_cup)
    return answered(work, pot)


@operation
def add_filler(
    work: Work,
    *,
    mix: str,
    container: str,
    mass_mg: int,
    scale: str | None = None,
    confirmed: bool = False,
    despite_reservation: bool = False,
) -> MixView:
    """Record filler or pigment: weighed, with its own lot. What does not belong in a pot is flagged.

    Filler goes in after stirring; pigment may go into the resin before the hardener.
    """
    locked = ledger.lock(work, *[c for c in (mix, container, scale) if c], kinds=[Kind.MIX, Kind.CONTAINER, Kind.SCALE])
    item, can = locked[mix], locked[container]
    require_open(item)
    if can.unit != Unit.MILLIGRAM:
        raise Unprocessable(f"{can.code} is not kept by mass.", pointer="/container")
    pot = load_pot(item)
    used = None if any(m.source_id == can.id for m in pot.fillers) else load_used(work, can)
    row = used.container if used is not None else load.container_of(can)
    material = row.material
    if material.id in (pot.system["resin"], pot.hardener["material"]):
        raise Unprocessable(
            f"{can.code} is {material.kind}: it is poured.", way_out="Record it as a pour.", pointer="/container"
        )
    if MaterialKind(material.kind) not in _FILLER_KINDS:
        sentence = (
            f"{can.code} {material.name} ({material.kind}) was put into the pot; it is neither filler nor pigment."
        )
        flag_once(work, pot, "wrong-kind", sentence, stops=True, hold=True, about=can.code)
    contact = pot.mix.contact_at
    early = material.kind == MaterialKind.PIGMENT and (contact is None or work.act.occurred_at < contact)
    if view_stirring(pot).times == 0 and not early:
        sentence = f"{material.name} went in before resin and hardener were stirred."
        flag_once(work, pot, "filler-before-stirring", sentence, stops=False)
    if used is not None:
        pot.named[can.id] = Named.can(used)
        pot.flagged(judge_use(work, used, item))
    pot.movements.append(
        draw(
            work,
            can,
            row,
            item,
            mass_mg,
            kind=MovementKind.ADDITION,
            confirmed=confirmed,
            despite_reservation=despite_reservation,
        )
    )
    if pot.catalyst is not None and pot.catalyst["with_fillers"]:
        settle_mix(work, pot)
    if scale is not None:
        on = locked[scale]
        if not MadeWith.select().where((MadeWith.item == item.id) & (MadeWith.used == on.id)).exists():
            ledger.made_with(work, item, "scale", used=on)
    work.note(mix=item.code, filler=can.code, mass_mg=mass_mg)
    return answered(work, pot)


@operation
def move_to_tray(work: Work, *, mix: str) -> MixView:
    """Note that the pot was spread out in a tray: it stays cooler, and has a table of its own from then on."""
    item = ledger.lock_one(work, mix, Kind.MIX)
    require_open(item)
    pot = load_pot(item)
    if pot.mix.in_tray_at is not None:
        raise WrongState(f"{item.code} is in a tray already.")
    set_clock(work, pot, in_tray_at=work.act.occurred_at)
    work.touch(item)
    work.note(mix=item.code, in_tray_at=work.act.occurred_at)
    return answered(work, pot)


@dataclass(frozen=True, slots=True)
class FillerTarget:
    """How much filler or pigment is still to be added.

    Attributes
    ----------
    in_mg
        Filler and pigment that are in already.
    """

    percent: float
    of: CountedOn
    counted_on_mg: int
    target_mg: int
    in_mg: int
    add_mg: int
    sentence: str


def filler_target(mix: str, *, percent: float, of: CountedOn) -> FillerTarget:
    """How much filler the pot takes for a percentage of its resin or of resin and hardener, less what is in it."""
    pot = find_pot(mix)
    if not pot.resin_mg or (of == CountedOn.MIX and not pot.hardener_mg):
        raise WrongState(
            f"{'Resin and hardener are' if of == CountedOn.MIX else 'The resin is'} not in {pot.item.code} yet.",
            way_out="Filler goes in after resin and hardener were weighed and stirred.",
        )
    target = round(
        1000
        * additive_g(
            percent=percent,
            of=of.value,
            resin_g=pot.resin_mg / 1000,
            hardener_g=pot.hardener_mg / 1000 if of == CountedOn.MIX else None,
        )
    )
    inside = sum(known(m.amount) for m in pot.fillers)
    base = pot.resin_mg if of == CountedOn.RESIN else pot.total_mg
    add = max(0, target - inside)
    what = "resin" if of == CountedOn.RESIN else "resin and hardener"
    sentence = f"{percent:g} % of {grams(base)} of {what} is {grams(target)}"
    sentence += f"; {grams(inside)} of filler is in, add {grams(add)}." if inside else f": add {grams(add)}."
    return FillerTarget(percent, of, base, target, inside, add, sentence)
