"""Can it be built?"""

from schemas.building import BuildCheckIn
from schemas.promises import ExpectedDeliveryChange, ExpectedDeliveryIn, ExpectedDeliveryQuery, ExpectedEndIn
from service.api.base import Blueprint
from service.operations.building import checking
from service.operations.stock import expecting

blp = Blueprint("building", "Can it be built: of what, when, in which mould")

_EXPECTED = "/expected-deliveries/<number:expected>"

blp.ask("/build-checks", checking.check_build, BuildCheckIn)
blp.listing("/expected-deliveries", expecting.list_expected_deliveries, ExpectedDeliveryQuery)
blp.write("/expected-deliveries", expecting.expect_delivery, ExpectedDeliveryIn)
blp.read(_EXPECTED, expecting.read_expected_delivery)
blp.edit(_EXPECTED, expecting.change_expected_delivery, ExpectedDeliveryChange)
blp.write(f"{_EXPECTED}/ending", expecting.end_expected_delivery, ExpectedEndIn)
