"""A pot: weighed one number at a time, then its clock, and what becomes of it."""

from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from flask import request

from labels.codes import parse
from labels.errors import Misread
from schemas.mixes import (
    ApplicationIn,
    CatalystScanIn,
    ClosingIn,
    ContactIn,
    CupCheckIn,
    DiscardIn,
    FillerIn,
    PourBackIn,
    PourIn,
    StirringIn,
    StrokesIn,
    UndoIn,
)
from schemas.words import Kind
from service.operations.door.refusals import Refusal, Unprocessable
from service.operations.pots.applying import apply_mix
from service.operations.pots.before_applying import cautions
from service.operations.pots.bench import PotAtBench, can_at_pot, pot_at_bench
from service.operations.pots.catalysing import scan_catalyst
from service.operations.pots.closing import abandon_mix, check_cup, close_mix, discard_mix
from service.operations.pots.pouring import pour
from service.operations.pots.pouring_back import pour_back
from service.operations.pots.pumping import pump_strokes
from service.operations.pots.tending import add_filler, move_to_tray, note_contact, stir
from service.operations.pots.undoing import UNDONE_WITHIN, undo_pour
from service.pages.base import DESPITE, Pages
from service.pages.printing import add_printing
from service.pages.settling import add_settling
from service.pages.typed import number

blp = Pages(Kind.MIX)


def pot(code: str, *, at: datetime) -> dict[str, Any]:
    """The pot and its next number. A half-done pot is simply read again: nothing of it lives in the browser."""
    seen = pot_at_bench(code, at=at)
    last = max((p.occurred_at for p in seen.pot.pours if not p.taken_back), default=None)
    slip = last is not None and at - last <= UNDONE_WITHIN
    return {"seen": seen, "pot": seen.pot, "bar": _bar(seen), "slip": slip}


def to_apply(code: str, *, at: datetime) -> dict[str, Any]:
    """What is in the cup, and what speaks against putting it on the part that it is meant for."""
    shown = pot(code, at=at)
    meant = request.values.get("parts", "").strip()[:200] or next(iter(shown["pot"].parts), "")
    try:
        said = cautions(code, [parse(meant).text] if meant else [], at=at)
    except (Misread, Refusal):
        said = cautions(code, [], at=at)
    return {**shown, "meant": meant, "cautions": said}


def _ask_before_applying(code: str, fields: dict[str, Any], *, at: datetime) -> None:
    """Ask whoever has the brush in hand once more, where something speaks against it."""
    said = cautions(code, [line["part"] for line in fields["parts"]], at=at)
    if said:
        raise Unprocessable(
            f"{' '.join(said)} Did it go on all the same?",
            way_out="If it did, say so: it is recorded, and marked. If not, leave it; nothing was stored yet.",
            answer_with={DESPITE: True},
        )


def other_can(code: str, *, at: datetime) -> dict[str, Any]:
    """A can that was scanned in mid-weighing: its verdict comes before its pour."""
    container, said, other = request.values.get("container", "").strip()[:200], None, None
    if container:
        try:
            other = can_at_pot(code, parse(container).text, at=at)
        except Misread as misread:
            said = str(misread)
        except Refusal as no:
            said = no.sentence
    return {"other": other, "said": said}


def _bar(seen: PotAtBench) -> dict[str, float] | None:
    """The band on a bar of 0 to 100: drawn as attributes of an SVG, since the page allows no inline style."""
    wanted = seen.pot.next
    if wanted is None or seen.strokes is not None or seen.target_ml is not None:
        return None
    low, high = wanted.accepted_from_mg or wanted.target_mg, wanted.accepted_to_mg or wanted.target_mg
    full = max(high, wanted.target_mg) * 1.06
    return {"from": 100 * low / full, "width": max(0.8, 100 * (high - low) / full), "per_g": 100_000 / full}


def _stirred(asked: dict[str, Any], now: datetime) -> None:
    """Minutes that it was stirred until just now, as from when to when."""
    minutes = asked.pop("minutes", None)
    if isinstance(minutes, str):
        read = number(minutes)
        minutes = float(read) if isinstance(read, Decimal) else None
    if minutes is not None and 0 < minutes <= 120:
        asked["started_at"] = (now - timedelta(minutes=minutes)).isoformat()
        asked["ended_at"] = now.isoformat()


blp.show("", pot, "pot.html")
blp.show("can", other_can, "other_can.html")
blp.show("stir", pot, "stir.html")
blp.show("apply", to_apply, "apply.html")
blp.show("close", pot, "close.html")
blp.show("discard", pot, "discard.html")
blp.show("pour-back", pot, "pour_back.html")
blp.show("filler", pot, "filler.html")
blp.show("contact", pot, "contact.html")
blp.show("cup", pot, "cup.html")

blp.act("pours", pour, PourIn)
blp.act("can", pour, PourIn, page="can")
blp.act("catalyst", scan_catalyst, CatalystScanIn)
blp.act("strokes", pump_strokes, StrokesIn)
blp.act("undo", undo_pour, UndoIn)
blp.act("pour-back", pour_back, PourBackIn, page="pour-back")
blp.act("contact", note_contact, ContactIn, page="contact")
blp.act("stir", stir, StirringIn, page="stir", prepare=_stirred)
blp.act("filler", add_filler, FillerIn, page="filler")
blp.act("tray", move_to_tray)
blp.act("apply", apply_mix, ApplicationIn, page="apply", ask=_ask_before_applying)
blp.act("close", close_mix, ClosingIn, page="close")
blp.act("discard", discard_mix, DiscardIn, page="discard")
blp.act("abandon", abandon_mix)
blp.act("cup", check_cup, CupCheckIn, page="cup")

add_printing(blp)
add_settling(blp)
