"""Cure schedules and data loggers."""

import json
import unicodedata
from typing import Any

import marshmallow as ma

from schemas.base import ActIn, PageIn, QueryIn
from schemas.fields import LARGEST_WHOLE, Day, Moment, Number, Text, Whole, Word, Yes
from schemas.words import Evidence, Measure

_LONGEST_MIN = 1_000_000
_LONGEST_PROFILE = 200_000


class StageIn(ma.Schema):
    """One stage of a cure: the band in which its time counts, and its limits."""

    name = Text(required=True, longest=60)
    low_c = Number(-100, 1000, required=True)
    high_c = Number(-100, 1000, required=True, allow_none=True, metadata={"description": "null: no upper edge."})
    minimum_min = Number(
        0.1, _LONGEST_MIN, required=True, metadata={"description": "Time needed in the band, minutes."}
    )
    over_c = Number(
        -100,
        1000,
        required=True,
        allow_none=True,
        metadata={"description": "No part probe may pass this; null says that there is no such limit."},
    )
    air_over_c = Number(
        -100,
        1000,
        required=True,
        allow_none=True,
        metadata={"description": "No air probe may pass this; null says that there is no such limit."},
    )
    set_c = Number(
        -100, 1000, allow_none=True, metadata={"description": "Set temperature; left out: the middle of the band."}
    )
    maximum_min = Number(
        0.1,
        _LONGEST_MIN,
        allow_none=True,
        metadata={"description": "Minutes from the first moment in it to the last."},
    )
    heating_limit_k_min = Number(0.001, 1000, allow_none=True)
    cooling_limit_k_min = Number(0.001, 1000, allow_none=True)
    may_be_split = Yes(load_default=False, metadata={"description": "Parts of the time may be added up."})
    dip_min = Number(
        0, 240, load_default=0, metadata={"description": "A dip below the band of so many minutes breaks no time."}
    )
    dip_k = Number(0, 100, load_default=0, metadata={"description": "And of so many kelvin."})


class PressureIn(ma.Schema):
    """A band in which every gauge of a kind stays, from one moment of the cure to another."""

    measure = Word(
        Measure,
        required=True,
        metadata={"description": "vacuum: below the pressure of the air; pressure: above it; absolute: from zero."},
    )
    low_mbar = Number(0, 100_000, load_default=None, allow_none=True)
    high_mbar = Number(0, 100_000, load_default=None, allow_none=True)
    from_stage = Text(
        longest=60,
        load_default=None,
        allow_none=True,
        metadata={"description": "From the first moment in that stage's band; left out: from the start of the cure."},
    )
    until_stage = Text(
        longest=60,
        load_default=None,
        allow_none=True,
        metadata={"description": "To the last moment in that stage's band; left out: to the end of the cure."},
    )


_INTERVAL = {
    "description": "Longest interval between two samples of a probe, minutes; a quarter of the oven's cycle at most, "
    "where that is given."
}
_CYCLE = {
    "description": "For parts so thin that they follow their oven: from one switching on of its heating to the next, "
    "minutes."
}


class ScheduleFacts(ActIn):
    source = Text(longest=200, metadata={"description": "Data sheet and its revision."})
    stages = ma.fields.List(ma.fields.Nested(StageIn), validate=ma.validate.Length(1, 50, error="Give 1 to 50 stages."))
    pressures = ma.fields.List(
        ma.fields.Nested(PressureIn), validate=ma.validate.Length(0, 10, error="Give at most 10 bands of pressure.")
    )
    longest_interval_min = Number(0.01, 60, metadata=_INTERVAL)
    oven_cycle_min = Number(0.04, 1440, allow_none=True, metadata=_CYCLE)
    evidence = Word(Evidence, metadata={"description": "What has to prove the cure at least."})
    start_within_min = Whole(
        1, _LONGEST_MIN, allow_none=True, metadata={"description": "After the lay-up was closed, minutes."}
    )
    demould_below_c = Number(-100, 1000, allow_none=True)


class ScheduleIn(ScheduleFacts):
    name = Text(required=True, longest=80)
    source = Text(required=True, longest=200, metadata={"description": "Data sheet and its revision."})
    stages = ma.fields.List(
        ma.fields.Nested(StageIn),
        required=True,
        validate=ma.validate.Length(1, 50, error="Give 1 to 50 stages."),
    )
    longest_interval_min = Number(0.01, 60, required=True, metadata=_INTERVAL)
    evidence = Word(Evidence, required=True, metadata={"description": "What has to prove the cure at least."})


class ScheduleChange(ScheduleFacts):
    pass


class ScheduleQuery(PageIn):
    name = Text(longest=80)
    approved = Yes()


class Profile(ma.fields.Field[dict[str, Any]]):
    """A reading profile as a JSON object; what its fields may hold is checked where it is used."""

    default_error_messages = {
        "invalid": "Give the profile as an object, as a preview answers it.",
        "long": "Give a profile of at most {longest} characters in all.",
        "text": "Leave out characters that cannot be printed.",
        "number": "Give numbers within their range.",
        "deep": "A profile is not nested that deep.",
    }

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> dict[str, Any]:
        if not isinstance(value, dict):
            raise self.make_error("invalid")
        self._look_through(value, 0)
        if len(json.dumps(value)) > _LONGEST_PROFILE:
            raise self.make_error("long", longest=_LONGEST_PROFILE)
        return value

    def _look_through(self, value: Any, depth: int) -> None:
        if depth > 4:
            raise self.make_error("deep")
        if isinstance(value, dict | list):
            for inner in [*value, *value.values()] if isinstance(value, dict) else value:
                self._look_through(inner, depth + 1)
        elif isinstance(value, str):
            # A tab is a delimiter like others.
            if any(unicodedata.category(c) in ("Cc", "Cs") and c != "\t" for c in value):
                raise self.make_error("text")
        elif isinstance(value, int | float) and not abs(value) <= LARGEST_WHOLE:
            raise self.make_error("number")


def _profile(**kwargs: Any) -> Profile:
    return Profile(
        metadata={
            "type": "object",
            "additionalProperties": True,
            "description": "How the logger's files are read. A preview proposes it and can be sent back as it is.",
        },
        **kwargs,
    )


class LoggerFacts(ActIn):
    sensor_low_c = Number(-273.15, 3000, allow_none=True, metadata={"description": "Lowest that its sensors can read."})
    sensor_high_c = Number(-273.15, 3000, allow_none=True, metadata={"description": "Highest that they can read."})
    calibrated_on = Day(allow_none=True)
    calibration = Text(allow_none=True, longest=120)
    calibration_due_on = Day(allow_none=True)


class LoggerIn(LoggerFacts):
    name = Text(required=True, longest=80)
    profile = _profile(allow_none=True)


class LoggerChange(LoggerFacts):
    name = Text(longest=80)
    profile = _profile()


class PreviewQuery(QueryIn):
    started_at = Moment(metadata={"description": "For a file that tells only the time since its start."})
