"""What is reserved for orders, and what is expected to come."""

import marshmallow as ma

from schemas.base import ActIn, PageIn
from schemas.building import WITH_WHAT
from schemas.fields import Day, Grams, Moment, Text, Whole, Word, Yes
from schemas.words import ExpectedEnd

_MOST_MM = 10_000_000
_COMES = {"description": "The first day on which it is here and released."}


class ReservationIn(ActIn):
    EXAMPLE = {"expires_at": "2026-12-20T12:00:00Z", "temperature_c": 21, "wet_out_rate_g_min": 40}
    expires_at = Moment(
        required=True, metadata={"description": "Until then it is kept, at most 366 days; then others may take it."}
    )
    lines = ma.fields.List(
        Whole(1),
        validate=ma.validate.Length(1, 50, error="Name 1 to 50 lines."),
        metadata={"description": "The numbers of the order's lines; all that have planned parts, if left out."},
    )
    temperature_c = WITH_WHAT["temperature_c"]
    wet_out_rate_g_min = WITH_WHAT["wet_out_rate_g_min"]
    working_share = WITH_WHAT["working_share"]
    hardeners = WITH_WHAT["hardeners"]
    gap_mm = WITH_WHAT["gap_mm"]
    with_conditions = Yes(
        metadata={"description": 'A "yes, if" is reserved too: on an expected delivery, a release, a permit.'}
    )
    remark = Text(longest=300)


class ReservationQuery(PageIn):
    order = Whole(1)
    material = Whole(1)
    standing = Yes(metadata={"description": "True: neither released nor expired."})


class ExpectedDeliveryIn(ActIn):
    EXAMPLE = {"material": 1, "mass_g": 25000, "expected_on": "2026-11-20", "reference": "PO 4471"}
    material = Whole(1, required=True)
    mass_g = Grams(metadata={"description": "How much comes; of a cloth length_mm."})
    length_mm = Whole(1, _MOST_MM, metadata={"description": "Of a cloth: one roll of that length."})
    expected_on = Day(required=True, metadata=_COMES)
    supplier = Whole(1)
    reference = Text(longest=100, metadata={"description": "The purchase order, or the supplier's number of it."})
    expires_on = Day(metadata={"description": "Its last good day, if that is known."})


class ExpectedDeliveryChange(ActIn):
    mass_g = Grams()
    length_mm = Whole(1, _MOST_MM)
    expected_on = Day(metadata=_COMES)
    reference = Text(longest=100, allow_none=True)
    expires_on = Day(allow_none=True)


class ExpectedEndIn(ActIn):
    ended_as = Word(ExpectedEnd, required=True)


class ExpectedDeliveryQuery(PageIn):
    material = Whole(1)
    reference = Text(longest=100)
    due_by = Day(metadata={"description": "Expected by this day."})
    ended = Yes(metadata={"description": "True: arrived or cancelled; false: still expected."})
