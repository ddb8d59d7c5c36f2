"""Anything with a code, and traces back and forward."""

from schemas.trace import AnyItemOut, SharingOut, TraceOut, TraceQuery
from service.api.base import Blueprint
from service.operations.ledger import tracing

blp = Blueprint("trace", "Anything with a code: how it stands, what it was made of, what was made of it")

blp.read("/items/<code:code>", tracing.read_item, AnyItemOut)
blp.read("/items/<code:code>/trace", tracing.read_trace, TraceOut, TraceQuery)
blp.read("/parts/<code(P):code>/sharing", tracing.read_sharing, SharingOut)
