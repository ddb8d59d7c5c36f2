"""Resin systems."""

import json
import math
from typing import Any

import marshmallow as ma

from schemas.base import ActIn, PageIn
from schemas.fields import LARGEST_WHOLE, Code, Grams, Number, Text, Whole, Word, Yes, taken_despite
from schemas.words import SystemKind, ToleranceKind

_LONGEST_CONSTANTS, _DEEPEST_CONSTANTS = 20_000, 20


class LifePointIn(ma.Schema):
    """One line of a table of pot life."""

    mass_g = Number(0.1, 1_000_000, required=True)
    temperature_c = Number(-20, 200, required=True)
    life_min = Number(0.1, 1_000_000, required=True)


class FilmPointIn(ma.Schema):
    """One line of a table of film life: by the temperature of the mould."""

    temperature_c = Number(-20, 200, required=True)
    life_min = Number(0.1, 1_000_000, required=True)


class BlendPartIn(ma.Schema):
    """A hardener of the system that is part of a blend."""

    material = Whole(1, required=True)
    fraction_pct = Number(1, 99, required=True, metadata={"description": "By mass, of the blend."})


class BlendIn(ma.Schema):
    """Two hardeners of the system, blended as the supplier allows it; the blend's life is the supplier's own table."""

    of = ma.fields.List(
        ma.fields.Nested(BlendPartIn),
        required=True,
        validate=ma.validate.Length(2, 2, error="A blend is of two hardeners."),
    )
    tolerance_pct = Number(
        0.1, 50, required=True, metadata={"description": "How far the fraction may be out, in points of per cent."}
    )
    source = Text(required=True, longest=200, metadata={"description": "Where the supplier allows it."})


class HardenerIn(ma.Schema):
    """One hardener of the system. Parts are grams to 100 g of resin, millilitres to 100 ml."""

    material = Whole(1, required=True)
    speed = Text(required=True, longest=40)
    parts_by_weight = Number(0.1, 1000, allow_none=True)
    parts_by_volume = Number(0.1, 1000, allow_none=True)
    blend = ma.fields.Nested(
        BlendIn,
        allow_none=True,
        metadata={
            "description": "Two hardeners of the system blended; its ratio follows from theirs if none is given."
        },
    )
    cup_life = ma.fields.List(
        ma.fields.Nested(LifePointIn), required=True, validate=ma.validate.Length(1, 100, error="Give 1 to 100 points.")
    )
    tray_life = ma.fields.List(ma.fields.Nested(LifePointIn), validate=ma.validate.Length(0, 100))
    film_life = ma.fields.List(ma.fields.Nested(FilmPointIn), validate=ma.validate.Length(0, 100))


class DoseIn(ma.Schema):
    """One line of a catalyst's table: for a resin at these temperatures, per cent of the resin as delivered."""

    temperature_from_c = Number(-20, 120, required=True)
    temperature_to_c = Number(-20, 120, required=True)
    lowest_pct = Number(0.01, 20, required=True)
    target_pct = Number(0.01, 20, required=True)
    highest_pct = Number(0.01, 20, required=True)


class PercentLifeIn(ma.Schema):
    """One point of a table of life by per cent of catalyst."""

    percent = Number(0.01, 20, required=True)
    temperature_c = Number(-20, 120, required=True)
    life_min = Number(0.1, 1_000_000, required=True)


class PromoterIn(ma.Schema):
    """The promoter that a catalyst needs, in per cent of the resin as delivered."""

    material = Whole(1, required=True)
    lowest_pct = Number(0.001, 20, required=True)
    target_pct = Number(0.001, 20, required=True)
    highest_pct = Number(0.001, 20, required=True)


class CatalystIn(ma.Schema):
    """An organic peroxide that the data sheet allows for the resin."""

    material = Whole(1, required=True)
    speed = Text(longest=40)
    promoter = ma.fields.Nested(
        PromoterIn, allow_none=True, metadata={"description": "None where the resin comes with its promoter in."}
    )
    doses = ma.fields.List(
        ma.fields.Nested(DoseIn), required=True, validate=ma.validate.Length(1, 50, error="Give 1 to 50 lines.")
    )
    life = ma.fields.List(
        ma.fields.Nested(PercentLifeIn),
        required=True,
        validate=ma.validate.Length(1, 100, error="Give 1 to 100 points."),
    )
    film_life = ma.fields.List(ma.fields.Nested(FilmPointIn), validate=ma.validate.Length(0, 100))
    with_fillers = Yes(metadata={"description": "True where the sheet counts the per cent on fillers too."})


class ToleranceIn(ma.Schema):
    """How far the ratio may be out. Without its kind and its source it means nothing."""

    kind = Word(ToleranceKind, required=True)
    value = Number(0.001, 1000, required=True)
    source = Text(required=True, longest=200)


class Constants(ma.fields.Field[dict[str, Any]]):
    """A JSON object that is kept as it is, with the source of its numbers."""

    default_error_messages = {
        "invalid": "Give a JSON object.",
        "source": "Give the source of the constants in a field source.",
        "long": "Give at most {longest} characters in all.",
        "number": "Numbers must be finite, and whole ones no larger than 2^53.",
        "text": "Leave out characters that cannot be printed.",
        "deep": "Nest at most {deepest} levels.",
    }

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> dict[str, Any]:
        if not isinstance(value, dict):
            raise self.make_error("invalid")
        if not isinstance(value.get("source"), str) or not value["source"].strip():
            raise self.make_error("source")
        self._look_through(value)
        if len(json.dumps(value)) > _LONGEST_CONSTANTS:
            raise self.make_error("long", longest=_LONGEST_CONSTANTS)
        return value

    def _look_through(self, value: Any, depth: int = 0) -> None:
        if depth > _DEEPEST_CONSTANTS:
            raise self.make_error("deep", deepest=_DEEPEST_CONSTANTS)
        if isinstance(value, dict):
            for name, inner in value.items():
                self._look_through(name, depth + 1)
                self._look_through(inner, depth + 1)
        elif isinstance(value, list):
            for inner in value:
                self._look_through(inner, depth + 1)
        elif isinstance(value, str):
            if not value.isprintable():
                raise self.make_error("text")
        elif isinstance(value, float):
            if not math.isfinite(value):
                raise self.make_error("number")
        elif isinstance(value, int) and abs(value) > LARGEST_WHOLE:
            raise self.make_error("number")


class SystemFacts(ActIn):
    """What a data sheet says of a system besides its components."""

    stir_min = Number(0.1, 600, allow_none=True, metadata={"description": "Least stirring, in minutes."})
    life_uncertainty_pct = Number(
        0,
        50,
        metadata={
            "description": "How far a life of the tables is known; over it by less is noted, beyond it held. "
            "5 if left out."
        },
    )
    work_low_c = Number(-20, 200, allow_none=True)
    work_high_c = Number(-20, 200, allow_none=True)
    work_high_humidity_pct = Number(0, 100, allow_none=True)
    constants = Constants(
        allow_none=True,
        metadata={
            "description": "Fitted constants with their `source`, as they are: kinetics, glass_transition, network.",
            "type": "object",
            "additionalProperties": True,
        },
    )
    agreement_limit_pct = Number(
        0.1,
        50,
        metadata={
            "description": "How far parts by weight and by volume may disagree through the densities; 2 if left out."
        },
    )


class SystemIn(SystemFacts):
    name = Text(required=True, longest=80)
    data_sheet = Text(required=True, longest=200, metadata={"description": "Title and revision of the data sheet."})
    resin = Whole(1, required=True)
    kind = Word(SystemKind, metadata={"description": "two-part if left out."})
    hardeners = ma.fields.List(
        ma.fields.Nested(HardenerIn), validate=ma.validate.Length(1, 20, error="Give 1 to 20 hardeners.")
    )
    catalysts = ma.fields.List(
        ma.fields.Nested(CatalystIn),
        validate=ma.validate.Length(1, 20, error="Give 1 to 20 catalysts."),
        metadata={"description": "Of a peroxide-cured resin, instead of hardeners and a tolerance."},
    )
    tolerance = ma.fields.Nested(ToleranceIn)
    largest_pot_g = Grams(required=True, high=1_000_000)


class SystemChange(SystemFacts):
    data_sheet = Text(longest=200)
    resin = Whole(1)
    hardeners = ma.fields.List(
        ma.fields.Nested(HardenerIn), validate=ma.validate.Length(1, 20, error="Give 1 to 20 hardeners.")
    )
    catalysts = ma.fields.List(
        ma.fields.Nested(CatalystIn), validate=ma.validate.Length(1, 20, error="Give 1 to 20 catalysts.")
    )
    tolerance = ma.fields.Nested(ToleranceIn)
    largest_pot_g = Grams(high=1_000_000)


class BlendedCanIn(ma.Schema):
    container = Code("C", required=True)
    mass_g = Grams(required=True, high=1_000_000)


class BlendingIn(ActIn):
    EXAMPLE = {
        "hardener": 5,
        "containers": [{"container": "C000018", "mass_g": 500}, {"container": "C000026", "mass_g": 500}],
        "place": "A00001P",
    }
    hardener = Whole(1, required=True, metadata={"description": "The blend, by the number of its material."})
    containers = ma.fields.List(
        ma.fields.Nested(BlendedCanIn), required=True, validate=ma.validate.Length(2, 20, error="Scan 2 to 20 cans.")
    )
    place = Code("A", required=True)
    tare_g = Grams()
    despite_reservation = taken_despite()


class SystemQuery(PageIn):
    name = Text(longest=80)
    resin = Whole(1)
    approved = Yes()
    current = Yes(metadata={"description": "True: approved, and not replaced by a later revision."})
