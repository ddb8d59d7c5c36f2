"""The server in the foreground, started from the checked settings and from nothing else.

gunicorn's master forks the processes, watches over them and stops them; in each of them one loop waits for all callers
(worker, callers, connection) and threads work for those whose request is there.
"""

import errno
import gc
import os
import resource
import shutil
import signal
import socket
import ssl
import tempfile
from collections.abc import Callable
from typing import Any

from service.config import Settings
from service.opening import Trouble

# Long enough for the report of a large trace that is just being set.
_GRACE_S = 30
# Callers of one process. Each takes some 20 kB while it is silent, and a file.
_CONNECTIONS = 4000
_OTHER_FILES = 256


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


def address(settings: Settings) -> str:
    """Where a browser on this machine finds it; one that listens everywhere is found here, too."""
    host, _, port = settings.bind.rpartition(":")
    scheme = "https" if settings.tls_certificate else "http"
    return f"{scheme}://{'127.0.0.1' if host in ('0.0.0.0', '[::]') else host}:{port}"


def tls_context(settings: Settings) -> ssl.SSLContext | None:
    """The certificate and its key, ready for use, or nothing if there are none; trouble is said in words."""
    if not settings.tls_certificate:
        return None
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    context.set_alpn_protocols(["http/1.1"])
    for name, file in (("CERTIFICATE", settings.tls_certificate), ("KEY", settings.tls_key)):
        try:
            with open(file, "rb"):
                pass
        except OSError as error:
            raise Trouble(f"{file}, which POTMARK_TLS_{name} names, cannot be read: {error.strerror}.") from None
    try:
        # A key behind a passphrase would be asked for on the terminal; a service has nobody to answer.
        context.load_cert_chain(settings.tls_certificate, settings.tls_key, password=lambda: b"")
    except ssl.SSLError as error:
        if error.reason == "KEY_VALUES_MISMATCH":
            raise Trouble(f"The key in {settings.tls_key} is not that of {settings.tls_certificate}.") from None
        raise Trouble(
            f"{settings.tls_certificate} and {settings.tls_key} must hold a certificate (with those between it and "
            "its authority) and its key, both in PEM and the key without a passphrase."
        ) from None
    return context


def serve(settings: Settings, *, ready: Callable[[], None]) -> None:
    """Serve until SIGTERM or SIGINT, then finish what is under way. ``ready`` is called once requests are taken."""
    from gunicorn.app.base import BaseApplication

    tls = tls_context(settings)
    most = _connections()
    # Before anything that counts is loaded.
    counts, master = tempfile.mkdtemp(prefix="potmark-counts-"), os.getpid()
    os.environ["PROMETHEUS_MULTIPROC_DIR"] = counts

    class Server(BaseApplication):
        def load_config(self) -> None:
            for name, value in _options(settings, ready).items():
                self.cfg.set(name, value)

        def load(self) -> Any:
            gc.disable()  # until all is loaded
            from service.api.access import shows_key
            from service.app import create_app
            from service.pages.verifying import may_send
            from service.serving.connection import Limits

            app = create_app(settings)
            return app, {
                "is_known": lambda environ: may_send(app, environ) or shows_key(environ),
                "threads": settings.threads,
                "most": most,
                "longest_body": settings.upload_mb * 1_000_000,
                "limits": Limits(),
                "tls": tls,
            }

    try:
        Server().run()
    except SystemExit as stop:
        # gunicorn leaves this way after an orderly stop, too.
        if stop.code not in (0, None):
            raise Trouble(
                "The server stopped because it could not start its processes; its messages are above."
            ) from None
    finally:
        # A process that gunicorn forked leaves through here, too, while others still work and count.
        if os.getpid() == master:
            shutil.rmtree(counts, ignore_errors=True)


def _connections() -> int:
    """How many connections each process may have open, as the system lets it have files."""
    allowed, most = resource.getrlimit(resource.RLIMIT_NOFILE)
    wanted = _CONNECTIONS + _OTHER_FILES
    if allowed != resource.RLIM_INFINITY and allowed < wanted:
        allowed = wanted if most == resource.RLIM_INFINITY else min(wanted, most)
        resource.setrlimit(resource.RLIMIT_NOFILE, (allowed, most))  # up to what root has set, anyone may
    return _CONNECTIONS if allowed == resource.RLIM_INFINITY else max(64, min(_CONNECTIONS, allowed - _OTHER_FILES))


def _options(settings: Settings, ready: Callable[[], None]) -> dict[str, Any]:
    def when_ready(server: Any) -> None:
        # Ctrl-C reaches all processes of the terminal at once; it is to end as gently as SIGTERM does.
        signal.signal(signal.SIGINT, lambda *_: os.kill(os.getpid(), signal.SIGTERM))
        # What is loaded stays: looking through it again and again, at the stop above all, would take most of a second.
        gc.collect()
        gc.freeze()
        gc.enable()
        ready()

    def child_exit(server: Any, worker: Any) -> None:
        from prometheus_client.multiprocess import mark_process_dead

        mark_process_dead(worker.pid)

    def post_worker_init(worker: Any) -> None:
        signal.signal(signal.SIGINT, signal.SIG_IGN)

    return {
        "bind": settings.bind,
        "workers": settings.workers,
        "worker_class": "service.serving.worker.CallerWorker",
        # The application makes no connection before the fork, so that it can be loaded once and shared.
        "preload_app": True,
        "graceful_timeout": _GRACE_S,
        "timeout": 60,
        "control_socket_disable": True,
        "loglevel": "warning",
        "proc_name": "potmark",
        "when_ready": when_ready,
        "post_worker_init": post_worker_init,
        "child_exit": child_exit,
    }
