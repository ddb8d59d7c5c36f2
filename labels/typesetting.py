"""Where pages are set: one after another, each in a thread of its own."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from threading import Lock


def set_alone(turn: Lock, draw: Callable[[], bytes]) -> bytes:
    """What ``draw`` gives, in its turn: a font map of the text engine isn't safe to share between threads.

    In a thread of its own its calls begin at the bottom of a stack. CPython 3.11 keeps a thread's frames in pieces of
    16 KB, and a call that reaches beyond the last one asks the system for another, each time: where a request's own
    depth put that into the innermost calls of the engine, the same page took up to a third longer.
    """
    with turn, ThreadPoolExecutor(max_workers=1) as thread:
        return thread.submit(draw).result()
