"""People, keys and the site."""

from typing import Any

from flask import g

from schemas.people import KeyIn, KeyOut, MeOut, PersonChange, PersonIn, PersonOut, SiteChange, SiteOut
from service.api.base import Blueprint
from service.operations.door import people
from service.records.people import Person

blp = Blueprint("people", "The site, its people and their keys")


def read_me() -> dict[str, Any]:
    """Whose key this is, and what it may do."""
    visitor = g.visitor
    name = Person.get_by_id(visitor.person).name if visitor.person is not None else None
    return {"person": visitor.person, "name": name, "system": visitor.system, "roles": sorted(visitor.roles)}


blp.read("/me", read_me, MeOut)
blp.read("/site", people.read_site, SiteOut)
blp.edit("/site", people.change_site, SiteOut, SiteChange)
blp.listing("/people", people.list_people, PersonOut)
blp.write("/people", people.add_person, PersonOut, PersonIn)
blp.read("/people/<number:person>", people.read_person, PersonOut)
blp.edit("/people/<number:person>", people.change_person, PersonOut, PersonChange)
blp.listing("/keys", people.list_keys, KeyOut, right="read_keys")
blp.write("/keys", people.add_key, KeyOut, KeyIn)
blp.write("/keys/<number:key>/revocation", people.revoke_key, KeyOut)
