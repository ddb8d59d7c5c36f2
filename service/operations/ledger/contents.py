"""How much of what is called back is in each thing that it reaches, as booked.

Of what was weighed into a pot together, each gram that leaves it again has the same share. So the grams of all pieces,
with what was lost on the way, come to what there was of the recalled thing.
"""

from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field

from schemas.words import MovementKind
from service.database import each, rows_of
from service.operations.ledger.done_with import Selected


@dataclass(frozen=True, slots=True)
class Inflow:
    """What went into a thing in one movement; the amount of a part that was fitted is what is in it."""

    source: int | None
    amount_mg: int | None
    at: int


@dataclass(slots=True)
class Contents:
    """What flowed into each piece, and where of it what is called back begins.

    Attributes
    ----------
    stock
        What is called back as it stands on the shelf: all of it, where it was taken within the time.
    whole
        What is called back whole, such as a pot that was weighed on the scale.
    """

    pieces: Collection[int]
    stock: Collection[int]
    whole: Collection[int]
    time: tuple[int, int]
    into: Mapping[int, list[Inflow]]
    _found: dict[int, tuple[float, int]] = field(default_factory=dict)

    def share(self, item: int) -> float:
        """The share that each gram in it has: 1 of what is called back itself."""
        if item in self.stock or item in self.whole:
            return 1.0
        of_it, all_of_it = self.inside(item)
        return of_it / all_of_it if all_of_it else 0.0

    def is_weighed(self, item: int) -> bool:
        """Whether anything of it was ever weighed into it, be it as part of what was fitted into it."""
        return item in self.stock or any(
            one.source is not None
            and one.source in self.pieces
            and (one.amount_mg is not None or self.is_weighed(one.source))
            for one in self.into.get(item, ())
        )

    def inside(self, item: int) -> tuple[float, int]:
        """The milligrams of it that ever went into a thing, and of everything: first of what went into that."""
        waiting = [item]
        while waiting:
            asked = waiting[-1]
            inflows = self.into.get(asked, ())
            missing = [one.source for one in inflows if one.source in self.pieces and one.source not in self._found]
            if asked not in self._found and missing:
                waiting += [source for source in missing if source is not None]
                continue
            waiting.pop()
            if asked not in self._found:
                self._found[asked] = self._sum(inflows)
        return self._found[item]

    def _sum(self, inflows: Collection[Inflow]) -> tuple[float, int]:
        of_it, all_of_it = 0.0, 0
        for one in inflows:
            fitted, whole = self._found.get(one.source or 0, (0.0, 0))
            amount = one.amount_mg if one.amount_mg is not None else whole
            all_of_it += amount
            if one.source in self.stock:
                of_it += amount if self.time[0] <= one.at <= self.time[1] else 0
            elif one.source in self.whole:
                of_it += amount
            elif one.source in self.pieces and whole:
                of_it += amount * fitted / whole
        return of_it, all_of_it


def contents_of(
    reaching: Selected,
    *,
    pieces: Collection[int],
    stock: Collection[int],
    whole: Collection[int],
    time: tuple[int, int],
) -> Contents:
    """All that was weighed into the pieces, and which part was fitted into which, in one statement."""
    prefix, given = reaching
    into: dict[int, list[Inflow]] = defaultdict(list)
    for target, source, amount, at in rows_of(
        f"{prefix} SELECT m.target_id, m.source_id, m.amount, m.occurred_at FROM piece"
        f" {each('movement', 'm', 'm.target_id IN (piece.id)')}"
        f" WHERE m.cancelled_by_id IS NULL AND (m.unit = 'mg' OR m.kind = '{MovementKind.BONDING}')",
        *given,
    ):
        into[target].append(Inflow(source, amount, at))
    return Contents(pieces, stock, whole, time, into)
