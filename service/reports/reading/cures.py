"""The cures of a part: what was asked of each, what is proved of it, and why it is not."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from schemas import words
from service.formulas.stages import ReasonKind
from service.operations.cures.cure import load_cure
from service.operations.cures.view import CureLogView, CureView, StatementView, view_cure
from service.records.items import Item


@dataclass(frozen=True, slots=True)
class CureReason:
    """Why a stage of a cure is not proved; times in minutes from its start.

    Attributes
    ----------
    limit
        What is allowed or asked: minutes for a time, K/min for a ramp, °C for a maximum.
    """

    kind: ReasonKind
    sentence: str
    probe: str | None = None
    at_min: float | None = None
    value: float | None = None
    limit: float | None = None


@dataclass(frozen=True, slots=True)
class PressureReason:
    """A band of vacuum or pressure that speaks against the cure.

    Attributes
    ----------
    violated
        A gauge was out of it; otherwise it is not known whether it was kept.
    """

    measure: words.Measure
    violated: bool
    sentence: str


@dataclass(frozen=True, slots=True)
class CureStage:
    """What was asked of a stage of a cure, and what is proved of it."""

    name: str
    low_c: float
    high_c: float | None
    minimum_min: float
    proved_min: float
    longest_min: float
    passed: bool
    gaps: tuple[tuple[float, float], ...]
    sentences: tuple[str, ...]
    reasons: tuple[CureReason, ...] = ()

    @property
    def too_short(self) -> bool:
        """Whether its time is a reason why it is not proved."""
        return any(one.kind == "time" for one in self.reasons)


@dataclass(frozen=True, slots=True)
class CureAccount:
    code: str
    schedule: str
    revision_number: int
    post_cure: bool
    place_name: str | None
    started_at: datetime
    ended_at: datetime | None
    needed: words.Evidence
    evidence: words.Evidence | None
    passed: bool | None
    sentences: tuple[str, ...]
    stages: tuple[CureStage, ...]
    coldest_probe: str | None
    logs: tuple[CureLogView, ...]
    statements: tuple[StatementView, ...]
    # What the fitted constants of its resin systems say, one sentence each; nothing where there are none.
    model: tuple[str, ...] = ()
    # Vacuum and pressure that were not kept, or of which it is not known, in a sentence each.
    pressures: tuple[PressureReason, ...] = ()

    @property
    def gaps(self) -> tuple[tuple[float, float], ...]:
        return tuple(sorted({gap for stage in self.stages for gap in stage.gaps}))


def read_cures(items: Iterable[Item]) -> tuple[CureAccount, ...]:
    views = [view_cure(load_cure(item)) for item in items]
    named = Item.select(Item.code, Item.name).where(Item.code.in_({v.place for v in views if v.place is not None}))
    places = dict(named.tuples()) if views else {}
    return tuple(_cure(view, places.get(view.place)) for view in views)


def _cure(view: CureView, place: str | None) -> CureAccount:
    verdict: Mapping[str, Any] = view.verdict or {}
    return CureAccount(
        code=view.code,
        schedule=view.schedule,
        revision_number=view.revision_number,
        post_cure=view.post_cure,
        place_name=place,
        started_at=view.started_at,
        ended_at=view.ended_at,
        needed=view.needed,
        evidence=view.evidence,
        passed=view.passed,
        sentences=tuple(verdict.get("sentences", ())),
        stages=tuple(_stage(s) for s in verdict.get("stages", ())),
        coldest_probe=verdict.get("coldest_probe"),
        logs=view.logs,
        statements=view.statements,
        model=tuple(_by_model(said) for said in verdict.get("kinetics", ())),
        pressures=tuple(
            PressureReason(band["measure"], band["result"] == "violated", " ".join(band["sentences"]))
            for band in verdict.get("pressures", ())
            if band["result"] != "proved"
        ),
    )


def _by_model(said: dict[str, Any]) -> str:
    constants = f" Constants: {said['source']}." if said["source"] else " The constants have no source."
    return f"{said['system']}, revision {said['revision']}, by probe {said['probe']}: {said['sentence']}{constants}"


def _stage(said: dict[str, Any]) -> CureStage:
    kept = {name: said[name] for name in CureStage.__slots__ if name not in ("gaps", "sentences", "reasons")}
    return CureStage(
        **kept,
        gaps=tuple((start, end) for start, end in said["gaps"]),
        sentences=tuple(said["sentences"]),
        reasons=tuple(CureReason(**one) for one in said["reasons"]),
    )
