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
from service.operations import (
    applying,
    cup_watch,
    filler_target,
    film_clock,
    mix_closing,
    mix_life,
    mixes,
    mixing_start,
    pouring,
)

blp = Blueprint("mixes", "Pots: weighed against their ratio, with their clock, into their parts")

blp.listing("/mixes", mixes.list_mixes, MixRowOut, MixQuery)
blp.write("/mixes", mixing_start.start_mix, MixOut, MixIn)
blp.read("/mixes/<code(M):mix>", mixes.read_mix, MixOut)
blp.read("/cups-left", cup_watch.cups_left, CupsLeftOut)
blp.read("/mixes/<code(M):mix>/cup-advice", cup_watch.cup_advice, CupOut, CupQuery)
blp.read("/mixes/<code(M):mix>/filler-target", filler_target.filler_target, FillerTargetOut, FillerQuery)
blp.read("/mixes/<code(M):mix>/film-clock", film_clock.film_clock, FilmOut, FilmQuery)
blp.ask("/mixes/<code(M):mix>/film-clock", film_clock.film_age, FilmAgeOut, FilmHistoryIn)
blp.write("/mixes/<code(M):mix>/pours", pouring.pour, MixOut, PourIn)
blp.write("/mixes/<code(M):mix>/pour-backs", pouring.pour_back, MixOut, PourBackIn)
blp.write("/mixes/<code(M):mix>/contact", mix_life.note_contact, MixOut, ContactIn)
blp.write("/mixes/<code(M):mix>/stirrings", mix_life.stir, MixOut, StirringIn)
blp.write("/mixes/<code(M):mix>/fillers", mix_life.add_filler, MixOut, FillerIn)
blp.write("/mixes/<code(M):mix>/tray", mix_life.move_to_tray, MixOut)
blp.write("/mixes/<code(M):mix>/applications", applying.apply_mix, MixOut, ApplicationIn)
blp.write("/mixes/<code(M):mix>/closing", mix_closing.close_mix, MixOut, ClosingIn)
blp.write("/mixes/<code(M):mix>/discard", mix_closing.discard_mix, MixOut, DiscardIn)
blp.write("/mixes/<code(M):mix>/abandonment", mix_closing.abandon_mix, MixOut)
blp.write("/mixes/<code(M):mix>/cup-checks", mix_closing.check_cup, MixOut, CupCheckIn)
