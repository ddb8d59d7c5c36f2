"""What can be done next with what a call has made, as the description says it (OpenAPI 3.1, Link objects).

Read off the addresses: whatever stands below a list, at the code or number of one thing of it, is led to from the call
that makes such a thing.
"""

from typing import Any

_LED_TO = ("get", "post")


def add_links(described: dict[str, Any]) -> None:
    """Give the answer of each call that makes something its links, to reading it and to all that is done to it."""
    schemas = described["components"]["schemas"]
    for path, methods in described["paths"].items():
        if "{" in path:
            continue
        answer = methods.get("post", {}).get("responses", {}).get("201", {})
        made = answer.get("content", {}).get("application/json", {}).get("schema", {}).get("$ref", "")
        links = dict(_links(described["paths"], path, schemas.get(made.rpartition("/")[2], {}), schemas))
        if links:
            answer["links"] = links


def _links(paths: dict[str, Any], path: str, made: dict[str, Any], schemas: dict[str, Any]) -> Any:
    for below, methods in paths.items():
        name, _, rest = below.removeprefix(f"{path}/{{").partition("}")
        if not below.startswith(f"{path}/{{") or "{" in rest:
            continue
        (asked,) = (one for one in methods.get("parameters", ()) if one["name"] == name)
        number = asked["schema"].get("type") == "integer"
        found = _where(made, name, "id" if number else "code" if "pattern" in asked["schema"] else name, schemas)
        for method in _LED_TO if found is not None else ():
            if method in methods:
                called = methods[method]["operationId"]
                yield called, {"operationId": called, "parameters": {name: f"$response.body#{found}"}}


def _where(made: dict[str, Any], name: str, by: str, schemas: dict[str, Any]) -> str | None:
    """Where in the answer the code or number of the thing stands: its own, or that of a part of it called so."""
    properties = made.get("properties", {})
    if by in properties:
        return f"/{by}"
    inner = schemas.get(properties.get(name, {}).get("$ref", "").rpartition("/")[2], {})
    return f"/{name}/{by}" if by in inner.get("properties", {}) else None
