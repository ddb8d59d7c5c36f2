"""Organic peroxides in the store (shop rule 23): what one is, what is kept away from it, what never happens to it.

What should not happen is refused while it is only meant. What has happened is recorded, marked and held.
"""

from collections.abc import Iterable
from datetime import datetime

from labels.hazards import ORGANIC_PEROXIDE
from schemas.words import MaterialKind, MovementKind, State
from service.operations.door.operation import Work
from service.operations.door.refusals import PeroxideBarred
from service.operations.ledger import ledger
from service.operations.ledger.flags import raise_flag
from service.records.items import Flag, Item, Movement
from service.records.materials import Container, Material

HOT = "peroxide-hot"

_STORE = (
    "Organic peroxide: keep it in the supplier's vented container, cool and shaded, apart from promoters, amines, "
    "acids, metals and acetone.",
    "Never pour it back, top it up or thin it; never let it touch a promoter: together they can burn or explode.",
    "Goggles and the gloves of its safety data sheet; a splash in the eye is rinsed with water at once, and a doctor "
    "called.",
    "The data sheet, the safety data sheet and local rules come before anything said here.",
)
_PROMOTER = (
    "Promoter: never let it touch an organic peroxide; together they can burn or explode. It goes into the resin and "
    "is stirred in before any peroxide comes near.",
)
FIRE = (
    "Leave it where it is and touch nothing. Clear the room, call the fire service from outside and tell them: organic "
    "peroxide, overheated. Water spray only from far off and only by who is trained for it; follow the safety data "
    "sheet and the shop's fire plan."
)


def is_organic_peroxide(material: Material) -> bool:
    """A mark on the material, whatever its H-codes; the heating statements of a peroxide mark it by themselves."""
    marked = bool(material.organic_peroxide) or material.kind == MaterialKind.CATALYST
    return marked or bool(ORGANIC_PEROXIDE & set(material.h_codes))


def cautions_of(material: Material) -> tuple[str, ...]:
    """What is said of a material wherever it is told of."""
    if not is_organic_peroxide(material):
        return _PROMOTER if material.kind == MaterialKind.PROMOTER else ()
    emergency = material.emergency_c
    if emergency is None:
        return _STORE
    return (*_STORE, f"At {emergency:g} °C it may decompose by itself. {FIRE}")


def clash(material: Material, place: Item, *, besides: Iterable[int] = ()) -> str | None:
    """What stands in that place and must not stand beside this material, in a sentence."""
    mine = is_organic_peroxide(material)
    if not mine and not _harms_peroxides(material):
        return None
    standing = (
        Container.select(Container, Material)
        .join(Item, on=(Container.item == Item.id))
        .switch(Container)
        .join(Material)
        .where(
            (Item.place == place.id)
            & Item.state.in_([State.SEALED, State.OPEN, State.EMPTY])
            & Item.id.not_in(list(besides))
        )
        .order_by(Container.item)
    )
    for row in standing:
        other = row.material
        if _harms_peroxides(other) if mine else is_organic_peroxide(other):
            code = Item.get_by_id(row.item_id).code
            return f"{code} {other.name} stands in {place.name} ({place.code}); {material.name} never stands beside it."
    return None


def keep_apart(materials: Iterable[Material]) -> None:
    """Peroxide and promoter never stand in one scan or pick list: the cans would be on the bench side by side."""
    scanned = list(materials)
    peroxide = next((m for m in scanned if is_organic_peroxide(m)), None)
    enemy = next((m for m in scanned if _harms_peroxides(m)), None)
    if peroxide is not None and enemy is not None:
        raise PeroxideBarred(
            f"{peroxide.name} and {enemy.name} were scanned together; together they can burn or explode.",
            way_out="Take the peroxide back to its place now. It is scanned by itself, when the other is put away.",
        )


def _harms_peroxides(material: Material) -> bool:
    return material.kind == MaterialKind.PROMOTER or bool(material.acetone)


def settle_place(work: Work, item: Item, material: Material, place: Item, *, happened: bool) -> None:
    """Before something comes to stand where it must not: refused. If it stands there already: recorded and held."""
    sentence = clash(material, place, besides=[item.id])
    if sentence is None:
        return
    if not happened:
        raise PeroxideBarred(
            sentence,
            way_out="Take it to another place. If it stands there already, move it away, and say so: it is recorded.",
            answer_with={"happened": True},
            place=place.code,
        )
    raise_flag(work, item, "peroxide-near", sentence, stops=True, hold=True, place=place.code)


def never(work: Work, kind: str, sentence: str, *items: Item, happened: bool, way_out: str) -> None:
    """What is never done with a peroxide: refused while it is meant; once it has happened, recorded and held."""
    if not happened:
        raise PeroxideBarred(
            sentence,
            way_out=f"{way_out} If it has happened already, say so: it is recorded, and held.",
            answer_with={"happened": True},
        )
    for item in items:
        raise_flag(work, item, kind, sentence, stops=True, hold=True)


def alarm_if_hot(work: Work, place: Item, temperature_c: float, at: datetime) -> tuple[str, ...]:
    """A peroxide that was in a place warmer than its emergency temperature: an alarm for good, and a hold."""
    hot = (
        Item.select(Item, Material.name.alias("material"), Material.emergency_c.alias("limit"))
        .join(Container, on=(Container.item == Item.id))
        .join(Material, on=(Container.material == Material.id))
        .where(
            (Item.place == place.id)
            & (Material.emergency_c <= temperature_c)
            & Item.state.in_([State.SEALED, State.OPEN, State.EMPTY])
        )
        .order_by(Item.id)
        .objects()
    )
    found = list(hot)
    filled = (
        Movement.select(Movement.target)
        .where(
            Movement.target.in_([row.id for row in found])
            & Movement.kind.in_([MovementKind.PACKING, MovementKind.DECANT])
            & (Movement.occurred_at <= at)
        )
        .distinct()
    )
    there = {row.target_id for row in filled} if found else set()
    rows = [row for row in found if row.id in there]
    locked = ledger.lock(work, *(row.code for row in rows)) if rows else {}
    said = []
    for row in rows:
        item = locked[row.code]
        sentence = f"{item.code} {row.material} stood at {temperature_c:g} °C; from {row.limit:g} °C it may decompose "
        sentence += f"by itself. {FIRE}"
        raise_flag(work, item, HOT, sentence, stops=True, hold=True, temperature_c=temperature_c)
        said.append(sentence)
    return tuple(said)


def alarms_of(containers: Iterable[Container]) -> dict[int, str]:
    """Of these containers those that were ever too hot, with what was said then. No review makes them good again."""
    wanted = [row.item_id for row in containers if row.material.emergency_c is not None]
    if not wanted:
        return {}
    rows = Flag.select(Flag.item, Flag.sentence).where(Flag.item.in_(wanted) & (Flag.kind == HOT)).order_by(Flag.id)
    return {row.item_id: row.sentence for row in rows}


def require_vented(material: Material, source: Item, *, vented: bool, happened: bool) -> str | None:
    """A peroxide goes only into its supplier's vented type of container; what is wrong if it did not."""
    if vented and material.vented_container:
        return None
    kind = material.vented_container
    sentence = f"{source.code} {material.name} is an organic peroxide: in a closed or strange container it can burst."
    if not happened:
        way_out = (
            f"Decant it only into {kind} of the supplier, and say that it is vented."
            if kind
            else "Use it from its own container; which vented container the supplier allows is not entered."
        )
        raise PeroxideBarred(
            sentence,
            way_out=f"{way_out} If it has happened already, say so: it is recorded, and held.",
            answer_with={"happened": True},
        )
    return sentence
