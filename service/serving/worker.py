"""A server process: gunicorn's master forks it, watches over it and stops it; what it does is here."""

import asyncio
import gc
import os
import signal
import sys
from typing import Any

from gunicorn.workers.base import Worker

from service.serving.callers import Callers

# More threads than processors hold the lock of the interpreter by turns; the loop that listens needs it soon.
_TURN_S = 0.001
_HEARTBEAT_S = 1.0


class CallerWorker(Worker):
    """One loop that waits for callers, and threads that work for them."""

    def run(self) -> None:
        sys.setswitchinterval(_TURN_S)
        with asyncio.Runner() as runner:
            runner.run(self._serve())
        gc.freeze()

    async def _serve(self) -> None:
        loop = asyncio.get_running_loop()
        stop = asyncio.Event()
        loop.add_signal_handler(signal.SIGTERM, stop.set)
        application, options = self.wsgi
        callers = Callers(application, loop=loop, **options)
        accepting = [loop.create_task(callers.accept(listener.sock)) for listener in self.sockets]
        while not stop.is_set() and self.ppid == os.getppid():
            self.notify()
            try:
                async with asyncio.timeout(_HEARTBEAT_S):
                    await stop.wait()
            except TimeoutError:
                continue
        for task in accepting:
            task.cancel()
        await callers.finish(self.cfg.graceful_timeout)

    def handle_abort(self, sig: int, frame: Any) -> None:
        """The master gives this process up, since it has not been heard of for too long."""
        os._exit(1)
