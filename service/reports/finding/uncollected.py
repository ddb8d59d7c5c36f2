"""A stretch of work without the search for cycles: tens of thousands of rows that are in none live through it."""

import gc
import threading
from collections.abc import Iterator
from contextlib import contextmanager

_lock = threading.Lock()
_at_work = 0
_was_on = False


@contextmanager
def uncollected() -> Iterator[None]:
    """Let the interpreter's collector rest for the block, in whatever thread; the last one out lets it go on.

    What nothing refers to any more goes at once all the same: only cycles wait.
    """
    global _at_work, _was_on
    with _lock:
        if _at_work == 0:
            _was_on = gc.isenabled()
            gc.disable()
        _at_work += 1
    try:
        yield
    finally:
        with _lock:
            _at_work -= 1
            if _at_work == 0 and _was_on:
                gc.enable()
