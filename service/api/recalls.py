"""Recalls, and their papers: the pick-up list as PDF, CSV and workbook, and a letter for each customer.

These show how the recall stands now; issued, signed and kept they come by `POST /issues`.
"""

from collections.abc import Callable
from datetime import datetime
from typing import Any

from flask import Response, current_app

from schemas.recalls import RecallClosingIn, RecallIn, RecallPiecesQuery, RecallQuery, RecallStepIn
from service.api.base import Blueprint
from service.api.files import CSV, PDF, WORKBOOK, as_file, file_doc
from service.database import reading
from service.operations.ledger import recalling
from service.operations.ledger.recall import list_recalls, read_recall
from service.operations.ledger.recall_pieces import list_pieces
from service.operations.ledger.recall_printing import print_anew, print_papers
from service.reports.drawing.recall_papers import letters_pdf, pick_up_csv, pick_up_pdf, pick_up_workbook
from service.reports.recall import recall_letters, recall_paper

blp = Blueprint(
    "recalls", "Recalls: all that a thing reaches, held, followed piece by piece, closed", right="read_work"
)

blp.listing("/recalls", list_recalls, RecallQuery)
blp.write("/recalls", recalling.open_recall, RecallIn, then=print_papers)
blp.read("/recalls/<number:recall>", read_recall)
blp.listing("/recalls/<number:recall>/pieces", list_pieces, RecallPiecesQuery)
blp.write("/recalls/<number:recall>/reach", recalling.widen_recall, then=print_anew)
blp.write("/recalls/<number:recall>/steps", recalling.follow_recall, RecallStepIn)
blp.write("/recalls/<number:recall>/closing", recalling.close_recall, RecallClosingIn)


def _paper(
    name: str,
    summary: str,
    read: Callable[[int], Any],
    draw: Callable[[Any, datetime], bytes],
    media_type: str,
    ending: str,
) -> None:
    """A route that reads in one snapshot and draws outside of it."""

    def view(recall: int) -> Response:
        at = current_app.extensions["clock"]()
        with reading():
            paper = read(recall)
        return as_file(draw(paper, at), media_type, name=f"recall-{recall}-{ending}")

    view.__name__, view.__doc__ = name, summary
    blp.custom(
        f"/recalls/<number:recall>/{ending}", view, right="read_work", doc=file_doc(summary.rstrip("."), media_type)
    )


_paper("print_pick_up_list", "The pick-up list on paper.", recall_paper, pick_up_pdf, PDF, "pick-up-list.pdf")
_paper(
    "pick_up_list_as_csv",
    "The pick-up list with fixed columns; new ones come after the last.",
    recall_paper,
    pick_up_csv,
    CSV,
    "pick-up-list.csv",
)
_paper(
    "pick_up_list_as_workbook",
    "The pick-up list as a workbook, in the same columns.",
    recall_paper,
    pick_up_workbook,
    WORKBOOK,
    "pick-up-list.xlsx",
)
_paper(
    "print_recall_letters", "A letter for each customer, a page each.", recall_letters, letters_pdf, PDF, "letters.pdf"
)
