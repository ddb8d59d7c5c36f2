"""A recall's papers: issued as it is opened, in the same call, each signed and kept.

The recall comes first. What it holds is held whether a paper can be drawn or not; why one could not is said, and
asking again, with the same idempotency key, prints what is missing.
"""

from dataclasses import replace
from typing import Any

from schemas.words import IssuedKind
from service.database import reading
from service.operations.door.act import Act, Outcome
from service.operations.door.kept import KeptAnswer
from service.operations.door.plain import dump_result, load_result
from service.operations.door.refusals import Refusal
from service.operations.ledger.issuing import issue_document
from service.operations.ledger.recall import RecallView, read_recall


def print_papers(act: Act, opened: RecallView | KeptAnswer) -> RecallView | KeptAnswer:
    """The pick-up list and a letter for each customer, issued; the recall is answered with them."""
    if isinstance(opened, KeptAnswer):
        papers = _printed(act, _as_it_stands(opened.value["id"]))
        told = {name: getattr(papers, name) for name in ("papers", "not_printed")}
        return KeptAnswer({**opened.value, **load_result(dump_result(told))}, opened.tag)
    return _printed(act, opened)


def _printed(act: Act, recall: RecallView) -> RecallView:
    if recall.papers or recall.not_printed is not None:
        return recall
    alone = replace(
        act, occurred_at=act.recorded_at, idempotency_key=None, stated_at=None, why=None, expects=None,
        outcome=Outcome(),
    )  # fmt: skip
    asked: list[dict[str, Any]] = [{"kind": IssuedKind.RECALL, "subject": str(recall.id)}]
    asked += [
        {"kind": IssuedKind.RECALL_LETTER, "subject": f"{recall.id}-{place}"}
        for place in range(1, len(recall.customers) + 1)
    ]
    papers = []
    try:
        for one in asked:
            papers.append(issue_document(alone, **one))
    except Refusal as no:
        way_out = f" {no.way_out}" if no.way_out else ""
        return replace(recall, papers=tuple(papers), not_printed=f"{no.sentence}{way_out}")
    return replace(recall, papers=tuple(papers))


def _as_it_stands(recall: int) -> RecallView:
    with reading():
        return read_recall(recall)
