"""What webhooks are told, as the description says it: each event with the form of its payload (OpenAPI 3.1, webhooks).

The events are read from the journal by `operations.ledger.happenings`; a test compares what it tells with this.
"""

from typing import Any

from schemas.words import HookEvent

_CODE = {"type": "string"}
_WHOLE = {"type": "integer"}
_YES = {"type": "boolean"}
_LINK = {"type": "string", "description": "Where the rest is read, by a key with the rights for it."}
_COUNTS = {"type": "object", "additionalProperties": {"type": "integer"}}
_TIME = {"type": "string", "format": "date-time"}


def _or_null(schema: dict[str, Any]) -> dict[str, Any]:
    return {**schema, "type": [schema["type"], "null"]}


_PART = {"part": {**_CODE, "description": "Code of the part."}, "link": _LINK}
_HOLD = {
    "holds": {**_WHOLE, "description": "How many holds the act placed or lifted."},
    "hold": {**_or_null(_WHOLE), "description": "Number of the hold, if it is one."},
    "item": {**_or_null(_CODE), "description": "What is held, if it is a lot, a container or a part."},
    "kind": {**_or_null(_CODE), "description": "What it is, if it is one thing."},
    "since": {**_or_null(_TIME), "description": "Only what was made of it from then on is held."},
    "reaches": {**_COUNTS, "description": "How many things of each kind it reaches, itself among them."},
    "link": {**_LINK, "description": "Where the feed begins to tell of them."},
}
_RECALL = {
    "recall": {**_WHOLE, "description": "Number of the recall."},
    "item": {**_or_null(_CODE), "description": "What is called back, if it is a lot, a container or a part."},
    "pieces": {**_COUNTS, "description": "How many things of each kind it calls back."},
    "link": _LINK,
}
_ORDER = {
    "order": {**_WHOLE, "description": "Number of the order."},
    "references": {
        "type": "array",
        "description": "What systems call it; the first ten.",
        "items": {
            "type": "object",
            "required": ["system", "reference"],
            "properties": {"system": {"type": "string"}, "reference": {"type": "string"}},
        },
    },
    "link": _LINK,
}
_WARNING = {
    "warning": {**_WHOLE, "description": "Number of the stock warning."},
    "material": {**_WHOLE, "description": "Number of the material."},
    "name": {"type": "string", "description": "What the material is called."},
    "link": _LINK,
}
_AMOUNTS = {
    f"{what}_{unit}": {"type": "number", "description": said}
    for what, said in (("free", "What is free of it."), ("least", "What is meant to be there."))
    for unit in ("g", "mm")
}
_EXPIRING = {
    "container": {**_CODE, "description": "Code of the container."},
    "good_until": {"type": "string", "format": "date", "description": "The last day on which it is good."},
}

# Event -> what it says, the fields of its data, and those that may be missing.
_EVENTS: dict[HookEvent, tuple[str, dict[str, Any], frozenset[str]]] = {
    HookEvent.PART_RELEASED: ("A part was released.", _PART, frozenset()),
    HookEvent.PART_SHIPPED: ("A part was shipped.", _PART, frozenset()),
    HookEvent.PART_FAILED: (
        "A part failed.",
        {**_PART, "in_service": {**_YES, "description": "It failed at the customer's."}},
        frozenset(),
    ),
    HookEvent.PART_SCRAPPED: ("A part was scrapped.", _PART, frozenset()),
    HookEvent.HOLD_PLACED: ("Something was put on hold; one event for all that one act held.", _HOLD, frozenset()),
    HookEvent.HOLD_LIFTED: ("Holds were lifted; one event for all that one act lifted.", _HOLD, frozenset()),
    HookEvent.RECALL_OPENED: ("A recall was opened.", _RECALL, frozenset()),
    HookEvent.RECALL_CLOSED: ("A recall was closed.", _RECALL, frozenset()),
    HookEvent.ORDER_DONE: ("All parts of an order were shipped, or fitted here.", _ORDER, frozenset()),
    HookEvent.STOCK_SHORT: ("Less of a material is free than is meant to be there.", {**_WARNING, **_AMOUNTS},
                            frozenset(_AMOUNTS)),
    HookEvent.CONTAINER_EXPIRING: ("A container is soon past its date.", {**_WARNING, **_EXPIRING}, frozenset()),
}  # fmt: skip
_HEADERS = {
    "webhook-id": "Name of the event, the same in every attempt: what came twice is told by it.",
    "webhook-timestamp": "When this attempt was signed, seconds since 1970.",
    "webhook-signature": "Signatures by each secret that is in use, as Standard Webhooks 1.0.0 has them.",
}


def _name(event: HookEvent) -> str:
    return "".join(word.title() for word in event.split(".")) + "Event"


def _payload(event: HookEvent) -> dict[str, Any]:
    said, fields, may_lack = _EVENTS[event]
    data = {"seq": {**_WHOLE, "description": "The entry of the journal that it tells of."}, **fields}
    return {
        "type": "object",
        "description": said,
        "required": ["type", "timestamp", "data"],
        "properties": {
            "type": {"const": str(event), "description": "What happened."},
            "timestamp": {**_TIME, "description": "When it happened."},
            "data": {
                "type": "object",
                "description": "The facts; more may be added, and none names what anybody said of it.",
                "required": [name for name in data if name not in may_lack],
                "properties": data,
            },
        },
    }


def add_webhooks(described: dict[str, Any]) -> None:
    """Describe each event under its own name."""
    schemas = described["components"]["schemas"]
    asked = [
        {"name": name, "in": "header", "required": True, "description": said, "schema": {"type": "string"}}
        for name, said in _HEADERS.items()
    ]
    hooks = described.setdefault("webhooks", {})
    for event in HookEvent:
        schemas[_name(event)] = _payload(event)
        hooks[str(event)] = {
            "post": {
                "operationId": f"on_{event.replace('.', '_')}",
                "tags": ["webhooks"],
                "summary": _EVENTS[event][0],
                "security": [],
                "parameters": asked,
                "requestBody": {
                    "required": True,
                    "content": {"application/json": {"schema": {"$ref": f"#/components/schemas/{_name(event)}"}}},
                },
                "responses": {
                    "2XX": {"description": "It is taken; nothing more is sent of it."},
                    "410": {"description": "Gone: nothing is sent to this address any more."},
                    "default": {"description": "It is sent again, for three days if need be."},
                },
            }
        }
