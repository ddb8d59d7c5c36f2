"""ETags: what an answer's tag is, and what If-None-Match and If-Match ask of it (RFC 9110, 8.8 and 13.1).

- Of a part or lot it is its last change, `"c17"`: read without rendering, and the same wherever the whole is answered.
- Of anything else that has a version it is that and a digest of the answer, `"3-9f86d081884c7d65"`: the digest moves
  with whatever the answer tells of other things, and If-Match looks at the version alone.
- Of what has no version it is the digest; If-Match has the answer written anew and looks at that.

A proxy that compresses marks a tag as weak; it is the same tag. Several may be given, and `*` means whatever there is.
"""

import hashlib
from collections.abc import Callable
from functools import partial
from typing import Any

from flask import Response, request
from flask_smorest import abort

from service.operations.door.expected import Expected
from service.operations.door.refusals import ChangedMeanwhile

IF_MATCH = {
    "name": "If-Match",
    "in": "header",
    "required": True,
    "description": 'The ETag that was read, such as "3"; several with commas between them.',
    "schema": {"type": "string"},
}
IF_MATCH_OF_ACT = {
    **IF_MATCH,
    "required": False,
    "description": "The ETag of the thing that this is done to: 412, and nothing is done, if it has changed since.",
}
IF_NONE_MATCH = {
    "name": "If-None-Match",
    "in": "header",
    "description": "An ETag that was read before, or several: answered with 304 and no content if it is still so.",
    "schema": {"type": "string"},
}


# Of each thing whose tag is of its answer: the rule of its address, and how that tag is found now.
_THINGS: dict[str, Callable[[Any], str]] = {}


def tag_of(version: int | None, content: bytes) -> str:
    digest = hashlib.sha256(content).hexdigest()[:16]
    return digest if version is None else f"{version}-{digest}"


def is_known(tag: str) -> bool:
    """Has the caller the answer of that tag already?"""
    return bool(request.if_none_match) and request.if_none_match.contains_weak(tag)


def not_modified(tag: str) -> Response:
    response = Response(status=304)
    response.headers["ETag"] = f'"{tag}"'
    return response


def _asked() -> tuple[str, ...] | None:
    """The tags of If-Match; nothing where there is none, or where it takes whatever there is."""
    if "If-Match" not in request.headers:
        return None
    if request.if_match.star_tag:
        return ()
    # An empty tag is read as none; it is the tag of nothing here.
    return tuple(sorted(tag or "" for tag in request.if_match.as_set(include_weak=True)))


def answers_at(rule: str, tag: Callable[[Any], str]) -> None:
    """A thing is read at this address, and that is how its tag is found."""
    _THINGS[rule] = tag


def expected_of(path: dict[str, Any]) -> Expected | None:
    """What If-Match asks of the thing in the path that an act is on, if it asks anything."""
    tags = _asked()
    if not tags:
        return None
    if not path:
        raise ChangedMeanwhile("There is nothing here that If-Match could be compared with.")
    what, number = next(iter(path.items()))
    rule = request.url_rule.rule if request.url_rule is not None else ""
    found = _THINGS.get(rule.partition(">")[0] + ">")
    answer = partial(found, number) if found is not None else None
    return Expected(tuple(tag.partition("-")[0] for tag in tags), what, number, answer)


def expected_versions() -> tuple[int, ...]:
    """The versions in If-Match: missing is 428, what is none is 412."""
    tags = _asked() or ()
    if not tags:
        abort(428, message='Read the record first and send its ETag in If-Match, such as If-Match: "3".')
    versions = [tag.partition("-")[0] for tag in tags]
    found = tuple(int(v) for v in versions if v.isascii() and v.isdigit() and len(v) <= 15)
    if not found:
        raise ChangedMeanwhile("This If-Match is not the ETag of a version of this record; read it again.")
    return found
