"""Scales and their checks."""

from schemas.scales import ScaleCheckIn, ScaleIn
from service.api.base import Blueprint
from service.operations.pots import scales

blp = Blueprint("scales", "Scales and their check weights")

blp.listing("/scales", scales.list_scales)
blp.write("/scales", scales.add_scale, ScaleIn)
blp.read("/scales/<code(S):scale>", scales.read_scale)
blp.write("/scales/<code(S):scale>/checks", scales.check_scale, ScaleCheckIn)
blp.listing("/scales/<code(S):scale>/checks", scales.list_checks)
