"""What has changed: for whoever follows parts, lots and orders."""

from schemas.changes import ChangesQuery
from service.api.base import Blueprint
from service.operations.ledger import changes

blp = Blueprint("changes", "Which parts, lots and orders have changed, holds that reach them included")

blp.listing("/changes", changes.list_changes, ChangesQuery)
