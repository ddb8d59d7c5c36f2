"""All callers of one server process: who is let in, who has to go when it is full, and the threads that work."""

import asyncio
import logging
import socket
import ssl
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor

from service.serving.connection import Connection, Limits, Step
from service.serving.wsgi import Answer, Application, Environ, run

log = logging.getLogger("potmark.serving")

_READS = ("GET", "HEAD", "OPTIONS")
# When there are more connections than there may be, those of the first step go first, the oldest of them before others.
_FIRST_TO_GO = (Step.HEAD, Step.LINGER, Step.ANSWER, Step.BODY)


class Callers:
    """Connections by the step on which they stand, in the order in which they came to it."""

    def __init__(
        self,
        application: Application,
        is_known: Callable[[Environ], bool],
        *,
        loop: asyncio.AbstractEventLoop,
        threads: int,
        most: int,
        longest_body: int,
        limits: Limits,
        tls: ssl.SSLContext | None,
    ) -> None:
        self.loop = loop
        self.limits = limits
        self.longest_body = longest_body
        self.stopping = False
        self._application = application
        self._is_known = is_known
        self._tls = tls
        self._most = most
        self._by_step: dict[Step, dict[Connection, None]] = {step: {} for step in Step}
        self._step_of: dict[Connection, Step] = {}
        self._room = asyncio.Event()
        # Acts may have to wait for one another, all of them for one that takes long; what is read never waits for them.
        self._readers = ThreadPoolExecutor(threads, thread_name_prefix="read")
        self._writers = ThreadPoolExecutor(threads, thread_name_prefix="act")

    def __len__(self) -> int:
        return len(self._step_of)

    async def accept(self, listener: socket.socket) -> None:
        """Let callers in, for ever."""
        welcomes: set[asyncio.Task[None]] = set()
        while True:
            await self._make_room()
            try:
                caller, _ = await self.loop.sock_accept(listener)
            except OSError as error:
                log.warning("A connection could not be taken: %s.", error.strerror)
                await asyncio.sleep(0.2)
                continue
            welcome = self.loop.create_task(self._welcome(caller))
            welcomes.add(welcome)
            welcome.add_done_callback(welcomes.discard)

    async def _make_room(self) -> None:
        while len(self) >= self._most:
            oldest = next((c for step in _FIRST_TO_GO for c in self._by_step[step]), None)
            if oldest is not None:
                oldest.abort()
                return
            self._room.clear()
            await self._room.wait()

    async def _welcome(self, caller: socket.socket) -> None:
        caller.setblocking(False)
        connection = Connection(self)
        connection.give_up = asyncio.current_task().cancel  # type: ignore[union-attr]
        self.stands(connection)
        limit = None if self._tls is None else self.limits.head_s
        try:
            await self.loop.connect_accepted_socket(
                lambda: connection,
                caller,
                ssl=self._tls,
                ssl_handshake_timeout=limit,
                ssl_shutdown_timeout=None if self._tls is None else self.limits.grace_s,
            )
        except (OSError, asyncio.CancelledError):
            caller.close()
            connection.connection_lost(None)

    def stands(self, connection: Connection) -> None:
        """The connection has come to another step."""
        self._by_step[self._step_of.get(connection, Step.GONE)].pop(connection, None)
        self._step_of[connection] = connection.step
        self._by_step[connection.step][connection] = None
        if connection.step is Step.ANSWER:
            self._bound_unsent()

    def _bound_unsent(self) -> None:
        answering = self._by_step[Step.ANSWER]
        unsent = sum(connection.unsent for connection in answering)
        while unsent > self.limits.unsent_bytes and len(answering) > 1:
            oldest = next(iter(answering))
            unsent -= oldest.unsent
            oldest.abort()

    def left(self, connection: Connection) -> None:
        self._by_step[self._step_of.pop(connection, Step.GONE)].pop(connection, None)
        self._room.set()

    # Threads.

    def work(self, connection: Connection, environ: Environ) -> None:
        """Answer a request in a thread."""
        pool = self._readers if environ["REQUEST_METHOD"] in _READS else self._writers
        job = pool.submit(run, self._application, environ, self.limits.memory_bytes)
        job.add_done_callback(lambda done: self._tell(self._answered, connection, done))

    def ask_whether_known(self, connection: Connection, environ: Environ) -> None:
        """Find out in a thread whether the caller has shown a key that opens something."""
        job = self._readers.submit(self._is_known, environ)
        job.add_done_callback(lambda done: self._tell(self._found_out, connection, done))

    def _tell(self, what: Callable[..., None], *arguments: object) -> None:
        if not self.loop.is_closed():
            self.loop.call_soon_threadsafe(what, *arguments)

    @staticmethod
    def _answered(connection: Connection, done: Future[Answer]) -> None:
        if not done.cancelled():
            connection.answer(done.result())

    @staticmethod
    def _found_out(connection: Connection, done: Future[bool]) -> None:
        if not done.cancelled():
            connection.known(done.exception() is None and done.result())

    # The end.

    async def finish(self, at_most_s: float) -> None:
        """End what is silent at once, and wait for what is under way."""
        self.stopping = True
        for connection in list(self._step_of):
            connection.stop()
        until = self.loop.time() + at_most_s
        while self._step_of and self.loop.time() < until:
            self._room.clear()
            try:
                async with asyncio.timeout_at(until):
                    await self._room.wait()
            except TimeoutError:
                break
        for connection in list(self._step_of):
            connection.abort()
        self._readers.shutdown(wait=False, cancel_futures=True)
        self._writers.shutdown(wait=False, cancel_futures=True)
