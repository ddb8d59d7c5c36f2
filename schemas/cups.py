"""Mixed resin as it ages: the film on the mould, the cup that is left over, the filler that goes in."""

import marshmallow as ma

from schemas.base import In, QueryIn
from schemas.fields import Moment, Number, Word
from schemas.words import CountedOn, CupState


class FilmQuery(QueryIn):
    temperature_c = Number(-20, 200, required=True, metadata={"description": "Of the mould."})


class MouldReadingIn(ma.Schema):
    at = Moment(required=True)
    temperature_c = Number(-20, 200, required=True, metadata={"description": "Of the mould."})


class FilmHistoryIn(In):
    EXAMPLE = {
        "readings": [
            {"at": "2026-11-03T09:10:00Z", "temperature_c": 21},
            {"at": "2026-11-03T09:40:00Z", "temperature_c": 24.5},
        ]
    }
    readings = ma.fields.List(
        ma.fields.Nested(MouldReadingIn),
        required=True,
        validate=ma.validate.Length(1, 2000, error="Give 1 to 2000 readings."),
        metadata={"description": "In the order of time, from first contact on."},
    )


class CupQuery(QueryIn):
    state = Word(CupState, metadata={"description": "As it was found, without leaning over it; cool if left out."})


class FillerQuery(QueryIn):
    percent = Number(0, 1000, required=True)
    of = Word(CountedOn, required=True, metadata={"description": "Of the resin, or of resin and hardener."})
