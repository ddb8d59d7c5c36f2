"""The materials of a part as they stood on the day of use: lot, date, margin, release, papers, storage."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime

from schemas.words import CertificateType, DateBasis, Kind, MaterialKind
from service.database import listed, looked_up, rows_of
from service.formulas.shelf_life import days_left
from service.operations.door.formerly import Formerly
from service.operations.door.shop import day_in_shop
from service.operations.ledger.failing import stands
from service.operations.stock.load import GoodBecause
from service.operations.stock.stays import stays_of
from service.records.base import as_word, instant
from service.records.materials import Certificate, Receipt, Supplier
from service.reports.reading.account import MaterialUsed
from service.reports.reading.ages import Ages, noun_of
from service.reports.reading.ground import Ground, deeds_of


def uses_of(ground: Ground) -> dict[int, list[tuple[int, datetime]]]:
    """Container -> where something was taken from it for this part, and when; decanting is not a use."""
    into = {i.id for i in ground.of_kind(Kind.MIX, Kind.KIT)} | ground.parts
    containers = {i.id for i in ground.of_kind(Kind.CONTAINER)}
    found: dict[int, list[tuple[int, datetime]]] = defaultdict(list)
    for m in ground.movements:
        if m.source_id in containers and m.target_id in into:
            found[m.source_id].append((m.target_id, m.occurred_at))
    return found


def read_materials(ground: Ground) -> tuple[MaterialUsed, ...]:
    """Every container that something was taken from for the part, in the order of first use."""
    uses = uses_of(ground)
    ages = Ages(ground.site, [i.id for i in ground.of_kind(Kind.CONTAINER)])
    receipts = {
        r.id: r for r in Receipt.select().where(Receipt.id.in_({c.receipt_id for c in ages.containers.values()}))
    }
    released = deeds_of(r.released_in_id for r in receipts.values() if r.released_in_id)
    suppliers = Formerly(Supplier, Supplier.id.in_({lot.supplier_id for lot in ages.lots.values()}))
    papers = _certificates(ages.lots)
    stood = _stood(uses)
    monitored = _first_readings(set(stood.values()))
    found = []
    for container, taken in sorted(uses.items(), key=lambda u: min(at for _, at in u[1])):
        item, row = ground.items[container], ages.containers[container]
        first, last = min(at for _, at in taken), max(at for _, at in taken)
        lot, material = ages.lots[row.lot_id], ages.material_of(container, last)
        used_on = day_in_shop(last, ground.site)
        expiry, opened_on = ages.good_until(container, last), ages.opened_on(container, last)
        receipt = receipts.get(row.receipt_id or 0)
        release = released.get(receipt.released_in_id or 0) if receipt is not None else None
        first_reading = monitored.get(stood.get(container, 0))
        found.append(
            MaterialUsed(
                container=item.code,
                noun=noun_of(material),
                material_name=material.name,
                kind=as_word(MaterialKind, material.kind),
                lot=ground.code(row.lot_id),
                makers_lot=lot.makers_lot,
                lot_unknown_because=lot.unknown_because,
                date_basis=as_word(DateBasis, lot.date_basis),
                supplier_name=suppliers.at(lot.supplier_id, last).name if lot.supplier_id is not None else None,
                used_in=tuple(dict.fromkeys(ground.code(target) for target, _ in taken)),
                filled_from=tuple(ground.code(c) for c in sorted(ages.ancestors(container, last) - {container})),
                first_used_on=day_in_shop(first, ground.site),
                used_on=used_on,
                good_until=expiry.on,
                good_because=GoodBecause(expiry.because),
                margin_days=days_left(on=expiry.on, today=used_on) if expiry.on is not None else None,
                opened_on=opened_on,
                days_open=(used_on - opened_on).days if opened_on is not None else None,
                opened_life_days=material.opened_life_days,
                released_at=release.occurred_at if release is not None else None,
                released_by=ground.called(release.person_id, release.recorded_at) if release is not None else None,
                released_before_use=release is not None and release.occurred_at <= first,
                certificates=papers[row.lot_id],
                certificate_wanted=as_word(CertificateType, material.certificate_wanted),
                storage_monitored=None
                if material.storage_low_c is None
                else first_reading is not None and first_reading <= last,
                blend=row.blend,
            )
        )
    return tuple(found)


def _certificates(lots: Iterable[int]) -> dict[int, tuple[str, ...]]:
    found: dict[int, list[str]] = defaultdict(list)
    for row in Certificate.select().where(Certificate.lot.in_(list(lots))).order_by(Certificate.id):
        found[row.lot_id].append(f"{row.type}, {row.number}")
    return defaultdict(tuple, {lot: tuple(names) for lot, names in found.items()})


def _stood(uses: Mapping[int, Sequence[tuple[int, datetime]]]) -> dict[int, int]:
    """Where each container stood when something was last taken from it; where it went since is not told."""
    last = {container: max(at for _, at in taken) for container, taken in uses.items()}
    stays = stays_of(last, at=max(last.values())) if last else {}
    then = {number: [stay.place for stay in of if stay.since <= last[number]] for number, of in stays.items()}
    return {number: places[-1] for number, places in then.items() if places}


def _first_readings(places: Iterable[int]) -> dict[int, datetime]:
    """When each place was first measured."""
    first = (
        f"SELECT r.occurred_at FROM storage_reading r WHERE r.place_id = given.id AND {stands('r')}"
        " ORDER BY r.occurred_at LIMIT 1"
    )
    rows = rows_of(f"SELECT id, ({first}) FROM {looked_up()}", listed(places))
    return {place: instant(at) for place, at in rows if at is not None}
