"""Webhooks: who is told of what happens, by which secrets it is signed, and how far the telling has come.

Who is told is history like all else. How far the telling has come is written by the worker beside the acts, thousands
of times a day, and nothing of the account rests on it: those two tables are not bound (`service.database.NOT_BOUND`).
"""

from peewee import SQL, BigAutoField, BigIntegerField, BooleanField, ForeignKeyField, IntegerField, TextField

from schemas.words import DeliveryState, HookEvent
from service.records.base import Instant, Json, Record, Word
from service.records.journal import Deed


class Webhook(Record):
    """An address that is told of some kinds of events, until it ends."""

    id = BigAutoField()
    url = TextField()
    events = Json()
    # Not active: nothing is sent; what happens meanwhile is sent once it is active again.
    active = BooleanField(default=True)
    made_at = Instant()
    deed = ForeignKeyField(Deed)
    deed_id: int
    ended_at = Instant(null=True)
    version = IntegerField(default=1)


# Sent again after a time-out, the same registration is no second one: every event would be told twice from then on.
Webhook.add_index(Webhook.url, unique=True, name="webhook_in_use", where=SQL("ended_at IS NULL"))


class WebhookSecret(Record):
    """What the secret is made of, together with the key outside the database; the secret itself is kept nowhere."""

    id = BigAutoField()
    webhook = ForeignKeyField(Webhook)
    webhook_id: int
    salt = TextField()
    made_at = Instant()
    # It signs beside its successor until then.
    ends_at = Instant(null=True)
    deed = ForeignKeyField(Deed)
    deed_id: int


class WebhookProgress(Record):
    """Up to which entry of the journal a webhook has its deliveries, and how it has answered lately."""

    webhook = ForeignKeyField(Webhook, primary_key=True)
    webhook_id: int
    after_seq = BigIntegerField()
    # Since when no attempt has come through.
    failing_since = Instant(null=True)
    # When the receiver said that it is gone (410): nothing is sent until somebody says otherwise.
    gone_at = Instant(null=True)


class WebhookDelivery(Record):
    """One event on its way to one webhook; `message` names the event, at all webhooks and in every attempt alike."""

    id = BigAutoField()
    webhook = ForeignKeyField(Webhook, index=False)
    webhook_id: int
    message = TextField()
    seq = BigIntegerField()
    event = Word(HookEvent)
    body = TextField()
    state = Word(DeliveryState, closed=True)
    attempts = IntegerField(default=0)
    made_at = Instant()
    next_at = Instant()
    # Whoever sends it has it until then; after that, another may.
    claimed_until = Instant()
    last_at = Instant(null=True)
    last_said = TextField(null=True)

    class Meta:
        indexes = (
            (("webhook", "message"), True),
            (("webhook", "state", "next_at"), False),
        )
