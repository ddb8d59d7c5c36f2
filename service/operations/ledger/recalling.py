"""Recalls: a thing is called back with all that it reaches, followed piece by piece, closed by a second person.

A recall holds what it reaches, at once. What is only used (a scale between two checks, a mould, an oven) and what a
person did is called back by the things that were made with it; the tool itself is not stopped by that.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime

from schemas.words import Kind, PieceFound
from service.operations.door.acts import ACTS
from service.operations.door.operation import AT_ONCE, Work, operation
from service.operations.door.others import who_else
from service.operations.door.refusals import SecondPersonRequired, Unprocessable, WrongState
from service.operations.door.rows import find_row
from service.operations.ledger import documents, ledger
from service.operations.ledger.drilling import Drill, try_out
from service.operations.ledger.flags import Stop, place_hold_on, stop
from service.operations.ledger.graph import standing_holds
from service.operations.ledger.recall import RecallView, open_of, view_recall
from service.operations.ledger.recall_pieces import first_left
from service.operations.ledger.recalled import Piece, Reach, Root, on_the_shelf_before, reach_of, tasks_of
from service.operations.ledger.since_opened import root_of
from service.operations.ledger.sparing import as_kept, spared_by
from service.records.items import Item, Label
from service.records.people import Person
from service.records.recalls import Recall, RecallPiece, RecallStep


@operation
def open_recall(
    work: Work,
    *,
    reason: str,
    item: str | None = None,
    person: int | None = None,
    task: str | None = None,
    notice: str | None = None,
    since: datetime | None = None,
    until: datetime | None = None,
    papers: bool = True,
) -> RecallView:
    """Call something back: all that it reaches is listed by place and state, held at once, and its papers are issued.

    ``item`` is a lot, a can, a pot, a kit, a roll, a cure, a part; or a scale, mould or place, with ``since`` and
    ``until`` as the checks before and after. Or a ``person`` and the ``task`` that was done by them. A supplier's
    notice is kept in its own words. Papers are the pick-up list, with its table and workbook in it, and a letter for
    each customer; where one cannot be drawn, the recall stands and says why.
    """
    root, of = _root(item, person, task, since, until)
    if since is not None and since > work.act.occurred_at:
        raise Unprocessable("since lies in the future: nothing was taken or done from then on yet.", pointer="/since")
    if until is not None and until > work.act.occurred_at:
        raise Unprocessable(
            "until lies in the future: what will be taken or done by then is not known yet.",
            way_out="Leave it out: what is called back is then held, and whatever is taken from it with it.",
            pointer="/until",
        )
    reach = reach_of(root)
    if not reach.pieces:
        raise Unprocessable(
            f"{_nothing(root)}{_within(since, until)}{_nor_here(root)}: there is nothing to call back.",
            way_out=_what_else(root),
            pointer="/item" if item is not None else "/person",
        )
    locked = ledger.lock(work, *{*([of] if of is not None else []), *(piece.code for piece in reach.pieces)})
    _refuse_the_same_twice(root)
    row = Recall.create(
        item=root.item,
        person=person,
        task=task,
        reason=reason,
        notice=notice,
        since=since,
        until=until,
        found=as_kept(reach, spared_by(root)),
        opened_at=work.act.occurred_at,
        opened_by=work.act.person,
        deed=work.deed,
    )
    _hold(work, root, reach, locked, f"Recall {row.id}: {reason}")
    _put_down(work, row, reach.pieces)
    work.note(recall=row.id, reason=reason, item=of, person=person, task=task, pieces=len(reach.pieces))
    return replace(view_recall(row), not_printed=None if papers else "Nobody asked for its papers.")


def _root(
    item: str | None, person: int | None, task: str | None, since: datetime | None, until: datetime | None
) -> tuple[Root, str | None]:
    """What is called back, and its code if it is a thing."""
    if (item is None) == (person is None):
        raise Unprocessable("A recall is of a thing or of what a person did; give one of the two.", pointer="/item")
    if (person is None) != (task is None):
        raise Unprocessable("Say which person and which task, such as weighed by.", pointer="/task")
    if since is not None and until is not None and until < since:
        raise Unprocessable("until lies before since.", pointer="/until")
    if person is not None:
        row = find_row(Person, person, "person", pointer="/person")
        return Root(None, row.id, task, f"what {row.name} did ({task})", None, since, until), None
    code, _, label = str(item).partition("/")
    found = ledger.find(code)
    if label:
        _refuse_a_void_label(found, int(label))
    return Root(found.id, None, None, f"{found.code} {found.name}", Kind(found.kind), since, until), found.code


def _refuse_the_same_twice(root: Root) -> None:
    """Two who hear of it at once do not write to its customers twice; asked when its pieces are locked."""
    open_ones = open_of(root.item, root.person, root.task)
    same = next((one for one in open_ones if (one.since, one.until) == (root.since, root.until)), None)
    if same is not None:
        raise WrongState(
            f"Recall {same.id} of {root.name} stands open already: {same.reason}",
            way_out=f"Go on with recall {same.id}, or close it first; one from another time on is another recall.",
            recall=same.id,
        )


def _refuse_a_void_label(item: Item, issue: int) -> None:
    """A label is void since another took its place, or since it stood on something else: which thing has to be sure."""
    scanned = Label.get_or_none((Label.item == item.id) & (Label.issue == issue))
    if scanned is not None and scanned.void_at is None:
        return
    wrong = f"Label {issue} of {item.code} is void" if scanned is not None else f"{item.code} has no label {issue}"
    raise Unprocessable(
        f"{wrong}, so it does not say what is to be called back; nothing was held.",
        way_out=f"Scan the label that stands, or type the code if {item.code} is what you mean.",
        pointer="/item",
    )


def _nothing(root: Root) -> str:
    if root.person is not None:
        return f"No pot, kit, cure or part is on record for {root.name}"
    return f"Nothing was made {'of' if root.goes_into_things else 'with'} {root.name}"


def _nor_here(root: Root) -> str:
    return ", and nothing of it is here" if root.goes_into_things else ""


def _what_else(root: Root) -> str | None:
    """Of a person, which tasks of theirs are on record at all."""
    if root.person is None:
        return "Name the thing that went into parts, such as a lot, a can or a pot; or another time."
    known = tasks_of(root.person)
    return f"On record for them: {', '.join(known)}." if known else "No task of theirs is on record."


def _within(since: datetime | None, until: datetime | None) -> str:
    return " in that time" if since is not None or until is not None else ""


def _hold(work: Work, root: Root, reach: Reach, locked: Mapping[str, Item], reason: str) -> None:
    """One hold on a thing reaches all that was made of it; where only some of it is called back, each first step.

    A hold from some time on is on the lot for what arrives of it, and on each can that was there before for what is
    taken from it.
    """
    by_id = {item.id: item for item in locked.values()}
    if root.item is None or not root.itself:
        stop(work, (Stop(by_id[one], reason) for one in sorted(reach.first)))
        return
    place_hold_on(work, by_id[root.item], reason, since=root.since)
    if root.kind == Kind.LOT and root.since is not None:
        for can in on_the_shelf_before(root):
            place_hold_on(work, by_id[can], reason, since=root.since)


def _put_down(work: Work, row: Recall, pieces: Sequence[Piece]) -> None:
    for start in range(0, len(pieces), AT_ONCE):
        RecallPiece.insert_many(
            [
                {"recall": row.id, "item": p.id, "state": p.state, "place": p.place, "customer": p.customer,
                 "mass_mg": p.mass_mg, "deed": work.deed}
                for p in pieces[start : start + AT_ONCE]
            ]
        ).execute()  # fmt: skip


@operation
def widen_recall(work: Work, *, recall: int) -> RecallView:
    """Take in what a recall reaches now and did not when it was opened: it is held, listed and followed as the rest.

    Its list and tables are issued anew with it, and a letter to whoever has some of it and was written none yet.
    """
    row = _open(recall)
    ledger.refuse_before(work, row.opened_at, f"Recall {row.id} was opened")
    root, new = _new_pieces(row)
    if not new:
        raise WrongState(f"Recall {row.id} reaches nothing that is not among its pieces already.")
    _take_in(work, row, root, new, ledger.lock(work, *(piece.code for piece in new)))
    work.note(recall=row.id, pieces=len(new))
    return view_recall(row)


def _new_pieces(row: Recall) -> tuple[Root, list[Piece]]:
    root = root_of(row, "")
    had = {number for (number,) in RecallPiece.select(RecallPiece.item).where(RecallPiece.recall == row.id).tuples()}
    return root, [piece for piece in reach_of(root).pieces if piece.id not in had]


def _take_in(work: Work, row: Recall, root: Root, new: Sequence[Piece], locked: Mapping[str, Item]) -> None:
    """What is made of a thing that is called back itself is held by its hold; all else has to have one of its own."""
    if not root.itself:
        held = standing_holds([piece.id for piece in new])
        free = (locked[piece.code] for piece in new if not held[piece.id])
        stop(work, (Stop(one, f"Recall {row.id}: {row.reason}") for one in free))
    _put_down(work, row, new)


@operation
def follow_recall(work: Work, *, recall: int, item: str, found: PieceFound, remark: str | None = None) -> RecallView:
    """Say what became of one piece of a recall: found, returned, scrapped, repaired, not found."""
    row = _open(recall)
    thing = ledger.lock_one(work, item)
    ledger.refuse_before(work, row.opened_at, f"Recall {row.id} was opened")
    piece = RecallPiece.get_or_none((RecallPiece.recall == row.id) & (RecallPiece.item == thing.id))
    if piece is None:
        root, since = _new_pieces(row)
        new = [one for one in since if one.id == thing.id]
        if not new:
            raise Unprocessable(
                f"{thing.code} is none of the pieces of recall {row.id}.",
                pointer="/item",
                way_out="Scan a piece of the pick-up list.",
            )
        _take_in(work, row, root, new, {thing.code: thing})
        piece = RecallPiece.get((RecallPiece.recall == row.id) & (RecallPiece.item == thing.id))
    RecallStep.create(piece=piece, found=found, remark=remark, occurred_at=work.act.occurred_at, deed=work.deed)
    work.touch(thing)
    work.note(recall=row.id, item=thing.code, found=found)
    return view_recall(row)


@operation
def close_recall(work: Work, *, recall: int, effectiveness: str) -> RecallView:
    """Close a recall with what it achieved; holds that stand go on standing. Whoever opened it does not close it."""
    row = _open(recall)
    if row.opened_by_id == work.act.person:
        raise SecondPersonRequired("Whoever opened a recall does not close it as well.", way_out=_who_closes(row))
    ledger.refuse_before(work, row.opened_at, f"Recall {row.id} was opened")
    view = view_recall(row)
    if view.reached_since_count:
        more = _and_more(view.reached_since, view.reached_since_count)
        raise WrongState(
            f"Since it was opened, recall {row.id} has reached {more}.",
            way_out="Take in what it reaches now, and follow it to its end.",
        )
    if view.left:
        raise WrongState(
            f"Nobody has said what became of {_and_more(first_left(row.id, 3), view.left)}.",
            way_out="Follow each piece to its end; what cannot be found is said to be not found.",
        )
    Recall.update(
        closed_at=work.act.recorded_at, closed_by=work.act.person, closed_in=work.deed, effectiveness=effectiveness
    ).where(Recall.id == row.id).execute()
    work.note(recall=row.id, closed=effectiveness)
    return replace(view, closed_at=work.act.recorded_at, closed_by=work.who, effectiveness=effectiveness)


def _and_more(codes: Sequence[str], count: int) -> str:
    return f"{', '.join(codes[:3])}{f' and {count - 3} more' if count > 3 else ''}"


def _open(recall: int) -> Recall:
    row: Recall = find_row(Recall, recall, "recall")
    if row.closed_at is not None:
        raise WrongState(f"Recall {recall} was closed already.", way_out="Open a new one, if there is more.")
    return row


def opened_by_and_who_closes(recall: int) -> tuple[int, str]:
    """Who opened a recall, and in words who may close it instead."""
    row = find_row(Recall, recall, "recall")
    return row.opened_by_id, _who_closes(row)


def _who_closes(row: Recall) -> str:
    return who_else(ACTS["close_recall"].roles, {row.opened_by_id})


@operation
def keep_drill(work: Work, *, seed: int, lot: str | None = None) -> Drill:
    """Try a recall of one lot, named or drawn by the seed, and keep what it found.

    Nothing is held by it. The time is that of the answer: what is reached, where it is, what is spared.
    """
    found = try_out(seed=seed, lot=lot, at=work.act.occurred_at)
    kept = documents.freeze(work, f"drill-{found['lot']}-{seed}", found)
    work.note(drill=found["lot"], seed=seed, drawn_from=found["drawn_from"], document=kept.id)
    return Drill(**found, document=kept.id)
