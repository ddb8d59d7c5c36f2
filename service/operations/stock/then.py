"""A can as the shop knew it at an earlier time: what a use that is told later is judged by.

Whatever was placed, lifted, released, signed, extended or changed on its card since then was not known to whoever used
it. What has been refused since is no excuse either: it is named beside it (`judged_later`).
"""

from dataclasses import replace
from datetime import datetime

from schemas.words import Decision, State
from service.formulas.shelf_life import effective_expiry
from service.operations.door.formerly import Formerly
from service.operations.door.shop import day_in_shop, time_in_shop
from service.operations.ledger.graph import standing_holds
from service.operations.ledger.ledger import state_at
from service.operations.stock.extending import extensions, retest_date_then
from service.operations.stock.fitness import Permitted, Reason
from service.operations.stock.load import GoodBecause, Loaded
from service.operations.stock.storage import range_of, stored
from service.records.journal import Deed
from service.records.materials import Material, Receipt
from service.records.people import Site

# What stops a can for good or until it is lifted, whenever it was used.
_REFUSED_SINCE = frozenset({"on-hold", "rejected", "scrapped", "peroxide-hot"})


def judged_later(loaded: Loaded, *, at: datetime, now: datetime, site: Site) -> tuple[Reason, ...]:
    """What speaks against a use at ``at`` that is told at ``now``: as it stood then, and what was refused since."""
    then = known_then(loaded, at=at, site=site).judged(at=at, site=site).reasons
    said = {reason.sentence for reason in then}
    told = time_in_shop(now, now=now, zone=site.zone)
    since = [
        replace(reason, sentence=f"{reason.sentence} That came after this use, and before it was told at {told}.")
        for reason in loaded.judged(at=at, site=site).reasons
        if reason.kind in _REFUSED_SINCE and reason.sentence not in said
    ]
    return (*then, *since)


def known_then(loaded: Loaded, *, at: datetime, site: Site) -> Loaded:
    """The same container with what was known of it at ``at``: holds, release, permits, dates and limits as they stood.

    When an act happened is what it says; where that was told late, the record shows both times.
    """
    container, lot = loaded.container, loaded.lot
    material = Formerly(Material, Material.id == loaded.material.id).at(loaded.material.id, at)
    opened_at = container.opened_at if container.opened_at is not None and container.opened_at <= at else None
    opened_on = day_in_shop(opened_at, site) if opened_at is not None else None
    expiry = effective_expiry(
        expires_on=container.expires_on,
        retest_on=retest_date_then(lot.retest_on, extensions([lot.item_id]).get(lot.item_id, ()), at),
        opened_on=opened_on,
        opened_life_days=material.opened_life_days,
    )
    keeps = range_of(material) if loaded.facts.clocks is None else None
    facts = replace(
        loaded.facts,
        state=state_at(loaded.item, at),
        lot_state=_arrival_then(loaded, at),
        good_until=expiry.on,
        good_because=GoodBecause(expiry.because),
        opened_on=opened_on,
        opened_life_days=material.opened_life_days,
        keeps=keeps,
        storage=stored({loaded.item.id: keeps}, at=at)[loaded.item.id],
        holds=tuple(standing_holds([loaded.item.id], at=at, known_at=at)[loaded.item.id]),
        permitted=tuple(
            _permitted_then(one, at) for one in loaded.facts.permitted if one.asked_at is None or one.asked_at <= at
        ),
    )
    return replace(loaded, material=material, facts=facts)


def _arrival_then(loaded: Loaded, at: datetime) -> State:
    if state_at(loaded.lot_item, at) == State.REJECTED:
        return State.REJECTED
    receipt = loaded.container.receipt_id
    released = (
        Receipt.select(Receipt.id)
        .join(Deed, on=(Receipt.released_in == Deed.id))
        .where((Receipt.id == receipt) & (Deed.occurred_at <= at))
    )
    return State.RELEASED if receipt is not None and released.exists() else State.QUARANTINE


def _permitted_then(one: Permitted, at: datetime) -> Permitted:
    """One that was signed later was only asked for; one that was refused or withdrawn later is judged by its end."""
    signed_later = one.decision in (Decision.PERMITTED, Decision.WITHDRAWN) and (
        one.signed_at is not None and one.signed_at > at
    )
    return replace(one, decision=Decision.ASKED, ended_at=None) if signed_later else one
