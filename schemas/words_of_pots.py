"""The words of resin systems, of what they are measured on, and of their pots; words.py names them with all others."""

from enum import StrEnum


class ToleranceKind(StrEnum):
    PERCENT_OF_RATIO = "percent of ratio"
    PARTS = "parts"
    PERCENT_OF_EACH_MASS = "percent of each mass"


class SystemKind(StrEnum):
    """How a resin system sets: two parts that react with each other, or a resin that a peroxide starts."""

    TWO_PART = "two-part"
    PEROXIDE_CURED = "peroxide-cured"


class ScaleForm(StrEnum):
    """What a component is measured on."""

    SCALE = "scale"
    MEASURE = "graduated measure"
    PUMP = "pump"


class Component(StrEnum):
    """What is poured into a pot.

    Part B of a peroxide-cured system is told as catalyst; in the account it is kept where a hardener is.
    """

    RESIN = "resin"
    HARDENER = "hardener"
    CATALYST = "catalyst"
    PROMOTER = "promoter"


# The two whose ratio is judged, as the account keeps them.
PARTS_OF_A_RATIO = (Component.RESIN, Component.HARDENER)


class ReadingSource(StrEnum):
    TYPED = "typed"
    CAPTURED = "captured"


class CupState(StrEnum):
    """How a cup with mixed resin in it was found, without leaning over it."""

    COOL = "cool"
    WARM = "warm"
    SMOKING = "smoking"


class CountedOn(StrEnum):
    """What a percentage of filler or pigment is counted on."""

    RESIN = "resin"
    MIX = "mix"
