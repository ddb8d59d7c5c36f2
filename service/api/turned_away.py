"""How often a key came for what it does not open (403): the first time in the journal, repeats in one entry a minute.

A client that goes on asking for a closed route would make the journal grow with every request. So the first is written
down at once, with all that was asked; what the same key asks of the same right within a minute of it is counted, and
one entry says how often it was, written by whatever request comes next. Where there is no room for one more pair, it
is written down each time.
"""

import logging
import struct
from datetime import UTC, datetime

from peewee import PeeweeException

from service.api.shared_memory import SharedMemory
from service.api.strangers import EACH
from service.database import connected
from service.operations.door.acts import RIGHTS
from service.operations.door.refusals import Refusal
from service.operations.door.strangers import count_turned_away

# A key and the number of a right; how often since then, after the entry that was written when; 0 is no key.
_PAIR = struct.Struct("<qqqd")
_PAIRS = 512
# When the oldest count that waits to be written down began; 0 if none does. Read by every request.
_DUE = struct.Struct("<d")
_NAMES = tuple(sorted(RIGHTS))

log = logging.getLogger("potmark")


class TurnedAway:
    """The counts of the whole service."""

    def __init__(self) -> None:
        self._memory = SharedMemory(_DUE.size + _PAIRS * _PAIR.size)

    def is_first(self, key: int, right: str, at: datetime) -> bool:
        """Count one; is it the first of its key and right for a minute, which the journal has at once?"""
        number, now = _NAMES.index(right), at.timestamp()
        with self._memory.alone():
            free = None
            for place in range(_PAIRS):
                its_key, its_right, count, since = self._pair(place)
                over = not since <= now < since + EACH.total_seconds()
                if (its_key, its_right) == (key, number):
                    if over and not count:
                        self._put(place, key, number, 0, now)
                        return True
                    self._put(place, key, number, count + 1, since)
                    if not self._due():
                        _DUE.pack_into(self._memory.bytes, 0, since)
                    return False
                if free is None and not count and (over or not its_key):
                    free = place
                if not its_key:
                    break
            if free is not None:
                self._put(free, key, number, 0, now)
            return True

    def write_down(self, at: datetime) -> None:
        """Let the journal have the counts that are a minute old; never in anyone's way."""
        due = self._due()
        if not due or due <= at.timestamp() < due + EACH.total_seconds():
            return
        for key, right, count, since in self._take(at.timestamp()):
            try:
                with connected():
                    count_turned_away(
                        key=key, right=_NAMES[right], times=count, since=datetime.fromtimestamp(since, UTC), at=at
                    )
            except (PeeweeException, Refusal) as trouble:
                log.warning("not journalled: key %s came for %s %s times more: %s", key, _NAMES[right], count, trouble)

    def _take(self, now: float) -> list[tuple[int, int, int, float]]:
        """What is to be written down now, and by nobody else."""
        taken, next_due = [], 0.0
        with self._memory.alone():
            for place in range(_PAIRS):
                key, right, count, since = self._pair(place)
                if not key:
                    break
                if count and since <= now < since + EACH.total_seconds():
                    next_due = min(next_due or since, since)
                elif count:
                    self._put(place, key, right, 0, now)
                    taken.append((key, right, count, since))
            _DUE.pack_into(self._memory.bytes, 0, next_due)
        return taken

    def _due(self) -> float:
        return float(_DUE.unpack_from(self._memory.bytes)[0])

    def _pair(self, place: int) -> tuple[int, int, int, float]:
        found: tuple[int, int, int, float] = _PAIR.unpack_from(self._memory.bytes, _DUE.size + place * _PAIR.size)
        return found

    def _put(self, place: int, key: int, right: int, count: int, since: float) -> None:
        _PAIR.pack_into(self._memory.bytes, _DUE.size + place * _PAIR.size, key, right, count, since)
