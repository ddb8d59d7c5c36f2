"""Cures: what starts them, what proves them, how they are read."""

from typing import Any

import marshmallow as ma
from webargs.fields import DelimitedList

from schemas.base import ActIn, Out, PageIn, QueryIn
from schemas.fields import Code, Moment, Number, Text, Whole, Word, Yes
from schemas.items import HoldRef, ItemOut
from schemas.trace import FlagOut
from schemas.words import State


class NameOrNumber(ma.fields.Field[int | str]):
    """A schedule by its name (the newest approved revision of it) or by its number."""

    default_error_messages = {"invalid": "Give the schedule's name, or its number."}

    def __init__(self, **kwargs: Any) -> None:
        self._name = Text(longest=80)
        self._number = Whole(1)
        super().__init__(
            metadata={
                "description": "Its name, which means its newest approved revision, or its number.",
                "oneOf": [{"type": "string", "minLength": 1, "maxLength": 80}, {"type": "integer", "minimum": 1}],
            },
            **kwargs,
        )

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> int | str:
        if isinstance(value, str):
            return str(self._name.deserialize(value))
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise self.make_error("invalid")
        return int(self._number.deserialize(value))


class CureIn(ActIn):
    EXAMPLE = {"schedule": "Alder 10 with post-cure", "parts": ["P00087K"], "post_cure": False, "place": "A00001P"}
    schedule = NameOrNumber(required=True)
    parts = ma.fields.List(Code("P"), required=True, validate=ma.validate.Length(1, 100, error="Give 1 to 100 parts."))
    post_cure = Yes(load_default=False)
    place = Code("A", metadata={"description": "The oven, or the room."})


class LogHeader(ma.Schema):
    """The key under which a file is answered again instead of being added again."""

    idempotency_key = ma.fields.String(
        data_key="Idempotency-Key",
        validate=ma.validate.Length(1, 80),
        metadata={"description": "Any text of your own, new for each act."},
    )

    class Meta:
        unknown = ma.EXCLUDE


class LogQuery(QueryIn):
    """What is said of a logger's file that the body brings."""

    logger = Whole(1, required=True, metadata={"description": "Number of the logger."})
    part_probes = DelimitedList(
        Text(longest=80),
        load_default=(),
        validate=ma.validate.Length(0, 200),
        metadata={"description": "Probes on the part, separated by commas; all of them are required."},
    )
    air_probes = DelimitedList(
        Text(longest=80),
        load_default=(),
        validate=ma.validate.Length(0, 200),
        metadata={"description": "Probes in the air, separated by commas; they prove no time on the part."},
    )
    started_at = Moment(metadata={"description": "For a file that tells only the time since its start."})
    name = Text(longest=120, metadata={"description": "The file's name."})
    occurred_at = Moment()
    why = Text(longest=500)


class ThermometerIn(ActIn):
    EXAMPLE = {"low_c": 18.5, "high_c": 22.0, "remark": "beside the mould, reset at the start"}
    low_c = Number(-100, 1000, required=True)
    high_c = Number(-100, 1000, required=True)
    remark = Text(longest=300)


class DeclarationIn(ActIn):
    EXAMPLE = {"remark": "left overnight with the heating on, 21 °C in the morning"}
    remark = Text(required=True, longest=300)


class ScheduleRefOut(Out):
    id = ma.fields.Integer()
    name = ma.fields.String()
    revision = ma.fields.Integer()


class ExcursionOut(Out):
    probe = ma.fields.String()
    from_min = ma.fields.Float()
    to_min = ma.fields.Float()
    highest_c = ma.fields.Float()


class SampleOut(Out):
    probe = ma.fields.String()
    at_min = ma.fields.Float()
    temperature_c = ma.fields.Float()


class StageVerdictOut(Out):
    """One stage; minutes count from the start of the cure."""

    name = ma.fields.String()
    low_c = ma.fields.Float()
    high_c = ma.fields.Float()
    minimum_min = ma.fields.Float()
    over_c = ma.fields.Float(allow_none=True)
    passed = ma.fields.Boolean()
    proved_min = ma.fields.Float()
    longest_min = ma.fields.Float()
    sections = ma.fields.List(ma.fields.List(ma.fields.Float()))
    gaps = ma.fields.List(ma.fields.List(ma.fields.Float()))
    over = ma.fields.List(ma.fields.Nested(ExcursionOut))
    suspects = ma.fields.List(ma.fields.Nested(SampleOut))
    fastest_heating_k_min = ma.fields.Float(allow_none=True)
    fastest_cooling_k_min = ma.fields.Float(allow_none=True)
    completed_at_min = ma.fields.Float(allow_none=True)
    sentences = ma.fields.List(ma.fields.String())


class KineticsOut(Out):
    """How far a system with fitted constants of its own has reacted; it never replaces a stated cure."""

    system = ma.fields.String()
    revision = ma.fields.Integer()
    source = ma.fields.String(allow_none=True)
    probe = ma.fields.String()
    degree_of_cure = ma.fields.Float(allow_none=True)
    glass_transition_c = ma.fields.Float(allow_none=True)
    reference_c = ma.fields.Float()
    equivalent_min = ma.fields.Float(
        allow_none=True, metadata={"description": "Minutes at reference_c that cure as far; no stated post-cure."}
    )
    rate_at_end_per_min = ma.fields.Float(allow_none=True)
    gel_point = ma.fields.Float(
        allow_none=True, metadata={"description": "Conversion of the scarcer groups; real ones lie somewhat above."}
    )
    gelled_by_min = ma.fields.Float(
        allow_none=True, metadata={"description": "First sample past it, from the start of the cure."}
    )
    sentence = ma.fields.String()


class CureVerdictOut(Out):
    passed = ma.fields.Boolean()
    final = ma.fields.Boolean(metadata={"description": "False while the cure runs: the verdict so far."})
    needed = ma.fields.String(metadata={"description": "The evidence that the schedule needs at least."})
    evidence = ma.fields.String(allow_none=True, metadata={"description": "The best evidence that there is."})
    sentences = ma.fields.List(ma.fields.String())
    judged_on = ma.fields.List(ma.fields.String(), metadata={"description": "Probes that were all required."})
    stages = ma.fields.List(ma.fields.Nested(StageVerdictOut))
    highest = ma.fields.Nested(SampleOut, allow_none=True)
    coldest_probe = ma.fields.String(allow_none=True)
    kinetics = ma.fields.List(ma.fields.Nested(KineticsOut))


class CureLogOut(Out):
    id = ma.fields.Integer()
    logger = ma.fields.Integer()
    logger_name = ma.fields.String()
    document = ma.fields.Integer(metadata={"description": "The file as it came: /v1/documents/{number}."})
    part_probes = ma.fields.List(ma.fields.String())
    air_probes = ma.fields.List(ma.fields.String())
    other_probes = ma.fields.List(ma.fields.String())
    first_at = Moment()
    last_at = Moment()
    rows = ma.fields.Integer()
    missing = ma.fields.Integer()
    notes = ma.fields.List(ma.fields.String())


class CureStatementOut(Out):
    kind = ma.fields.String()
    low_c = ma.fields.Float(allow_none=True)
    high_c = ma.fields.Float(allow_none=True)
    remark = ma.fields.String(allow_none=True)
    occurred_at = Moment()
    person = ma.fields.String()


_ROW: dict[str, Any] = {
    "code": "R000044",
    "name": "Alder 10 with post-cure",
    "state": "failed",
    "schedule": {"id": 3, "name": "Alder 10 with post-cure", "revision": 1},
    "post_cure": False,
    "place": "A00001P",
    "started_at": "2026-11-03T17:00:00Z",
    "ended_at": "2026-11-04T09:00:00Z",
    "needed": "part probe",
    "evidence": "part probe",
    "passed": False,
    "version": 4,
}


class CureHead(Out):
    code = ma.fields.String()
    name = ma.fields.String()
    state = ma.fields.String(metadata={"description": "running, passed or failed."})
    schedule = ma.fields.Nested(ScheduleRefOut)
    post_cure = ma.fields.Boolean()
    place = ma.fields.String(allow_none=True)
    started_at = Moment()
    ended_at = Moment(allow_none=True)
    needed = ma.fields.String(metadata={"description": "The evidence that the schedule needs at least."})
    evidence = ma.fields.String(allow_none=True)
    passed = ma.fields.Boolean(allow_none=True)
    version = ma.fields.Integer()


class CureRowOut(CureHead):
    EXAMPLE = {**_ROW, "parts": ["P00087K"], "on_hold": True}
    parts = ma.fields.List(ma.fields.String())
    on_hold = ma.fields.Boolean()


class CureOut(CureHead):
    EXAMPLE = {
        **_ROW,
        "verdict": {
            "passed": False,
            "final": True,
            "needed": "part probe",
            "evidence": "part probe",
            "sentences": [
                "Not proved: post-cure.",
                "post-cure: 5 h 31 min proved between 55 and 65 °C, 15 h 0 min needed.",
            ],
            "judged_on": ["root", "tip"],
            "stages": [],
            "highest": {"probe": "root", "temperature_c": 62.4, "at_min": 412.0},
            "coldest_probe": "tip",
            "kinetics": [],
        },
        "parts": [{"code": "P00087K", "kind": "P", "name": "Rudder", "state": "curing"}],
        "logs": [],
        "statements": [],
        "flags": [],
        "holds": [{"id": 7, "on": "R000044", "reason": "R000044: Not proved: post-cure."}],
    }
    verdict = ma.fields.Nested(CureVerdictOut, allow_none=True)
    parts = ma.fields.List(ma.fields.Nested(ItemOut))
    logs = ma.fields.List(ma.fields.Nested(CureLogOut))
    statements = ma.fields.List(ma.fields.Nested(CureStatementOut))
    flags = ma.fields.List(ma.fields.Nested(FlagOut))
    holds = ma.fields.List(ma.fields.Nested(HoldRef))


class CureQuery(PageIn):
    state = Word(State)
    part = Code("P")
    schedule = Text(longest=80, metadata={"description": "The schedule's name."})


class ProbeSeriesOut(Out):
    log = ma.fields.Integer()
    logger = ma.fields.String()
    probe = ma.fields.String()
    on = ma.fields.String(metadata={"description": "part, air or other."})
    first_at = Moment()
    times_s = ma.fields.List(ma.fields.Float(), metadata={"description": "Seconds from first_at."})
    temperatures_c = ma.fields.List(ma.fields.Float(allow_none=True))


class CureReadingsOut(Out):
    EXAMPLE = {
        "code": "R000044",
        "started_at": "2026-11-03T17:00:00Z",
        "ended_at": None,
        "series": [
            {
                "log": 1,
                "logger": "Oven logger 2",
                "probe": "root",
                "on": "part",
                "first_at": "2026-11-03T17:00:00Z",
                "times_s": [0, 60],
                "temperatures_c": [21.5, None],
            }
        ],
    }
    code = ma.fields.String()
    started_at = Moment()
    ended_at = Moment(allow_none=True)
    series = ma.fields.List(ma.fields.Nested(ProbeSeriesOut))
