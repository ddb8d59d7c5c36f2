"""Can it be built?"""

from schemas.building import BuildCheckIn
from service.api.base import Blueprint
from service.operations.building import checking

blp = Blueprint("building", "Can it be built: of what, when, in which mould")

blp.ask("/build-checks", checking.check_build, BuildCheckIn)
