"""The journal: audit trail, change feed, proof."""

from schemas.journal import EntryCorrectionIn, EntryQuery
from service.api.base import Blueprint
from service.operations import correcting
from service.operations.ledger import journal

blp = Blueprint("journal", "What was done, by whom and when, and the proof that nobody changed it since")

blp.listing("/journal", journal.list_entries, EntryQuery, right="read_journal")
blp.read("/journal/chain", journal.verify_chain, right="read_journal")
blp.listing("/journal/<number:seq>/items", journal.list_items_of_entry, right="read_work")
blp.write("/journal/<number:seq>/corrections", correcting.correct_entry, EntryCorrectionIn)
