"""Pots: weighed, mixed, used, closed."""

from schemas.cups import (
    CupOut,
    CupQuery,
    CupsLeftOut,
    FillerQuery,
    FillerTargetOut,
    FilmAgeOut,
    FilmHistoryIn,
    FilmOut,
    FilmQuery,
)
from schemas.mixes import (
    ApplicationIn,
    ClosingIn,
    ContactIn,
    CupCheckIn,
    DiscardIn,
    FillerIn,
    MixIn,
    MixOut,
    MixQuery,
    MixRowOut,
    PourBackIn,
    PourIn,
    StirringIn,
)
from service.api.base import Blueprint
from service.operations.pots import applying, clock, closing, cups, listing, pouring, starting, tending

blp = Blueprint("mixes", "Pots: weighed against their ratio, with their clock, into their parts")

blp.listing("/mixes", listing.list_mixes, MixRowOut, MixQuery)
blp.write("/mixes", starting.start_mix, MixOut, MixIn)
blp.read("/mixes/<code(M):mix>", listing.read_mix, MixOut)
blp.read("/cups-left", cups.cups_left, CupsLeftOut)
blp.read("/mixes/<code(M):mix>/cup-advice", cups.cup_advice, CupOut, CupQuery)
blp.read("/mixes/<code(M):mix>/filler-target", tending.filler_target, FillerTargetOut, FillerQuery)
blp.read("/mixes/<code(M):mix>/film-clock", clock.film_clock, FilmOut, FilmQuery)
blp.ask("/mixes/<code(M):mix>/film-clock", clock.film_age, FilmAgeOut, FilmHistoryIn)
blp.write("/mixes/<code(M):mix>/pours", pouring.pour, MixOut, PourIn)
blp.write("/mixes/<code(M):mix>/pour-backs", pouring.pour_back, MixOut, PourBackIn)
blp.write("/mixes/<code(M):mix>/contact", tending.note_contact, MixOut, ContactIn)
blp.write("/mixes/<code(M):mix>/stirrings", tending.stir, MixOut, StirringIn)
blp.write("/mixes/<code(M):mix>/fillers", tending.add_filler, MixOut, FillerIn)
blp.write("/mixes/<code(M):mix>/tray", tending.move_to_tray, MixOut)
blp.write("/mixes/<code(M):mix>/applications", applying.apply_mix, MixOut, ApplicationIn)
blp.write("/mixes/<code(M):mix>/closing", closing.close_mix, MixOut, ClosingIn)
blp.write("/mixes/<code(M):mix>/discard", closing.discard_mix, MixOut, DiscardIn)
blp.write("/mixes/<code(M):mix>/abandonment", closing.abandon_mix, MixOut)
blp.write("/mixes/<code(M):mix>/cup-checks", closing.check_cup, MixOut, CupCheckIn)
