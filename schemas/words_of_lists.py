"""Words of lists and of who follows them."""

from enum import StrEnum


class Sort(StrEnum):
    """In which order a list comes."""

    NEWEST = "newest"
    OLDEST = "oldest"


class FollowedKind(StrEnum):
    """Kinds of item whose changes are told to who follows them."""

    PART = "P"
    LOT = "L"
