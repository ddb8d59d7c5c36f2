"""Pots, the cups that are left of them, and films on a mould: what comes in."""

import marshmallow as ma

from schemas.base import ActIn, In, PageIn, QueryIn
from schemas.fields import Code, Grams, Moment, Number, Text, Whole, Word, Yes, held_or_free, taken_despite
from schemas.words import CountedOn, CupState, Declaration, MixState, Purpose, ReadingSource

# No bench mixes more than a tonne.
_MOST_G = 1_000_000


class MixContainerIn(ma.Schema):
    """A can that was scanned for the pot; which component it is follows from its material."""

    container = Code("C", required=True)
    mass_g = Grams(high=_MOST_G, metadata={"description": "How much of it, where several cans share one component."})


class JobPlanIn(ma.Schema):
    """This pot is number so and so of a job that was planned in several of equal size."""

    need_g = Grams(required=True, high=_MOST_G, metadata={"description": "Mixed resin that the whole job takes."})
    wet_out_rate_g_min = Number(0.01, 100_000, required=True)
    working_share = Number(
        0.05, 1, metadata={"description": "Share of the pot life that wetting out may take; a half if left out."}
    )
    number = Whole(1, 200, required=True)
    of = Whole(1, 200, required=True)


class MixIn(ActIn):
    system = Whole(1, required=True)
    hardener = Whole(
        1, metadata={"description": "The hardener, by the number of its material; the one that is scanned if left out."}
    )
    purpose = Word(Purpose, required=True)
    total_g = Grams(high=_MOST_G, metadata={"description": "Resin and hardener together; or give one of the two."})
    resin_g = Grams(high=_MOST_G)
    hardener_g = Grams(
        high=_MOST_G, metadata={"description": "The hardener that is left; the resin that belongs to it follows."}
    )
    containers = ma.fields.List(
        ma.fields.Nested(MixContainerIn), required=True, validate=ma.validate.Length(2, 20, error="Scan 2 to 20 cans.")
    )
    scale = Code("S", required=True)
    hardener_scale = Code("S", metadata={"description": "If hardener or catalyst is measured on another scale."})
    promoter_scale = Code("S", metadata={"description": "If the promoter is weighed on a finer scale."})
    zeroed = Yes(metadata={"description": "False if a running total is to be weighed; true if left out."})
    separate_cups = Yes(metadata={"description": "Each component in a cup of its own, weighed back when emptied."})
    temperature_c = Number(-20, 120, metadata={"description": "Of the mix; it may follow with the contact."})
    temperature_of_air = Yes(metadata={"description": "True if only the air's temperature is known."})
    parts = ma.fields.List(
        Code("P"), validate=ma.validate.Length(0, 50), metadata={"description": "What the pot is meant for."}
    )
    plan = ma.fields.Nested(
        JobPlanIn, metadata={"description": "If it is one of several: the planner's answer is kept with the pot."}
    )
    confirmed = Yes(
        metadata={"description": "So small a pot on this scale is meant; why says what for, and a permit is asked for."}
    )
    despite_reservation = taken_despite()


class PourIn(ActIn):
    container = Code("C", required=True)
    scale = Code("S", required=True)
    reading_g = Grams(high=_MOST_G, metadata={"description": "What the scale shows, as it shows it."})
    reading_ml = Number(
        0.001, _MOST_G, metadata={"description": "What a graduated measure shows, instead of the mass."}
    )
    density_g_ml = Number(
        0.5, 5, metadata={"description": "At the liquid's temperature; the material's if left out. With reading_ml."}
    )
    zeroed = Yes(metadata={"description": "False if the scale ran on from its reading before; true if left out."})
    source = Word(ReadingSource, required=True)
    correction = Yes(metadata={"description": "True if it corrects a pot in which both components are."})
    read_back_g = Grams(
        high=_MOST_G,
        metadata={"description": "The same reading again, if it lies far from its target or is finer than the scale."},
    )
    read_back_ml = Number(
        0.001, _MOST_G, metadata={"description": "The same reading of a measure again, if it is far."}
    )
    confirmed = Yes(metadata={"description": "It is this can, though the book has less in it."})
    despite_reservation = taken_despite()
    again = Yes(metadata={"description": "It was poured twice, though the same was recorded seconds ago."})
    emptied_cup_g = Grams(
        low=0, high=_MOST_G, metadata={"description": "Separate cups: what the scale shows for the emptied cup."}
    )


class UndoIn(ActIn):
    """The last pour, by whoever recorded it and within a minute."""

    declaration = Word(Declaration, required=True)
    reading_g = Grams(high=_MOST_G, metadata={"description": "What the scale really showed, with incorrect data."})
    read_back_g = Grams(high=_MOST_G, metadata={"description": "That reading again, if it is asked for."})
    confirmed = Yes(metadata={"description": "It is this can, though the book has less in it."})
    despite_reservation = taken_despite()


class PourBackIn(ActIn):
    container = Code("C", required=True)
    mass_g = Grams(required=True, high=_MOST_G)
    happened = Yes(metadata={"description": "It went back already, though it never may: recorded, and held."})


class CatalystScanIn(ActIn):
    EXAMPLE = {"container": "C003183"}
    container = Code("C", required=True)
    promoter_away = Yes(
        metadata={
            "description": "True: the promoter is stirred in and put away. Not asked of a resin that came with it."
        }
    )
    despite_reservation = taken_despite()


class StrokesIn(ActIn):
    EXAMPLE = {
        "scale": "S00001K",
        "resin_container": "C003183",
        "hardener_container": "C000018",
        "resin_strokes": 12,
        "hardener_strokes": 12,
    }
    scale = Code("S", required=True, metadata={"description": "The pump."})
    resin_container = Code("C", required=True)
    hardener_container = Code("C", required=True)
    resin_strokes = Whole(1, 10_000, required=True, metadata={"description": "Counted for itself."})
    hardener_strokes = Whole(1, 10_000, required=True, metadata={"description": "Counted for itself."})
    confirmed = Yes()
    despite_reservation = taken_despite()


class ContactIn(ActIn):
    contact_at = Moment(metadata={"description": "When the hardener began to go in; just now if left out."})
    temperature_c = Number(-20, 120)
    temperature_of_air = Yes()


class StirringIn(ActIn):
    started_at = Moment(required=True)
    ended_at = Moment(required=True)
    scraped = Yes(required=True, metadata={"description": "Sides and base of the cup scraped."})
    second_cup = Yes()
    before_contact = Yes(
        metadata={"description": "One component alone was stirred, such as pigment into resin: no first contact."}
    )


class FillerIn(ActIn):
    container = Code("C", required=True)
    mass_g = Grams(required=True, high=_MOST_G)
    scale = Code("S")
    confirmed = Yes()
    despite_reservation = taken_despite()


class AppliedPartIn(ma.Schema):
    part = Code("P", required=True)
    mass_g = Grams(high=_MOST_G, metadata={"description": "If it was weighed; else it is shared out at the closing."})
    zone = Text(longest=60)


class ApplicationIn(ActIn):
    parts = ma.fields.List(
        ma.fields.Nested(AppliedPartIn), required=True, validate=ma.validate.Length(1, 50, error="Name 1 to 50 parts.")
    )
    purpose = Word(Purpose, metadata={"description": "The pot's own if left out."})
    read_back_g = Grams(
        high=_MOST_G, metadata={"description": "All that was applied, again, if it is more than is in the pot."}
    )
    again = Yes(metadata={"description": "It was applied twice, though the same was recorded seconds ago."})


class ClosingIn(ActIn):
    left_g = Grams(low=0, high=_MOST_G)
    gross_g = Grams(high=_MOST_G, metadata={"description": "Cup with what is left in it, together with cup_g."})
    cup_g = Grams(high=_MOST_G)
    all_used = Yes()
    left_estimated = Yes()
    loss_g = Grams(low=0, high=_MOST_G, metadata={"description": "Brush, roller, spilled: if it is known."})
    cup_kept = Yes(metadata={"description": "The cup is kept for the check next morning."})
    parts = ma.fields.List(
        ma.fields.Nested(AppliedPartIn),
        validate=ma.validate.Length(1, 50, error="Name 1 to 50 parts."),
        metadata={"description": "What it went into, where nobody told it before: applied and closed in one act."},
    )
    read_back_g = Grams(high=_MOST_G, metadata={"description": "As with an application, for the parts named here."})
    again = Yes(metadata={"description": "As with an application, for the parts named here."})


class DiscardIn(ActIn):
    reason = Text(required=True, longest=300)


class CupCheckIn(ActIn):
    hard = Yes(required=True)
    hardness = Number(0, 10_000, allow_none=True)
    hardness_scale = Text(longest=40, allow_none=True)


class MixQuery(PageIn):
    state = Word(MixState)
    purpose = Word(Purpose)
    system = Whole(1)
    part = Code("P")
    open = Yes()
    on_hold = held_or_free()


class FilmQuery(QueryIn):
    temperature_c = Number(-20, 200, required=True, metadata={"description": "Of the mould."})


class MouldReadingIn(ma.Schema):
    at = Moment(required=True)
    temperature_c = Number(-20, 200, required=True, metadata={"description": "Of the mould."})


class FilmHistoryIn(In):
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
