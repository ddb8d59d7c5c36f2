"""Cures: what starts them, what proves them, how they are read."""

from typing import Any

import marshmallow as ma

from schemas.base import ActIn, PageIn, QueryIn
from schemas.fields import Code, Moment, Number, Text, Whole, Word, Yes, held_or_free
from schemas.words import CureState, Measure


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
    schedule = NameOrNumber(required=True)
    parts = ma.fields.List(Code("P"), required=True, validate=ma.validate.Length(1, 100, error="Give 1 to 100 parts."))
    post_cure = Yes(load_default=False)
    place = Code("A", metadata={"description": "The oven, or the room."})


class LogHeader(ma.Schema):
    """What an act may bring in headers beside its file; the key is that under which it is answered again."""

    idempotency_key = ma.fields.String(
        data_key="Idempotency-Key",
        validate=ma.validate.Length(1, 80),
        metadata={"description": "Any text of your own, new for each act."},
    )
    device = ma.fields.String(
        data_key="Potmark-Device",
        validate=ma.validate.Length(1, 60),
        metadata={"description": "What the device is called; it stands in the journal."},
    )

    class Meta:
        unknown = ma.EXCLUDE


class LogOfCureHeader(LogHeader):
    """The same of a file that is added to a thing."""

    if_match = ma.fields.String(
        data_key="If-Match",
        metadata={
            "description": "The ETag of the thing that this is done to: 412, and nothing is done, if it has changed "
            "since."
        },
    )


class Names(ma.fields.List):
    """Names separated by commas; the parameter may also be given again and again."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(Text(longest=80), load_default=tuple, validate=ma.validate.Length(0, 200), **kwargs)

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> list[Any]:
        given = [value] if isinstance(value, str) else value
        return list(super()._deserialize([name for text in given for name in text.split(",")], attr, data, **kwargs))


class Said(ma.fields.Field[tuple[str, str]]):
    """What is said of a probe: its name, `=`, and the rest."""

    default_error_messages = {"invalid": "Give the name of a probe, an equals sign, and what is said of it."}

    def __init__(self, what: ma.fields.Field[Any], **kwargs: Any) -> None:
        self._name, self._what = Text(longest=80), what
        super().__init__(metadata={"type": "string"}, **kwargs)

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> tuple[str, str]:
        name, separator, said = value.partition("=") if isinstance(value, str) else ("", "", "")
        if not separator:
            raise self.make_error("invalid")
        return str(self._name.deserialize(name)), str(self._what.deserialize(said))


class LogQuery(QueryIn):
    """What is said of a logger's file that the body brings."""

    logger = Whole(1, required=True, metadata={"description": "Number of the logger."})
    part_probes = Names(metadata={"description": "Probes on the part, separated by commas; all of them are required."})
    air_probes = Names(
        metadata={"description": "Probes in the air, separated by commas; they prove no time on the part."}
    )
    gauges = ma.fields.List(
        Said(Word(Measure)),
        load_default=tuple,
        validate=ma.validate.Length(0, 200),
        metadata={"description": "`gauge=vacuum`, `gauge=pressure` or `gauge=absolute`, again for each gauge."},
    )
    elsewhere = Names(metadata={"description": "Columns that measure something else, separated by commas."})
    stands_for = ma.fields.List(
        Said(Code("P")),
        load_default=tuple,
        validate=ma.validate.Length(0, 1000),
        metadata={
            "description": "`probe=part`, again for each part for which a probe stands; not needed for a single part."
        },
    )
    left_out = ma.fields.List(
        Said(Text(longest=200)),
        load_default=tuple,
        validate=ma.validate.Length(0, 200),
        metadata={"description": "`probe=reason`, again for each part probe that does not count."},
    )
    started_at = Moment(metadata={"description": "For a file that tells only the time since its start."})
    name = Text(longest=120, metadata={"description": "The file's name."})
    occurred_at = Moment()
    why = Text(longest=500)


class ThermometerIn(ActIn):
    low_c = Number(-100, 1000, required=True)
    high_c = Number(-100, 1000, required=True)
    reset_at = Moment(required=True, metadata={"description": "When it was reset; `occurred_at` is when it was read."})
    remark = Text(longest=300)


class DeclarationIn(ActIn):
    remark = Text(required=True, longest=300)
    ended = Yes(metadata={"description": "The cure is over as well: it is ended and judged in the same act."})


class CureQuery(PageIn):
    state = Word(CureState)
    part = Code("P")
    schedule = Text(longest=80, metadata={"description": "The schedule's name."})
    on_hold = held_or_free()
