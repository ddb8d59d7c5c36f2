"""What other systems call things: an order, a line, a part, a customer, a material, a supplier; looked up either way.

A reference is unique within its system and kind, in any case of its letters. It is given once and never changed; one
that was wrong is withdrawn, and may then be given to what it belongs to.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from peewee import Model, chunked

from schemas.words import Kind, Referred
from service.operations.door.operation import AT_ONCE, Work, operation
from service.operations.door.refusals import AlreadyThere, Unprocessable, WrongState
from service.operations.door.rows import find_row
from service.operations.door.views import Page, page_of
from service.operations.ledger import ledger
from service.records.base import as_word
from service.records.items import Item
from service.records.materials import Material, Supplier
from service.records.orders import Customer, ExternalReference, Order, OrderLine

# So many names of one thing are read with it.
MOST_REFERENCES = 20

_TABLES: dict[Referred, type[Model]] = {
    Referred.ORDER: Order,
    Referred.LINE: OrderLine,
    Referred.CUSTOMER: Customer,
    Referred.MATERIAL: Material,
    Referred.SUPPLIER: Supplier,
}


@dataclass(frozen=True, slots=True)
class ReferenceView:
    """What one system calls one thing.

    Attributes
    ----------
    number
        Of the order, line, customer, material or supplier.
    code
        Of the part.
    """

    id: int
    system: str
    kind: Referred
    reference: str
    number: int | None
    code: str | None


def folded(text: str) -> str:
    """A reference or a name as it is looked up."""
    return text.casefold()


def whose(work: Work, system: str | None) -> str:
    """Whose numbers these are: the system that is named, or else the one that asks."""
    if system is not None:
        return system
    if work.act.system is not None:
        return work.act.system
    raise Unprocessable(
        "Say whose reference this is.", pointer="/system", way_out="Name the system, such as the order system."
    )


@operation
def add_reference(
    work: Work,
    *,
    kind: Referred,
    reference: str,
    system: str | None = None,
    number: int | None = None,
    code: str | None = None,
) -> ReferenceView:
    """Say what another system calls a thing. The same said again is what is there already."""
    owner = whose(work, system)
    subject = _subject(work, kind, number, code)
    there = standing(kind, owner, [reference]).get(folded(reference))
    if there is not None:
        if there.subject != subject:
            raise taken(there)
        return view_references([there])[0]
    if len(references_of(kind, [subject])[subject]) >= MOST_REFERENCES:
        raise WrongState(
            f"It has {MOST_REFERENCES} references already.", way_out="Withdraw those that are not used any more."
        )
    row = keep(work, kind, owner, {reference: subject})[0]
    work.note(reference=row.id, kind=kind, system=owner, text=reference, number=number, code=code)
    return view_references([row])[0]


def _subject(work: Work, kind: Referred, number: int | None, code: str | None) -> int:
    if kind == Referred.PART:
        if number is not None:
            raise Unprocessable("A part is named by its code.", pointer="/number")
        if code is None:
            raise Unprocessable("Give the code of the part.", pointer="/code")
        return ledger.lock_one(work, code, Kind.PART).id
    if code is not None:
        raise Unprocessable(f"A {kind} is named by its number; a code is a part's.", pointer="/code")
    if number is None:
        raise Unprocessable(f"Give the number of the {kind}.", pointer="/number")
    table = _TABLES[kind]
    return int(find_row(table, number, kind, pointer="/number").get_id())


def taken(row: ExternalReference) -> AlreadyThere:
    view = view_references([row])[0]
    named = view.code or f"{view.kind} {view.number}"
    return AlreadyThere(
        f"{view.system} calls {named} {view.reference} already.",
        way_out="Look it up; if that is wrong, withdraw the reference there and give it again.",
        pointer="/reference",
        reference=view.id,
        number=view.number,
        code=view.code,
    )


@operation
def withdraw_reference(work: Work, *, reference: int) -> ReferenceView:
    """Withdraw a reference that is wrong, or no longer used. It stays in the record and may be given again."""
    row = find_row(ExternalReference, reference, "reference")
    if row.withdrawn_at is not None:
        raise WrongState(f"Reference {row.text} was withdrawn already.")
    ExternalReference.update(withdrawn_at=work.act.recorded_at, withdrawn_in=work.deed).where(
        ExternalReference.id == row.id
    ).execute()
    view = view_references([row])[0]
    if view.code is not None:
        work.touch(ledger.find(view.code))
    work.note(reference=row.id, withdrawn=row.text, system=row.system, kind=row.kind)
    return view


def keep(work: Work, kind: Referred, system: str, subjects: Mapping[str, int]) -> list[ExternalReference]:
    """Write what a system calls these things, so many a statement."""
    shared = {"kind": kind, "system": system, "system_key": folded(system), "deed": work.deed}
    rows = [{"subject": n, "text": text, "text_key": folded(text), **shared} for text, n in subjects.items()]
    kept: list[ExternalReference] = []
    for some in chunked(rows, AT_ONCE):
        kept += ExternalReference.insert_many(some).returning(ExternalReference).execute()
    return kept


def standing(kind: Referred, system: str, texts: Iterable[str]) -> dict[str, ExternalReference]:
    """Of these references of a system those that stand, by their folded text."""
    found: dict[str, ExternalReference] = {}
    for some in chunked(sorted({folded(text) for text in texts}), AT_ONCE):
        query = ExternalReference.select().where(
            (ExternalReference.system_key == folded(system))
            & (ExternalReference.kind == kind)
            & ExternalReference.text_key.in_(some)
            & ExternalReference.withdrawn_in.is_null()
        )
        found |= {row.text_key: row for row in query}
    return found


def references_of(kind: Referred, subjects: Iterable[int]) -> dict[int, list[ExternalReference]]:
    """What each of these things is called, the first that was given first."""
    wanted = list(subjects)
    found: dict[int, list[ExternalReference]] = {number: [] for number in wanted}
    for some in chunked(wanted, AT_ONCE):
        query = ExternalReference.select().where(
            (ExternalReference.kind == kind)
            & ExternalReference.subject.in_(some)
            & ExternalReference.withdrawn_in.is_null()
        )
        for row in query.order_by(ExternalReference.id):
            found[row.subject].append(row)
    return found


def list_references(
    *,
    after: int | None,
    limit: int,
    kind: Referred | None = None,
    system: str | None = None,
    reference: str | None = None,
    number: int | None = None,
    code: str | None = None,
) -> Page[ReferenceView]:
    """List references that stand: what a thing is called (kind with number, or code), or what is called so."""
    query = ExternalReference.select().where(ExternalReference.withdrawn_in.is_null())
    if code is not None:
        kind, number = Referred.PART, ledger.find(code, Kind.PART).id
    elif number is not None and kind in (None, Referred.PART):
        raise Unprocessable("A number needs the kind of thing; a part is asked for by its code.", pointer="/kind")
    for column, wanted in (
        (ExternalReference.kind, kind),
        (ExternalReference.system_key, folded(system) if system is not None else None),
        (ExternalReference.text_key, folded(reference) if reference is not None else None),
        (ExternalReference.subject, number),
    ):
        if wanted is not None:
            query = query.where(column == wanted)
    return page_of(query, ExternalReference.id, after=after, limit=limit, views=view_references)


def view_references(rows: Iterable[ExternalReference]) -> tuple[ReferenceView, ...]:
    listed = list(rows)
    parts = [row.subject for row in listed if row.kind == Referred.PART]
    codes = {i.id: i.code for i in Item.select(Item.id, Item.code).where(Item.id.in_(parts))} if parts else {}
    return tuple(
        ReferenceView(
            id=row.id,
            system=row.system,
            kind=as_word(Referred, row.kind),
            reference=row.text,
            number=None if row.kind == Referred.PART else row.subject,
            code=codes.get(row.subject) if row.kind == Referred.PART else None,
        )
        for row in listed
    )
