"""Resin systems."""

from schemas.systems import BlendingIn, SystemChange, SystemIn, SystemQuery
from service.api.base import Blueprint
from service.operations.pots import blending, systems

blp = Blueprint("systems", "Resin systems: ratio, tolerance and tables of pot life, in revisions")

blp.listing("/resin-systems", systems.list_systems, SystemQuery)
blp.write("/resin-systems", systems.add_resin_system, SystemIn)
blp.read("/resin-systems/<number:system>", systems.read_system)
blp.edit("/resin-systems/<number:system>", systems.change_resin_system, SystemChange)
blp.write("/resin-systems/<number:system>/approval", systems.approve_resin_system)
blp.write("/resin-systems/<number:system>/blends", blending.blend_hardeners, BlendingIn)
