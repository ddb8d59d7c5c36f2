"""Traces."""

import marshmallow as ma

from schemas.base import QueryIn
from schemas.fields import Moment


class TraceQuery(QueryIn):
    direction = ma.fields.String(
        load_default="back", validate=ma.validate.OneOf(["back", "forward"], error="Give back or forward.")
    )
    since = Moment(
        load_default=None,
        metadata={"description": "With direction=forward: leaves out what was taken from the item before this time."},
    )
