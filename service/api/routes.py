"""All blueprints, and which right opens each of their routes."""

from flask import Flask

from service.api import (
    building,
    calculations,
    changes,
    charts,
    containers,
    cost_papers,
    costs,
    cures,
    designs,
    documents,
    exports,
    forms,
    heads,
    holds,
    imports,
    issues,
    journal,
    labels,
    lots,
    mixes,
    observing,
    orders,
    parts,
    people,
    planning,
    recalls,
    registers,
    reports,
    scales,
    schedules,
    systems,
    trace,
    webhooks,
)
from service.api.base import Blueprint
from service.api.spec import make_api
from service.pages import (
    board,
    container,
    cure,
    decimals,
    guides,
    label_address,
    open_pages,
    paper,
    part,
    pot,
    printing,
    receive,
    rounds,
    scan,
    settling,
    signed,
    static_files,
    tablets,
    telling,
    thing,
    verifying,
)
from service.pages import costs as cost_pages
from service.pages import recalls as recall_pages
from service.pages.base import ThingInPath

BLUEPRINTS: tuple[Blueprint, ...] = (
    people.blp,
    registers.blp,
    imports.blp,
    exports.blp,
    lots.blp,
    containers.blp,
    documents.blp,
    forms.blp,
    journal.blp,
    changes.blp,
    heads.blp,
    holds.blp,
    recalls.blp,
    trace.blp,
    labels.blp,
    calculations.blp,
    charts.blp,
    schedules.blp,
    cures.blp,
    designs.blp,
    orders.blp,
    costs.blp,
    cost_papers.blp,
    parts.blp,
    scales.blp,
    systems.blp,
    mixes.blp,
    planning.blp,
    building.blp,
    reports.blp,
    issues.blp,
    issues.open_blp,
    webhooks.blp,
)

_OPEN_PREFIXES = (
    "open.",
    "open-labels.",
    "open-static.",
    "open-issues.",
    "open-verify.",
    "open-guide.",
    "open-health.",
    "api-docs.",
)


def register(app: Flask) -> None:
    app.register_blueprint(observing.blp)
    app.register_blueprint(open_pages.blp)
    app.register_blueprint(guides.blp)
    app.register_blueprint(static_files.blp)
    app.register_blueprint(label_address.blp)
    verifying.register(app)
    api = make_api(app)
    rights: dict[str, str] = {}
    for blp in BLUEPRINTS:
        api.register_blueprint(blp)
        rights.update(blp.rights)
    app.extensions["rights"] = rights
    _register_pages(app)


def _register_pages(app: Flask) -> None:
    """What people see, each page with the right that opens it."""
    telling.register(app)
    signed.register(app)
    decimals.register(app)
    paper.register(app)
    app.url_map.converters["thing"] = ThingInPath
    rights: dict[str, str] = {**scan.RIGHTS, **board.RIGHTS, **rounds.RIGHTS, **settling.RIGHTS, **tablets.RIGHTS}
    rights |= {**paper.RIGHTS, **receive.RIGHTS, **recall_pages.RIGHTS, **cost_pages.RIGHTS}
    for pages in (container.blp, pot.blp, part.blp, cure.blp, *thing.THINGS, *printing.OTHERS):
        app.register_blueprint(pages)
        rights.update(pages.rights)
    app.register_blueprint(scan.blp)
    app.register_blueprint(board.blp)
    app.register_blueprint(rounds.blp)
    app.register_blueprint(settling.blp)
    app.register_blueprint(tablets.blp)
    app.register_blueprint(paper.blp)
    app.register_blueprint(receive.blp)
    app.register_blueprint(recall_pages.blp)
    app.register_blueprint(cost_pages.blp)
    app.extensions["rights of pages"] = rights


def is_open(endpoint: str | None) -> bool:
    return endpoint is not None and endpoint.startswith(_OPEN_PREFIXES)


def is_page(app: Flask, endpoint: str | None) -> bool:
    return endpoint in app.extensions["rights of pages"]


def right_of(app: Flask, endpoint: str | None) -> str | None:
    """The right that opens this endpoint; nothing means that nobody may."""
    rights: dict[str, str] = {**app.extensions["rights"], **app.extensions["rights of pages"]}
    return rights.get(endpoint or "")
