"""create_app: the one place where things are wired together. It never connects to the database."""

from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

from flask import Flask, Response, g, request

from schemas.other_units import Converter, set_converter
from service.api import access, conventions, observing, problems, rates, routes, spec
from service.api.bodies import WholeRequest
from service.api.strangers import Strangers
from service.api.throttle import Throttle
from service.api.turned_away import TurnedAway
from service.config import Settings
from service.database import database, open_database
from service.formulas.units import UNITS, convert
from service.opening import secrets_key_file
from service.operations.door import signatures
from service.pages import visiting
from service.sending import addresses

Clock = Callable[[], datetime]


def utc_now() -> datetime:
    return datetime.now(UTC)


def create_app(settings: Settings, *, clock: Clock = utc_now) -> Flask:
    """The WSGI application for these settings."""
    # Threads that read, and as many that act.
    open_database(settings.database, connections=2 * settings.threads)
    signatures.look_in(secrets_key_file(settings))
    addresses.allow_own(settings.webhook_network)
    set_converter(Converter(kinds=UNITS, convert=lambda value, unit, to: convert(value=value, unit=unit, to=to)))
    app = Flask("service", static_folder=None)
    app.request_class = WholeRequest
    app.json.sort_keys = False  # type: ignore[attr-defined]
    app.json.ensure_ascii = False  # type: ignore[attr-defined]
    app.config["MAX_CONTENT_LENGTH"] = settings.upload_mb * 1_000_000
    app.config["PROPAGATE_EXCEPTIONS"] = False
    app.extensions["clock"] = clock
    app.extensions["throttle"] = Throttle()
    app.extensions["strangers"] = Strangers()
    app.extensions["turned_away"] = TurnedAway()
    app.extensions["settings"] = settings
    observing.register(app, log_to=settings.access_log)
    spec.configure(app)
    conventions.register(app)
    rates.register(app, settings.requests_per_min)
    problems.register(app)
    routes.register(app)

    @app.before_request
    def enter() -> Any:
        """Connect, and let nobody past without a right."""
        if request.routing_exception is not None or routes.is_open(request.endpoint):
            return None
        right = routes.right_of(app, request.endpoint)
        if routes.is_page(app, request.endpoint):
            return visiting.let_in(right)
        database.connect(reuse_if_open=True)
        access.let_in(right)
        return None

    @app.after_request
    def count(response: Response) -> Response:
        """Whom no key let in is counted, and by and by the journal says how many they were."""
        strangers: Strangers = app.extensions["strangers"]
        if response.status_code == 401 or g.get("wrong_key"):
            strangers.came(app.extensions["clock"]())
        strangers.write_down(app.extensions["clock"]())
        app.extensions["turned_away"].write_down(app.extensions["clock"]())
        return response

    @app.after_request
    def headers(response: Response) -> Response:
        response.headers.setdefault("X-Content-Type-Options", "nosniff")
        response.headers.setdefault("Referrer-Policy", "same-origin")
        response.headers.setdefault("X-Frame-Options", "DENY")
        response.headers.setdefault(
            "Content-Security-Policy",
            "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src 'self'; "
            "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'",
        )
        if request.path.startswith("/v1"):
            response.headers.setdefault("Cache-Control", "no-store")
        return response

    @app.teardown_request
    def leave(error: BaseException | None) -> None:
        if not database.is_closed():
            database.close()

    return app
