"""Pots: weighed, mixed, used, closed."""

from schemas.mixes import (
    ApplicationIn,
    CatalystScanIn,
    ClosingIn,
    ContactIn,
    CupCheckIn,
    CupQuery,
    DiscardIn,
    FillerIn,
    FillerQuery,
    FilmHistoryIn,
    FilmQuery,
    MixIn,
    MixQuery,
    PourBackIn,
    PourIn,
    StirringIn,
    StrokesIn,
    UndoIn,
)
from service.api.base import Blueprint
from service.operations.pots import (
    applying,
    catalysing,
    clock,
    closing,
    cups,
    listing,
    pouring,
    pouring_back,
    pumping,
    starting,
    tending,
    undoing,
)

blp = Blueprint("mixes", "Pots: weighed against their ratio, with their clock, into their parts", right="read_work")

blp.listing("/mixes", listing.list_mixes, MixQuery)
blp.write("/mixes", starting.start_mix, MixIn)
blp.read("/mixes/<code(M):mix>", listing.read_mix)
blp.read("/cups-left", cups.cups_left)
blp.read("/mixes/<code(M):mix>/cup-advice", cups.cup_advice, CupQuery)
blp.read("/mixes/<code(M):mix>/filler-target", tending.filler_target, FillerQuery)
blp.read("/mixes/<code(M):mix>/film-clock", clock.film_clock, FilmQuery)
blp.ask("/mixes/<code(M):mix>/film-clock", clock.film_age, FilmHistoryIn)
blp.write("/mixes/<code(M):mix>/catalyst", catalysing.scan_catalyst, CatalystScanIn)
blp.write("/mixes/<code(M):mix>/pours", pouring.pour, PourIn)
blp.write("/mixes/<code(M):mix>/pours/undo", undoing.undo_pour, UndoIn)
blp.write("/mixes/<code(M):mix>/strokes", pumping.pump_strokes, StrokesIn)
blp.write("/mixes/<code(M):mix>/pour-backs", pouring_back.pour_back, PourBackIn)
blp.write("/mixes/<code(M):mix>/contact", tending.note_contact, ContactIn)
blp.write("/mixes/<code(M):mix>/stirrings", tending.stir, StirringIn)
blp.write("/mixes/<code(M):mix>/fillers", tending.add_filler, FillerIn)
blp.write("/mixes/<code(M):mix>/tray", tending.move_to_tray)
blp.write("/mixes/<code(M):mix>/applications", applying.apply_mix, ApplicationIn)
blp.write("/mixes/<code(M):mix>/closing", closing.close_mix, ClosingIn)
blp.write("/mixes/<code(M):mix>/discard", closing.discard_mix, DiscardIn)
blp.write("/mixes/<code(M):mix>/abandonment", closing.abandon_mix)
blp.write("/mixes/<code(M):mix>/cup-checks", closing.check_cup, CupCheckIn)
