"""People sign with a secret of their own: nobody else learns it, guesses are few, and every signature is proved."""

import threading
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from service.database import connected, database, rows_of
from service.operations.door.refusals import SecretLocked, WrongSecret
from service.operations.door.signing import TRIES, begin_signing
from service.operations.ledger.checking import check_account
from tests import makers


def _lot(api: Any) -> str:
    makers.supplier(api)
    resin = makers.material(api, "Alder 10 resin", "resin")
    note = makers.lot(api, resin, makers.place(api), makers_lot="R-1", released=False, containers=[{"net_g": 500}])
    return str(note["code"])


def _release(api: Any, lot: str, token: str, **more: Any) -> Any:
    return api.call("POST", f"/v1/lots/{lot}/release", who="lead", Signing_Token=token, **more)


def _key_of(api: Any, who: str) -> int:
    keys = api.get("/v1/keys?limit=200", who="administrator")
    return int(next(key["id"] for key in keys if key["person"] == api.shop.people[who]))


def test_a_signature_takes_a_secret_that_was_just_given_with_the_same_key(api: Any) -> None:
    lot, secret = _lot(api), api.shop.secrets["lead"]
    del api.shop.tokens["lead"]
    problem = api.post(f"/v1/lots/{lot}/release", who="lead", expect=403)
    assert (problem["type"], problem["meaning"]) == ("/problems/signature-required", "released for use")
    assert _release(api, lot, api.shop.tokens["quality"]).status_code == 403, "another person's"
    given = api.post("/v1/signing", {"secret": secret}, who="lead")
    assert given["reset"] is None
    other = api.post("/v1/keys", {"person": api.shop.people["lead"]}, who="administrator")["secret"]
    api.shop.keys["lead"], own = other, api.shop.keys["lead"]
    assert _release(api, lot, given["token"]).status_code == 403, "given with another access key"
    problem = api.post("/v1/signing", {"secret": secret}, who="lead", expect=403)
    assert "somebody else has seen it" in problem["detail"], "with a key that was handed out nobody tries a secret"
    api.shop.keys["lead"] = own
    api.shop.clock.forward(minutes=5)
    assert _release(api, lot, given["token"]).status_code == 403, "five minutes are over"
    again = api.post("/v1/signing", {"secret": secret}, who="lead")["token"]
    api.shop.clock.forward(minutes=4, seconds=59)
    assert _release(api, lot, again, Idempotency_Key="once").status_code == 201
    api.post("/v1/signing/end", who="lead")
    replayed = _release(api, lot, again, Idempotency_Key="once")
    assert replayed.headers["Idempotency-Replayed"] == "true", "what was signed and done is answered again"
    assert _release(api, lot, again).status_code == 403
    (entry,) = api.get("/v1/journal?operation=release_lot&refused=false", who="quality")
    assert entry["signed"] == "released for use"
    assert entry["key"] == _key_of(api, "lead")
    with connected():
        assert check_account().agrees


def test_a_secret_is_set_by_its_person_alone_and_written_nowhere(api: Any) -> None:
    body = {"name": "Ida Holm", "roles": ["lead"], "with_key": True}
    made = api.post("/v1/people", body, who="administrator")
    handed_out = api.shop.keys["ida"] = made["secret"]
    for weak in ("12345", "111111", "654321", "ida4711"):
        api.post("/v1/secret", {"secret": weak}, who="ida", expect=422)
    api.refused("/v1/signing", {"secret": "kelp and rivets"}, "no-secret", status=403, who="ida")
    answer = api.post("/v1/secret", {"secret": "kelp and rivets"}, who="ida")
    api.shop.keys["ida"] = answer["secret"]
    assert api.client.get("/v1/me", headers={"Authorization": f"Bearer {handed_out}"}).status_code == 401
    # Whoever has one signs with it that it is another from now on.
    api.refused("/v1/secret", {"secret": "reed and anvil"}, "signature-required", status=403, who="ida")
    api.post("/v1/secret", {"secret": "reed and anvil"}, who="ida", Signing_Token=answer["token"])
    lot = _lot(api)
    refused = api.call("POST", f"/v1/lots/{lot}/release", who="ida", Signing_Token=answer["token"])
    assert refused.status_code == 403, "the token of a secret that is no more"
    api.refused("/v1/signing", {"secret": "kelp and rivets"}, "wrong-secret", status=403, who="ida")
    with connected():
        for table in database.get_tables():
            said = repr(rows_of(f'SELECT * FROM "{table}"'))
            assert "kelp and" not in said, table
            assert "reed and" not in said, table
        assert check_account().agrees


def test_five_wrong_secrets_lock_whoever_tries_at_once_until_another_person_unlocks(api: Any) -> None:
    lead, secret = api.shop.people["lead"], api.shop.secrets["lead"]
    before = api.post("/v1/signing", {"secret": "480001"}, who="lead", expect=403)
    assert (before["type"], before["tries_left"]) == ("/problems/wrong-secret", TRIES - 1)
    assert api.post("/v1/signing", {"secret": secret}, who="lead")["failed_before"] == 1, "then they are counted anew"
    said: list[type[Exception]] = []
    with connected():
        act = replace(api.shop.act("lead", key="any"), idempotency_key=None)

    def guess(number: int) -> None:
        with connected():
            try:
                begin_signing(act, secret=f"48{number:04d}")
            except (WrongSecret, SecretLocked) as refused:
                said.append(type(refused))

    threads = [threading.Thread(target=guess, args=(number,)) for number in range(12)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert (said.count(WrongSecret), said.count(SecretLocked)) == (TRIES, 12 - TRIES)
    api.refused("/v1/signing", {"secret": secret}, "secret-locked", status=403, who="lead")
    assert len(api.get("/v1/journal?operation=begin_signing&refused=true", who="quality")) == 14
    api.refused(f"/v1/people/{lead}/unlocking", {}, "second-person-required", who="lead")
    assert api.post(f"/v1/people/{lead}/unlocking", who="quality")["failed_before"] == TRIES
    assert api.post("/v1/signing", {"secret": secret}, who="lead")["failed_before"] == 0


def test_two_others_let_somebody_set_a_new_secret_and_the_next_signature_says_so(api: Any) -> None:
    lead, old = api.shop.people["lead"], api.shop.secrets["lead"]
    path = f"/v1/people/{lead}/secret-reset"
    api.refused(path, {"why": "forgotten"}, "second-person-required", who="lead")
    api.refused(path, {}, "invalid", status=422, who="quality")
    api.refused(f"{path}/agreement", {}, "wrong-state", who="quality")
    asked = api.post(path, {"why": "forgotten over the summer"}, who="administrator")
    assert (asked["asked_by"], asked["agreed_at"]) == ("Ada", None)
    for nobody in ("administrator", "lead"):
        api.refused(f"{path}/agreement", {}, "second-person-required", who=nobody)
    assert api.post("/v1/signing", {"secret": old}, who="lead")["reset"] is None, "until then the old one holds"
    assert api.post(f"{path}/agreement", who="quality")["agreed_by"] == "Quality"
    api.refused("/v1/signing", {"secret": old}, "no-secret", status=403, who="lead")
    lot = _lot(api)
    assert _release(api, lot, api.shop.tokens["lead"]).status_code == 403
    token = api.post("/v1/secret", {"secret": "rope and tar"}, who="lead")["token"]
    told = api.post("/v1/signing", {"secret": "rope and tar"}, who="lead")["reset"]
    assert (told["asked_by"], told["agreed_by"], told["why"]) == ("Ada", "Quality", "forgotten over the summer")
    assert _release(api, lot, token).status_code == 201
    with connected():
        assert check_account().agrees


def test_a_system_has_no_secret_to_give(api: Any) -> None:
    problem = api.post("/v1/signing", {"secret": "480001"}, who="integrator", expect=403)
    assert problem["type"] == "/problems/not-allowed"


@pytest.mark.parametrize("least", [6, 12])
def test_the_shop_says_how_long_a_secret_is(api: Any, least: int) -> None:
    version = api.get("/v1/site")["version"]
    changed = api.call(
        "PATCH",
        "/v1/site",
        {"secret_least": least, "why": "agreed in the yard"},
        who="administrator",
        If_Match=f'"{version}"',
    )
    assert changed.get_json()["secret_least"] == least
    token = api.post("/v1/signing", {"secret": api.shop.secrets["lead"]}, who="lead")["token"]
    api.post("/v1/secret", {"secret": "kelp40rive"}, who="lead", Signing_Token=token, expect=201 if least == 6 else 422)


def test_what_is_told_of_a_signing_lasts_as_long_as_it_signs(api: Any) -> None:
    until = api.post("/v1/signing", {"secret": api.shop.secrets["lead"]}, who="lead")["until"]
    assert until == (api.shop.clock.now + timedelta(minutes=5)).isoformat().replace("+00:00", "Z")
