"""What went into what among the pieces of a recall, for its drawing."""

from service.database import each, rows_of
from service.operations.ledger.graph import standing_holds
from service.records.items import Item


def links_of(recall: int) -> tuple[tuple[str, str], ...]:
    """What went into what among the pieces and what is called back, by their codes."""
    rows = rows_of(
        "SELECT DISTINCT s.code, t.code FROM (SELECT recall_id, item_id FROM recall_piece WHERE recall_id = ?"
        " UNION SELECT id, item_id FROM recall WHERE id = ? AND item_id IS NOT NULL) p"
        f" {each('movement', 'm', 'm.source_id IN (p.item_id)')}"
        f" {each('recall_piece', 'q', 'q.recall_id = p.recall_id AND q.item_id = m.target_id')}"
        f" {each('item', 's', 's.id = m.source_id')} {each('item', 't', 't.id = m.target_id')}"
        " WHERE m.cancelled_by_id IS NULL ORDER BY s.code, t.code",
        recall,
        recall,
    )
    return tuple((source, target) for source, target in rows)


def is_on_hold(code: str | None) -> bool:
    """Whether a hold stands on what is called back itself."""
    item = Item.get_or_none(Item.code == code) if code is not None else None
    return item is not None and bool(standing_holds([item.id])[item.id])
