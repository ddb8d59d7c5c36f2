"""Labels: issued once, copied as often as wanted, replaced with a reason, which voids the old one."""

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from peewee import JOIN, fn

from labels.errors import LabelError
from labels.facts import Facts, HoldTag
from schemas.words import Kind, LabelSize, State
from service.operations.door.operation import Work, operation
from service.operations.door.refusals import DoesNotFitLabel, UnknownThing, Unprocessable, WrongState
from service.operations.door.shop import day_in_shop, the_site
from service.operations.ledger import ledger
from service.operations.ledger.graph import standing_holds
from service.operations.ledger.label_facts import gather, restore
from service.records.base import as_word
from service.records.items import Item, Label
from service.records.materials import Container

# Laying a label out takes a hundredth of a second and drawing it a tenth, so a roll is issued and drawn by so many.
MOST_AT_ONCE = 50


@dataclass(frozen=True, slots=True)
class LabelView:
    """One issue of a label. Its PDF can be drawn as often as wanted: copies of one issue say the same facts.

    A copy that is drawn while the item is on hold or failed has that word across it.

    Attributes
    ----------
    notice
        Why no phone would open the printed code, where that is so.
    """

    code: str
    issue: int
    size: LabelSize
    issued_at: datetime
    void: bool
    pdf: str
    notice: str | None = None


@operation
def issue_label(work: Work, *, code: str, size: LabelSize, origin: str) -> LabelView:
    """Issue an item's label. Its PDF is then at the address in `pdf`, for as many copies as needed."""
    item = ledger.lock_one(work, code)
    labels = _labels([item])[item.id]
    standing = _standing(labels)
    if standing is not None:
        raise WrongState(
            f"{item.code} has label {standing.issue} already.",
            way_out="Print another copy of it from its PDF, or replace it and say why; replacing voids the old one.",
            issue=standing.issue,
        )
    return _issue(work, [item], {item.id: labels}, size, origin)[0]


@operation
def replace_label(work: Work, *, code: str, size: LabelSize, origin: str) -> LabelView:
    """Replace a label, saying why in `why`. The old one is void from now on; scanned, it says so."""
    item = ledger.lock_one(work, code)
    labels = _labels([item])[item.id]
    standing = _standing(labels)
    if standing is None:
        raise WrongState(f"{item.code} has no label yet.", way_out="Issue one.")
    if work.act.why is None:
        raise Unprocessable("Say what became of the old label.", pointer="/why", answer_with={"why": None})
    Label.update(void_at=work.act.occurred_at, void_by=work.deed).where(Label.id == standing.id).execute()
    work.note(code=item.code, void=standing.issue)
    return _issue(work, [item], {item.id: labels}, size, origin)[0]


@operation
def issue_lot_labels(work: Work, *, lot: str, size: LabelSize, origin: str) -> tuple[LabelView, ...]:
    """Issue the labels of a lot's containers that have none yet, the first 50 of them: one roll for a delivery.

    After 50, send it again for the next ones, until it answers that every container has its label.
    """
    found = ledger.find(lot, Kind.LOT)
    codes = [
        row.code
        for row in Item.select(Item.code)
        .join(Container, on=(Container.item == Item.id))
        .where((Container.lot == found.id) & Item.state.in_([State.SEALED, State.OPEN]))
        .where(~fn.EXISTS(Label.select(Label.id).where((Label.item == Item.id) & Label.void_at.is_null())))
        .order_by(Item.id)
        .limit(MOST_AT_ONCE)
    ]
    items = ledger.lock(work, *codes) if codes else {}
    labels = _labels(items.values())
    # Somebody may have been faster with one of them.
    waiting = [i for i in sorted(items.values(), key=lambda i: i.id) if _standing(labels[i.id]) is None]
    if not waiting:
        raise WrongState(
            f"Every container of {found.code} that is still here has its label.",
            way_out="Print copies from the roll, or replace a single one.",
        )
    return tuple(_issue(work, waiting, labels, size, origin))


def relabel_released(work: Work, lot: Item) -> None:
    """Replace the labels that say of a lot and its containers that they wait in quarantine, once they do not."""
    standing = (
        Label.select(Label, Item)
        .join(Item)
        .join(Container, JOIN.LEFT_OUTER, on=(Container.item == Item.id))
        .where(((Container.lot == lot.id) | (Item.id == lot.id)) & Label.void_at.is_null())
        .order_by(Item.id)
    )
    waited = [label for label in standing if label.facts.get("quarantine")]
    items = [work.items.setdefault(label.item_id, label.item) for label in waited]
    kept = gather(items, work.site)
    # A later arrival of the lot still waits.
    released = [(old, item) for old, item in zip(waited, items, strict=True) if not kept[item.id].get("quarantine")]
    if not released:
        return
    voided = Label.id.in_([old.id for old, _ in released])
    Label.update(void_at=work.act.occurred_at, void_by=work.deed).where(voided).execute()
    issued = {"issued_at": work.act.occurred_at, "deed": work.deed}
    Label.insert_many(
        [
            {"item": item.id, "issue": old.issue + 1, "size": old.size, "facts": kept[item.id], **issued}
            for old, item in released
        ]
    ).execute()
    for old, item in released:
        work.touch(item)
        work.note(code=item.code, void=old.issue, label=old.issue + 1, size=old.size)


def renew_label(work: Work, item: Item) -> None:
    """Replace the label of an item that says what does not hold any more, in its size; nothing where it has none."""
    old = _standing(_labels([item])[item.id])
    if old is None:
        return
    kept = gather([item], work.site)[item.id]
    Label.update(void_at=work.act.occurred_at, void_by=work.deed).where(Label.id == old.id).execute()
    Label.create(
        item=item, issue=old.issue + 1, size=old.size, facts=kept, issued_at=work.act.occurred_at, deed=work.deed
    )
    work.touch(item)
    work.note(code=item.code, void=old.issue, label=old.issue + 1, size=old.size)


def _labels(items: Collection[Item]) -> dict[int, list[Label]]:
    """All labels of these items, void ones too, in the order of their issues."""
    found: dict[int, list[Label]] = {item.id: [] for item in items}
    for label in Label.select().where(Label.item.in_(list(found))).order_by(Label.issue) if found else ():
        found[label.item_id].append(label)
    return found


def _standing(labels: Iterable[Label]) -> Label | None:
    return next((label for label in labels if label.void_at is None), None)


def _issue(
    work: Work, items: Sequence[Item], labels: Mapping[int, Sequence[Label]], size: LabelSize, origin: str
) -> list[LabelView]:
    """The next issue of each, all written at once."""
    kept, held = gather(items, work.site), _held(items, at=work.act.occurred_at)
    rows = []
    for item in items:
        issue = labels[item.id][-1].issue + 1 if labels[item.id] else 1
        facts = restore(Kind(item.kind), item.code, kept[item.id], origin=origin, issue=issue)
        check_fit(replace(facts, held=held[item.id]), size)
        issued = {"issued_at": work.act.occurred_at, "deed": work.deed}
        rows.append({"item": item.id, "issue": issue, "size": size, "facts": kept[item.id], **issued})
        work.touch(item)
        work.note(code=item.code, label=issue, size=size)
    Label.insert_many(rows).execute()
    return [view_label(Label(**row), item) for row, item in zip(rows, items, strict=True)]


def check_fit(facts: Facts, size: LabelSize) -> None:
    """Lay the label out once before it is issued, so that a text that cannot fit is refused and never cut."""
    from labels.render import label_html

    with fitting(pointer="/size"):
        label_html(facts, size)


@contextmanager
def fitting(*, pointer: str | None = None, held: bool = False) -> Iterator[None]:
    """What a label cannot show is a refusal, wherever the label is laid out."""
    way_out = "Take the next larger size, or 100x50."
    try:
        yield
    except LabelError as error:
        # Without the word across it a label of what is held would read as fit; the tag has room for it in any size.
        way_out += " Or print its HOLD tag, which says so alone." if held else ""
        raise DoesNotFitLabel(str(error), way_out=way_out, pointer=pointer) from None


def view_label(row: Label, item: Item) -> LabelView:
    return LabelView(
        code=item.code,
        issue=row.issue,
        size=as_word(LabelSize, row.size),
        issued_at=row.issued_at,
        void=row.void_at is not None,
        pdf=f"/v1/items/{item.code}/labels/{row.issue}.pdf",
    )


def read_labels(code: str) -> list[LabelView]:
    """All labels of an item, void ones too."""
    item = ledger.find(code)
    return [view_label(r, item) for r in Label.select().where(Label.item == item.id).order_by(Label.issue)]


def facts_for_copy(code: str, issue: int, *, origin: str, at: datetime) -> tuple[Facts, str, datetime]:
    """What to draw another copy of an issue from: its facts and what holds it now, its size, when it was issued."""
    item = ledger.find(code)
    row = _of_issue(item, issue)
    if row.void_at is not None:
        raise WrongState(f"Label {issue} of {code} is void.", way_out="Print the one that stands.")
    facts = restore(Kind(item.kind), item.code, row.facts, origin=origin, issue=row.issue)
    return replace(facts, held=_held([item], at=at)[item.id]), row.size, row.issued_at


def _held(items: Collection[Item], *, at: datetime) -> dict[int, str]:
    """The word across what is held or failed, of each item; "" where it may be used."""
    holds = standing_holds([item.id for item in items], at=at)
    return {i.id: "FAILED" if i.state == State.FAILED else "HOLD" if holds[i.id] else "" for i in items}


def facts_for_hold_tag(code: str, *, origin: str, at: datetime) -> HoldTag:
    """What stands on a tag of its own for what is on hold or failed; refused where nothing holds it."""
    item = ledger.find(code)
    holds = standing_holds([item.id], at=at)[item.id]
    if not holds and item.state != State.FAILED:
        raise WrongState(
            f"Nothing holds {item.code}.", way_out="Place a hold first; a tag that nothing stands behind misleads."
        )
    first = holds[0] if holds else None
    reason = "It did not pass." if first is None else first.reason
    if first is not None and not first.own:
        reason = f"Through {first.on}: {reason}"
    newest = Label.select(fn.MAX(Label.issue)).where((Label.item == item.id) & Label.void_at.is_null()).scalar()
    return HoldTag(
        code=item.code,
        origin=origin,
        issue=newest or 1,
        name=item.name,
        word="FAILED" if item.state == State.FAILED else "HOLD",
        reason=reason if len(reason) <= 200 else f"{reason[:199]}…",
        more=f"and {len(holds) - 1} more" if len(holds) > 1 else "",
        printed_on=day_in_shop(at, the_site()),
    )


@dataclass(frozen=True, slots=True)
class Roll:
    """Some labels to be drawn as one roll, and whether more of them follow on another."""

    labels: tuple[Facts, ...]
    size: str
    issued_at: datetime
    more: bool


def facts_for_roll(lot: str, *, origin: str, page: int, at: datetime) -> Roll:
    """What to draw a roll of a lot from: its containers' labels that stand, by fifties, of the size of the first."""
    found = ledger.find(lot, Kind.LOT)
    standing = (
        Label.select(Label, Item)
        .join(Item)
        .join(Container, on=(Container.item == Item.id))
        .where((Container.lot == found.id) & Label.void_at.is_null())
        .order_by(Item.id)
    )
    first = standing.first()
    if first is None:
        raise UnknownThing(f"No container of {found.code} has a label yet.", way_out="Issue the lot's labels first.")
    alike = standing.where(Label.size == first.size).offset((page - 1) * MOST_AT_ONCE).limit(MOST_AT_ONCE + 1)
    rows = list(alike)
    if not rows:
        raise UnknownThing(f"The labels of {found.code} end before page {page}.", way_out="Print an earlier page.")
    held = _held([r.item for r in rows], at=at)
    labels = [(r, restore(Kind(r.item.kind), r.item.code, r.facts, origin=origin, issue=r.issue)) for r in rows]
    return Roll(
        labels=tuple(replace(facts, held=held[row.item_id]) for row, facts in labels[:MOST_AT_ONCE]),
        size=first.size,
        issued_at=rows[0].issued_at,
        more=len(rows) > MOST_AT_ONCE,
    )


def _of_issue(item: Item, issue: int) -> Label:
    row = Label.get_or_none((Label.item == item.id) & (Label.issue == issue))
    if row is None:
        raise UnknownThing(f"{item.code} has no label {issue}.")
    return row


def what_stands_on(code: str, issue: int | None) -> dict[str, Any]:
    """For the short address in the code: no more than the label itself shows, and whether it is void."""
    item = ledger.find(code)
    query = Label.select().where(Label.item == item.id)
    row = query.where(Label.issue == issue).first() if issue else query.order_by(Label.issue.desc()).first()
    if row is None:
        raise UnknownThing(f"{code} has no such label.", way_out="Look at the code again.")
    facts = restore(Kind(item.kind), item.code, row.facts, origin="http://x", issue=row.issue)
    newest = Label.select(Label.issue).where(Label.item == item.id).order_by(Label.issue.desc()).get().issue
    return {
        "code": item.code,
        "issue": row.issue,
        "void": row.void_at is not None,
        "newest_issue": newest,
        # The day that counts: an opened can's ends sooner than the supplier's.
        "use_by": getattr(facts, "use_by", None) or getattr(facts, "expires_on", None),
        "facts": row.facts,
    }
