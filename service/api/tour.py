"""The examples of requests: one walk through a shop, from the day of its founding on, in which every call has a place.

Each step is one request. Sent in their order on a newly founded shop they are all accepted, since numbers and codes are
given out in order: the first chapter carries the first job to a released part, the others go on from there.
"""

import json
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

from service.operations.door.acts import ACTS, may_be_signed

_FOLDER = Path(__file__).with_name("tours")
_FIRST_JOB = "01-first-job"
_MARK = "Examples: step"
# Calls whose answer shows a key that is its person's own from then on; and a token that signs.
_CLAIMS = frozenset({"claim_key", "set_secret"})
_SIGNS_ON = frozenset({"set_secret", "begin_signing"})
# To give one's secret tells the account nothing of the job.
_NO_WRITES = frozenset({"begin_signing"})
_METHODS = frozenset({"get", "post", "put", "patch", "delete"})


@dataclass(frozen=True, slots=True)
class Step:
    """One request of the walk.

    ``by`` is a role: the administrator's key came with the founding, each other's with the person that a step added.
    """

    number: int
    chapter: str
    by: str
    call: str
    path: dict[str, Any] = field(default_factory=dict)
    query: dict[str, Any] = field(default_factory=dict)
    headers: dict[str, str] = field(default_factory=dict)
    body: Any = None

    @property
    def name(self) -> str:
        return f"step {self.number}"


@cache
def steps() -> tuple[Step, ...]:
    """All of them, in the order of the chapters."""
    told = [
        (chapter.stem, facts)
        for chapter in sorted(_FOLDER.glob("*.json"))
        for facts in json.loads(chapter.read_text("utf-8"))
    ]
    return tuple(Step(number=at, chapter=chapter, **facts) for at, (chapter, facts) in enumerate(told, 1))


def add_examples(described: dict[str, Any]) -> None:
    """Write each step into the description: under its name wherever a part of its request stands."""
    calls = _calls(described)
    keys: dict[str, int] = {"administrator": 0}
    tokens: dict[str, int] = {}
    claimed: set[str] = set()
    for step in steps():
        path, method = calls[step.call]
        route = described["paths"][path][method]
        if step.by not in keys:
            raise LookupError(f"{step.name} is done by {step.by}, for whom no step before it made a key")
        signed = tokens.get(step.by) if step.call in ACTS and may_be_signed(step.call) else None
        route.setdefault("x-steps", []).append(_who(step, keys, signed))
        _tell(route, step)
        for asked in [*described["paths"][path].get("parameters", ()), *route.get("parameters", ())]:
            _say(asked, step)
        contents = route.get("requestBody", {}).get("content", {})
        for content in contents.values():
            value = {} if step.body is None else step.body
            content.setdefault("examples", {})[step.name] = {"summary": f"{step.name}, by {step.by}", "value": value}
        if isinstance(step.body, dict) and step.body.get("with_key"):
            keys |= dict.fromkeys(step.body["roles"][:1], step.number)
        if step.call in _CLAIMS and step.by not in claimed:
            claimed.add(step.by)
            keys[step.by] = step.number
        if step.call in _SIGNS_ON:
            tokens[step.by] = step.number
    text = described["info"]["description"]
    described["info"]["description"] = f"{text}\n\n{_first_job(described, calls)}"


def _calls(described: dict[str, Any]) -> dict[str, tuple[str, str]]:
    return {
        route["operationId"]: (path, method)
        for path, methods in described["paths"].items()
        for method, route in methods.items()
        if method in _METHODS
    }


def _who(step: Step, keys: dict[str, int], signed: int | None) -> dict[str, Any]:
    made_by = keys[step.by]
    return {
        "step": step.number,
        "by": step.by,
        **({"key_of_step": made_by} if made_by else {}),
        **({"token_of_step": signed} if signed else {}),
    }


def _tell(route: dict[str, Any], step: Step) -> None:
    """For who reads: the steps of the call, in its own text."""
    text = route.get("description", "")
    if _MARK not in text:
        route["description"] = f"{text}\n\n{_MARK} {step.number} by {step.by}".strip()
    else:
        route["description"] = f"{text}, {step.number} by {step.by}"


def _say(asked: dict[str, Any], step: Step) -> None:
    given = {"path": step.path, "query": step.query, "header": step.headers}[asked["in"]]
    if asked["name"] in given:
        asked.setdefault("examples", {})[step.name] = {"value": given[asked["name"]]}


def _first_job(described: dict[str, Any], calls: dict[str, tuple[str, str]]) -> str:
    """The first chapter as a list, and how the examples are read."""
    job = [step for step in steps() if step.chapter == _FIRST_JOB]
    lines = []
    for step in job:
        path, method = calls[step.call]
        summary = described["paths"][path][method].get("summary", "").split(". ")[0].rstrip(".")
        stop = "" if summary.endswith("?") else "."
        lines.append(f"{step.number}. **{step.by}**: {summary}{stop} `{method.upper()} {path}`")
    acts = sum(step.body is not None and step.call not in _NO_WRITES for step in job)
    return _FIRST_JOB_TEXT.format(writes=acts, last=job[-1].number) + "\n".join(lines)


_FIRST_JOB_TEXT = """## The first job

The examples of the calls fit together: each is a numbered step, and sent in their order on a newly founded shop they
are all accepted. Steps 1 to {last} carry the first job from the empty shop to a released part and its record, in
{writes} acts; they tell a day of November 2026 afterwards, so each says when it happened (`occurred_at`), and people
are added as of then: nobody did anything before they were here. Whoever records as it happens leaves that field out.
Each call says which steps it has and by whom they are done (for programs
in `x-steps`): the administrator with the key of the founding, the lead and quality with the `secret` that the answers
to steps 1 and 2 show, until setting a secret of their own shows them another (`key_of_step`). What is signed goes with
the `token` of the step before it in which its person gave their secret (`token_of_step`), in the header
`Signing-Token`; it signs for five minutes, so whoever goes slowly gives the secret again. Codes and numbers are given
out in order, so they fit where nothing else was added before.

"""
