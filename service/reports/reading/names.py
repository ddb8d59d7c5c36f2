"""What the reports call the things of a part: the second wet-out pot, the post-cure."""

from schemas.words import Kind
from service.reports.reading.account import PartAccount, PotAccount
from service.reports.wording import code, ordinal


def pot_name(account: PartAccount, pot: PotAccount) -> str:
    """A pot by its purpose, and its place among those of the same purpose.

    Pots of a component are told by its code, since each part begins to count anew.
    """
    into = {a.part for a in pot.applied}
    mine = account.code in into or not into
    same = [p for p in account.pots if p.purpose == pot.purpose and _mine(account, p) == mine]
    name = f"{pot.purpose} pot" if len(same) == 1 else f"{ordinal(same.index(pot) + 1)} {pot.purpose} pot"
    return name if mine else f"{name} of {', '.join(code(c) for c in sorted(into))}"


def _mine(account: PartAccount, pot: PotAccount) -> bool:
    return any(a.part == account.code for a in pot.applied) or not pot.applied


def thing_name(account: PartAccount, item: str) -> str | None:
    """What to call an item at the head of a sentence; nothing for the part itself."""
    if item == account.code:
        return None
    pot = next((p for p in account.pots if p.code == item), None)
    if pot is not None:
        name = pot_name(account, pot)
        return name[0].upper() + name[1:]
    words = {Kind.KIT: "Kit", Kind.CURE: "Cure", Kind.LOT: "Lot", Kind.CONTAINER: "Container", Kind.PART: "Component"}
    word = words.get(Kind(item[0]))
    return f"{word} {code(item)}" if word is not None else code(item)
