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
from service.operations.ledger.issuing import document_number, issue_document, last_issued
from service.operations.ledger.recall import RecallView, letters_of, read_recall, recall_documents
from service.operations.ledger.recall_pieces import have_some_still, the_same


def print_papers(act: Act, opened: RecallView | KeptAnswer) -> RecallView | KeptAnswer:
    """The pick-up list, a letter for each customer, and both as tables, issued; the recall is answered with them."""
    if isinstance(opened, KeptAnswer):
        papers = _printed(act, _as_it_stands(opened.value["id"]))
        told = {name: getattr(papers, name) for name in ("papers", "not_printed", "not_drawn")}
        return KeptAnswer({**opened.value, **load_result(dump_result(told))}, opened.tag)
    return _printed(act, opened)


def missing_papers(recall: RecallView) -> int:
    """How many of its papers are not there: it was opened without, one could not be drawn, there are many letters.

    Whoever has nothing of it any more is written no letter; whoever has more than their letter names is written anew.
    """
    return len(_missing(recall))


def _missing(recall: RecallView, *, anew: bool = False) -> list[tuple[IssuedKind, str]]:
    number, issued = str(recall.id), {}
    if recall.papers:
        issued = last_issued(recall_documents(recall.id), f"RL-{recall.id}-")
    letters = dict(_letters(recall))
    # A table of letters has no row where nobody has anything.
    due = [
        *((kind, number, 0) for kind in _LIST),
        *((IssuedKind.RECALL_LETTER, one, since) for one, since in letters.items()),
        *((kind, number, max(letters.values())) for kind in _TABLES_OF_LETTERS if letters),
    ]
    return [
        (kind, subject)
        for kind, subject, since in due
        if issued.get(document_number(kind, subject), -1) < since or (anew and kind != IssuedKind.RECALL_LETTER)
    ]


def _letters(recall: RecallView) -> Iterator[tuple[str, int]]:
    """Whom to write: the letter's number, and the last act by which they have what it names."""
    names = recall.customers if recall.customers_count == len(recall.customers) else letters_of(recall.id)
    some = have_some_still(recall.id) if names else {}
    for place, name in enumerate(names, 1):
        # By the first spelling of their name alone.
        since = some.pop(the_same(name), None)
        if since is not None:
            yield f"{recall.id}-{place}", since


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
    papers, not_printed = {one.document: one for one in recall.papers}, None
    with reading():
        missing = _missing(recall, anew=anew)
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
    # The list is the first of them, and has all words that any of the others has.
    not_drawn = next((one.not_drawn for one in papers.values() if one.not_drawn is not None), None)
    return replace(recall, papers=tuple(papers.values()), not_printed=not_printed, not_drawn=not_drawn)


_LIST = (IssuedKind.RECALL, IssuedKind.RECALL_TABLE, IssuedKind.RECALL_WORKBOOK)
_TABLES_OF_LETTERS = (IssuedKind.LETTERS_TABLE, IssuedKind.LETTERS_WORKBOOK)


def _as_it_stands(recall: int) -> RecallView:
    with reading():
        return read_recall(recall)
