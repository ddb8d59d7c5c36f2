"""Words of prices and costs; schemas.words gives them out."""

from enum import StrEnum


class PriceBasis(StrEnum):
    """What a price is of: the whole arrival, or a kilogram, metre or piece of it."""

    TOTAL = "total"
    KILOGRAM = "kilogram"
    METRE = "metre"
    PIECE = "piece"


class WasteCause(StrEnum):
    """Why something was bought and is in no part. Trim was in a part first."""

    EXPIRED = "expired"
    SCRAPPED = "scrapped"
    LEFT = "left in pot"
    SPILLED = "spilled"
    OFF_RATIO = "off ratio"
    DISCARDED = "discarded pot"
    GIVEN_UP = "given up"
    CUTTING = "cutting waste"
    NOT_FOUND = "not found"
    TRIM = "trim"
