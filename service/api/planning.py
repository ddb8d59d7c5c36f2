"""What is there to mix with, and the plan of a job's pots."""

from schemas.planning import AvailabilityQuery, MixPlanIn
from service.api.base import Blueprint
from service.operations.pots import planning, rounds, windows

blp = Blueprint("planning", "What is fit and free, and how many pots a job takes")

blp.read("/availability", planning.read_availability, AvailabilityQuery)
blp.ask("/mix-plans", planning.plan_mixes, MixPlanIn)
blp.read("/rounds/morning", rounds.morning_round, right="read_work")
blp.read("/rounds/evening", rounds.evening_round, right="read_work")
blp.read("/windows", windows.windows_on_moulds, right="read_work")
