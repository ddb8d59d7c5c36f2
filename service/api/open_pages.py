"""What answers without a key: health, the API's description, the pages that explain problems, and a label's short address."""

from importlib.resources import files
from typing import Any

from flask import Blueprint, jsonify, render_template, send_from_directory
from flask_smorest import abort

from service.api.problems import DOOR, status_of
from service.database import database, reading
from service.operations.refusals import every_refusal

blp = Blueprint("open", __name__, template_folder="../pages/templates", static_folder="../pages/static", static_url_path="/static")


@blp.get("/healthz")
def healthz() -> Any:
    """Alive, and the database answers."""
    with reading():
        database.execute_sql("SELECT 1")
    return jsonify(status="ok")


@blp.get("/")
def front() -> Any:
    return render_template("front.html")


@blp.get("/docs")
def documentation() -> Any:
    return render_template("documentation.html")


@blp.get("/docs/static/<path:name>")
def documentation_static(name: str) -> Any:
    return send_from_directory(str(files("swagger_ui") / "static"), name)


@blp.get("/problems")
def problems() -> Any:
    return render_template("problems.html", reasons=sorted(_reasons().items()))


@blp.get("/problems/<kind>")
def problem_page(kind: str) -> Any:
    reason = _reasons().get(kind)
    if reason is None:
        abort(404)
    return render_template("problem.html", kind=kind, reason=reason)


def _reasons() -> dict[str, dict[str, Any]]:
    shop = {
        cls.kind: {"title": cls.title, "text": " ".join((cls.__doc__ or "").split()), "status": status_of(cls)}
        for cls in every_refusal()
    }
    door = {kind: {"title": title, "text": text, "status": None} for kind, (title, text) in DOOR.items()}
    return {**door, **shop}
