"""Prepreg and film adhesive in a part: their tack life at the lay-up, their out life at the start of the cure.

Both are steps of the part, so that they stand in its record and its report; a life that was over or that nobody can
tell holds the part (shop rule 14).
"""

from collections.abc import Collection
from datetime import timedelta
from typing import Any

from schemas.words import OwnStep
from service.operations.door.operation import Work
from service.operations.ledger.flags import raise_flag, stands
from service.operations.parts.part import add_step
from service.operations.stock.fitness import out_time_reasons
from service.operations.stock.out_time import NOT_KNOWN, Clocks
from service.records.items import Item
from service.records.parts import PartStep


def laid_out_of_the_cold(work: Work, part: Item, source: Item, clocks: Clocks, *, flagged: bool = False) -> None:
    """What both clocks showed as it was laid. ``flagged``: whoever took it from its roll has flagged it already."""
    reasons = out_time_reasons(clocks)
    facts: dict[str, Any] = {
        "source": source.code,
        "tack_used_pct": _percent(clocks.tack_used),
        "out_used_pct": _percent(clocks.out_used),
        "temperature_c": clocks.here_c,
        # The whole out life at this temperature, by which it goes on until the cure starts.
        "out_life_h": clocks.out_life_h,
        "sentence": f"{source.code} as it was laid: {_shares(clocks)}.",
    }
    add_step(work, part, OwnStep.OUT_TIME, facts, passed=not reasons)
    for reason in [] if flagged else reasons:
        raise_flag(work, part, reason.kind, f"{source.code}: {reason.sentence}", stops=True, hold=True)


def cure_starts(work: Work, parts: Collection[Item]) -> None:
    """The out life ends at the start of the cure: what lay in the part since then went on at its temperature."""
    by_number = {item.id: item for item in parts}
    steps = PartStep.select().where(
        PartStep.part.in_(list(by_number)) & (PartStep.kind == OwnStep.OUT_TIME) & stands(PartStep.deed)
    )
    for step in list(steps.order_by(PartStep.id)):
        facts, part = step.facts, by_number[step.part_id]
        if "tack_used_pct" not in facts:
            continue
        hours = (work.act.occurred_at - step.occurred_at) / timedelta(hours=1)
        known = facts["out_used_pct"] is not None and facts["out_life_h"] is not None
        used = facts["out_used_pct"] / 100 + hours / facts["out_life_h"] if known else None
        said = (
            "how much of its out life is used is not known"
            if used is None
            else f"{used * 100:.0f} % of its out life used"
        )
        sentence = f"{facts['source']} as the cure starts, {hours:.1f} h after it was laid: {said}."
        passed = used is not None and used <= 1
        told = {"source": facts["source"], "out_used_pct": None if used is None else round(used * 100, 1)}
        add_step(work, part, OwnStep.OUT_TIME, {**told, "sentence": sentence}, passed=passed)
        if not passed and facts["out_used_pct"] is not None and facts["out_used_pct"] <= 100:
            kind = "out-life-over" if used is not None else "out-life-not-known"
            raise_flag(work, part, kind, sentence, stops=True, hold=True)


def _percent(share: float | None) -> float | None:
    return None if share is None or share >= NOT_KNOWN else round(share * 100, 1)


def _shares(clocks: Clocks) -> str:
    said = []
    for name, used in (("tack life", clocks.tack_used), ("out life", clocks.out_used)):
        if used is not None:
            said.append(f"{name} not known" if used >= NOT_KNOWN else f"{used * 100:.0f} % of its {name} used")
    return ", ".join(said)
