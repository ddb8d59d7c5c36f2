"""What GS1's JSON Schema of EPCIS 2.0 asks of the events that a trace is told as, in short.

Transcribed from EPCIS-JSON-Schema.json in github.com/gs1/EPCIS at 2c8a13ef1a35b1cc8f93cd49047f3c8a2ab327a7: required
properties, the names that an event may have, words of the vocabularies as far as they are used, and what one of which
kind excludes; `tests.epcis_published` holds them against the whole of it. To compare a document with a schema:

    .venv/bin/python -m tests.epcis_rules DOCUMENT.json SCHEMA.json
"""

import json
import sys
from pathlib import Path
from typing import Any

from jsonschema import Draft7Validator, FormatChecker

_URI = {"type": "string", "pattern": "^[A-Za-z][A-Za-z0-9+.-]*:[^ ]+$"}
_TIME = {"type": "string", "format": "date-time", "pattern": "^[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9:.]+(Z|[+-][0-9:]+)$"}
_URIS = {"type": "array", "items": _URI}
_QUANTITIES = {
    "type": "array",
    "items": {
        "type": "object",
        "required": ["epcClass", "quantity"],
        "properties": {
            "epcClass": _URI,
            "quantity": {"type": "number"},
            "uom": {"type": "string", "pattern": "^[A-Z0-9]{2,3}$"},
        },
    },
}
_STEPS = [
    "accepting", "arriving", "assembling", "collecting", "commissioning", "consigning", "creating_class_instance",
    "cycle_counting", "decommissioning", "departing", "destroying", "disassembling", "dispensing", "encoding",
    "entering_exiting", "holding", "inspecting", "installing", "killing", "loading", "other", "packing", "picking",
    "receiving", "removing", "repackaging", "repairing", "replacing", "reserving", "retail_selling", "sampling",
    "sensor_reporting", "shipping", "staging_outbound", "stock_taking", "stocking", "storing", "transporting",
    "unloading", "unpacking", "void_shipping",
]  # fmt: skip
_DISPOSITIONS = ["active", "damaged", "destroyed", "disposed", "expired", "in_progress", "in_transit", "recalled"]
_SENSORS = {
    "type": "array",
    "items": {
        "type": "object",
        "required": ["sensorReport"],
        "properties": {
            "sensorMetadata": {"properties": {"startTime": _TIME, "endTime": _TIME}},
            "sensorReport": {
                "type": "array",
                "items": {
                    "required": ["type"],
                    "properties": {
                        "type": {"enum": ["Temperature"]},
                        "time": _TIME,
                        **{name: {"type": "number"} for name in ("value", "minValue", "maxValue", "meanValue")},
                        "uom": {"type": "string"},
                    },
                },
            },
        },
    },
}
_EVERY = {
    "type": {"type": "string"},
    "eventTime": _TIME,
    "recordTime": _TIME,
    "eventTimeZoneOffset": {"type": "string", "pattern": "^([+]|[-])((0[0-9]|1[0-3]):([0-5][0-9])|14:00)$"},
    "eventID": _URI,
    "errorDeclaration": {
        "type": "object",
        "required": ["declarationTime"],
        "properties": {
            "declarationTime": _TIME,
            "reason": {"enum": ["did_not_occur", "incorrect_data"]},
            "correctiveEventIDs": _URIS,
        },
    },
    "bizStep": {"enum": _STEPS},
    "disposition": {"enum": _DISPOSITIONS},
    "sensorElementList": _SENSORS,
}
_ACTION = {"enum": ["OBSERVE", "ADD", "DELETE"]}
_ILMD = {"type": "object", "propertyNames": _URI}


def _event(required: list[str], own: dict[str, Any], *one_of: list[str]) -> dict[str, Any]:
    """An event with no other names than those it may have, but for extensions, which are URIs."""
    return {
        "type": "object",
        "required": ["type", "eventTime", "eventTimeZoneOffset", *required],
        "properties": {**_EVERY, **own},
        "propertyNames": {"anyOf": [{"enum": [*_EVERY, *own]}, _URI]},
        "allOf": [{"anyOf": [{"required": [name]} for name in names]} for names in one_of],
    }


_OBJECT = _event(
    ["action"],
    {"action": _ACTION, "epcList": _URIS, "quantityList": {**_QUANTITIES, "minItems": 1}, "ilmd": _ILMD},
    ["epcList", "quantityList"],
)
_OBJECT["if"], _OBJECT["then"] = {"required": ["ilmd"]}, {"properties": {"action": {"const": "ADD"}}}
_AGGREGATION = _event(
    ["action"],
    {"action": _ACTION, "parentID": _URI, "childEPCs": {**_URIS, "minItems": 1}, "childQuantityList": _QUANTITIES},
    ["childEPCs", "childQuantityList"],
)
_TRANSFORMATION = _event(
    [],
    {
        "inputEPCList": _URIS,
        "inputQuantityList": _QUANTITIES,
        "outputEPCList": _URIS,
        "outputQuantityList": _QUANTITIES,
        "transformationID": _URI,
        "ilmd": _ILMD,
    },
    ["inputEPCList", "inputQuantityList"],
    ["outputEPCList", "outputQuantityList"],
)
_BY_TYPE = {"ObjectEvent": _OBJECT, "AggregationEvent": _AGGREGATION, "TransformationEvent": _TRANSFORMATION}
RULES = {
    "type": "object",
    "required": ["type", "@context", "schemaVersion", "creationDate", "epcisBody"],
    "properties": {
        "type": {"const": "EPCISDocument"},
        "@context": {"type": "array", "uniqueItems": True, "items": {"anyOf": [_URI, {"type": "object"}]}},
        "schemaVersion": {"type": "string"},
        "creationDate": _TIME,
        "epcisBody": {
            "type": "object",
            "required": ["eventList"],
            "properties": {
                "eventList": {
                    "type": "array",
                    "items": {
                        "properties": {"type": {"enum": list(_BY_TYPE)}},
                        "allOf": [
                            {"if": {"properties": {"type": {"const": name}}}, "then": rules}
                            for name, rules in _BY_TYPE.items()
                        ],
                    },
                }
            },
        },
    },
}


def broken(document: Any, schema: Any = RULES) -> list[str]:
    """Where a document is not as the schema asks."""
    found = Draft7Validator(schema, format_checker=FormatChecker()).iter_errors(document)
    return [f"{error.json_path}: {error.message[:200]}" for error in found]


if __name__ == "__main__":
    read = [json.loads(Path(name).read_text("utf-8")) for name in sys.argv[1:3]]
    wrong = broken(*read)
    print("\n".join(wrong) or "valid")
    sys.exit(bool(wrong))
