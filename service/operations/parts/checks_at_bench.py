"""A part as the one who tests something on it needs it: what the design asks, and what was found before."""

from dataclasses import dataclass

from schemas.words import Kind, PartState
from service.operations.ledger import ledger
from service.operations.parts.part import load_part
from service.operations.parts.view import StepView, step_view
from service.records.base import as_word

# More than these are not looked at before the next one.
_LATEST = 8


@dataclass(frozen=True, slots=True)
class BagLimits:
    """Vacuum and drop test as the design asks for them; pressures are below that of the air."""

    least_vacuum_mbar: float
    drop_limit_mbar: float
    drop_minutes: float


@dataclass(frozen=True, slots=True)
class ChecksAtBench:
    """A part with what is to be tested on it.

    Attributes
    ----------
    plies
        How many its design has: as many backing films come off.
    latest
        What was tested and noted, newest first.
    """

    code: str
    name: str
    state: PartState
    zones: tuple[str, ...]
    plies: int
    bag: BagLimits | None
    latest: tuple[StepView, ...]


def checks_at_bench(part: str) -> ChecksAtBench:
    """The part with the limits of its design and its latest steps."""
    held = load_part(ledger.find(part, Kind.PART))
    return ChecksAtBench(
        code=held.item.code,
        name=held.item.name,
        state=as_word(PartState, held.item.state),
        zones=tuple(held.design.zones),
        plies=len(held.design.plies),
        bag=None if held.design.bag is None else BagLimits(**held.design.bag),
        latest=tuple(step_view(step) for step in held.steps[-_LATEST:][::-1]),
    )
