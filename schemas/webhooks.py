"""Webhooks: an address that is told of events, its secret, and what is sent again."""

import marshmallow as ma

from schemas.base import ActIn, PageIn
from schemas.fields import Text, Whole, Word, Yes
from schemas.words import DeliveryState, HookEvent

_TOLD = {"description": "Of what it is told."}


def _events(*, required: bool) -> ma.fields.Field:
    length = ma.validate.Length(1, len(HookEvent), error="Name at least one event, each once.")
    return ma.fields.List(Word(HookEvent), required=required, validate=length, metadata=_TOLD)


class WebhookIn(ActIn):
    url = Text(
        required=True, longest=500, metadata={"description": "Where events are sent to: https://, no secret in it."}
    )
    events = _events(required=True)


class WebhookChange(ActIn):
    url = Text(longest=500, metadata={"description": "Where events are sent to from now on."})
    events = _events(required=False)
    active = Yes(metadata={"description": "Whether anything is sent; what happens while nothing is comes later."})


class WebhookSecretIn(ActIn):
    old_for_h = Whole(
        0, 168, load_default=24, metadata={"description": "How long the old secret signs beside it, hours."}
    )


class ReplayIn(ActIn):
    deliveries = ma.fields.List(
        Whole(1),
        validate=ma.validate.Length(max=1000, error="Name at most 1,000 deliveries."),
        metadata={"description": "Numbers of deliveries; left out: all dead ones."},
    )
    since = Whole(0, metadata={"description": "Instead: everything after this entry of the journal."})


class DeliveryQuery(PageIn):
    state = Word(DeliveryState)
    event = Word(HookEvent)
