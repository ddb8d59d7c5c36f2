"""What is told of a pot at the scales: the next number, the verdict on its ratio, and what would correct it."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from schemas.words import Component, Verdict


@dataclass(frozen=True, slots=True)
class PourWindow:
    """From where to where a number may lie.

    Attributes
    ----------
    accepted_from_mg
        Tolerance less uncertainty, rounded inward to the scale's step; none where no reading could prove it.
    """

    tolerance_from_mg: int
    tolerance_to_mg: int
    accepted_from_mg: int | None
    accepted_to_mg: int | None

    @property
    def provable(self) -> bool:
        return self.accepted_from_mg is not None


@dataclass(frozen=True, slots=True)
class NextPour:
    """The next number, and where the scale may stand. What is poured first has a target only, the second its limits.

    Attributes
    ----------
    accepted_from_mg
        Tolerance less uncertainty, rounded inward to the scale's step, of what is added.
    if_not_zeroed
        The same limits for what the scale shows if nobody zeroed it since the pour before.
    provable
        False where no reading of this scale would prove the ratio.
    """

    component: Component
    container: str
    scale: str
    target_mg: int
    scale_reading_if_not_zeroed_mg: int | None
    tolerance_from_mg: int | None
    tolerance_to_mg: int | None
    accepted_from_mg: int | None
    accepted_to_mg: int | None
    if_not_zeroed: PourWindow | None
    provable: bool | None
    sentence: str


@dataclass(frozen=True, slots=True)
class Judgement:
    """How far the pot is from its ratio, and what that means.

    Attributes
    ----------
    deviation_pct
        Above zero: more hardener than stated.
    uncertainty_pct
        What the scales can know of the ratio, k = 2.
    verdict
        within, near the limit, or outside.
    """

    deviation_pct: float
    uncertainty_pct: float
    tolerance_pct: float
    verdict: Verdict
    sentence: str


class Possible(StrEnum):
    """Whether a pot can still be brought to its ratio; ask where something is not known."""

    YES = "yes"
    NO = "no"
    ASK = "ask"


@dataclass(frozen=True, slots=True)
class MixCorrection:
    """What would bring the pot to its ratio. `possible`: yes, no, or ask where something is not known.

    Attributes
    ----------
    add
        resin or hardener.
    possible
        yes, no, or ask where something is not known.
    life_min
        From the same first contact, shortened for the new mass.
    """

    add: Component
    add_mg: int
    total_mg: int
    scale_reading_if_not_zeroed_mg: int | None
    possible: Possible
    why_not: tuple[str, ...]
    life_min: float | None
    use_before: datetime | None
    over_after: datetime | None
    sentence: str
