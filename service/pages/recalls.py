"""A recall at the shelf: what is still to be fetched, where it is, what became of it; closed by a second person."""

from collections.abc import Callable
from typing import Any

import marshmallow as ma
from flask import Blueprint, Response, current_app, g, redirect, render_template, request

from schemas.base import ActIn, In
from schemas.recalls import RecallClosingIn, RecallIn, RecallStepIn
from schemas.words import IssuedKind, PieceFound
from service.api.problems import pointers, status_of
from service.database import reading
from service.operations.door.act import Act
from service.operations.door.operation import KeptAnswer
from service.operations.door.refusals import Refusal, Unprocessable, WrongState
from service.operations.door.shop import day_in_shop, the_site
from service.operations.door.views import Whence
from service.operations.ledger import ledger
from service.operations.ledger.recall import list_recalls, open_of, read_recall
from service.operations.ledger.recall_pieces import followed_pieces, have_some_still, said_of_pieces
from service.operations.ledger.recall_printing import missing_papers, print_anew, print_papers
from service.operations.ledger.recalled import hands, tasks_of
from service.operations.ledger.recalling import (
    close_recall,
    follow_recall,
    open_recall,
    opened_by_and_who_closes,
    widen_recall,
)
from service.operations.stock.lots import list_lots
from service.pages.base import Trouble, as_json, new_key, page_act, way_out_here
from service.pages.paper import on_the_shops_clock
from service.pages.signed import may_do, token_here
from service.pages.visiting import who
from service.reports.document import canonical
from service.reports.drawing.fontless import told, words_without_a_font
from service.reports.wording import code, listed

blp = Blueprint("page-recalls", __name__, template_folder="templates")
RIGHTS = {
    "page-recalls.recalls": "read_work",
    "page-recalls.recall": "read_work",
    "page-recalls.opened": "open_recall",
    "page-recalls.widened": "widen_recall",
    "page-recalls.printed": "issue_document",
    "page-recalls.followed": "follow_recall",
    "page-recalls.closed": "close_recall",
}
# More pieces than these nobody walks in one round; what is followed leaves the list.
_ROUND = 60
_RECALLS = 50
_LOTS = 5
_BESIDE = "_beside"
_PAPERS = {
    IssuedKind.RECALL: "The list to fetch it by",
    IssuedKind.RECALL_TABLE: "The list as a table",
    IssuedKind.RECALL_WORKBOOK: "The list as a workbook",
    IssuedKind.RECALL_LETTER: "Letter",
    IssuedKind.LETTERS_TABLE: "Names for the letters, as a table",
    IssuedKind.LETTERS_WORKBOOK: "Names for the letters, as a workbook",
}


@blp.get("/recalls")
def recalls() -> Any:
    """The newest recalls, and the form that opens one: of a thing, or of what the person named did."""
    return _list(typed=request.args)


@blp.post("/recalls")
def opened() -> Any:
    """Hold all that a thing reaches; of a lot also by its maker's number, as a supplier's notice has it."""
    return _do(RecallIn, open_recall, _list, then=print_papers, read=_with_our_code, before=_ask_if_another_stands)


def _ask_if_another_stands(fields: dict[str, Any]) -> None:
    """The same thing in another time is a recall of its own; who opens one has to know that another stands open."""
    if request.form.get(_BESIDE) or not (fields.get("item") or fields.get("person")):
        return
    with reading():
        code_of_it = str(fields["item"]).partition("/")[0] if fields.get("item") else None
        item = ledger.find(code_of_it).id if code_of_it is not None else None
        others = open_of(item, fields.get("person"), fields.get("task"))
        named = listed([f"{one.id} ({one.reason.rstrip('.')})" for one in others])
    span = fields.get("since"), fields.get("until")
    if others and all((one.since, one.until) != span for one in others):
        raise WrongState(
            f"Of this stands open already: recall {named}.",
            way_out="Go on with that one; or say below that another, of another time, is opened beside it.",
            recall=others[-1].id,
            beside=True,
        )


def _with_our_code(body: dict[str, Any]) -> dict[str, Any]:
    """What is no code of ours is looked for among the makers' lot numbers; of several the form asks which."""
    typed = str(body.get("item", "")).strip()
    if not RecallIn().validate({"item": typed}, partial=True):
        return body
    with reading():
        found = list_lots(after=None, limit=_LOTS, makers_lot=typed).rows
    if len(found) > 1:
        named = listed([f"{code(lot.code)}, {lot.name}" for lot in found])
        raise Unprocessable(
            f"Several lots here have the maker's number {typed[:40]}: {named}.",
            way_out="Give one of these codes.",
            pointer="/item",
        )
    return body | {"item": found[0].code} if found else body


@blp.get("/recalls/<int:recall>")
def recall(recall: int) -> Any:
    """One recall: how far it has come, and what is still to be fetched."""
    return _one(recall)


@blp.post("/recalls/<int:recall>/reach")
def widened(recall: int) -> Any:
    """Take in what it reaches since it was opened."""
    return _do(ActIn, widen_recall, lambda **more: _one(recall, **more), then=print_anew, recall=recall)


@blp.post("/recalls/<int:recall>/papers")
def printed(recall: int) -> Any:
    """Issue those of its papers that are missing, or the next of many letters."""
    return _do(ActIn, _missing, lambda **more: _one(recall, **more), recall=recall)


def _missing(act: Act, *, recall: int) -> Any:
    with reading():
        seen = read_recall(recall)
    return print_papers(act, seen)


@blp.post("/recalls/<int:recall>/steps")
def followed(recall: int) -> Any:
    """Say what became of one piece."""
    return _do(RecallStepIn, follow_recall, lambda **more: _one(recall, **more), recall=recall)


@blp.post("/recalls/<int:recall>/closing")
def closed(recall: int) -> Any:
    """Close it, signed, by somebody who did not open it."""
    return _do(RecallClosingIn, close_recall, lambda **more: _one(recall, **more), signed=True, recall=recall)


def _do(
    schema: type[In],
    operation: Callable[..., Any],
    again: Callable[..., Response],
    *,
    signed: bool = False,
    then: Callable[[Act, Any], Any] = lambda act, done: done,
    read: Callable[[dict[str, Any]], dict[str, Any]] = lambda body: body,
    before: Callable[[dict[str, Any]], None] = lambda fields: None,
    **path: Any,
) -> Any:
    try:
        fields = schema().load(_in_the_shops_zone(read(as_json(schema(), request.form))))
        before(fields)
        act = page_act(fields, token=token_here() if signed else None)
        done = then(act, operation(act, **path, **fields))
    except ma.ValidationError as wrong:
        return again(trouble=Trouble(next(iter(pointers(wrong.messages)))["detail"]), status=422, typed=request.form)
    except Refusal as no:
        trouble = Trouble(no.sentence, way_out_here(no), no.kind, facts=no.facts)
        return again(trouble=trouble, status=status_of(type(no)), typed=request.form)
    view = done.value if isinstance(done, KeptAnswer) else done
    return redirect(f"/recalls/{view['id'] if isinstance(view, dict) else view.id}", 303)


def _in_the_shops_zone(body: dict[str, Any]) -> dict[str, Any]:
    """The times of a form as the API takes them; what is none stays, and is refused there."""
    told = {name: on_the_shops_clock(body[name]) for name in ("since", "until") if name in body}
    return body | {name: at.isoformat() for name, at in told.items() if at is not None}


def _list(*, trouble: Trouble | None = None, status: int = 200, typed: Any = None) -> Response:
    asked = str((typed or {}).get("person", ""))
    with reading():
        people = hands()
        person = next((one for one in people if str(one.id) == asked), None)
        shown = {
            "site": the_site(),
            "rows": list_recalls(after=Whence(None, newest_first=True), limit=_RECALLS).rows,
            "people": people,
            "person": person,
            "tasks": tasks_of(person.id) if person is not None else [],
        }
    return _page("recalls.html", shown, trouble, status, typed)


def _one(number: int, *, trouble: Trouble | None = None, status: int = 200, typed: Any = None) -> Response:
    with reading():
        seen = read_recall(number)
        # What is left comes before all else, so these are all of it, or more than a round.
        left = [p for p in seen.pieces if p.to_fetch and p.found is None]
        site, said = the_site(), said_of_pieces(number)
        shown = {
            "site": site,
            "recall": seen,
            "open": left[:_ROUND],
            "words": list(PieceFound),
            "followed": followed_pieces(number, _ROUND),
            "said": said,
            "lost": said.get(PieceFound.NOT_FOUND, 0),
            "closed_on": None if seen.closed_at is None else day_in_shop(seen.closed_at, site),
            "instead": None if seen.closed_at else _who_closes(number),
            "called": _PAPERS,
            "missing": missing_papers(seen),
            "letters": len(have_some_still(number)),
        }
    shown["boxes"] = told(words_without_a_font(canonical(seen).decode()))
    return _page("recall.html", shown, trouble, status, typed)


def _who_closes(number: int) -> str | None:
    """Who else closes it, for whoever may not."""
    opener, somebody_else = opened_by_and_who_closes(number)
    return somebody_else if opener == g.visitor.person or not may_do("close_recall") else None


def _page(template: str, shown: dict[str, Any], trouble: Trouble | None, status: int, typed: Any) -> Response:
    html = render_template(
        template, at=current_app.extensions["clock"](), who=who, new_key=new_key, trouble=trouble,
        typed=typed if typed is not None else {}, **shown,
    )  # fmt: skip
    return Response(html, status, headers={"Cache-Control": "no-store"})
