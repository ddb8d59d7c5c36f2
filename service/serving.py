"""The server in the foreground: gunicorn with threads, started from the checked settings and from nothing else."""

import errno
import os
import signal
import socket
from collections.abc import Callable
from typing import Any

from service.config import Settings
from service.opening import Trouble

# Long enough for the report of a large trace that is just being set.
_GRACE_S = 30


def check_address(bind: str) -> None:
    """Say at once, and in words, if nobody can listen there."""
    host, _, port = bind.rpartition(":")
    try:
        family, kind, protocol, _, address = socket.getaddrinfo(host.strip("[]"), int(port), type=socket.SOCK_STREAM)[0]
        with socket.socket(family, kind, protocol) as trial:
            trial.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            trial.bind(address)
            trial.listen()
    except OSError as error:
        if error.errno == errno.EADDRINUSE:
            raise Trouble(
                f"Something else listens at {bind} already; stop it, or set POTMARK_BIND to another port."
            ) from None
        if error.errno == errno.EACCES:
            raise Trouble(f"This user may not listen at {bind}; set POTMARK_BIND to a port above 1023.") from None
        raise Trouble(f"Nobody can listen at {bind}: {error.strerror}. POTMARK_BIND names the address.") from None


def address(bind: str) -> str:
    """Where a browser on this machine finds it; one that listens everywhere is found here, too."""
    host, _, port = bind.rpartition(":")
    return f"http://{'127.0.0.1' if host in ('0.0.0.0', '[::]') else host}:{port}"


def serve(settings: Settings, *, ready: Callable[[], None]) -> None:
    """Serve until SIGTERM or SIGINT, then finish what is under way. ``ready`` is called once requests are taken."""
    from gunicorn.app.base import BaseApplication

    class Server(BaseApplication):
        def load_config(self) -> None:
            for name, value in _options(settings, ready).items():
                self.cfg.set(name, value)

        def load(self) -> Any:
            from service.app import create_app

            return create_app(settings)

    try:
        Server().run()
    except SystemExit as stop:
        # gunicorn leaves this way after an orderly stop, too.
        if stop.code not in (0, None):
            raise Trouble(
                "The server stopped because it could not start its processes; its messages are above."
            ) from None


def _options(settings: Settings, ready: Callable[[], None]) -> dict[str, Any]:
    def when_ready(server: Any) -> None:
        # Ctrl-C reaches all processes of the terminal at once; it is to end as gently as SIGTERM does.
        signal.signal(signal.SIGINT, lambda *_: os.kill(os.getpid(), signal.SIGTERM))
        ready()

    def post_worker_init(worker: Any) -> None:
        signal.signal(signal.SIGINT, signal.SIG_IGN)

    return {
        "bind": settings.bind,
        "workers": settings.workers,
        "threads": settings.threads,
        "worker_class": "gthread",
        # The application makes no connection before the fork, so that it can be loaded once and shared.
        "preload_app": True,
        "graceful_timeout": _GRACE_S,
        "timeout": 60,
        "control_socket_disable": True,
        "loglevel": "warning",
        "proc_name": "potmark",
        "when_ready": when_ready,
        "post_worker_init": post_worker_init,
    }
