"""What is there to mix with, and the plan of a job's pots."""

from schemas.planning import AvailabilityQuery, MixPlanIn
from service.api.base import Blueprint
from service.operations.pots import planning

blp = Blueprint("planning", "What is fit and free, and how many pots a job takes")

blp.read("/availability", planning.read_availability, AvailabilityQuery)
blp.ask("/mix-plans", planning.plan_mixes, MixPlanIn)
