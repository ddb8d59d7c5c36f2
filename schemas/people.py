"""People, keys and the site."""

import marshmallow as ma

from schemas.base import ActIn
from schemas.fields import Text, Whole, Word, Yes
from schemas.words import Alone, Role


def _roles(**kwargs: object) -> ma.fields.List:
    return ma.fields.List(Word(Role), validate=ma.validate.Length(1, 5, error="Give one to five roles."), **kwargs)  # type: ignore[arg-type]


class PersonIn(ActIn):
    name = Text(required=True, longest=80)
    roles = _roles(required=True)
    with_key = Yes(metadata={"description": "Make a key for them in the same act; its secret is shown once."})


class PersonChange(ActIn):
    name = Text(longest=80)
    roles = _roles()
    active = Yes()


class KeyIn(ActIn):
    person = Whole(1)
    system = Text(
        longest=60, metadata={"description": "Name of a system; it names the person it acts for at each act."}
    )


class SiteChange(ActIn):
    name = Text(longest=80)
    late_after_min = Whole(1, 1440)
    correction_share_pct = Whole(1, 100)
    secret_least = Whole(6, 64, metadata={"description": "So many characters a secret has at least."})
    alone_in = ma.fields.List(
        Word(Alone),
        validate=ma.validate.Length(0, len(Alone)),
        metadata={"description": "For what there is no second person here; `why` says why, and records print it."},
    )


class SecretIn(ActIn):
    secret = Text(
        required=True, longest=128, metadata={"description": "A PIN or passphrase that nobody but its person knows."}
    )
