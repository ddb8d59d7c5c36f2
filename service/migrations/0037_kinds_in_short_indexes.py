"""The short indexes of items have the kind in them, too.

SQLite takes the index that serves more conditions for the better one, however long it is: by the one over all kinds and
states it looked at all cans that were ever open, not at those on the shelf.
"""

from typing import Any

from service.migrations import steps

_ROWS = {
    "item_on_the_shelf": "kind = 'C' AND balance > 0",
    "item_planned": "kind = 'P' AND state = 'planned'",
    "item_in_a_cup": "kind = 'M' AND balance > 0",
    "item_being_laid": "kind = 'P' AND state = 'laying'",
    "item_opened": "kind = 'C' AND state = 'open'",
}


def up(migrator: Any, db: Any) -> None:
    for name, rows in _ROWS.items():
        steps.drop_index("item", name=name)
        steps.add_index("item", "kind", "state", where=rows, name=name)
