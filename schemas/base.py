"""What every schema shares."""

from collections.abc import Iterable, Mapping
from typing import ClassVar, Self

import marshmallow as ma

from schemas.fields import Moment, Text, Whole, Word
from schemas.words import Sort


class Described(ma.Schema):
    """A schema is read, not changed: what copies a route's documentation shares it (a quarter of a start's time)."""

    def __deepcopy__(self, memo: object) -> Self:
        return self


class In(Described):
    """Something that comes in. Unknown fields are refused. Bodies that work are in service/api/tours.

    `GATHERS` names what is handed on as one, and the fields that it is gathered from.
    """

    GATHERS: ClassVar[Mapping[str, Iterable[str]]] = {}

    class Meta:
        unknown = ma.RAISE


class ActIn(In):
    """The body of an act: besides its own fields, when it happened and why, if that needs saying."""

    occurred_at = Moment(metadata={"description": "When it happened, if not just now."})
    why = Text(longest=500, metadata={"description": "Why, where a reason is asked or helps."})


class QueryIn(In):
    in_query = True


class PageIn(QueryIn):
    """Where to go on in a list, and how long a page is."""

    after = Text(longest=60, metadata={"description": "Cursor from the Link header of the page before."})
    limit = Whole(1, 200, load_default=50)
    sort = Word(Sort, metadata={"description": "The newest or the oldest first; each list has its usual order."})


class Out(Described):
    """Something that goes out."""


class FieldError(ma.Schema):
    pointer = ma.fields.String(required=True, metadata={"description": "JSON Pointer to the field (RFC 6901)."})
    detail = ma.fields.String(required=True)

    class Meta:
        unknown = ma.INCLUDE


class Problem(Out):
    """A problem document (RFC 9457)."""

    type = ma.fields.String(required=True, metadata={"description": "Address of the page that explains this reason."})
    title = ma.fields.String(required=True)
    status = ma.fields.Integer(required=True)
    detail = ma.fields.String(metadata={"description": "One sentence for the person at the bench."})
    way_out = ma.fields.String(metadata={"description": "What to do next."})
    answer_with = ma.fields.Dict(
        keys=ma.fields.String(),
        metadata={
            "description": "If it is meant nevertheless: what to send with the same request, under a new "
            "Idempotency-Key. Where a value is null, the person gives it."
        },
    )
    instance = ma.fields.String()
    errors = ma.fields.List(ma.fields.Nested(FieldError))

    class Meta:
        unknown = ma.INCLUDE
