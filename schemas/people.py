"""People, keys and the site."""

import marshmallow as ma

from schemas.base import ActIn
from schemas.fields import Day, Number, Shaped, Text, Whole, Word, Yes
from schemas.words import Alone, Role, Scope, Weekday

_CLOCK, _CLOCK_WANTED = "([01][0-9]|2[0-3]):[0-5][0-9]", "Give a time of day such as 07:30."


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
    system = Text(longest=60, metadata={"description": "Name of a system, in which it acts."})
    scopes = ma.fields.List(
        Word(Scope),
        validate=ma.validate.Length(1, len(Scope)),
        metadata={"description": "What a system's key opens; all but goods in and registers, if left out."},
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

    weekdays = ma.fields.List(
        Word(Weekday),
        validate=ma.validate.Length(1, 7, error="Give at least one day of the week."),
        allow_none=True,
        metadata={"description": "On which days the shop works; null: on all."},
    )
    opens_at = Shaped(_CLOCK, wanted=_CLOCK_WANTED, allow_none=True)
    closes_at = Shaped(_CLOCK, wanted=_CLOCK_WANTED, allow_none=True)
    closed_on = ma.fields.List(
        Day(),
        validate=ma.validate.Length(0, 400, error="Give at most 400 days."),
        metadata={"description": "Days on which the shop is closed besides."},
    )
    mould_hours = Number(
        0.1,
        10_000,
        allow_none=True,
        metadata={"description": "From the start of a part to its demoulding, where its mould says nothing else."},
    )
    currency = Shaped(
        "[A-Z]{3}",
        wanted="Give the three capital letters of a currency, such as EUR.",
        allow_none=True,
        metadata={"description": "Of prices, by ISO 4217."},
    )


class SecretIn(ActIn):
    secret = Text(
        required=True, longest=128, metadata={"description": "A PIN or passphrase that nobody but its person knows."}
    )
