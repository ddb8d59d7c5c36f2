"""People, keys and the site."""

import marshmallow as ma

from schemas.base import ActIn, Out
from schemas.fields import Moment, Text, Whole, Word, Yes
from schemas.words import Role


def _roles(**kwargs: object) -> ma.fields.List:
    return ma.fields.List(Word(Role), validate=ma.validate.Length(1, 5, error="Give one to five roles."), **kwargs)  # type: ignore[arg-type]


class PersonIn(ActIn):
    EXAMPLE = {"name": "Ida Holm", "roles": ["laminator"]}
    name = Text(required=True, longest=80)
    roles = _roles(required=True)


class PersonChange(ActIn):
    EXAMPLE = {"roles": ["laminator", "lead"]}
    name = Text(longest=80)
    roles = _roles()
    active = Yes()


class PersonOut(Out):
    EXAMPLE = {"id": 2, "name": "Ida Holm", "roles": ["laminator"], "active": True, "version": 1}
    id = ma.fields.Integer()
    name = ma.fields.String()
    roles = ma.fields.List(ma.fields.String())
    active = ma.fields.Boolean()
    version = ma.fields.Integer()


class KeyIn(ActIn):
    EXAMPLE = {"person": 2}
    person = Whole(1)
    system = Text(
        longest=60, metadata={"description": "Name of a system; it names the person it acts for at each act."}
    )


class KeyOut(Out):
    EXAMPLE = {
        "id": 3,
        "person": 2,
        "system": None,
        "role": None,
        "created_at": "2026-11-03T08:00:00Z",
        "revoked_at": None,
        "secret": None,
    }
    id = ma.fields.Integer()
    person = ma.fields.Integer(allow_none=True)
    system = ma.fields.String(allow_none=True)
    role = ma.fields.String(allow_none=True)
    created_at = Moment()
    revoked_at = Moment(allow_none=True)
    secret = ma.fields.String(allow_none=True, metadata={"description": "Shown once, when the key is made."})


class SiteChange(ActIn):
    EXAMPLE = {"late_after_min": 15}
    name = Text(longest=80)
    late_after_min = Whole(1, 1440)
    correction_share_pct = Whole(1, 100)


class SiteOut(Out):
    EXAMPLE = {
        "name": "Heron Yard",
        "zone": "Europe/Copenhagen",
        "late_after_min": 15,
        "correction_share_pct": 25,
        "version": 1,
    }
    name = ma.fields.String()
    zone = ma.fields.String()
    late_after_min = ma.fields.Integer()
    correction_share_pct = ma.fields.Integer()
    version = ma.fields.Integer()


class MeOut(Out):
    EXAMPLE = {"person": 2, "name": "Ida Holm", "system": None, "roles": ["laminator"]}
    person = ma.fields.Integer(allow_none=True)
    name = ma.fields.String(allow_none=True)
    system = ma.fields.String(allow_none=True)
    roles = ma.fields.List(ma.fields.String())
