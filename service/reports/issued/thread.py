"""pyHanko's calls run an event loop of their own, which a thread that already runs one does not allow."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

Result = TypeVar("Result")


def in_a_thread_of_its_own(work: Callable[[], Result]) -> Result:
    """What ``work`` returns or raises, whatever the caller's thread is running."""
    with ThreadPoolExecutor(max_workers=1) as thread:
        return thread.submit(work).result()
