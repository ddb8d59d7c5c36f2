"""How many requests no key opened (401), counted together by all server processes until the journal has them.

The first after a quiet minute is written down at once; those that follow are summed up by the first request that comes
a minute later, so that guessing, however fast, writes one entry a minute.
"""

import logging
import struct
from datetime import UTC, datetime, timedelta

from peewee import PeeweeException

from service.api.shared_memory import SharedMemory
from service.database import connected
from service.operations.door.refusals import Refusal
from service.operations.door.strangers import count_strangers

EACH = timedelta(minutes=1)
# How many were not written down yet, since when, and when the last entry was written.
_SUM = struct.Struct("<qdd")

log = logging.getLogger("potmark")


class Strangers:
    """One count for the whole service."""

    def __init__(self) -> None:
        self._memory = SharedMemory(_SUM.size)

    def came(self, at: datetime) -> None:
        """Count one."""
        self._add(1, at.timestamp())

    def write_down(self, at: datetime) -> None:
        """Let the journal have what was counted, if a minute has passed since it last had; never in anyone's way."""
        if not _SUM.unpack_from(self._memory.bytes)[0]:
            return
        count, since = self._take(at.timestamp())
        if not count:
            return
        try:
            with connected():
                count_strangers(turned_away=count, since=datetime.fromtimestamp(since, UTC), at=at)
        except (PeeweeException, Refusal) as trouble:
            log.warning("not journalled yet: %s requests without a key that opens: %s", count, trouble)
            self._add(count, since)

    def _add(self, count: int, since: float) -> None:
        with self._memory.alone():
            before, begun, written = _SUM.unpack_from(self._memory.bytes)
            _SUM.pack_into(self._memory.bytes, 0, before + count, min(begun, since) if before else since, written)

    def _take(self, now: float) -> tuple[int, float]:
        """What is to be written down now, and by nobody else; nothing before a minute has passed."""
        with self._memory.alone():
            count, since, written = _SUM.unpack_from(self._memory.bytes)
            if not count or written <= now < written + EACH.total_seconds():
                return 0, 0.0
            _SUM.pack_into(self._memory.bytes, 0, 0, 0.0, now)
            return count, since
