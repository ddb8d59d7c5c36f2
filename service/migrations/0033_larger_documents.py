"""A document that is kept may have 64 MB: the table of a recall of 150,000 pieces has seventeen."""

from typing import Any

from service.migrations import steps


def up(migrator: Any, db: Any) -> None:
    steps.change_check("document_issue", old="size > 0 AND size <= 8000000", new="size > 0 AND size <= 64000000")
