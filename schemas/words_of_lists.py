"""Words of lists and of who follows them."""

from enum import StrEnum


class Sort(StrEnum):
    """In which order a list comes."""

    NEWEST = "newest"
    OLDEST = "oldest"


class FollowedKind(StrEnum):
    """Kinds of thing whose changes are told to who follows them: items by the letter of their codes, and orders."""

    PART = "P"
    LOT = "L"
    ORDER = "order"
