"""The requests that the description's examples are, from nothing but the description itself."""

import json
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import Any
from urllib.parse import quote, urlencode

METHODS = ("get", "post", "put", "patch", "delete")


@dataclass(frozen=True)
class Request:
    """One example: a numbered step, or one that stands for itself (number 0)."""

    number: int
    call: str
    method: str
    path: str
    headers: dict[str, str]
    body: Any
    media_type: str | None
    # The step in whose answer the key stands; 0: the key of the founding.
    key_of_step: int
    # The step in whose answer the token stands that signs it; 0: it is not signed.
    token_of_step: int = 0

    @property
    def name(self) -> str:
        return f"step {self.number}: {self.call}"

    @property
    def sent(self) -> dict[str, Any]:
        """How Flask's client is told."""
        if self.media_type is None:
            return {}
        if self.media_type == "application/json":
            return {"json": self.body}
        return {"data": self.body.encode(), "content_type": self.media_type}


@dataclass
class Walker:
    """Whoever sends the examples: with the keys and tokens that the answers before have shown."""

    client: Any
    keys: dict[int, str]
    tokens: dict[int, str] = field(default_factory=dict)

    def send(self, request: Request) -> Any:
        headers = {"Authorization": f"Bearer {self.keys[request.key_of_step]}", **request.headers}
        if request.token_of_step:
            headers["Signing-Token"] = self.tokens[request.token_of_step]
        answer = self.client.open(request.path, method=request.method, headers=headers, **request.sent)
        said = answer.get_json(silent=True)
        if request.number and isinstance(said, dict):
            for kept, name in ((self.keys, "secret"), (self.tokens, "token")):
                if said.get(name):
                    kept[request.number] = said[name]
        return answer


def routes(described: dict[str, Any]) -> Iterator[tuple[str, str, dict[str, Any], list[dict[str, Any]]]]:
    """(path, method, route, all that may be asked in its address and headers)."""
    for path, methods in described["paths"].items():
        for method in METHODS:
            if method in methods:
                yield (
                    path,
                    method,
                    methods[method],
                    methods.get("parameters", []) + methods[method].get("parameters", []),
                )


def examples(described: dict[str, Any]) -> list[Request]:
    """Every example that there is: the numbered ones in their order, then those that stand for themselves."""
    found = []
    for path, method, route, asked in routes(described):
        for step in route.get("x-steps", ()):
            name = f"step {step['step']}"
            request = _request(path, method, route, asked, name, step["step"], step.get("key_of_step", 0))
            found.append(replace(request, token_of_step=step.get("token_of_step", 0)))
        contents = route.get("requestBody", {}).get("content", {}).values()
        if not route.get("x-steps") and "{" not in path and all("example" in content for content in contents):
            found.append(_request(path, method, route, asked, None, 0, 0))
    return sorted(found, key=lambda request: request.number or 10**6)


def _request(
    path: str, method: str, route: dict[str, Any], asked: list[dict[str, Any]], name: str | None, number: int, key: int
) -> Request:
    given = {
        (one["in"], one["name"]): one["examples"][name]["value"] for one in asked if name in one.get("examples", {})
    }
    values = {
        place: {n: v for (where, n), v in given.items() if where == place} for place in ("path", "query", "header")
    }
    for part, value in values["path"].items():
        path = path.replace(f"{{{part}}}", quote(str(value)))
    if values["query"]:
        written = {name: json.dumps(v) if isinstance(v, bool) else v for name, v in values["query"].items()}
        path += f"?{urlencode(written, doseq=True)}"
    media_type, content = next(iter(route.get("requestBody", {}).get("content", {}).items()), (None, {}))
    body = None if media_type is None else content["examples"][name]["value"] if name else content["example"]
    return Request(number, route["operationId"], method.upper(), path, values["header"], body, media_type, key)
