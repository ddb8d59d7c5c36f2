"""Cans, drums, bottles, jugs and rolls."""

from typing import Any

import marshmallow as ma

from schemas.base import ActIn, Out, PageIn
from schemas.fields import Code, Grams, Moment, Text, Whole, Word, Yes
from schemas.items import FitnessOut, HoldRef, ItemOut
from schemas.words import MaterialKind, State, Unit


class DecantIn(ActIn):
    EXAMPLE = {"mass_g": 1000, "tare_g": 85}
    mass_g = Grams(required=True)
    into = Code("C", metadata={"description": "A container that is filled up again; a new one if left out."})
    tare_g = Grams()
    place = Code("A")
    cleaned = Yes(metadata={"description": "The container was emptied and cleaned before."})
    blend = Yes(metadata={"description": "Two lots are put together on purpose: a new code, the earliest date of all."})


class WeighBackIn(ActIn):
    EXAMPLE = {"gross_g": 1162, "tare_g": 250}
    gross_g = Grams(required=True)
    tare_g = Grams()


class ScrapIn(ActIn):
    EXAMPLE = {"method": "cured out in thin layers, then solid waste by local rules", "why": "expired"}
    method = Text(required=True, longest=200)


class ContainerOut(Out):
    EXAMPLE = {
        "code": "C003183",
        "name": "Alder 32 slow hardener",
        "kind": "hardener",
        "lot": "L00007C",
        "makers_lot": "26-0914",
        "state": "open",
        "left_g": 1846,
        "reserved_g": 0,
        "good_until": "2027-03-29",
        "good_until_at": "2027-03-29T22:00:00Z",
        "good_because": "opened",
        "fitness": {"answer": "fit", "reasons": [], "notes": ["Storage not monitored."]},
        "version": 4,
    }
    code = ma.fields.String()
    name = ma.fields.String()
    material = ma.fields.Integer()
    kind = ma.fields.String()
    lot = ma.fields.String()
    makers_lot = ma.fields.String(allow_none=True)
    number = ma.fields.Integer(metadata={"description": "2 of 4 in its delivery."})
    of = ma.fields.Integer()
    state = ma.fields.String()
    place = ma.fields.Nested(ItemOut, allow_none=True)
    left_g = Grams(allow_none=True)
    left_mm = ma.fields.Integer(allow_none=True)
    left_pieces = ma.fields.Integer(allow_none=True)
    reserved_g = Grams(allow_none=True)
    net_g = Grams(allow_none=True)
    net_mm = ma.fields.Integer(allow_none=True)
    net_pieces = ma.fields.Integer(allow_none=True)
    tare_g = Grams(allow_none=True)
    parent = ma.fields.String(allow_none=True)
    blend = ma.fields.Boolean()
    opened_at = Moment(allow_none=True)
    expires_on = ma.fields.Date(allow_none=True)
    good_until = ma.fields.Date(
        allow_none=True, metadata={"description": "The date that counts, and in good_because why."}
    )
    good_until_at = Moment(
        allow_none=True, metadata={"description": "When that day ends, by the shop's clock: then it is good no more."}
    )
    good_because = ma.fields.String()
    not_before = Moment(allow_none=True)
    fitness = ma.fields.Nested(FitnessOut)
    holds = ma.fields.List(ma.fields.Nested(HoldRef))
    instead = ma.fields.List(
        ma.fields.String(), metadata={"description": "Fit containers to take instead, first expired first."}
    )
    version = ma.fields.Integer()

    @ma.pre_dump
    def by_unit(self, data: Any, **kwargs: Any) -> dict[str, Any]:
        """One amount under the name of its unit."""
        get = data.get if isinstance(data, dict) else lambda name: getattr(data, name)
        names = [n for n in self.fields if not n.startswith(("left_", "net_", "reserved_"))]
        flat = {self.fields[n].attribute or n: get(self.fields[n].attribute or n) for n in names}
        unit = get("unit")
        suffix = {Unit.MILLIGRAM: "mg", Unit.MILLIMETRE: "mm", Unit.PIECE: "pieces"}[Unit(str(unit))]
        flat[f"left_{suffix}"], flat[f"net_{suffix}"] = get("left"), get("net")
        if unit == Unit.MILLIGRAM:
            flat["reserved_mg"] = get("reserved")
        return flat

    @ma.post_dump
    def without_other_units(self, data: dict[str, Any], **kwargs: Any) -> dict[str, Any]:
        return {k: v for k, v in data.items() if v is not None or not k.startswith(("left_", "net_", "reserved_"))}


class ContainerQuery(PageIn):
    material = Whole(1)
    kind = Word(MaterialKind)
    lot = Code("L")
    place = Code("A")
    state = Word(State)
