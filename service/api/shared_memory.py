"""Memory that all server processes share: counts of the whole service, forgotten at its stop.

Each process is forked from the one that made the application. The lock is one of the system's, which a killed process
lets go; it is between processes, so another one is between the threads of each. What a library keeps for each process,
or in a database of its own, is either several times as much as was allowed or another thing to run.
"""

import fcntl
import mmap
import os
import tempfile
import threading
from collections.abc import Iterator
from contextlib import contextmanager


class SharedMemory:
    """So many bytes, all zero at first."""

    def __init__(self, size: int) -> None:
        self._file = tempfile.TemporaryFile()  # noqa: SIM115 - as long as the application
        os.truncate(self._file.fileno(), size)
        self.bytes = mmap.mmap(self._file.fileno(), size)
        self._mine = threading.Lock()

    @contextmanager
    def alone(self, at: int = 0, size: int = 0) -> Iterator[None]:
        """Nobody else has these bytes meanwhile; without a size all that come after ``at``."""
        with self._mine:
            fcntl.lockf(self._file, fcntl.LOCK_EX, size, at)
            try:
                yield
            finally:
                fcntl.lockf(self._file, fcntl.LOCK_UN, size, at)
