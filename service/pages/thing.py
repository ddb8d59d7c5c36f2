"""Everything else with a code: lots, kits, moulds, scales, places. May I use it, and what can be done about it."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from schemas.designs import TreatmentIn
from schemas.fields import Code
from schemas.holds import HoldIn
from schemas.lots import CertificateIn, IncomingCheckIn
from schemas.parts import LayKitIn
from schemas.registers import StorageReadingIn
from schemas.scales import ScaleCheckIn
from schemas.words import CertificateType, Fitness, Kind, ScaleForm, State, TreatmentKind
from service.operations.ledger.holding import place_hold
from service.operations.ledger.tracing import ItemView, read_item
from service.operations.parts.kits import read_kit
from service.operations.parts.laying import lay_kit
from service.operations.parts.moulds import read_mould, treat_mould
from service.operations.pots.scales import check_scale, read_scale
from service.operations.stock.lots import add_certificate, read_lot, record_incoming_check, reject_lot, release_lot
from service.operations.stock.places import record_storage_reading
from service.pages.base import Pages, code_of
from service.pages.label_address import said_of
from service.pages.printing import add_printing
from service.pages.settling import add_settling


@dataclass(frozen=True, slots=True)
class Verdict:
    """May it be used, in a word and a sentence; and the step that is next, if there is one."""

    answer: Fitness
    word: str
    sentence: str
    step: str | None = None
    button: str | None = None


def _mould(item: ItemView, at: datetime) -> Verdict:
    seen, step = read_mould(item.code, at=at), ("prepare", "Prepare it")
    if seen.in_it:
        return Verdict(Fitness.LEAVE, "In use", f"{', '.join(seen.in_it)} lies in it.", *step)
    if not seen.ready:
        return Verdict(Fitness.ASK, "Not ready", " ".join(seen.not_ready) or "Its release is not ready yet.", *step)
    left = seen.release_pulls_left
    return Verdict(Fitness.FIT, "Ready", "Its release is on." + (f" Good for {left} more." if left else ""), *step)


def _scale(item: ItemView, at: datetime) -> Verdict:
    seen = read_scale(item.code, at=at)
    step = ("check", "Check it") if seen.form == ScaleForm.SCALE else (None, None)
    if seen.usable:
        return Verdict(Fitness.FIT, "Use it", seen.check_sentence, *step)
    return Verdict(Fitness.LEAVE, "Leave it", seen.check_sentence, *step)


def _place(item: ItemView, at: datetime) -> Verdict:
    return Verdict(Fitness.FIT, "In use", "Things stand here.", "reading", "Read the thermometer")


_JUDGED: dict[Kind, Callable[[ItemView, datetime], Verdict]] = {
    Kind.MOULD: _mould, Kind.SCALE: _scale, Kind.PLACE: _place,
}  # fmt: skip


def thing(code: str, *, at: datetime) -> dict[str, Any]:
    """A hold comes first, then whether it is still here, then what its own kind says."""
    item = read_item(code)
    if item.holds:
        found = Verdict(Fitness.LEAVE, "On hold", "; ".join(h.reason for h in item.holds))
    elif item.state in (State.WITHDRAWN, State.SCRAPPED):
        found = Verdict(Fitness.LEAVE, "Leave it", f"It is {item.state}.")
    else:
        found = _JUDGED[item.kind](item, at)
    return {"item": item, "name": item.name, "found": found, "lines": said_of(code), "treatments": list(TreatmentKind)}


class LayHereIn(LayKitIn):
    """On which part, beside what laying a kit asks for: the API has that in the address, and a page the kit."""

    class Meta:
        exclude = ("kit",)

    part = Code("P", required=True)


def kit(code: str, *, at: datetime) -> dict[str, Any]:
    seen = read_kit(code, at=at)
    return {"kit": seen, "name": seen.name}


def lot(code: str, *, at: datetime) -> dict[str, Any]:
    """A lot: released or not, what it brought, what its papers say."""
    seen = read_lot(code)
    return {"lot": seen, "name": seen.name, "types": list(CertificateType)}


def _plain(kind: Kind) -> Pages:
    blp = Pages(kind)
    blp.show("", thing, "thing.html")
    blp.show("hold", thing, "hold_it.html")
    blp.act("hold", place_hold, HoldIn, page="hold")
    return add_settling(add_printing(blp))


def _kits() -> Pages:
    blp = Pages(Kind.KIT)
    blp.show("", kit, "kit.html")
    blp.show("hold", kit, "hold_it.html")
    blp.act("lay", lay_kit, LayHereIn, then=lambda part: f"/I/{code_of(part)}")
    blp.act("hold", place_hold, HoldIn, page="hold")
    return add_settling(add_printing(blp))


def _lots() -> Pages:
    blp = Pages(Kind.LOT)
    blp.show("", lot, "lot.html")
    blp.show("hold", lot, "hold_it.html")
    blp.show("release", lot, "lot_release.html")
    blp.show("certificate", lot, "certificate.html")
    blp.show("check", lot, "incoming_check.html")
    blp.act("hold", place_hold, HoldIn, page="hold")
    blp.act("release", release_lot, page="release")
    blp.act("rejection", reject_lot, page="release")
    blp.act("certificate", add_certificate, CertificateIn, page="certificate")
    blp.act("check", record_incoming_check, IncomingCheckIn, page="check")
    return add_settling(add_printing(blp))


def _with_step(step: str, kind: Kind, template: str, operation: Callable[..., Any], body: type[Any]) -> Pages:
    blp = _plain(kind)
    blp.show(step, thing, template)
    blp.act(step, operation, body, page=step)
    return blp


THINGS = (
    _lots(),
    _kits(),
    _with_step("prepare", Kind.MOULD, "prepare_mould.html", treat_mould, TreatmentIn),
    _with_step("check", Kind.SCALE, "check_scale.html", check_scale, ScaleCheckIn),
    _with_step("reading", Kind.PLACE, "read_place.html", record_storage_reading, StorageReadingIn),
)
