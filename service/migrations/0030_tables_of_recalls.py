"""Tables of a recall are issued beside its papers: they bear no signature, so no certificate stands with them."""

from typing import Any

from service.migrations import steps


def up(migrator: Any, db: Any) -> None:
    steps.let_be_empty("document_issue", "certificate_id")
