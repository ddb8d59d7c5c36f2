"""What the answer about a pot says row by row."""

from dataclasses import dataclass
from datetime import datetime

from schemas.words import Component, Decision, Purpose, ReadingSource


@dataclass(frozen=True, slots=True)
class PlanView:
    """What the pot means to take of one can.

    Attributes
    ----------
    settled
        Poured, or given back: nothing is reserved any more.
    """

    component: Component
    container: str
    amount_mg: int
    settled: bool


@dataclass(frozen=True, slots=True)
class PourView:
    """One reading; `taken_back` if it was poured back or corrected away since."""

    component: Component
    container: str
    lot: str
    scale: str
    net_mg: int
    reading_mg: int
    zeroed: bool
    before_mg: int
    emptied_cup_mg: int | None
    strokes: int | None
    volume_ml: float | None
    source: ReadingSource
    target_mg: int | None
    correction: bool
    taken_back: bool
    occurred_at: datetime
    by: str


@dataclass(frozen=True, slots=True)
class FillerView:
    container: str
    mass_mg: int
    percent_of_resin: float | None
    percent_of_mix: float | None
    occurred_at: datetime


@dataclass(frozen=True, slots=True)
class StirringView:
    """Stirring since the last pour; a ratio within its tolerance says nothing of it."""

    needed_min: float | None
    done_min: float
    scraped: bool
    second_cup: bool
    enough: bool | None
    times: int


@dataclass(frozen=True, slots=True)
class ApplicationView:
    """What of the pot went onto a part.

    Attributes
    ----------
    mass_mg
        Nothing while it is not known.
    """

    part: str
    mass_mg: int | None
    estimated: bool
    purpose: Purpose | None
    zone: str | None
    occurred_at: datetime


@dataclass(frozen=True, slots=True)
class ClosingView:
    applied_mg: int
    left_mg: int
    loss_mg: int
    left_estimated: bool
    loss_estimated: bool
    cup_kept: bool


@dataclass(frozen=True, slots=True)
class CupCheckView:
    hard: bool
    hardness: float | None
    hardness_scale: str | None
    occurred_at: datetime
    by: str


@dataclass(frozen=True, slots=True)
class MixFlag:
    """Something that a release looks at; `answered` is the decision of the permission that answers it, if any.

    Attributes
    ----------
    stops
        Needs a signed permission before release; else it is looked at.
    answered
        Decision of the permission that answers it: asked is not signed yet and covers nothing; withdrawn was signed
        and ended later, and covers this.
    settled
        What has settled it since; then it asks for nothing any more.
    """

    id: int
    kind: str
    sentence: str
    stops: bool
    answered: Decision | None
    settled: str | None
    occurred_at: datetime
