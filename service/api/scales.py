"""Scales and their checks."""

from schemas.scales import HoseIn, LineFormatIn, MeasureIn, PumpCheckIn, PumpIn, ReadingIn, ScaleCheckIn, ScaleIn
from service.api.base import Blueprint
from service.operations.pots import measuring, pumping, receiving, scales

blp = Blueprint("scales", "Scales and their check weights")

blp.listing("/scales", scales.list_scales)
blp.write("/scales", scales.add_scale, ScaleIn)
blp.write("/pumps", pumping.add_pump, PumpIn)
blp.write("/scales/<code(S):scale>/shots", pumping.check_pump, PumpCheckIn)
blp.write("/scales/<code(S):scale>/hose-changes", pumping.change_hose, HoseIn)
blp.write("/measures", measuring.add_measure, MeasureIn)
blp.read("/scales/<code(S):scale>", scales.read_scale)
blp.write("/scales/<code(S):scale>/checks", scales.check_scale, ScaleCheckIn)
blp.listing("/scales/<code(S):scale>/checks", scales.list_checks)
blp.listing("/scales/<code(S):scale>/affected", scales.list_affected, right="read_work")
blp.write("/scales/<code(S):scale>/readings", receiving.receive_reading, ReadingIn)
blp.listing("/scales/<code(S):scale>/readings", receiving.list_readings)
blp.write("/scales/<code(S):scale>/line-format", receiving.set_line_format, LineFormatIn)
