"""The flags on a part and on all that it was made of."""

from collections.abc import Sequence

from schemas.words import Kind
from service.operations.door.views import Page, page_of
from service.operations.ledger import ledger
from service.operations.ledger.tracing import FlagView, flag_views, flags_with_items
from service.operations.parts.part import PartInHand, load_part
from service.operations.parts.settling import settled
from service.records.items import Flag
from service.records.lookups import among


def list_part_flags(part: str, *, after: int | None, limit: int) -> Page[FlagView]:
    """List the flags on a part and on all that it was made of, newest first, each with what answers it."""
    held = load_part(ledger.find(part, Kind.PART))
    query = flags_with_items().where(among(Flag.item, part_and_behind(held)))
    views = lambda flags: flag_views_of(held, flags)  # noqa: E731
    return page_of(query, Flag.id, after=after, limit=limit, views=views, newest_first=True)


def part_and_behind(part: PartInHand) -> list[int]:
    return [part.item.id, *sorted(part.made_of)]


def flag_views_of(part: PartInHand, flags: Sequence[Flag]) -> tuple[FlagView, ...]:
    """Each with what answers it or has settled it since."""
    return flag_views(flags, settled(part, flags, {f.item_id: f.item for f in flags}))
