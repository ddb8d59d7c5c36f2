"""People, keys and the site."""

from dataclasses import dataclass

from flask import g

from schemas.people import KeyIn, PersonChange, PersonIn, SecretIn, SiteChange
from schemas.words import Role, Scope
from service.api.base import Blueprint
from service.operations.door import people, resetting, signing
from service.operations.ledger import badges
from service.records.people import Person

blp = Blueprint("people", "The site, its people and their keys")


@dataclass(frozen=True, slots=True)
class MeView:
    """Whose key it is.

    Attributes
    ----------
    scopes
        What a system's key opens; a person has roles.
    """

    person: int | None
    name: str | None
    system: str | None
    roles: tuple[Role, ...]
    scopes: tuple[Scope, ...] | None


def read_me() -> MeView:
    """Whose key this is, and what it may do."""
    visitor = g.visitor
    name = Person.get_by_id(visitor.person).name if visitor.person is not None else None
    scopes = tuple(sorted(visitor.scopes)) if visitor.scopes is not None else None
    roles = tuple(sorted(visitor.roles))
    return MeView(person=visitor.person, name=name, system=visitor.system, roles=roles, scopes=scopes)


blp.read("/me", read_me, right="read_own_key")
blp.read("/site", people.read_site)
blp.edit("/site", people.change_site, SiteChange)
blp.listing("/people", people.list_people)
blp.write("/people", people.add_person, PersonIn)
blp.read("/people/<number:person>", people.read_person)
blp.edit("/people/<number:person>", people.change_person, PersonChange)
blp.write("/people/<number:person>/badges", badges.issue_badge)
blp.write("/badges/<code(B):badge>/withdrawal", badges.withdraw_badge)
blp.listing("/keys", people.list_keys, right="read_keys")
blp.write("/keys", people.add_key, KeyIn)
blp.write("/keys/<number:key>/revocation", people.revoke_key)
blp.write("/keys/claim", signing.claim_key)
blp.write("/secret", signing.set_secret, SecretIn)
blp.write("/signing", signing.begin_signing, SecretIn)
blp.write("/signing/end", signing.end_signing)
blp.write("/people/<number:person>/unlocking", resetting.unlock_secret)
blp.write("/people/<number:person>/secret-reset", resetting.ask_secret_reset)
blp.write("/people/<number:person>/secret-reset/agreement", resetting.agree_secret_reset)
