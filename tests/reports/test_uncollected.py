"""The collector rests while an investigation reads, in whatever thread, and goes on after the last of them."""

import gc
import threading

import pytest

from service.reports.finding.uncollected import uncollected


def test_it_rests_until_the_last_thread_is_done() -> None:
    entered, leave = threading.Event(), threading.Event()

    def another() -> None:
        with uncollected():
            entered.set()
            leave.wait(10)

    was_on = gc.isenabled()
    gc.enable()
    try:
        thread = threading.Thread(target=another)
        with uncollected():
            thread.start()
            assert entered.wait(10)
        assert not gc.isenabled()
        leave.set()
        thread.join()
        assert gc.isenabled()
    finally:
        leave.set()
        if not was_on:
            gc.disable()


@pytest.mark.parametrize("on", [True, False])
def test_what_goes_wrong_leaves_it_as_it_was(on: bool) -> None:
    was_on = gc.isenabled()
    (gc.enable if on else gc.disable)()
    try:
        with pytest.raises(ValueError, match="wrong"), uncollected():
            raise ValueError("wrong")
        assert gc.isenabled() is on
    finally:
        (gc.enable if was_on else gc.disable)()
