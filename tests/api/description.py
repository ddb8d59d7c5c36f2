"""The description of the API in a form that is pleasant to compare: a line a route, a line a field.

`python -m tests.api.description` writes it anew, after a change of the API that was meant.
"""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from service.app import create_app
from service.config import Settings

KEPT = Path(__file__).with_name("description.txt")
_METHODS = ("get", "post", "patch", "put", "delete")


def document() -> dict[str, Any]:
    """The description as the service gives it."""
    app = create_app(Settings(database="sqlite:///never-opened.db"))
    found: dict[str, Any] = app.test_client().get("/openapi.json").get_json()
    return found


def compact(described: dict[str, Any]) -> str:
    """Routes in the order of their addresses, then everything that they name, in the order of its names."""
    return "\n".join([*_routes(described), *_components(described["components"]["schemas"])]) + "\n"


def _routes(described: dict[str, Any]) -> Iterator[str]:
    for path, methods in sorted(described["paths"].items()):
        for method in _METHODS:
            if method in methods:
                route = methods[method]
                answers = [
                    f"{code} {_contents(answer)}".strip()
                    for code, answer in route["responses"].items()
                    if code[0] == "2"
                ]
                body = _contents(route["requestBody"]) if "requestBody" in route else ""
                said = f"{method.upper()} {path} {route['operationId']}: {body} -> {', '.join(answers)}"
                yield " ".join(said.split())
                for asked in [*methods.get("parameters", ()), *route.get("parameters", ())]:
                    optional = "" if asked.get("required") else "?"
                    yield f"    {asked['in']} {asked['name']}{optional}: {_form(asked['schema'])}"


def _contents(holder: dict[str, Any]) -> str:
    contents = holder.get("content", {})
    said = [
        _form(media["schema"]) if kind == "application/json" else f"{kind} {_form(media['schema'])}"
        for kind, media in contents.items()
    ]
    return " or ".join(said)


def _components(schemas: dict[str, Any]) -> Iterator[str]:
    for name, schema in sorted(schemas.items()):
        if "properties" not in schema:
            yield f"{name}: {_form(schema)}"
            continue
        yield f"{name}"
        required = schema.get("required", ())
        for field, inner in schema["properties"].items():
            yield f"    {field}{'' if field in required else '?'}: {_form(inner)}"


def _form(schema: dict[str, Any]) -> str:
    if "$ref" in schema:
        return str(schema["$ref"].rpartition("/")[2])
    for several in ("anyOf", "oneOf", "allOf"):
        if several in schema:
            return " | ".join(_form(one) for one in schema[several])
    if "const" in schema:
        return repr(schema["const"])
    if "enum" in schema:
        return " | ".join("null" if word is None else repr(word) for word in schema["enum"])
    kinds = schema.get("type", "anything")
    return " | ".join(_kind(kind, schema) for kind in ([kinds] if isinstance(kinds, str) else kinds))


def _kind(kind: str, schema: dict[str, Any]) -> str:
    if kind == "array":
        if "prefixItems" in schema:
            return f"[{', '.join(_form(place) for place in schema['prefixItems'])}]"
        return f"[{_form(schema.get('items', {}))}]{_limits(schema, 'minItems', 'maxItems')}"
    if kind == "object" and isinstance(schema.get("additionalProperties"), dict):
        return f"{{{_form(schema['additionalProperties'])}}}"
    if kind == "string":
        shape = schema.get("format") or schema.get("pattern") or "string"
        return f"{shape}{_limits(schema, 'minLength', 'maxLength')}"
    if kind in ("number", "integer"):
        return f"{kind}{_limits(schema, 'minimum', 'maximum')}"
    return kind


def _limits(schema: dict[str, Any], low: str, high: str) -> str:
    if low not in schema and high not in schema:
        return ""
    return f" {schema.get(low, '')}..{schema.get(high, '')}"


if __name__ == "__main__":
    KEPT.write_text(compact(document()), "utf-8")
