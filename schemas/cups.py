"""Mixed resin as it ages: the film on the mould, the cup that is left over, the filler that goes in."""

import marshmallow as ma

from schemas.base import In, Out, QueryIn
from schemas.fields import Grams, Moment, Number, Word
from schemas.mix_views import WatchOut
from schemas.words import CountedOn, CupState


class FilmQuery(QueryIn):
    temperature_c = Number(-20, 200, required=True, metadata={"description": "Of the mould."})


class FilmOut(Out):
    EXAMPLE = {
        "life_min": 113,
        "use_before": "2026-11-03T10:57:00Z",
        "bound": "exact",
        "sentence": "113 min on a mould at 21 °C, from first contact.",
    }
    life_min = ma.fields.Float(allow_none=True)
    use_before = Moment(allow_none=True)
    bound = ma.fields.String(allow_none=True)
    sentence = ma.fields.String()


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


class FilmAgeOut(Out):
    EXAMPLE = {
        "reference_c": 20,
        "activation_energy_kj_mol": 51.2,
        "bound": "exact",
        "age_min": 48.6,
        "life_min": 120,
        "left_min": 71.4,
        "last_temperature_c": 24.5,
        "left_at_last_min": 52,
        "use_before": "2026-11-03T10:32:00Z",
        "sentence": "49 of 120 min at 20 °C are gone; 52 min are left if the mould stays at 24.5 °C.",
    }
    reference_c = ma.fields.Float(allow_none=True, metadata={"description": "The coolest point of the film's table."})
    activation_energy_kj_mol = ma.fields.Float(
        allow_none=True, metadata={"description": "The film's own, from the ends of its table."}
    )
    bound = ma.fields.String(
        allow_none=True, metadata={"description": "exact, held at the edge, older than, or rule of thumb."}
    )
    age_min = ma.fields.Float(allow_none=True, metadata={"description": "Minutes at the reference temperature."})
    life_min = ma.fields.Float(allow_none=True)
    left_min = ma.fields.Float(allow_none=True, metadata={"description": "At the reference temperature."})
    last_temperature_c = ma.fields.Float(allow_none=True)
    left_at_last_min = ma.fields.Float(allow_none=True, metadata={"description": "If it stays as warm as last read."})
    use_before = Moment(allow_none=True)
    sentence = ma.fields.String()


class CupQuery(QueryIn):
    state = Word(CupState, metadata={"description": "As it was found, without leaning over it; cool if left out."})


class CupOut(Out):
    EXAMPLE = {
        "mix": "M011793",
        "name": "Alder 10 with Alder 32 slow hardener",
        "state": "running",
        "started_by": "Lin",
        "contact_at": "2026-11-03T09:04:00Z",
        "use_before": "2026-11-03T09:44:00Z",
        "in_tray_at": None,
        "parts": ["P00087K"],
        "cup": "cool",
        "watch": {
            "level": "act now",
            "sentence": "80 % of the pot life is gone. With gloves and eye protection, pour it at once into a flat "
            "metal tray, a thin layer, and set it outside.",
            "left_g": 380,
            "age_min": 32,
            "age_share": 0.8,
            "age_of_shortest": False,
            "heat": None,
        },
    }
    mix = ma.fields.String()
    name = ma.fields.String()
    state = ma.fields.String()
    started_by = ma.fields.String()
    contact_at = Moment(allow_none=True)
    use_before = Moment(allow_none=True)
    in_tray_at = Moment(allow_none=True)
    parts = ma.fields.List(ma.fields.String(), metadata={"description": "What it went into, or was meant for."})
    cup = ma.fields.String(metadata={"description": "How it was found, or cool where nobody said."})
    watch = ma.fields.Nested(WatchOut)


class CupsLeftOut(Out):
    EXAMPLE = {"cups": [CupOut.EXAMPLE], "sentence": "1 open pot with 380 g in all. Act now: M011793."}
    cups = ma.fields.List(ma.fields.Nested(CupOut), metadata={"description": "What calls for an act comes first."})
    sentence = ma.fields.String()


class FillerQuery(QueryIn):
    percent = Number(0, 1000, required=True)
    of = Word(CountedOn, required=True, metadata={"description": "Of the resin, or of resin and hardener."})


class FillerTargetOut(Out):
    EXAMPLE = {
        "percent": 5,
        "of": "mix",
        "counted_on_g": 500,
        "target_g": 25,
        "in_g": 0,
        "add_g": 25,
        "sentence": "5 % of 500 g of resin and hardener is 25 g: add 25 g.",
    }
    percent = ma.fields.Float()
    of = ma.fields.String()
    counted_on_g = Grams()
    target_g = Grams()
    in_g = Grams(metadata={"description": "Filler and pigment that are in already."})
    add_g = Grams()
    sentence = ma.fields.String()
