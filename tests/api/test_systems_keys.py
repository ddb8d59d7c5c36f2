"""Systems act in their own names, within the scopes of their keys; whoever is turned away is in the journal."""

from datetime import timedelta
from typing import Any

import pytest

from schemas.words import Role, Scope
from service.api.strangers import Strangers
from service.api.turned_away import TurnedAway
from service.database import connected
from service.operations.door.acts import ACTS, RIGHTS
from service.operations.door.scopes import SCOPES
from service.operations.ledger.checking import check_account
from service.records.journal import Deed
from tests import makers
from tests.conftest import NOW

ONE_ENGINE = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)


def _key(api: Any, system: str, *scopes: str) -> dict[str, Any]:
    made: dict[str, Any] = api.post("/v1/keys", {"system": system, "scopes": list(scopes)}, who="administrator")
    api.shop.keys[system] = made["secret"]
    return made


def _did(api: Any, operation: str) -> list[tuple[Any, ...]]:
    listed = api.get(f"/v1/journal?operation={operation}", who="quality")
    return [(e["person_name"], e["system"], e["key"], e["refused"]) for e in listed]


def test_every_right_that_a_system_may_have_is_in_a_scope_and_no_other() -> None:
    assert {right for right, roles in RIGHTS.items() if Role.INTEGRATOR in roles} == set(SCOPES)
    assert set().union(*SCOPES.values()) == set(Scope)
    assert [name for name in SCOPES if name in ACTS and ACTS[name].signs] == [], "a system signs nothing"


def test_a_system_acts_in_its_own_name_and_within_the_scopes_of_its_key(api: Any) -> None:
    store = _key(api, "store room", "goods in", "registers")
    shop, yard = _key(api, "web shop", "orders", "reading"), _key(api, "carrier", "shipping")
    supplier = api.post("/v1/suppliers", {"name": "Fenwick Resins", "approved": True}, who="store room")["id"]
    where = api.post("/v1/places", {"name": "Shelf B2"}, who="store room")["code"]
    material = api.post("/v1/materials", {"name": "Alder 10 resin", "kind": "resin"}, who="store room")["id"]
    delivery = {"material": material, "supplier": supplier, "delivery_note": "LN 1", "place": where,
                "makers_lot": "26-1", "expires_on": "2027-01-31", "containers": [{"net_g": 900}]}  # fmt: skip
    lot = api.post("/v1/deliveries", delivery, who="store room")["code"]
    assert _did(api, "receive_delivery") == [("store room", "store room", store["id"], None)]
    makers.design(api)
    part = api.post("/v1/parts", {"part_number": "HY-204"}, who="web shop", Potmark_Person="3")["code"]
    assert _did(api, "start_part") == [("web shop", "web shop", shop["id"], None)], "whatever a header says"
    barred = [
        ("POST", "/v1/suppliers", {"name": "Tarn", "approved": True}, "web shop", ["registers"]),
        ("POST", "/v1/parts", {"part_number": "HY-204"}, "store room", ["orders"]),
        ("POST", f"/v1/parts/{part}/shipment", {"document": "LN 2"}, "web shop", ["shipping"]),
        ("GET", f"/v1/lots/{lot}", None, "store room", ["reading"]),
        ("GET", "/v1/journal", None, "carrier", ["reading"]),
    ]
    for method, path, body, who, needed in barred:
        answer = api.call(method, path, body, who=who)
        said = answer.get_json()
        assert (answer.status_code, said["type"], said["scopes"]) == (403, "/problems/not-allowed", needed)
        assert said["detail"] == f"This needs a key with the scope {needed[0]}."
    signing = api.call("POST", f"/v1/lots/{lot}/release", {}, who="store room")
    assert (signing.status_code, "scopes" in signing.get_json()) == (403, False), "no scope gives a signature"
    assert _did(api, "ship_part") == [("web shop", "web shop", shop["id"], "not-allowed")]
    assert _did(api, "read_journal") == [("carrier", "carrier", yard["id"], "not-allowed")]
    assert api.get("/v1/me", who="carrier")["scopes"] == ["shipping"], "every key is told what it opens"
    again = _key(api, "web shop", "orders")
    assert again["acts_as"] == shop["acts_as"], "a new key of a system is of the same system"
    with connected():
        assert check_account().agrees


def test_a_system_is_nobody_with_roles_a_badge_or_a_secret_and_can_be_sent_away(api: Any) -> None:
    made = _key(api, "web shop", "orders", "reading")
    number = made["acts_as"]
    told = api.get(f"/v1/people/{number}")
    assert (told["name"], told["is_system"], told["roles"]) == ("web shop", True, [])
    for path, body in (
        (f"/v1/people/{number}/badges", {}),
        ("/v1/keys", {"person": number}),
        ("/v1/keys", {"person": api.shop.people["lead"], "scopes": ["orders"]}),
        ("/v1/keys", {"system": "web shop", "scopes": []}),
    ):
        api.post(path, body, who="administrator", expect=422)
    roles = api.call("PATCH", f"/v1/people/{number}", {"roles": ["lead"]}, who="administrator", If_Match='"1"')
    assert (roles.status_code, roles.get_json()["errors"][0]["pointer"]) == (422, "/roles")
    api.refused("/v1/keys", {"system": "Lead"}, "already-there", who="administrator")
    api.refused("/v1/people", {"name": "web shop", "roles": ["lead"]}, "already-there", who="administrator")
    assert [p["id"] for p in api.get("/v1/people") if p["id"] == 0] == [], "the service itself is nobody's to change"
    gone = api.call("PATCH", f"/v1/people/{number}", {"active": False}, who="administrator", If_Match='"1"')
    assert gone.status_code == 200
    assert api.call("GET", "/v1/me", who="web shop").status_code == 401


def test_whoever_is_turned_away_is_in_the_journal_with_their_key(api: Any) -> None:
    api.post("/v1/suppliers", {"name": "Tarn", "approved": True}, expect=403)
    assert api.call("GET", "/v1/keys", who="lead").status_code == 403
    ((name, system, key, refused),) = _did(api, "add_supplier")
    assert (name, system, refused) == ("Laminator", None, "not-allowed")
    assert key is not None
    (entry,) = api.get("/v1/journal?operation=read_keys", who="quality")
    assert (entry["called"], entry["body"]["asked"]) == (
        "reading the list of keys", {"method": "GET", "path": "/v1/keys"}
    )  # fmt: skip
    with connected():
        assert check_account().agrees


def test_who_goes_on_asking_for_what_is_closed_writes_an_entry_a_minute(api: Any) -> None:
    """A poller cannot make the journal grow: repeats within a minute are summed up, and no request is lost."""

    def entries() -> tuple[int, list[dict[str, Any]]]:
        told = api.get("/v1/journal?operation=read_keys", who="quality")
        sums = api.get("/v1/journal?operation=count_turned_away", who="quality")
        return len(told), [e["body"]["notes"][0] for e in sums]

    for _ in range(30):
        assert api.call("GET", "/v1/keys", who="lead").status_code == 403
    api.call("GET", "/v1/keys", who="quality")
    assert entries() == (2, []), "one for each key"
    api.shop.clock.forward(seconds=59)
    assert entries() == (2, [])
    api.shop.clock.forward(seconds=1)
    api.get("/v1/me")
    ((told, (summed,)),) = (entries(),)
    assert (told, summed["right"], summed["turned_away"]) == (2, "read_keys", 29)
    assert summed["key"] == api.get("/v1/journal?operation=read_keys", who="quality")[0]["key"]
    api.call("GET", "/v1/keys", who="lead")
    api.shop.clock.forward(minutes=2)
    api.call("GET", "/v1/keys", who="lead")
    api.shop.clock.forward(minutes=5)
    api.call("GET", "/v1/keys", who="lead")
    told, sums = entries()
    assert (told + sum(n["turned_away"] for n in sums), len(sums)) == (34, 2), "each of them, the quiet ones at once"
    with connected():
        assert check_account().agrees


def test_more_keys_than_there_is_room_for_are_written_down_each_time() -> None:
    counts = TurnedAway()
    assert all(counts.is_first(key, "read_keys", NOW) for key in range(1, 600))
    assert not counts.is_first(1, "read_keys", NOW)
    assert counts.is_first(1, "read_chain", NOW)
    assert counts.is_first(599, "read_keys", NOW), "nowhere to count it: told again rather than lost"
    assert counts.is_first(600, "read_keys", NOW + timedelta(minutes=1)), "room that is free again is used"
    assert not counts.is_first(600, "read_keys", NOW + timedelta(minutes=1))


def _sums(api: Any) -> list[int]:
    listed = api.get("/v1/journal?operation=count_strangers", who="quality")
    assert all((e["person_name"], e["system"], e["key"]) == ("Potmark", "Potmark", None) for e in listed)
    return [e["body"]["notes"][0]["turned_away"] for e in listed]


def test_requests_that_no_key_opens_are_summed_up_in_one_entry_a_minute(api: Any) -> None:
    api.client.get("/v1/me")
    assert _sums(api) == [1], "the first after a quiet minute at once"
    for n in range(30):
        api.client.get("/v1/me", headers={"Authorization": f"Bearer guess {n}"})
    api.client.post("/enter", data={"key": "guess"})
    api.shop.clock.forward(seconds=59)
    assert _sums(api) == [1]
    api.shop.clock.forward(seconds=1)
    api.get("/v1/me")
    assert _sums(api) == [1, 31]
    api.shop.clock.forward(hours=1)
    assert _sums(api) == [1, 31], "nothing is written where nobody came"
    with connected():
        assert Deed.select().where(Deed.operation == "count_strangers").count() == 2
        assert check_account().agrees


@ONE_ENGINE
def test_what_could_not_be_written_down_is_counted_on(api: Any) -> None:
    """The database is busy, or gone: the answer goes out all the same, and the count waits for the next minute."""
    from service.database import database

    strangers = Strangers()
    for _ in range(3):
        strangers.came(NOW)
    with connected():
        database.execute_sql("ALTER TABLE site RENAME TO elsewhere")
        strangers.write_down(NOW)
        database.execute_sql("ALTER TABLE elsewhere RENAME TO site")
        strangers.came(NOW)
        strangers.write_down(NOW + timedelta(seconds=30))
        assert Deed.select().where(Deed.operation == "count_strangers").count() == 0
        strangers.write_down(NOW + timedelta(minutes=1))
    assert _sums(api) == [4]
