"""Heads of the journal: what a signer outside follows, the signed heads that are kept here, a restore that is said."""

from dataclasses import dataclass
from datetime import datetime

from schemas.words import Role
from service.operations.door.operation import Work, operation
from service.operations.door.refusals import AlreadyThere, NotAllowed, Unprocessable, WrongState
from service.operations.door.views import Page, page
from service.operations.ledger.sealed import IssuedDocument, NotAHead, SignedHead, printed, proved
from service.records.heads import SealedHead
from service.records.journal import Entry
from service.records.journal import Head as LastEntry


@dataclass(frozen=True, slots=True)
class ChainEntryView:
    """An entry as the chain has it: the hash is the SHA-256 of the hash before it and of the body, byte for byte."""

    seq: int
    hash: str
    body: str


@dataclass(frozen=True, slots=True)
class HeadView:
    """A signed head of the journal.

    Attributes
    ----------
    number
        Of the last entry at that time.
    hash
        Of that entry.
    printed
        The number and twenty figures of the hash, as they stand on paper.
    sealed_at
        When it was signed, by the signer's clock.
    founding
        Hash of the first entry; nothing if the head is not as it was signed.
    documents
        Issued since the head before.
    head
        The signed text: canonical JSON, byte for byte.
    signature
        Ed25519, in base64.
    public_key
        The key that proves the signature, in base64.
    """

    id: int
    number: int
    hash: str
    printed: str
    sealed_at: datetime
    founding: str | None
    documents: tuple[IssuedDocument, ...]
    head: str
    signature: str
    public_key: str


@dataclass(frozen=True, slots=True)
class RestoredView:
    """That the account was restored: the number of the last entry that the backup had."""

    last_entry: int
    why: str


def list_chain(*, after: int | None, limit: int, since: int | None = None) -> Page[ChainEntryView]:
    """The entries of the journal as they are chained, for a signer elsewhere who works the hashes out again."""
    query = Entry.select() if since is None else Entry.select().where(Entry.seq > since)
    return page(query, Entry.seq, after=after, limit=limit, view=_view_entry, weight=Entry.body)


def _view_entry(row: Entry) -> ChainEntryView:
    return ChainEntryView(seq=row.seq, hash=row.hash, body=row.body)


def list_heads(*, after: int | None, limit: int) -> Page[HeadView]:
    """Signed heads of the journal, in their order."""
    return page(SealedHead.select(), SealedHead.id, after=after, limit=limit, view=_view)


def newest_heads(most: int = 200) -> tuple[HeadView, ...]:
    """The last signed heads, newest first."""
    return tuple(_view(row) for row in SealedHead.select().order_by(SealedHead.number.desc()).limit(most))


def printed_head() -> str:
    """How far the journal has come, as it is printed on each document."""
    last, _ = last_entry()
    return printed(*last)


def last_entry() -> tuple[tuple[int, str], str]:
    """Number and hash of the journal's last entry, and the hash of its first, by which accounts are told apart."""
    head = LastEntry.get_by_id(1)
    return (head.seq, head.hash), Entry.get_by_id(1).hash


@operation
def keep_head(work: Work, *, head: str, signature: str, public_key: str) -> HeadView:
    """Keep a head of the journal that was signed outside, if it is one of this account and newer than the last."""
    try:
        signed = proved(head, signature, public_key)
    except NotAHead as wrong:
        raise Unprocessable(str(wrong), pointer="/head") from None
    _require_ours(signed)
    last = SealedHead.select().order_by(SealedHead.number.desc()).first()
    if last is not None and last.number >= signed.head.number:
        raise AlreadyThere(f"Head {last.number} is kept already, which is no older.", way_out="Nothing has to be done.")
    if last is not None and last.public_key != public_key and Role.ADMINISTRATOR not in work.act.roles:
        raise NotAllowed(
            "This head is signed with another key than the heads before it.",
            way_out="An administrator can hand in the first head of a new key.",
        )
    row = SealedHead.create(
        number=signed.head.number,
        hash=signed.head.hash,
        sealed_at=signed.head.at,
        head=head,
        signature=signature,
        public_key=public_key,
        deed=work.deed,
    )
    work.note(head=row.number, hash=row.hash, public_key=public_key)
    return _view(row)


def _require_ours(signed: SignedHead) -> None:
    numbers = Entry.seq.in_([1, signed.head.number])
    hashes = dict(Entry.select(Entry.seq, Entry.hash).where(numbers).tuples())
    if hashes.get(1) != signed.head.founding:
        raise WrongState("This is a head of another account.", way_out="Look at which account the signer follows.")
    if hashes.get(signed.head.number) != signed.head.hash:
        raise WrongState(
            f"This account's journal does not have the entry {signed.head.number} that the head is of.",
            way_out="Run `potmark check` with `--against` that head.",
        )


@operation
def declare_restored(work: Work) -> RestoredView:
    """Say that the account was restored from a backup, so that heads newer than that are known not to hold."""
    if not work.act.why:
        raise Unprocessable("Say why the account was restored.", pointer="/why")
    last = LastEntry.get_by_id(1)
    work.note(restored_at_entry=last.seq)
    return RestoredView(last_entry=last.seq, why=work.act.why)


def _view(row: SealedHead) -> HeadView:
    try:
        said = proved(row.head, row.signature, row.public_key).head
    except NotAHead:
        said = None  # somebody has meddled with it, which `potmark check` says
    return HeadView(
        id=row.id,
        number=row.number,
        hash=row.hash,
        printed=printed(row.number, row.hash),
        sealed_at=row.sealed_at,
        founding=said.founding if said is not None else None,
        documents=said.documents if said is not None else (),
        head=row.head,
        signature=row.signature,
        public_key=row.public_key,
    )
