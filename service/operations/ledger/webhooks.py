"""Webhooks as they stand: who is told of what, how that goes, and each delivery that waits, came through or is dead."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from peewee import fn

from schemas.words import DeliveryState, HookEvent
from service.operations.door.rows import find_row
from service.operations.door.views import Page, page, page_of
from service.records.base import as_word
from service.records.hooks import Webhook, WebhookDelivery, WebhookProgress

WHAT = "webhook"


@dataclass(frozen=True, slots=True)
class WebhookView:
    """An address that is told of events.

    Attributes
    ----------
    url
        Where it is sent to.
    events
        Of what it is told.
    active
        Whether anything is sent; what happens while nothing is comes later.
    made_at
        When it was registered.
    told_upto
        The entry of the journal up to which its deliveries are made.
    waiting
        Deliveries that wait for an attempt.
    dead
        Deliveries that no attempt brought through; POST …/replays sends them again.
    failing_since
        Since when no attempt has come through; null: the last one did.
    gone_at
        When the receiver answered that it is gone (410); nothing is sent until its deliveries are sent again.
    doubt
        What may keep deliveries from arriving, as far as it shows when the address is given.
    secret
        What signs its deliveries, as Standard Webhooks writes it. Shown once, when it is made.
    """

    id: int
    url: str
    events: tuple[HookEvent, ...]
    active: bool
    made_at: datetime
    ended_at: datetime | None
    told_upto: int
    waiting: int
    dead: int
    failing_since: datetime | None
    gone_at: datetime | None
    version: int
    doubt: str | None = None
    secret: str | None = None


@dataclass(frozen=True, slots=True)
class DeliveryView:
    """One event on its way to one webhook.

    Attributes
    ----------
    message
        Name of the event (header `webhook-id`), the same in every attempt.
    seq
        The entry of the journal that it tells of.
    event
        What it tells.
    attempts
        How many were made since it was last sent again.
    made_at
        When it was found in the journal.
    last_at
        When the last attempt was made.
    body
        What is sent, to the letter.
    next_at
        When the next attempt is made; null where none is.
    last_said
        What came of the last attempt.
    """

    id: int
    message: str
    seq: int
    event: HookEvent
    state: DeliveryState
    attempts: int
    made_at: datetime
    next_at: datetime | None
    last_at: datetime | None
    last_said: str | None
    body: str


def list_webhooks(*, after: int | None, limit: int) -> Page[WebhookView]:
    """List webhooks, those that have ended too."""
    return page_of(Webhook.select(), Webhook.id, after=after, limit=limit, views=_views)


def read_webhook(webhook: int) -> WebhookView:
    """One webhook, with how its deliveries go."""
    return view_webhook(find_row(Webhook, webhook, WHAT))


def list_deliveries(
    webhook: int, *, after: int | None, limit: int, state: DeliveryState | None = None, event: HookEvent | None = None
) -> Page[DeliveryView]:
    """List what is sent to a webhook, the newest first; those that came through for a month."""
    row = find_row(Webhook, webhook, WHAT)
    query = WebhookDelivery.select().where(WebhookDelivery.webhook == row.id)
    if state is not None:
        query = query.where(WebhookDelivery.state == state)
    if event is not None:
        query = query.where(WebhookDelivery.event == event)
    return page(query, WebhookDelivery.id, after=after, limit=limit, view=_view_delivery, newest_first=True)


def view_webhook(row: Webhook) -> WebhookView:
    (view,) = _views((row,))
    return view


def _views(rows: tuple[Webhook, ...]) -> list[WebhookView]:
    ids = [row.id for row in rows]
    progress = {p.webhook_id: p for p in WebhookProgress.select().where(WebhookProgress.webhook.in_(ids))}
    counted: Any = (
        WebhookDelivery.select(WebhookDelivery.webhook, WebhookDelivery.state, fn.COUNT(WebhookDelivery.id))
        .where(WebhookDelivery.webhook.in_(ids) & (WebhookDelivery.state != DeliveryState.DELIVERED))
        .group_by(WebhookDelivery.webhook, WebhookDelivery.state)
        .tuples()
    )
    counts = {(webhook, state): number for webhook, state, number in counted}
    return [
        WebhookView(
            id=row.id,
            url=row.url,
            events=tuple(as_word(HookEvent, event) for event in row.events),
            active=row.active,
            made_at=row.made_at,
            ended_at=row.ended_at,
            told_upto=progress[row.id].after_seq,
            waiting=counts.get((row.id, DeliveryState.WAITING), 0),
            dead=counts.get((row.id, DeliveryState.DEAD), 0),
            failing_since=progress[row.id].failing_since,
            gone_at=progress[row.id].gone_at,
            version=row.version,
        )
        for row in rows
    ]


def _view_delivery(row: WebhookDelivery) -> DeliveryView:
    return DeliveryView(
        id=row.id,
        message=row.message,
        seq=row.seq,
        event=as_word(HookEvent, row.event),
        state=as_word(DeliveryState, row.state),
        attempts=row.attempts,
        made_at=row.made_at,
        next_at=row.next_at if row.state == DeliveryState.WAITING else None,
        last_at=row.last_at,
        last_said=row.last_said,
        body=row.body,
    )
