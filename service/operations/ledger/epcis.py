"""A trace as events of GS1 EPCIS 2.0 (ISO/IEC 19987), for who follows goods beyond this shop.

Each movement is one event: what came in or was made is an object added, what went into something else a transformation,
a part in a part an aggregation, what was lost or shipped an object that is gone or observed. Temperatures are sensor
elements. A movement that was cancelled stays in, with its error declaration. Steps and dispositions are those of the
Core Business Vocabulary 2.0 (ISO/IEC 19988); what it has no word for is told under this shop's own name.

Things are named by the address on their labels; units are those of UN/CEFACT Recommendation 20: GRM, MTR, H87.
"""

import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import NAMESPACE_URL, uuid5
from zoneinfo import ZoneInfo

from schemas.words import Declaration, MovementKind, Unit
from service.database import each, row_by_row
from service.operations.door.shop import the_site
from service.operations.ledger.trace import Direction, Look, root_of
from service.records.base import instant

CONTEXT = "https://ref.gs1.org/standards/epcis/2.0.0/epcis-context.jsonld"
_UOM = {Unit.MILLIGRAM: ("GRM", 1000), Unit.MILLIMETRE: ("MTR", 1000), Unit.PIECE: ("H87", 1)}
_INTO = {
    MovementKind.DECANT: "repackaging",
    MovementKind.POUR: "commissioning",
    MovementKind.ADDITION: "commissioning",
    MovementKind.CUTTING: "commissioning",
    MovementKind.OFFCUT: "commissioning",
    MovementKind.LAYING: "assembling",
    MovementKind.APPLICATION: "assembling",
}
# Without a source, or without a target: action, step and disposition.
_ALONE = {
    MovementKind.RECEIPT: ("ADD", "receiving", "in_progress"),
    MovementKind.PACKING: ("ADD", "commissioning", "active"),
    MovementKind.MADE: ("ADD", "commissioning", "active"),
    MovementKind.FOUND_MORE: ("OBSERVE", "cycle_counting", None),
    MovementKind.FOUND_LESS: ("OBSERVE", "cycle_counting", None),
    MovementKind.SHIPMENT: ("OBSERVE", "shipping", "in_transit"),
}
_GONE = ("DELETE", "destroying", "destroyed")


def read_epcis(
    code: str, *, origin: str, at: datetime, direction: Direction = Direction.BACK, since: datetime | None = None
) -> Iterator[dict[str, Any]]:
    """The document without its events, then each event; within one snapshot."""
    root = root_of(code, direction=direction, since=since)
    look = Look.at(root.id, back=direction == Direction.BACK, since=since)
    yield {
        "@context": [CONTEXT, {"potmark": f"{origin}/docs#", "cbvmda": "urn:epcglobal:cbv:mda:"}],
        "type": "EPCISDocument",
        "schemaVersion": "2.0",
        "creationDate": _said(at),
    }
    tell = _Teller(origin, ZoneInfo(the_site().zone))
    for row in row_by_row(_movements(look), *look.first):
        yield tell.movement(*row)
    for row in row_by_row(_contacts(look), *look.first):
        yield tell.contact(*row)
    for row in row_by_row(_thermometers(look), *look.first):
        yield tell.thermometer(*row)
    for row in row_by_row(_logs(look), *look.first):
        yield tell.log(*row)


def _movements(look: Look) -> str:
    """Into (back) or out of (forward) all that the trace reaches, and how the item itself came or went."""
    one = f"m.source_id = {look.root} AND m.target_id IS NULL"
    if not look.back:
        one = f"m.target_id = {look.root} AND m.source_id IS NULL"
    asked = (
        "m.id, m.kind, m.amount, m.unit, m.estimated, m.occurred_at, d.recorded_at, s.code, t.code, li.code,"
        " l.makers_lot, l.expires_on, x.recorded_at, e.body,"
        " (SELECT min(n.id) FROM movement n WHERE n.deed_id = m.cancelled_by_id AND n.kind = m.kind)"
    )
    named = (
        " JOIN deed d ON d.id = m.deed_id LEFT JOIN item s ON s.id = m.source_id LEFT JOIN item t ON t.id = m.target_id"
        " LEFT JOIN container c ON c.item_id = m.source_id"
        " LEFT JOIN lot l ON l.item_id = coalesce(c.lot_id, m.source_id, m.target_id)"
        " LEFT JOIN item li ON li.id = l.item_id"
        " LEFT JOIN deed x ON x.id = m.cancelled_by_id LEFT JOIN entry e ON e.deed_id = m.cancelled_by_id"
    )
    return (
        f"WITH RECURSIVE {look.reach}, moved(id) AS ("
        f"SELECT m.id FROM reach r {each('movement', 'm', f'm.{look.near} IN (r.id)')}"
        f" UNION SELECT m.id FROM movement m WHERE {one})"
        f" SELECT {asked} FROM moved v {each('movement', 'm', 'm.id = v.id')}{named} ORDER BY m.occurred_at, m.id"
    )


def _contacts(look: Look) -> str:
    return (
        f"WITH RECURSIVE {look.reach} SELECT i.code, x.contact_at, x.temperature_c FROM reach r"
        f" {each('mix', 'x', 'x.item_id IN (r.id)')} JOIN item i ON i.id = x.item_id"
        " WHERE x.contact_at IS NOT NULL AND x.temperature_c IS NOT NULL ORDER BY x.contact_at, i.code"
    )


def _thermometers(look: Look) -> str:
    asked = "c.id, p.code, i.code, c.reset_at, c.occurred_at, c.low_c, c.high_c"
    return f"{_of_cures(look, 'cure_reading', asked)} AND c.low_c IS NOT NULL ORDER BY c.occurred_at, c.id, p.code"


def _logs(look: Look) -> str:
    asked = "c.id, p.code, i.code, c.first_at, c.last_at, c.summary"
    return f"{_of_cures(look, 'cure_log', asked)} ORDER BY c.last_at, c.id, p.code"


def _of_cures(look: Look, table: str, asked: str) -> str:
    """What a table has of the cures of each part that the trace reaches."""
    return (
        f"WITH RECURSIVE {look.reach} SELECT {asked} FROM reach r {each('movement', 'm', 'm.target_id IN (r.id)')}"
        f" {each(table, 'c', 'c.cure_id = m.source_id')}"
        f" {each('item', 'i', 'i.id = c.cure_id')} {each('item', 'p', 'p.id = m.target_id')}"
        f" WHERE m.kind = '{MovementKind.CURE}' AND m.cancelled_by_id IS NULL"
    )


def _said(at: datetime) -> str:
    return at.isoformat().replace("+00:00", "Z")


@dataclass(frozen=True, slots=True)
class _Teller:
    """Tells rows as events: things by their addresses, times with the shop's offset."""

    origin: str
    zone: ZoneInfo

    def uri(self, code: str) -> str:
        return f"{self.origin}/I/{code}"

    def event_id(self, of: str, number: Any) -> str:
        """The same event has the same name in every document of this shop."""
        return f"urn:uuid:{uuid5(NAMESPACE_URL, f'{self.origin}/{of}/{number}')}"

    def _event(self, kind: str, name: str, at: int, **more: Any) -> dict[str, Any]:
        offset = instant(at).astimezone(self.zone).strftime("%z")
        return {
            "type": kind,
            "eventID": name,
            "eventTime": _said(instant(at)),
            "eventTimeZoneOffset": f"{offset[:3]}:{offset[3:5]}",
            **{each: value for each, value in more.items() if value is not None},
        }

    def movement(
        self, number: int, kind: str, amount: int | None, unit: str | None, estimated: Any, at: int, recorded: int,
        source: str | None, target: str | None, lot: str | None, makers_lot: str | None, expires: Any,
        cancelled: int | None, entry: str | None, corrective: int | None,
    ) -> dict[str, Any]:  # fmt: skip
        how = MovementKind(kind)
        quantities = self._quantities(lot or source or target, amount, unit)
        told: dict[str, Any] = {"recordTime": _said(instant(recorded))}
        shape = "ObjectEvent"
        if source is not None and target is not None and how == MovementKind.BONDING:
            shape = "AggregationEvent"
            told |= {"action": "ADD", "parentID": self.uri(target), "childEPCs": [self.uri(source)],
                     "bizStep": "assembling"}  # fmt: skip
        elif source is not None and target is not None and how == MovementKind.CURE:
            told |= {"action": "OBSERVE", "epcList": [self.uri(target)], "bizStep": "other"}
            told["potmark:cure"] = self.uri(source)
        elif source is not None and target is not None and how != MovementKind.PACKING:
            shape = "TransformationEvent"
            told |= {"inputEPCList": [self.uri(source)], "inputQuantityList": quantities,
                     "outputEPCList": [self.uri(target)], "transformationID": self.uri(target),
                     "bizStep": _INTO.get(how, "other")}  # fmt: skip
        else:
            action, step, disposition = _ALONE.get(how, _GONE)
            whole = unit in (None, Unit.PIECE) or how in (MovementKind.PACKING, MovementKind.SHIPMENT)
            thing = self.uri(target or source or "")
            told |= {"action": action, "bizStep": step, "disposition": disposition, "quantityList": quantities}
            if whole or quantities is None:
                told["epcList"] = [thing]
            if action == "ADD" and lot is not None:
                told["ilmd"] = self._of_lot(makers_lot, expires)
        if cancelled is not None:
            told["errorDeclaration"] = self._error(cancelled, entry, corrective)
        told["potmark:kind"] = kind
        if estimated:
            told["potmark:estimated"] = True
        return self._event(shape, self.event_id("movement", number), at, **told)

    def _quantities(self, code: str | None, amount: int | None, unit: str | None) -> list[dict[str, Any]] | None:
        if amount is None or unit is None or code is None:
            return None
        uom, parts = _UOM[Unit(unit)]
        return [{"epcClass": self.uri(code), "quantity": amount / parts if parts > 1 else amount, "uom": uom}]

    def _of_lot(self, makers_lot: str | None, expires: Any) -> dict[str, Any] | None:
        facts = {"cbvmda:lotNumber": makers_lot, "cbvmda:itemExpirationDate": str(expires) if expires else None}
        return {name: fact for name, fact in facts.items() if fact is not None} or None

    def _error(self, cancelled: int, entry: str | None, corrective: int | None) -> dict[str, Any]:
        """The declaration of the correction; whoever undid it otherwise said that its data were wrong."""
        declared = str((json.loads(entry).get("asked") or {}).get("declaration")) if entry else ""
        reason = "did_not_occur" if declared == Declaration.DID_NOT_OCCUR else "incorrect_data"
        instead = [self.event_id("movement", corrective)] if corrective is not None else None
        error = {"declarationTime": _said(instant(cancelled)), "reason": reason, "correctiveEventIDs": instead}
        return {name: fact for name, fact in error.items() if fact is not None}

    def contact(self, code: str, at: int, temperature_c: float) -> dict[str, Any]:
        report = {"type": "Temperature", "value": temperature_c, "uom": "CEL", "time": _said(instant(at))}
        return self._sensed("contact", code, code, at, {"sensorReport": [report]})

    def thermometer(
        self, number: int, part: str, cure: str, reset_at: int, at: int, low_c: float, high_c: float
    ) -> dict[str, Any]:
        element = {
            "sensorMetadata": {"startTime": _said(instant(reset_at)), "endTime": _said(instant(at))},
            "sensorReport": [{"type": "Temperature", "minValue": low_c, "maxValue": high_c, "uom": "CEL"}],
        }
        return self._sensed("thermometer", f"{number}/{part}", part, at, element, cure=cure)

    def log(self, number: int, part: str, cure: str, first_at: int, last_at: int, summary: str) -> dict[str, Any]:
        """A logger's file: the lowest and the highest of each of its probes."""
        reports = [
            {"type": "Temperature", "minValue": probe["lowest_c"], "maxValue": probe["highest_c"], "uom": "CEL",
             "potmark:probe": name}
            for name, probe in json.loads(summary)["probes"].items()
        ]  # fmt: skip
        span = {"startTime": _said(instant(first_at)), "endTime": _said(instant(last_at))}
        element = {"sensorMetadata": span, "sensorReport": reports}
        return self._sensed("log", f"{number}/{part}", part, last_at, element, cure=cure)

    def _sensed(
        self, of: str, number: str, code: str, at: int, element: dict[str, Any], *, cure: str | None = None
    ) -> dict[str, Any]:
        return self._event(
            "ObjectEvent",
            self.event_id(of, number),
            at,
            action="OBSERVE",
            bizStep="sensor_reporting",
            epcList=[self.uri(code)],
            sensorElementList=[element],
            **({"potmark:cure": self.uri(cure)} if cure is not None else {}),
        )
