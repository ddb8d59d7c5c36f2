"""Goods in: a receipt typed, or begun by the supplier's GS1 code."""

from typing import Any

import marshmallow as ma
from flask import Blueprint, Response, current_app, redirect, render_template, request

from schemas.lots import DeliveryIn
from service.api.problems import pointers, status_of
from service.database import reading
from service.operations.door.operation import KeptAnswer
from service.operations.door.refusals import Refusal
from service.operations.door.shop import the_site
from service.operations.stock.places import list_places
from service.operations.stock.receiving import receive_delivery
from service.operations.stock.registers import list_materials, list_suppliers
from service.operations.stock.supplier_codes import SupplierCode, read_supplier_code
from service.pages.base import Trouble, as_json, code_of, new_key, page_act, way_out_here
from service.pages.visiting import who

blp = Blueprint("page-receive", __name__, template_folder="templates")
RIGHTS = {"page-receive.receive": "read_account", "page-receive.received": "receive_delivery"}
_AS_MANY_AS_A_SHOP_HAS = 200


@blp.get("/receive")
def receive() -> Any:
    """What came, from whom, by which note; with a supplier's code, what that says is filled in."""
    # FNC1 as it is written for people: a form carries no control character.
    text = request.args.get("supplier_code", "").strip().replace("\x1d", "<GS>")[:300]
    if not text:
        return _page()
    try:
        with reading():
            said = read_supplier_code(text=text)
    except Refusal as no:
        return _page(Trouble(no.sentence, "Type what stands on the goods."), 422)
    return _page(typed={**_filled(said), "supplier_code": text})


@blp.post("/receive")
def received() -> Any:
    """Receive it. Its labels are next."""
    try:
        fields = DeliveryIn().load(as_json(DeliveryIn(), request.form))
        done = receive_delivery(page_act(fields), **fields)
    except ma.ValidationError as wrong:
        found = {e["pointer"].strip("/"): e["detail"] for e in pointers(wrong.messages)}
        return _page(Trouble(next(iter(found.values())), fields=found), 422, request.form)
    except Refusal as no:
        trouble = Trouble(no.sentence, way_out_here(no), no.kind, facts=no.facts)
        return _page(trouble, status_of(type(no)), request.form)
    lot = done.value if isinstance(done, KeptAnswer) else done
    return redirect(f"/I/{code_of(lot)}/labels", 303)


def _filled(said: SupplierCode) -> dict[str, Any]:
    """The fields that a code fills in, as they would have been typed."""
    facts = {
        "material": said.material, "makers_lot": said.makers_lot, "expires_on": said.expires_on or said.best_before,
        "made_on": None if said.expires_on or said.best_before else said.made_on,
        "containers.0.net_g": None if said.net_mg is None else f"{said.net_mg / 1000:g}",
    }  # fmt: skip
    return {name: str(value) for name, value in facts.items() if value is not None}


def _page(trouble: Trouble | None = None, status: int = 200, typed: Any = None) -> Response:
    with reading():
        shown = {
            "site": the_site(),
            "materials": list_materials(after=None, limit=_AS_MANY_AS_A_SHOP_HAS).rows,
            "suppliers": list_suppliers(after=None, limit=_AS_MANY_AS_A_SHOP_HAS).rows,
            "places": list_places(after=None, limit=_AS_MANY_AS_A_SHOP_HAS).rows,
        }
    html = render_template(
        "receive.html", at=current_app.extensions["clock"](), who=who, new_key=new_key, trouble=trouble,
        typed=typed if typed is not None else {}, **shown,
    )  # fmt: skip
    return Response(html, status, headers={"Cache-Control": "no-store"})
