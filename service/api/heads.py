"""Heads of the journal: the chain for a signer elsewhere, the signed heads, and all of them on paper."""

from flask import Response, current_app

from schemas.heads import ChainQuery, HeadIn
from service.api.base import Blueprint
from service.api.files import PDF, as_file, file_doc
from service.database import reading
from service.operations.door.shop import the_site
from service.operations.ledger import heads
from service.reports.drawing.heads import heads_pdf

blp = Blueprint("heads", "Heads of the journal, to be kept elsewhere: they show later that nothing was taken out")

blp.listing("/chain", heads.list_chain, ChainQuery, right="read_chain")
blp.listing("/heads", heads.list_heads, right="read_chain")
blp.write("/heads", heads.keep_head, HeadIn)


def print_heads() -> Response:
    """How far the journal has come, and the signed heads, newest first, to be printed and kept (PDF)."""
    at = current_app.extensions["clock"]()
    with reading():
        site, now, kept = the_site(), heads.printed_head(), heads.newest_heads()
    return as_file(heads_pdf(kept, now=now, shop=site.name, zone=site.zone, at=at), PDF, name="heads.pdf")


blp.custom("/heads.pdf", print_heads, right="read_chain", doc=file_doc("Heads of the journal on paper", PDF))
