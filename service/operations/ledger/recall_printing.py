"""A recall's papers: issued as it is opened, in the same call, each signed and kept.

The recall comes first. What it holds is held whether a paper can be drawn or not; why one could not is said, and
asking again, with the same idempotency key, prints what is missing.
"""

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from schemas.words import IssuedKind
from service.database import reading
from service.operations.door.act import Act, Outcome
from service.operations.door.kept import KeptAnswer
from service.operations.door.plain import dump_result, load_result
from service.operations.door.refusals import Refusal, UnknownThing
from service.operations.ledger.issuing import document_number, issue_document, numbers_issued
from service.operations.ledger.recall import RecallView, have_some_still, read_recall, recall_documents


def print_papers(act: Act, opened: RecallView | KeptAnswer) -> RecallView | KeptAnswer:
    """The pick-up list, a letter for each customer, and both as tables, issued; the recall is answered with them."""
    if isinstance(opened, KeptAnswer):
        papers = _printed(act, _as_it_stands(opened.value["id"]))
        told = {name: getattr(papers, name) for name in ("papers", "not_printed")}
        return KeptAnswer({**opened.value, **load_result(dump_result(told))}, opened.tag)
    return _printed(act, opened)


def missing_papers(recall: RecallView) -> int:
    """How many of its papers are not there: it was opened without, one could not be drawn, there are many letters.

    Whoever has nothing of it any more is written no letter.
    """
    there, some = {one.document for one in recall.papers}, set(have_some_still(recall.id))
    nothing = {f"{recall.id}-{place}" for place, name in enumerate(recall.customers, 1) if name not in some}
    due = [one for one in _asked(recall) if one[0] in _LIST or (some and one[1] not in nothing)]
    return sum(document_number(*one) not in there for one in due)


def print_anew(act: Act, widened: RecallView | KeptAnswer) -> RecallView | KeptAnswer:
    """The same of a recall that reaches more: list and tables as they are now, and the letters that are not there."""
    if isinstance(widened, KeptAnswer):
        return print_papers(act, widened)
    return _printed(act, widened, anew=True)


MOST_LETTERS = 40
"""So many letters are issued in one call; a letter takes the better part of a second."""


def _printed(act: Act, recall: RecallView, *, anew: bool = False) -> RecallView:
    """With those papers that are not there yet: a first paper that cannot be drawn is told, and no other is tried."""
    if recall.not_printed is not None:
        return recall
    alone = replace(
        act, occurred_at=act.recorded_at, idempotency_key=None, stated_at=None, why=None, expects=None,
        outcome=Outcome(),
    )  # fmt: skip
    with reading():
        there = numbers_issued(recall_documents(recall.id), f"RL-{recall.id}-")
    papers, not_printed = {one.document: one for one in recall.papers}, None
    missing = [
        one
        for one in _asked(recall)
        if document_number(*one) not in there or (anew and one[0] != IssuedKind.RECALL_LETTER)
    ]
    letters = [one for one in missing if one[0] == IssuedKind.RECALL_LETTER]
    later = set(letters[MOST_LETTERS:])
    for kind, subject in (one for one in missing if one not in later):
        try:
            asked: dict[str, Any] = {"kind": kind, "subject": subject}
            papers[document_number(kind, subject)] = issue_document(alone, **asked)
        except UnknownThing:
            # Whoever sent all back meanwhile gets no letter.
            continue
        except Refusal as no:
            not_printed = f"{no.sentence}{f' {no.way_out}' if no.way_out else ''}"
            break
    if not_printed is None and later:
        said = "One letter is" if len(later) == 1 else f"{len(later)} letters are"
        not_printed = (
            f"{said} not issued yet. Send it again with the same idempotency key for the next of them, or issue them "
            "one by one."
        )
    return replace(recall, papers=tuple(papers.values()), not_printed=not_printed)


_LIST = (IssuedKind.RECALL, IssuedKind.RECALL_TABLE, IssuedKind.RECALL_WORKBOOK)


def _asked(recall: RecallView) -> Iterator[tuple[IssuedKind, str]]:
    """All papers that a recall has: the list with its table and workbook, and the same of the letters."""
    number = str(recall.id)
    yield from ((kind, number) for kind in _LIST)
    for place in range(1, recall.customers_count + 1):
        yield IssuedKind.RECALL_LETTER, f"{number}-{place}"
    if recall.customers:
        yield from ((kind, number) for kind in (IssuedKind.LETTERS_TABLE, IssuedKind.LETTERS_WORKBOOK))


def _as_it_stands(recall: int) -> RecallView:
    with reading():
        return read_recall(recall)
