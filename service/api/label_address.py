"""The address in a printed code: open without a key, and no more than stands on the label."""

from typing import Any

from flask import Blueprint, jsonify, render_template, request

from labels.codes import grouped
from labels.hazards import hazard_block
from schemas.words import KIND_NAMES, Kind
from service.database import reading
from service.operations.labelling import what_stands_on

blp = Blueprint("open-labels", __name__, template_folder="../pages/templates")


@blp.get("/I/<code:code>")
@blp.get("/I/<code:code>/<number:issue>")
def short_address(code: str, issue: int | None = None) -> Any:
    """What stands on a label, and whether it is void."""
    with reading():
        shown = what_stands_on(code, issue)
    if request.accept_mimetypes.best_match(["text/html", "application/json"]) == "application/json":
        return jsonify(kind=KIND_NAMES[Kind(code[0])], **shown)
    facts = shown["facts"]
    return render_template(
        "label_address.html",
        kind=KIND_NAMES[Kind(code[0])],
        grouped=grouped(code),
        hazard=hazard_block(facts.get("h_codes", ())),
        lines=_lines(facts),
        **shown,
    )


_SHOWN = {
    "lot": "lot",
    "sequence": "",
    "net": "",
    "expires_on": "use by",
    "use_before": "use before",
    "hardener": "with",
    "mass": "",
    "purpose": "for",
    "part_number": "part number",
    "revision": "revision",
    "laid_on": "laid",
    "storage": "keep at",
    "ratio": "",
    "plies": "",
    "made_of": "",
    "schedule": "",
    "release": "release",
    "capacity": "",
}


def _lines(facts: dict[str, Any]) -> list[str]:
    return [f"{word} {facts[name]}".strip() for name, word in _SHOWN.items() if facts.get(name)]
