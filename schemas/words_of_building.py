"""Words of the build check, and of the shop's calendar."""

from enum import StrEnum


class Weekday(StrEnum):
    MONDAY = "monday"
    TUESDAY = "tuesday"
    WEDNESDAY = "wednesday"
    THURSDAY = "thursday"
    FRIDAY = "friday"
    SATURDAY = "saturday"
    SUNDAY = "sunday"


class BuildAnswer(StrEnum):
    """Can it be built? "Not shown" is neither: the search ended, or something that it takes is not known."""

    YES = "yes"
    YES_IF = "yes, if"
    NO = "no"
    NOT_SHOWN = "not shown"


class BuildConditionKind(StrEnum):
    """What would have to come first."""

    RELEASE = "release"
    DELIVERY = "delivery"
    PERMIT = "permit"
    HARDENER = "hardener"
    SCALE_CHECK = "scale check"
