"""Webhooks: registered, changed, ended; their secrets renewed; what did not arrive sent again."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from typing import Annotated, Any

from schemas.words import DeliveryState, HookEvent
from service.database import locked
from service.operations.door import signatures
from service.operations.door.act import Act
from service.operations.door.operation import Work, beforehand, operation
from service.operations.door.refusals import AddressBarred, AlreadyThere, ChangedMeanwhile, Unprocessable, WrongState
from service.operations.door.rows import find_row
from service.operations.ledger.webhooks import WHAT, WebhookView, view_webhook
from service.records.base import known
from service.records.hooks import Webhook, WebhookDelivery, WebhookProgress, WebhookSecret
from service.records.journal import Head
from service.sending import addresses
from service.sending.posting import as_said

# At each act of the shop the worker looks at every webhook.
MOST_WEBHOOKS = 20
MOST_AT_ONCE = 1000


@dataclass(frozen=True, slots=True)
class Replayed:
    """Deliveries that are sent again.

    Attributes
    ----------
    webhook
        Number of the webhook.
    deliveries
        How many wait again, or are made anew.
    """

    webhook: int
    deliveries: int


def _judged(asked: dict[str, Any], act: Act) -> dict[str, Any]:
    """A name is looked up before the transaction: that may take seconds."""
    if "url" not in asked:
        return {**asked, "doubt": None}
    try:
        target = addresses.take_apart(asked["url"])
    except addresses.Unsuitable as wrong:
        raise Unprocessable(str(wrong), pointer="/url") from None
    try:
        addresses.find(target, addresses.own_networks())
    except addresses.Unsuitable as barred:
        raise AddressBarred(
            str(barred),
            way_out="Give the receiver's public address with https://, or name the shop's own network in "
            "POTMARK_WEBHOOK_NETWORK and start the service and its worker again.",
            pointer="/url",
        ) from None
    except addresses.NotFound as unknown:
        return {**asked, "doubt": f"{unknown} Deliveries wait until it is."}
    return {**asked, "doubt": None}


@operation
@beforehand(_judged, gives="doubt")
def add_webhook(work: Work, *, url: str, events: Sequence[HookEvent], doubt: str | None) -> WebhookView:
    """Register an address that is told of events from now on. The secret that signs them is shown once."""
    _refuse_repeating(work)
    if Webhook.select().where(Webhook.ended_at.is_null()).count() >= MOST_WEBHOOKS:
        raise WrongState(f"There are {MOST_WEBHOOKS} webhooks already.", way_out="End one that nobody needs.")
    _refuse_double(url)
    row = Webhook.create(url=url, events=_sorted(events), made_at=work.act.recorded_at, deed=work.deed)
    secret = _new_secret(work, row)
    WebhookProgress.create(webhook=row, after_seq=Head.get_by_id(1).seq)
    work.note(webhook=row.id, url=url, events=list(events))
    return replace(view_webhook(row), secret=secret, doubt=doubt)


@operation
@beforehand(_judged, gives="doubt")
def change_webhook(
    work: Work, *, webhook: int, version: int, doubt: str | None, **changes: Annotated[Any, Webhook]
) -> WebhookView:
    """Change a webhook's address or events, or have nothing sent for a while (`active`)."""
    row = _standing(webhook)
    if changes.get("url", row.url) != row.url:
        _refuse_double(changes["url"])
    if "events" in changes:
        changes["events"] = _sorted(changes["events"])
    _change(work, row, version, changes)
    return replace(view_webhook(row), doubt=doubt)


@operation
def renew_webhook_secret(work: Work, *, webhook: int, old_for_h: int = 24) -> WebhookView:
    """A new secret for a webhook, shown once. Deliveries are signed by the old one as well for so many hours."""
    _refuse_repeating(work)
    row = _standing(webhook)
    until = work.act.recorded_at + timedelta(hours=old_for_h)
    older = (WebhookSecret.webhook == row.id) & (WebhookSecret.ends_at.is_null() | (WebhookSecret.ends_at > until))
    WebhookSecret.update(ends_at=until).where(older).execute()
    secret = _new_secret(work, row)
    work.note(webhook=row.id, secret_renewed=True, old_until=until)
    return replace(view_webhook(row), secret=secret)


@operation
def end_webhook(work: Work, *, webhook: int) -> WebhookView:
    """End a webhook: nothing is sent to it any more, nor what still waits."""
    row = _standing(webhook)
    row.ended_at = work.act.recorded_at
    row.version += 1
    Webhook.update(ended_at=row.ended_at, version=row.version).where(Webhook.id == row.id).execute()
    WebhookDelivery.update(state=DeliveryState.DEAD, last_said="the webhook was ended").where(
        (WebhookDelivery.webhook == row.id) & (WebhookDelivery.state == DeliveryState.WAITING)
    ).execute()
    work.note(webhook=row.id, ended=True)
    return view_webhook(row)


@operation
def replay_deliveries(
    work: Work, *, webhook: int, deliveries: Sequence[int] = (), since: int | None = None
) -> Replayed:
    """Send again: the dead ones that are named, or all dead ones; or, with `since`, all that happened after that entry.

    A receiver tells by `webhook-id` what it has had already.
    """
    row = _standing(webhook)
    if deliveries and since is not None:
        raise Unprocessable("Name deliveries or say since when, one of the two.", pointer="/since")
    progress: WebhookProgress = locked(WebhookProgress.select().where(WebhookProgress.webhook == row.id)).get()
    # What was gone is tried again; that is what whoever asks for it wants.
    WebhookProgress.update(gone_at=None).where(WebhookProgress.webhook == row.id).execute()
    own = WebhookDelivery.webhook == row.id
    if since is None:
        which = own & (WebhookDelivery.state == DeliveryState.DEAD)
        if deliveries:
            unknown = _unknown(row, deliveries)
            if unknown:
                raise Unprocessable(
                    f"Delivery {unknown[0]} is none of webhook {row.id}'s.", pointer="/deliveries",
                    way_out="Look it up among its deliveries.",
                )  # fmt: skip
            which = own & WebhookDelivery.id.in_(list(deliveries)) & (WebhookDelivery.state != DeliveryState.WAITING)
    else:
        if since > progress.after_seq:
            raise Unprocessable(f"Nothing was told after entry {progress.after_seq} yet.", pointer="/since")
        # Those that are there wait again; those that were swept away are made anew, as the cursor goes back.
        which = own & (WebhookDelivery.seq > since) & (WebhookDelivery.state != DeliveryState.WAITING)
        WebhookProgress.update(after_seq=since).where(WebhookProgress.webhook == row.id).execute()
    again: dict[Any, Any] = {"state": DeliveryState.WAITING, "attempts": 0, "next_at": work.act.recorded_at}
    number = int(WebhookDelivery.update(again).where(which).execute())
    work.note(webhook=row.id, sent_again=number, since=since)
    return Replayed(webhook=row.id, deliveries=number)


def _standing(webhook: int) -> Webhook:
    row: Webhook = find_row(Webhook, webhook, WHAT)
    if row.ended_at is not None:
        raise WrongState(f"Webhook {webhook} has ended.", way_out="Register the address anew.")
    return row


def _change(work: Work, row: Webhook, version: int, changes: dict[str, Any]) -> None:
    """No card of which records are made: the journal alone has what it was before."""
    if not changes:
        raise Unprocessable("Give at least one field to change.")
    this = (Webhook.id == row.id) & (Webhook.version == version)
    if not Webhook.update(version=version + 1, **changes).where(this).execute():
        raise ChangedMeanwhile(
            "Someone changed this since you read it.", way_out="Read it again, then repeat your change."
        )
    work.note(webhook=row.id, before={name: getattr(row, name) for name in changes}, after=changes)
    for name, value in (*changes.items(), ("version", version + 1)):
        setattr(row, name, value)


def _refuse_repeating(work: Work) -> None:
    if work.act.idempotency_key is not None:
        raise Unprocessable("A webhook's secret cannot be shown twice; send no Idempotency-Key here.")


def _refuse_double(url: str) -> None:
    there = Webhook.get_or_none((Webhook.url == url) & Webhook.ended_at.is_null())
    if there is not None:
        raise AlreadyThere(
            f"Webhook {there.id} goes to that address already.", pointer="/url", webhook=there.id,
            way_out="Change its events, or renew its secret if that was lost.",
        )  # fmt: skip


def _sorted(events: Sequence[HookEvent]) -> list[str]:
    return [str(event) for event in HookEvent if event in events]


def _new_secret(work: Work, row: Webhook) -> str:
    salt = signatures.new_salt()
    WebhookSecret.create(webhook=row, salt=salt, made_at=work.act.recorded_at, deed=work.deed)
    return as_said(signatures.webhook_secret(salt))


def _unknown(row: Webhook, deliveries: Sequence[int]) -> list[int]:
    own = WebhookDelivery.select(WebhookDelivery.id).where(
        (WebhookDelivery.webhook == row.id) & WebhookDelivery.id.in_(list(deliveries))
    )
    return sorted(set(deliveries) - {known(one.id) for one in own})
