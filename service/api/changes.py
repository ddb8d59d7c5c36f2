"""What has changed: for whoever follows parts and lots."""

from schemas.changes import ChangesQuery
from service.api.base import Blueprint
from service.operations.ledger import changes

blp = Blueprint("changes", "Which parts and lots have changed, holds that reach them included")

blp.listing("/changes", changes.list_changes, ChangesQuery)
