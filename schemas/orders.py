"""Orders, customers, and what other systems call things."""

from typing import Any

import marshmallow as ma

from schemas.base import ActIn, PageIn
from schemas.fields import Code, Day, Text, Whole, Word, Yes
from schemas.words import PartState, Referred, ReplacedBy

# As long as any system's own number may be.
LONGEST_REFERENCE = 200
_MOST_LINES = 500
_WHOSE = {"description": "Whose reference it is; the name of the system that asks, if left out."}


def _reference(**more: Any) -> Text:
    return Text(longest=LONGEST_REFERENCE, **more)


def _serials(description: str) -> ma.fields.List:
    return ma.fields.List(Text(longest=60), validate=ma.validate.Length(1, 1000), metadata={"description": description})


class OrderLineIn(ma.Schema):
    """So many parts of one number."""

    part_number = Text(required=True, longest=40)
    revision = Text(
        longest=10, metadata={"description": "Left out: the one approved last, as it is when each part is started."}
    )
    quantity = Whole(1, 1000, required=True)
    serials = _serials("One for each part, unique within the part number; the parts get them in this order.")
    due = Day()
    replaced_by = Word(
        ReplacedBy, metadata={"description": "Who plans another part when one is scrapped; the shop, if left out."}
    )
    reference = _reference(metadata={"description": "The order system's own, unique among all its lines."})


class OrderIn(ActIn):
    reference = _reference(required=True, metadata={"description": "The order system's own; one order has it."})
    system = Text(longest=60, metadata=_WHOSE)
    customer = Text(longest=100, metadata={"description": "By name, in any case; one that is new is added."})
    customer_reference = _reference(
        metadata={"description": "The order system's own; once it is known it decides who the customer is."}
    )
    due = Day()
    remark = Text(longest=500)
    lines = ma.fields.List(ma.fields.Nested(OrderLineIn), required=True, validate=ma.validate.Length(1, _MOST_LINES))


class OrderChange(ActIn):
    customer = Text(longest=100)
    due = Day(allow_none=True)
    remark = Text(longest=500, allow_none=True)


class OrderLinesIn(ActIn):
    first = Whole(
        2, 100_000, required=True,
        metadata={"description": "The number that the first of them gets: the next one, so that none is added twice."},
    )  # fmt: skip
    system = Text(longest=60, metadata=_WHOSE)
    lines = ma.fields.List(ma.fields.Nested(OrderLineIn), required=True, validate=ma.validate.Length(1, _MOST_LINES))


class OrderLineChange(ActIn):
    quantity = Whole(0, 100_000)
    revision = Text(longest=10, allow_none=True)
    due = Day(allow_none=True)
    replaced_by = Word(ReplacedBy)
    serials = _serials("Where more are wanted: one for each part that is planned now.")
    confirmed = Yes(metadata={"description": "What is begun stays and goes on, though the line wants fewer."})


class ReplacementsIn(ActIn):
    serials = _serials("One for each part that is planned now, unique within the part number.")


class CancellationIn(ActIn):
    confirmed = Yes(metadata={"description": "What is begun stays with the order and goes on."})


class OrderQuery(PageIn):
    reference = _reference()
    system = Text(longest=60)
    customer = Text(longest=100)
    due_by = Day()
    cancelled = Yes()


class OrderPartQuery(PageIn):
    line = Whole(1)
    state = Word(PartState)
    serial = Text(longest=60)


class CustomerIn(ActIn):
    name = Text(required=True, longest=100)


class CustomerChange(ActIn):
    name = Text(longest=100)


class CustomerQuery(PageIn):
    name = Text(longest=100)


class ReferenceIn(ActIn):
    kind = Word(Referred, required=True)
    reference = _reference(required=True)
    system = Text(longest=60, metadata=_WHOSE)
    number = Whole(1, metadata={"description": "Of the order, line, customer, material or supplier."})
    code = Code("P", metadata={"description": "Of the part."})


class ReferenceQuery(PageIn):
    kind = Word(Referred)
    reference = _reference()
    system = Text(longest=60)
    number = Whole(1)
    code = Code("P")


class ReturnIn(ActIn):
    reason = Text(required=True, longest=300, metadata={"description": "Why the customer sent it back."})
    document = Text(longest=60, metadata={"description": "The paper that came with it."})


class StartIn(ActIn):
    mould = Code("T")
    confirmed = Yes(metadata={"description": "The mould is right as it is; `why` says why."})
