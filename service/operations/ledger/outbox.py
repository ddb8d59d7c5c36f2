"""The way out: the journal is the outbox, each webhook has a cursor in it, each delivery is one worker's at a time.

Nothing here is an act and no act waits for it. Whatever dies in the middle, a delivery is sent once or more often and
never lost: the cursor moves in the transaction that writes the deliveries, and what a worker has taken is free again
after a while.
"""

import random
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import islice
from typing import Any

from peewee import chunked

from schemas.words import DeliveryState
from service.database import connected, locked, reading, writing
from service.operations.door import signatures
from service.operations.ledger.happenings import Happening, happenings
from service.records.hooks import Webhook, WebhookDelivery, WebhookProgress, WebhookSecret
from service.records.journal import Head

# After each attempt that fails, the wait until the next; after the last, the delivery is dead. Three days in all:
# the schedule that Standard Webhooks 1.0.0 gives as its example.
WAITS_S = (5, 300, 1_800, 7_200, 18_000, 36_000, 50_400, 72_000, 86_400)
# A wait is up to so much shorter or longer, so that what failed together does not come back together.
JITTER = 0.2
# Longer than a look-up of a name and an attempt can take together.
LEASE = timedelta(minutes=2)
ENTRIES_AT_ONCE = 500
_SPANS_AT_ONCE = 20
_ROWS_AT_ONCE = 100
# What came through is listed for so long; what is dead, until it is sent again or for a year.
KEPT = timedelta(days=30)
KEPT_DEAD = timedelta(days=365)
_LONGEST_WAIT_S = 86_400.0


@dataclass(frozen=True, slots=True)
class Taken:
    """A delivery that this worker has until its lease ends."""

    id: int
    webhook: int
    url: str
    message: str
    event: str
    body: str
    attempts: int
    secrets: tuple[bytes, ...]


def spread(*, at: datetime) -> int:
    """Make deliveries of what the journal has that is new, for each webhook; how many.

    What happened is read in a snapshot, without any lock; the cursor is looked at again as it moves.
    """
    with connected():
        with reading():
            head = Head.get_by_id(1).seq
            behind = [
                (row.webhook, row.after_seq)
                for row in WebhookProgress.select(WebhookProgress, Webhook)
                .join(Webhook)
                .where(Webhook.active & Webhook.ended_at.is_null() & (WebhookProgress.after_seq < head))
            ]
        made = 0
        read: dict[tuple[int, int], list[Happening]] = {}
        for webhook, after in behind:
            for _ in range(_SPANS_AT_ONCE):
                if after >= head:
                    break
                span = (after, min(head, after + ENTRIES_AT_ONCE))
                if span not in read:
                    with reading():
                        read[span] = happenings(after=span[0], upto=span[1])
                wanted = [one for one in read[span] if one.event in webhook.events]
                number = _write(webhook.id, span, wanted, at)
                if number is None:
                    break  # another worker was here meanwhile
                made += number
                after = span[1]
        return made


def _write(webhook: int, span: tuple[int, int], wanted: Sequence[Happening], at: datetime) -> int | None:
    with writing():
        row = locked(WebhookProgress.select().where(WebhookProgress.webhook == webhook)).get()
        if row.after_seq != span[0]:
            return None
        for some in chunked(wanted, _ROWS_AT_ONCE):
            # Sent again from an older entry on, what is there already stays as it is.
            WebhookDelivery.insert_many(
                [
                    {
                        "webhook": webhook, "message": one.message, "seq": one.seq, "event": one.event,
                        "body": one.body, "state": DeliveryState.WAITING, "made_at": at, "next_at": at,
                        "claimed_until": at,
                    }
                    for one in some
                ]
            ).on_conflict_ignore().execute()  # fmt: skip
        WebhookProgress.update(after_seq=span[1]).where(WebhookProgress.webhook == webhook).execute()
    return len(wanted)


def claim(*, at: datetime, under_way: Collection[int], most: int, lease: timedelta = LEASE) -> list[Taken]:
    """Take ``most`` of what is due, of each webhook the oldest: as long as nothing fails they are told in their order.

    Of webhooks ``under_way`` this worker has one in its hands already.
    """
    taken: list[Taken] = []
    with connected():
        with reading():
            due = list(islice(_due(at, under_way), max(0, most)))
            secrets = _secrets({webhook.id for webhook, _ in due}, at)
        for webhook, row in due:
            # Whoever changes the row has it; the other worker's change meets no row.
            mine = WebhookDelivery.update(claimed_until=at + lease).where(
                (WebhookDelivery.id == row.id)
                & (WebhookDelivery.state == DeliveryState.WAITING)
                & (WebhookDelivery.claimed_until == row.claimed_until)
                & (WebhookDelivery.next_at == row.next_at)
            )
            with writing():
                won = mine.execute()
            if won:
                own = tuple(secrets[webhook.id])
                taken.append(
                    Taken(row.id, webhook.id, webhook.url, row.message, row.event, row.body, row.attempts, own)
                )
    return taken


def _due(at: datetime, under_way: Collection[int]) -> Iterator[tuple[Webhook, WebhookDelivery]]:
    told = list(
        WebhookProgress.select(WebhookProgress, Webhook)
        .join(Webhook)
        .where(Webhook.active & Webhook.ended_at.is_null() & WebhookProgress.gone_at.is_null())
    )
    # In turn, so that one with much to be sent leaves room for the others.
    random.shuffle(told)
    for progress in told:
        if progress.webhook_id not in under_way:
            rows = (
                WebhookDelivery.select()
                .where(
                    (WebhookDelivery.webhook == progress.webhook_id)
                    & (WebhookDelivery.state == DeliveryState.WAITING)
                    & (WebhookDelivery.next_at <= at)
                    & (WebhookDelivery.claimed_until <= at)
                )
                .order_by(WebhookDelivery.next_at, WebhookDelivery.id)
                .limit(1)
            )
            yield from ((progress.webhook, row) for row in rows)


def _secrets(webhooks: set[int], at: datetime) -> dict[int, list[bytes]]:
    """The secrets that are in use, the newest first."""
    rows = WebhookSecret.select().where(
        WebhookSecret.webhook.in_(list(webhooks)) & (WebhookSecret.ends_at.is_null() | (WebhookSecret.ends_at > at))
    )
    found: dict[int, list[bytes]] = {number: [] for number in webhooks}
    for row in rows.order_by(WebhookSecret.id.desc()):
        found[row.webhook_id].append(signatures.webhook_secret(row.salt))
    return found


def came_through(taken: Taken, *, said: str, at: datetime) -> None:
    with connected(), writing():
        WebhookProgress.update(failing_since=None).where(
            (WebhookProgress.webhook == taken.webhook) & WebhookProgress.failing_since.is_null(False)
        ).execute()
        _settle(taken, at, said, {"state": DeliveryState.DELIVERED})


def failed(
    taken: Taken, *, said: str, at: datetime, gone: bool = False, asked_wait_s: float | None = None, pace: float = 1.0
) -> datetime | None:
    """Put a failed attempt down; when the next one is, or nothing where the delivery is dead from now on.

    ``gone``: the receiver answered 410, and wants to hear nothing any more. ``pace`` shortens all waits, for a trial.
    """
    wait_s = None if gone else wait_after(taken.attempts + 1, asked_s=asked_wait_s)
    next_at = None if wait_s is None else at + timedelta(seconds=wait_s * pace)
    with connected(), writing():
        # The webhook first and then its delivery, in the order in which acts take them.
        progress = WebhookProgress.webhook == taken.webhook
        if gone:
            WebhookProgress.update(gone_at=at).where(progress).execute()
        WebhookProgress.update(failing_since=at).where(progress & WebhookProgress.failing_since.is_null()).execute()
        _settle(taken, at, said, {"state": DeliveryState.DEAD} if next_at is None else {"next_at": next_at})
    return next_at


def _settle(taken: Taken, at: datetime, said: str, more: Mapping[Any, Any]) -> None:
    """Not what another worker has settled since: a lease may have run out over a machine that slept."""
    WebhookDelivery.update(
        {"attempts": taken.attempts + 1, "claimed_until": at, "last_at": at, "last_said": said[:200], **more}
    ).where(
        (WebhookDelivery.id == taken.id)
        & (WebhookDelivery.state == DeliveryState.WAITING)
        & (WebhookDelivery.attempts == taken.attempts)
    ).execute()


def wait_after(attempts: int, *, asked_s: float | None = None, chance: float | None = None) -> float | None:
    """Seconds from an attempt that failed to the next, or nothing after the last; ``attempts`` were made so far.

    Not sooner than the receiver asked for, by a day at most. ``chance`` from 0 to 1 is where in the jitter it falls.

    >>> wait_after(1, chance=0.5), wait_after(9, chance=1.0), wait_after(10)
    (5.0, 103680.0, None)
    """
    if attempts > len(WAITS_S):
        return None
    where = random.random() if chance is None else chance
    own = WAITS_S[attempts - 1] * (1 + JITTER * (2 * where - 1))
    return own if asked_s is None else max(own, min(asked_s, _LONGEST_WAIT_S))


def sweep(*, at: datetime) -> int:
    """Remove what came through or died long ago; how many."""
    old = (WebhookDelivery.state == DeliveryState.DELIVERED) & (WebhookDelivery.made_at < at - KEPT)
    very_old = (WebhookDelivery.state == DeliveryState.DEAD) & (WebhookDelivery.made_at < at - KEPT_DEAD)
    with connected(), writing():
        return int(WebhookDelivery.delete().where(old | very_old).execute())
