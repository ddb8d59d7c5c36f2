"""What is to be said of a pot before it goes on a part: on it there is no setting it right any more.

It refuses nothing: what happened is recorded, and marked by what is judged then.
"""

from collections.abc import Iterable, Sequence
from datetime import datetime

from schemas.words import Kind, State, Verdict
from service.operations.door.shop import the_site, time_in_shop
from service.operations.ledger import ledger
from service.operations.ledger.graph import standing_holds
from service.operations.parts.part import late_in_life
from service.operations.pots.clock import clock_of
from service.operations.pots.pot import OPEN_STATES, Pot, find_pot
from service.operations.pots.verdict import judge
from service.operations.pots.view import stirring_faults


def cautions(mix: str, parts: Sequence[str], *, at: datetime) -> tuple[str, ...]:
    """What speaks against putting this pot on these parts now, a sentence each; nothing where nothing is in it yet."""
    pot = find_pot(mix)
    if pot.item.state not in OPEN_STATES or not pot.pours:
        return ()
    return (*_of_pot(pot, at), *_of_parts(parts))


def _of_pot(pot: Pot, at: datetime) -> Iterable[str]:
    judged = judge(pot)
    if not pot.both_in:
        yield f"One component of {pot.item.code} is missing."
        return
    if judged is not None and judged.verdict == Verdict.OUTSIDE:
        yield judged.sentence
    if pot.strange:
        strange = pot.named[pot.strange[0].container_id]
        yield f"{strange.code} {strange.name} is in it, for which there is no ratio."
    yield from (sentence for _, sentence in stirring_faults(pot))
    clock = clock_of(pot)
    limit = clock.use_before or clock.over_after
    if limit is not None and at > limit:
        yield f"Its pot life was over {time_in_shop(limit, now=at, zone=the_site().zone)}."
    for hold in standing_holds([pot.item.id], at=at)[pot.item.id]:
        yield f"{pot.item.code} is on hold: {hold.reason.rstrip('.')}."


def _of_parts(parts: Sequence[str]) -> Iterable[str]:
    for code in dict.fromkeys(parts):
        part = ledger.find(code, Kind.PART)
        if late_in_life(part):
            yield f"{part.code} is {part.state}{'' if part.state == State.RELEASED else ': its lay-up was closed'}."
