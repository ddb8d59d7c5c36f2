"""What stands against a thing, and how it is settled: holds, permits and concessions, nonconformances."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from flask import Blueprint, Response, current_app, render_template, request

from schemas.base import ActIn
from schemas.fields import Whole
from schemas.holds import PermissionIn, SignatureIn, WithdrawalIn
from schemas.parts import DecisionIn, NonconformanceIn
from schemas.words import Decision, Disposition, Kind, PermissionKind
from service.database import reading
from service.operations.door.shop import the_site
from service.operations.ledger import ledger
from service.operations.ledger.holding import HoldRow, lift_hold, list_holds
from service.operations.ledger.permitting import (
    PERMITTABLE,
    ask_permission,
    list_permissions,
    sign_permission,
    withdraw_permission,
)
from service.operations.ledger.tracing import read_item
from service.operations.parts.findings import list_nonconformances
from service.operations.parts.inspecting import decide_nonconformance, open_nonconformance
from service.operations.stock.containers import read_container
from service.pages.base import Pages
from service.pages.visiting import who
from service.records.lookups import rows_among
from service.records.people import Person

blp = Blueprint("page-settling", __name__, template_folder="templates")
RIGHTS = {"page-settling.to_decide": "read_account"}
# More than these nobody settles in one sitting; the oldest come first.
_ROWS = 50


class LiftHereIn(ActIn):
    """Which hold, beside what lifting it asks for: the API has it in the address."""

    hold = Whole(1, required=True)


class SignHereIn(SignatureIn):
    permission = Whole(1, required=True)


class WithdrawHereIn(WithdrawalIn):
    permission = Whole(1, required=True)


class DecideHereIn(DecisionIn):
    nonconformance = Whole(1, required=True)


@dataclass(frozen=True, slots=True)
class Standing:
    """A hold that stands, and who placed it."""

    hold: HoldRow
    placed_by: str


def _standing(rows: Sequence[HoldRow]) -> list[Standing]:
    names = {p.id: p.name for p in rows_among(Person, Person.id, {row.placed_by_id for row in rows})}
    return [Standing(row, names[row.placed_by_id]) for row in rows]


def _of_their_own(holds: list[Standing], undecided: set[int]) -> list[Standing]:
    """Holds that no decision on a nonconformance lifts, which stands in the list above them."""
    named = tuple(f"Nonconformance {number}:" for number in undecided)
    return [one for one in holds if not one.hold.reason.startswith(named)] if named else holds


def _settle(code: str, *, at: datetime) -> dict[str, Any]:
    item = ledger.find(code)
    permits = list_permissions(after=None, limit=_ROWS, item=code).rows
    asked = {reason for p in permits if p.decision == Decision.ASKED for reason in p.reasons}
    if item.kind == Kind.CONTAINER:
        reasons = [
            (r.kind, r.sentence)
            for r in read_container(code, at=at).fitness.reasons
            if r.kind in PERMITTABLE and r.decision != Decision.PERMITTED
        ]
    else:
        open_flags = [f for f in read_item(code).flags if f.stops and not f.settled and f.permission is None]
        reasons = [(f.kind, f.sentence) for f in open_flags]
    return {
        "item": item,
        "name": item.name,
        "holds": _standing(list_holds(after=None, limit=_ROWS, standing=True, item=code).rows),
        "asked": [p for p in permits if p.decision == Decision.ASKED],
        "permitted": [
            p for p in permits
            if p.decision == Decision.PERMITTED and p.kind == PermissionKind.DEVIATION_PERMIT
            and (p.until is None or p.until > at)
        ],
        "found": list_nonconformances(after=None, limit=_ROWS, item=code, decided=False).rows,
        "reasons": [(kind, sentence) for kind, sentence in dict(reasons).items() if kind not in asked],
        "permit": PermissionKind.DEVIATION_PERMIT if item.kind == Kind.CONTAINER else PermissionKind.CONCESSION,
        "dispositions": list(Disposition),
    }  # fmt: skip


def add_settling(pages: Pages) -> Pages:
    """The page of what stands against one kind of thing, and its forms."""
    pages.show("settle", _settle, "settle.html")
    for step, operation, body in (
        ("settle/hold", lift_hold, LiftHereIn),
        ("settle/permit", sign_permission, SignHereIn),
        ("settle/withdrawal", withdraw_permission, WithdrawHereIn),
        ("settle/asked", ask_permission, PermissionIn),
        ("settle/decision", decide_nonconformance, DecideHereIn),
        ("settle/found", open_nonconformance, NonconformanceIn),
    ):
        pages.act(step, operation, body, page="settle", then=lambda _: request.path.rpartition("/")[0])
    return pages


@blp.get("/decide")
def to_decide() -> Any:
    """All that waits for somebody's decision or signature, the oldest first; what is too many goes on."""
    at = current_app.extensions["clock"]()
    after = {name: request.args.get(name, type=int) for name in ("asked", "found", "held")}
    with reading():
        asked = list_permissions(after=after["asked"], limit=_ROWS, decision=Decision.ASKED)
        found = list_nonconformances(after=after["found"], limit=_ROWS, decided=False)
        held = list_holds(after=after["held"], limit=_ROWS, standing=True)
        shown = {
            "site": the_site(),
            "asked": asked.rows,
            "found": found.rows,
            "holds": _of_their_own(_standing(held.rows), {n.id for n in found.rows}),
            "on": {"asked": asked.next_after, "found": found.next_after, "held": held.next_after},
        }
    html = render_template("decide.html", at=at, who=who, trouble=None, **shown)
    return Response(html, headers={"Cache-Control": "no-store"})
