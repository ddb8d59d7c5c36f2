"""The certificate of conformity: the shop's own declaration that a part is what its design asks for.

It says what a declaration has to say by ISO/IEC 17050-1: who declares, of what, to which requirements, with which
exceptions, where, when and by whom (from memory; of the standard only its scope is public, and was read:
https://standards.iteh.ai/catalog/standards/cen/a237770d-bc58-4bc5-b7db-41f2f12fb09c/en-iso-iec-17050-1-2010).
"""

from dataclasses import dataclass
from datetime import datetime

from schemas.words import Disposition, State
from service.operations.door.refusals import OnHold, WrongState
from service.operations.ledger.permitting import COVERS
from service.operations.parts.findings import NonconformanceView
from service.records.base import known
from service.reports.document import canonical, fingerprint
from service.reports.reading.account import Permit
from service.reports.reading.proof import Signed
from service.reports.record import CAUTION, PartRecord, Signature, part_record


@dataclass(frozen=True, slots=True)
class Conformity:
    """What is declared of a part.

    Attributes
    ----------
    frozen_sha256
        Of the design as it was approved.
    exceptions
        Permits and concessions under which it was accepted.
    nonconformances
        What was found wrong and how it was decided.
    release
        The signature of the release: by which key, under which hash of what was signed.
    record_sha256
        Of the facts of its part record at that time.
    """

    kind: str
    shop: str
    zone: str
    code: str
    name: str
    part_number: str
    revision: str
    frozen_sha256: str | None
    order: str | None
    customer: str | None
    started_at: datetime
    released_at: datetime
    released_by: str
    exceptions: tuple[Permit, ...]
    nonconformances: tuple[NonconformanceView, ...]
    release: Signed | None
    record_sha256: str
    caution: tuple[str, ...]


def conformity(part: str, *, at: datetime) -> Conformity:
    """The declaration for a part that is released, not on hold, and neither scrapped nor rejected since."""
    return conformity_of(part_record(part, at=at))


def conformity_of(record: PartRecord) -> Conformity:
    """What a part's record lets the shop declare."""
    released_at, released_by = _release(record)
    return Conformity(
        kind="certificate of conformity",
        shop=record.shop,
        zone=record.zone,
        code=record.code,
        name=record.name,
        part_number=record.design.part_number,
        revision=record.design.revision,
        frozen_sha256=record.design.frozen_sha256,
        order=record.order,
        customer=record.customer,
        started_at=known(record.started_at),
        released_at=released_at,
        released_by=released_by,
        exceptions=tuple(p for p in record.permits if p.decision in COVERS),
        nonconformances=tuple(n for n in record.nonconformances if n.disposition is not None),
        release=next((s.signed for s in reversed(record.signatures) if _releases(s, record)), None),
        record_sha256=fingerprint(canonical(record)),
        caution=CAUTION,
    )


def _releases(one: Signature, record: PartRecord) -> bool:
    return one.meaning == "released" and one.item == record.code


def _release(record: PartRecord) -> tuple[datetime, str]:
    # What was released and scrapped afterwards keeps who released it, and conforms to nothing any more.
    if record.state == State.SCRAPPED:
        raise WrongState(
            f"The part {record.code} was scrapped, so nobody can declare that it conforms.",
            way_out="Its part record can be issued at any time.",
        )
    if record.released_at is None or record.released_by is None:
        raise WrongState(
            f"The part {record.code} is not released, so nobody can declare that it conforms.",
            way_out="Release it first; its part record can be issued at any time.",
        )
    if record.on_hold:
        raise OnHold(
            f"The part {record.code} is on hold, so nobody can declare that it conforms.",
            way_out="Have the hold lifted; its part record can be issued at any time.",
        )
    # Lifting its hold by hand decides nothing of what was found since the release.
    for found in record.nonconformances:
        if found.opened_at >= record.released_at and found.disposition != Disposition.USE_AS_IS:
            decided = f"was decided: {found.disposition}" if found.disposition else "is not decided"
            raise WrongState(
                f"Nonconformance {found.id} of the part {record.code} was opened after its release and {decided}, so "
                "nobody can declare that it conforms.",
                way_out=("" if found.disposition else "Have it decided first. ")
                + "Its part record says what was found, and can be issued at any time.",
            )
    return record.released_at, record.released_by
