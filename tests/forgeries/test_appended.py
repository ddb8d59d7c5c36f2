"""Acts appended to the journal that nobody did: which are named, and what nobody sees."""

import hashlib
import json
from datetime import timedelta
from typing import Any

from service.database import connected, database, on_postgresql, rows_of, writing
from service.whole_tables import count_on
from tests import makers
from tests.forgeries.chains import KEY, append, hash_now, said_of
from tests.forgeries.conftest import undone
from tests.forging import forge, write_chain_anew


def test_an_act_dated_back_behind_a_head_is_seen(stocked: Any) -> None:
    before = stocked.kept.head.at - timedelta(days=3)
    append(at=before, change="UPDATE supplier SET name = 'Harrow' WHERE id = 1", table="supplier", number=1)
    assert said_of() == []
    (said,) = said_of(stocked, stocked.kept)
    assert "an entry after it bears an earlier time" in said


def test_an_act_appended_by_somebody_with_the_database_is_not_seen(stocked: Any) -> None:
    """What no chain and no head can show: it would need a signature of the person in whose name it was done."""
    later = stocked.kept.head.at + timedelta(minutes=10)
    append(at=later, change="UPDATE supplier SET name = 'Harrow' WHERE id = 1", table="supplier", number=1)
    assert said_of(stocked, stocked.kept, key=KEY) == []


def test_an_act_that_a_person_signs_cannot_be_appended_with_the_database_alone(stocked: Any) -> None:
    """Unsigned, signed by somebody else, with a signature from elsewhere, with a key put in: each is named."""
    at = stocked.kept.head.at + timedelta(minutes=10)
    lead, other = stocked.shop.signers["laminator"], stocked.shop.signers["quality"]
    assert lead.person == 2, "in whose name the forger acts"
    earlier = json.loads(rows_of("SELECT body FROM entry WHERE body LIKE ?", "%signature%")[0][0])["signature"]
    wrong: list[tuple[Any, str]] = [
        (None, "it bears no signature"),
        ((99, lambda said: earlier), "there is no key 99"),
        ((other.key, other.sign), f"key {other.key} is somebody else's"),
        ((lead.key, lambda said: earlier), "the signature is not that of its person under what the entry says"),
        ((lead.key, other.sign), "the signature is not that of its person under what the entry says"),
    ]
    for signed, _ in wrong:
        append(at=at, operation="release_lot", signed=signed)
    said = said_of(stocked, stocked.kept, key=KEY)
    assert [one.partition(": ")[2] for one in said] == [f"{why}." for _, why in wrong]
    assert all("(release_lot) is not signed as it has to be" in one for one in said)


def test_a_key_that_somebody_put_into_the_database_signs_nothing(stocked: Any) -> None:
    """It comes by an act of its own, with all that belongs to it, but for what only the pepper gives."""
    from service.operations.door.signatures import Signing, public_half

    at, seed = stocked.kept.head.at + timedelta(minutes=10), bytes(range(2, 34))
    forge("INSERT INTO signing_key (id, person_id, public_key, salt, cost, voucher, made_at)"
          " SELECT 99, 2, ?, salt, cost, voucher, made_at FROM signing_key WHERE person_id = 2",
          public_half(seed))  # fmt: skip
    mark = {"signing_key": [[99, None, hash_now("signing_key", 99)]]}
    append(at=at, operation="set_secret", marks=mark)
    assert said_of(stocked, stocked.kept, key=KEY) == [], "a key alone does nothing"
    append(at=at, operation="release_lot", signed=(99, Signing(2, 99, seed).sign))
    (said,) = said_of(stocked, stocked.kept, key=KEY)
    assert said.endswith("nobody vouches for key 99.")


def test_what_a_person_signs_is_not_slipped_into_an_act_that_needs_no_signature(stocked: Any) -> None:
    """A release, a permit, a decision, a lifted hold, an approval, each as if it were a supplier's new name."""
    api, can = stocked, stocked.cans[0]
    hardener = api.get(f"/v1/containers/{can}")["material"]
    makers.lot(api, hardener, api.place, makers_lot="26-0915", released=False, containers=[{"net_g": 900}])
    asked = {"kind": "deviation permit", "item": can, "reasons": ["expired"], "why": "a cup of it is clear"}
    api.post("/v1/permissions", asked)
    api.post("/v1/holds", {"item": can, "reason": "crystals"})
    api.post("/v1/nonconformances", {"item": can, "found": "crystals"})
    design = makers.design(api, approved=False)["id"]
    makers.design(api, "HY-9")
    part = api.post("/v1/parts", {"part_number": "HY-9"})["code"]
    with connected():
        ((waiting,),) = rows_of("SELECT id FROM receipt WHERE released_in_id IS NULL")
        told = "signed_by_id = 3, signed_at = 1, signed_in_id = 1"
        decided = "decided_at = 1, decided_by_id = 3, decided_in_id = 1"
        changes = [
            ("receipt", waiting, "released_in_id = 1", "is released"),
            ("permission", 1, f"decision = 'permitted', {told}", "is decided"),
            ("hold", 1, "lifted_at = placed_at, lifted_by_id = 1", "is lifted"),
            ("nonconformance", 1, f"disposition = 'use as is', decided_because = 'well', {decided}", "is decided"),
            ("design", design, "approved_at = 1, approved_by_id = 3", "is approved"),
        ]
        at = api.shop.clock.now + timedelta(minutes=10)
        for table, number, change, _ in changes:
            append(at=at, change=f"UPDATE {table} SET {change} WHERE id = {number}", table=table, number=number)
        this = "item_id = (SELECT id FROM item WHERE code = ?)"
        forge(f"UPDATE part SET released_at = 1, released_by_id = 3 WHERE {this}", part)
        said = said_of()
    for table, number, _, what in changes:
        begins = f"Row {number} of the table {table} {what}, which a person signs; entry "
        (one,) = [sentence for sentence in said if sentence.startswith(begins)]
        assert "(changing what is kept of a supplier) left it so and is no such act." in one
    assert f"The part {part} is kept as released; no release of then, by that person, says so." in said


def test_what_no_act_writes_is_named_however_well_it_was_appended(stocked: Any) -> None:
    """A refusal that writes rows, an entry without a deed, history removed or changed, a step of the schema that was
    there long ago, a secret ended by nobody: the chain, the head and all hashes hold in each."""
    api, at = stocked, stocked.kept.head.at + timedelta(minutes=10)
    hardener = api.get(f"/v1/containers/{api.cans[0]}")["material"]
    for name in "BCDE":
        makers.lot(api, hardener, api.place, makers_lot=f"26-{name}", released=False, containers=[{"net_g": 900}])
    hold = api.post("/v1/holds", {"item": api.cans[0], "reason": "crystals"})["id"]
    person = api.shop.people["laminator"]
    api.post(f"/v1/people/{person}/secret-reset", {"why": "forgotten"}, who="lead")
    with connected():
        waiting = [number for (number,) in rows_of("SELECT id FROM receipt WHERE released_in_id IS NULL ORDER BY id")]
        ((key,),) = rows_of("SELECT id FROM signing_key WHERE person_id = ?", person)
        ((step,),) = rows_of("SELECT MAX(name) FROM schema_migration WHERE name < '0020'")

        def release(**how: Any) -> int:
            number = waiting.pop()
            change = f"UPDATE receipt SET released_in_id = 1 WHERE id = {number}"
            return append(at=at, change=change, table="receipt", number=number, **how)

        none = "was written by no act:"
        expected = {
            release(operation="release_lot", refused={"kind": "wrong-state", "sentence": "No."}):
                f"{none} it was refused, and yet names rows of receipt.",
            release(operation="release_lot", deedless=True): f"{none} no deed stands behind it.",
            release(operation="mark_anew", asked={"steps": [step]}):
                f"{none} the schema had had the step {step} before.",
            release(operation="mark_anew", asked={"steps": ["0999_later"]}):
                f"{none} the schema had no step 0999_later.",
            append(at=at, operation="mark_anew", asked={"steps": []}): f"{none} the schema had no step for it.",
            append(at=at, change=f"DELETE FROM hold WHERE id = {hold}", table="hold", number=hold):
                f"{none} it removes row {hold} of the table hold, and no act removes history.",
            append(at=at, change="UPDATE state_change SET occurred_at = occurred_at - 1 WHERE id = 1",
                    table="state_change", number=1):
                f"{none} it changes row 1 of the table state_change, and no act changes history.",
        }  # fmt: skip
        told = "agreed_at = asked_at, agreed_by_id = 1"
        reset = append(at=at, change=f"UPDATE secret_reset SET {told}", table="secret_reset", number=1)
        ended = append(at=at, change=f"UPDATE signing_key SET ended_at = made_at WHERE id = {key}",
                        table="signing_key", number=key, operation="set_secret")  # fmt: skip
        said = said_of()
    for seq, why in expected.items():
        (one,) = [
            sentence for sentence in said if sentence.startswith(f"Entry {seq} of the journal (") and none in sentence
        ]
        assert one.endswith(f") {why}")
    for row, seq in (("secret_reset sets a secret anew", reset), ("signing_key is ended", ended)):
        assert any(f"of the table {row}, which a person signs; entry {seq} (" in sentence for sentence in said), said


def test_who_reaches_the_service_too_signs_there_as_somebody_whose_key_they_put_in(stocked: Any) -> None:
    """What is not seen: a key and a lost secret, put in as honest acts would, and the service vouches for the rest."""
    api, at = stocked, stocked.kept.head.at + timedelta(minutes=10)
    lead = api.shop.people["lead"]
    api.shop.keys["forger"] = "k" * 43
    ((own,),) = rows_of("SELECT id FROM signing_key WHERE person_id = ?", lead)
    digest, made = hashlib.sha256(b"k" * 43).hexdigest(), int(at.timestamp()) * 1_000_000
    forge("INSERT INTO access_key (id, digest, person_id, created_at, claimed_at) VALUES (99, ?, ?, ?, ?)",
          digest, lead, made, made)  # fmt: skip
    append(at=at, operation="add_key", marks={"access_key": [[99, None, hash_now("access_key", 99)]]})
    append(at=at, change=f"UPDATE signing_key SET ended_at = {made} WHERE id = {own}", table="signing_key",
            number=own, operation="recover_administrator")  # fmt: skip
    with connected(), writing():
        count_on("deed", "id")
    api.shop.clock.forward(minutes=20)
    given = api.post("/v1/secret", {"secret": "7 crooked oars"}, who="forger")
    api.shop.tokens["forger"] = given["token"]
    api.post(f"/v1/people/{api.shop.people['laminator']}/unlocking", who="forger")
    with connected():
        assert said_of(stocked, stocked.kept, key=KEY) == []


def test_what_cannot_be_read_is_named_and_keeps_nothing_else_from_being_looked_at(stocked: Any) -> None:
    at = stocked.kept.head.at + timedelta(minutes=10)
    wrong: list[dict[str, Any]] = [
        {"rows": 5}, {"rows": {"supplier": 7}}, {"rows": {"supplier": [[1, "a", "b"], [1, "b", "c"]]}},
        {"rows": {"supplier": [[1, 2, 3]]}}, {"signs": 5}, {"signs": {"key": [1]}},
        {"notes": 3, "operation": "found_account"}, {"operation": "mark_anew", "asked": None}, {"refused": "no"},
    ]  # fmt: skip
    seqs = [append(at=at, **one) for one in wrong]
    seqs.append(append(at=at))
    forge("UPDATE entry SET body = '[1]' WHERE seq = ?", seqs[-1])
    forge("UPDATE item SET name = 'Elsewhere' WHERE kind = 'A'")
    if not on_postgresql():  # which takes nothing of another kind
        forge("UPDATE supplier SET name = CAST(X'FF' AS TEXT)")
        forge("UPDATE material SET name = X'00'")
        forge("UPDATE sealed_head SET sealed_at = 'noon'")
    write_chain_anew()
    said = said_of()
    for seq in seqs:
        assert any(f"Entry {seq} of the journal" in sentence for sentence in said), (seq, said)
    assert any("of the table item (A" in sentence and "is not as entry" in sentence for sentence in said)
    if not on_postgresql():
        assert any("table supplier cannot be read to the end" in sentence for sentence in said)
        assert any("of the table material is not as" in sentence for sentence in said)


def test_a_trigger_that_writes_along_with_every_honest_act_is_named(stocked: Any) -> None:
    """Before a row is written it would change what the act itself then binds."""
    body = "UPDATE supplier SET approved = true WHERE id = NEW.id; "
    guard = "keep_label_deleted"
    with undone() as put_back:
        put_back()
        if on_postgresql():
            database.execute_sql(
                "CREATE FUNCTION quiet() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN NEW.approved = true; RETURN NEW; "
                "END $$"
            )
            database.execute_sql("CREATE TRIGGER quiet BEFORE INSERT ON supplier FOR EACH ROW EXECUTE FUNCTION quiet()")
            database.execute_sql(f"DROP TRIGGER {guard} ON label")
            database.execute_sql(f"CREATE TRIGGER {guard} BEFORE DELETE ON label FOR EACH ROW EXECUTE FUNCTION quiet()")
        else:
            database.execute_sql(f"CREATE TRIGGER quiet AFTER INSERT ON supplier BEGIN {body} END")
            database.execute_sql(f"DROP TRIGGER {guard}")
            database.execute_sql(f"CREATE TRIGGER {guard} BEFORE DELETE ON label BEGIN SELECT 1; END")
        said = said_of()
    assert said == [
        "The table label is no longer guarded against changes of history.",
        f"The table label has a trigger {guard} of somebody else: it may write what no act writes.",
        "The table supplier has a trigger quiet of somebody else: it may write what no act writes.",
    ]
