"""Forging the chain itself: what it shows alone, what it shows beside a head that was kept elsewhere, and what nobody
sees."""

import hashlib
import json
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
import rfc8785

from service.database import connected, database, on_postgresql, rows_of, writing
from service.operations.ledger.against import Anchor
from service.operations.ledger.checking import check_account
from service.operations.ledger.sealed import SignedHead, public_key_of, read_printed, sign_head
from service.records.bound import Whole
from service.whole_tables import count_on
from tests import makers
from tests.budgets.office import hand_in_head
from tests.forgeries.conftest import undone
from tests.forging import forge, write_chain_anew

KEY, OTHER_KEY = bytes(range(32)), bytes(range(1, 33))


@pytest.fixture
def stocked(api: Any) -> Any:
    """Four cans of hardener, one of them opened and decanted from; the head of then is kept elsewhere."""
    makers.supplier(api)
    api.place = makers.place(api)
    hardener = makers.material(api, "Alder 32 slow hardener", "hardener", h_codes=["H314", "H317"])
    api.cans = makers.cans(api, hardener, api.place, "26-0914", count=4)
    api.post(f"/v1/containers/{api.cans[0]}/decants", {"mass_g": 100})
    api.kept = hand_in_head(api)
    with connected():
        yield api


def _said(api: Any = None, *kept: SignedHead, key: bytes | None = None) -> list[str]:
    anchors = [Anchor.of("mailbox", signed) for signed in kept]
    result = check_account(show=1000, against=anchors, public_key=public_key_of(key) if key else None)
    return [d.sentence for d in result.first]


def test_an_honest_account_continues_from_every_head_however_it_was_kept(stocked: Any) -> None:
    stocked.shop.clock.forward(minutes=5)
    makers.place(stocked, "Shelf 2")
    second = hand_in_head(stocked, stocked.kept.head)
    assert _said(stocked, stocked.kept, second, key=KEY) == []
    printed = stocked.get("/v1/heads", who="quality")[0]["printed"]
    number, figures = read_printed(printed)
    typed = check_account(against=[Anchor("typed", number, figures)])
    assert typed.agrees


def test_a_head_of_another_account_is_told_apart_and_kept_by_none(stocked: Any) -> None:
    other = sign_head(replace(stocked.kept.head, founding="f" * 64), KEY)
    (said,) = _said(stocked, other, key=KEY)
    assert said.endswith("is of another account, or this one's first entry is not what it was.")
    handed = {"head": other.text, "signature": other.signature, "public_key": other.public_key}
    problem = stocked.refused("/v1/heads", handed, "wrong-state", who="administrator")
    assert (problem["detail"], problem["way_out"]) == (
        "This is a head of another account.", "Look at which account the signer follows."
    )  # fmt: skip
    assert len(stocked.get("/v1/heads", who="quality")) == 1


def test_the_time_by_which_a_clock_set_back_is_noticed_cannot_be_moved_unseen(stocked: Any) -> None:
    """Moved back, acts could be dated back; moved on, none could be written any more."""
    for change in ("at = at - 2592000000000", "at = at + 2592000000000"):
        ((at,),) = rows_of("SELECT at FROM head")
        forge(f"UPDATE head SET {change}")
        assert _said() == ["The journal's head bears another time than its newest entries were written at."]
        forge("UPDATE head SET at = ?", at)
    assert _said() == []


def test_forged_then_honestly_touched_is_seen(stocked: Any) -> None:
    """The honest act takes the forged row over as it is; its own "before" gives it away."""
    supplier = stocked.get("/v1/suppliers")[0]
    forge("UPDATE supplier SET name = 'Harrow Resins' WHERE id = ?", supplier["id"])
    answer = stocked.call("PATCH", f"/v1/suppliers/{supplier['id']}", {"approved": False}, who="lead",
                          If_Match=f'"{supplier["version"]}"')  # fmt: skip
    assert answer.status_code == 200
    (said,) = _said()
    assert said.startswith(f"Row {supplier['id']} of the table supplier was changed between entry ")
    assert "outside any act" in said
    assert "changing what is kept of a supplier" in said


def test_a_row_that_was_removed_and_put_back_is_seen(stocked: Any) -> None:
    lead = stocked.shop.people["lead"]
    version = stocked.get(f"/v1/people/{lead}", who="administrator")["version"]
    answer = stocked.call(
        "PATCH", f"/v1/people/{lead}", {"roles": ["lead"]}, who="administrator", If_Match=f'"{version}"'
    )
    assert answer.status_code == 200
    answer = stocked.call("PATCH", f"/v1/people/{lead}", {"roles": ["quality"]}, who="administrator",
                          If_Match=f'"{version + 1}"')  # fmt: skip
    assert answer.status_code == 200
    forge("INSERT INTO person_role (person_id, role) VALUES (?, 'lead')", lead)
    (said,) = _said()
    assert f"Row {lead}/lead of the table person_role is there again; entry " in said


def _rewritten(change: str, seq: int, old: str, new: str) -> None:
    """A row forged, and the whole journal written anew so that it says the same: what somebody with time does."""
    forge(change)
    ((body,),) = rows_of("SELECT body FROM entry WHERE seq = ?", seq)
    assert old in body
    forge("UPDATE entry SET body = ? WHERE seq = ?", body.replace(old, new), seq)
    write_chain_anew()


def _mark_of(table: str, number: int) -> tuple[int, str]:
    """The entry that names a row last, and the hash that it names."""
    for seq, body in rows_of("SELECT seq, body FROM entry ORDER BY seq DESC"):
        for key, _, after in json.loads(body)["rows"].get(table, ()):
            if key == number:
                return seq, after
    raise AssertionError(f"{table} {number} is in no entry")


def _hash_now(table: str, number: int) -> str:
    cursor = database.execute_sql(f'SELECT * FROM "{table}" WHERE id = {number}')
    row = cursor.fetchone()
    return Whole([column[0] for column in cursor.description], ["id"]).hash(row)


def test_a_journal_written_anew_is_seen_alone_where_somebody_signed_and_else_only_beside_a_head(stocked: Any) -> None:
    _rewritten_whole("supplier", "name = 'Harrow Resins'")
    assert _said() == [], "the chain by itself shows nothing of unsigned acts: this is why heads are kept elsewhere"
    (said,) = _said(stocked, stocked.kept)
    assert "has another hash here: the account does not continue from it" in said
    number, figures = read_printed(_printed(stocked.kept))
    typed = check_account(against=[Anchor("typed", number, figures)])
    assert typed.differences == 1

    seq = _rewritten_whole("receipt", "remark = 'dry and cool'")
    (said,) = _said()
    signed = f"Entry {seq} of the journal (release_lot) is not signed as it has to be: "
    assert said == f"{signed}the signature is not that of its person under what the entry says."
    ((body,),) = rows_of("SELECT body FROM entry WHERE seq = ?", seq)
    bare = {name: fact for name, fact in json.loads(body).items() if name not in ("signs", "signature")}
    forge("UPDATE entry SET body = ? WHERE seq = ?", rfc8785.dumps(bare).decode(), seq)
    write_chain_anew()
    assert _said() == [f"{signed}it bears no signature."]


def _rewritten_whole(table: str, change: str) -> int:
    """Row 1 of a table forged, the journal written anew with it, and no sealed head left; the entry that says it."""
    seq, honest = _mark_of(table, 1)
    statement = f"UPDATE {table} SET {change} WHERE id = 1"
    forge(statement)
    _rewritten(statement, seq, honest, _hash_now(table, 1))
    forge("DELETE FROM sealed_head")
    _forget("sealed_head")
    return seq


def _printed(signed: SignedHead) -> str:
    return f"{signed.head.number} {signed.head.hash[:20].upper()}"


def _forget(table: str) -> None:
    """Take a table's rows out of the journal, too, and write it anew."""
    for seq, body in rows_of("SELECT seq, body FROM entry"):
        said = json.loads(body)
        if said["rows"].pop(table, None) is not None:
            forge("UPDATE entry SET body = ? WHERE seq = ?", rfc8785.dumps(said).decode(), seq)
    write_chain_anew()


def test_a_head_that_is_sealed_again_by_another_key_is_seen(stocked: Any) -> None:
    seq, honest = _mark_of("receipt", 1)
    forge("UPDATE receipt SET remark = 'dry and cool' WHERE id = 1")
    _rewritten("UPDATE receipt SET remark = 'dry and cool' WHERE id = 1", seq, honest, _hash_now("receipt", 1))
    hashes = dict(rows_of("SELECT seq, hash FROM entry"))
    head = replace(stocked.kept.head, hash=hashes[stocked.kept.head.number], founding=hashes[1])
    again = sign_head(head, OTHER_KEY)
    number, old = _mark_of("sealed_head", 1)
    forge("UPDATE sealed_head SET hash = ?, head = ?, signature = ?, public_key = ? WHERE id = 1",
          head.hash, again.text, again.signature, again.public_key)  # fmt: skip
    _rewritten("UPDATE sealed_head SET id = 1", number, old, _hash_now("sealed_head", 1))
    assert any("signed with another key than this machine's" in said for said in _said(key=KEY))
    assert any("does not continue from it" in said for said in _said(stocked, stocked.kept))
    assert any("another key" in said for said in _said(stocked, again, key=KEY))


def test_the_newest_acts_cut_off_are_seen_beside_a_head_and_a_restore_is_told(stocked: Any, tmp_path: Any) -> None:
    """Put back as it was before: rows, entries, head and all, which no chain can show."""
    kept = _everything()
    stocked.shop.clock.forward(minutes=5)
    for number in range(9):
        makers.place(stocked, f"Shelf {number}")
    later = hand_in_head(stocked, stocked.kept.head)
    _put_back(kept)
    assert _said(stocked, stocked.kept, key=KEY) == []
    (said,) = _said(stocked, stocked.kept, later, key=KEY)
    assert "is not in the account" in said
    assert "something was cut off." in said
    from service.operations.ledger.heads import declare_restored

    declare_restored(replace(stocked.shop.act("administrator"), why="the disk died; copy of the night before"))
    (said,) = _said(stocked, stocked.kept, later, key=KEY)
    assert "or it was restored from an older copy" in said
    assert "copy of the night before" in said


def _everything() -> dict[str, list[tuple[Any, ...]]]:
    return {table: rows_of(f'SELECT * FROM "{table}"') for table in database.get_tables() if "migration" not in table}


def _put_back(kept: dict[str, list[tuple[Any, ...]]]) -> None:
    for table in kept:
        forge(f'DELETE FROM "{table}"')
    for table, rows in kept.items():
        for row in rows:
            forge(f'INSERT INTO "{table}" VALUES ({", ".join("?" * len(row))})', *row)


def _append(
    *,
    at: Any,
    change: str | None = None,
    table: str = "",
    number: int = 0,
    operation: str = "change_supplier",
    signed: tuple[int, Any] | None = None,
    marks: Any = None,
    deedless: bool = False,
    **more: Any,
) -> int:
    """An act that nobody did, written as an act is written: deed, marks, entry, head. ``signed`` by a key, somehow.

    ``more`` is what the entry says besides, or instead; its number is returned.
    """
    ((seq, digest),) = rows_of("SELECT seq, hash FROM head")
    ((deed,),) = rows_of("SELECT 999999" if deedless else "SELECT MAX(id) + 1 FROM deed")
    marks = dict(marks or {})
    if change is not None:
        _, before = _mark_of(table, number)
        forge(change)
        gone = change.startswith("DELETE")
        marks[table] = [[number, before, None if gone else _hash_now(table, number)]]
    micro = int(at.timestamp()) * 1_000_000
    if not deedless:
        refused = more["refused"]["kind"] if isinstance(more.get("refused"), dict) else None
        forge("INSERT INTO deed (id, operation, person_id, site_id, occurred_at, recorded_at, late, refused)"
              " VALUES (?, ?, 2, 1, ?, ?, ?, ?)", deed, operation, micro, micro, False, refused)  # fmt: skip
        marks["deed"] = [[deed, None, _hash_now("deed", deed)]]
    stated = at.isoformat().replace("+00:00", "Z")
    said = {"seq": seq + 1, "deed": deed, "operation": operation, "person": 2, "key": None, "system": None,
            "device": None, "site": 1, "occurred_at": stated, "recorded_at": stated, "why": None, "items": [],
            "asked": {}, "notes": [], "rows": marks, **more}  # fmt: skip
    if signed is not None:
        said["signs"] = {"key": signed[0], "meaning": "released for use"}
        said["signature"] = signed[1](said)
    forge("INSERT INTO entry (seq, deed_id, previous, hash, body) VALUES (?, ?, ?, '', ?)", seq + 1, deed, digest,
          rfc8785.dumps(said).decode())  # fmt: skip
    forge("UPDATE head SET at = (SELECT MAX(recorded_at) FROM deed)")
    write_chain_anew()
    return int(seq) + 1


def test_an_act_dated_back_behind_a_head_is_seen(stocked: Any) -> None:
    before = stocked.kept.head.at - timedelta(days=3)
    _append(at=before, change="UPDATE supplier SET name = 'Harrow' WHERE id = 1", table="supplier", number=1)
    assert _said() == []
    (said,) = _said(stocked, stocked.kept)
    assert "an entry after it bears an earlier time" in said


def test_an_act_appended_by_somebody_with_the_database_is_not_seen(stocked: Any) -> None:
    """What no chain and no head can show: it would need a signature of the person in whose name it was done."""
    later = stocked.kept.head.at + timedelta(minutes=10)
    _append(at=later, change="UPDATE supplier SET name = 'Harrow' WHERE id = 1", table="supplier", number=1)
    assert _said(stocked, stocked.kept, key=KEY) == []


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
        _append(at=at, operation="release_lot", signed=signed)
    said = _said(stocked, stocked.kept, key=KEY)
    assert [one.partition(": ")[2] for one in said] == [f"{why}." for _, why in wrong]
    assert all("(release_lot) is not signed as it has to be" in one for one in said)


def test_a_key_that_somebody_put_into_the_database_signs_nothing(stocked: Any) -> None:
    """It comes by an act of its own, with all that belongs to it, but for what only the pepper gives."""
    from service.operations.door.signatures import Signing, public_half

    at, seed = stocked.kept.head.at + timedelta(minutes=10), bytes(range(2, 34))
    forge("INSERT INTO signing_key (id, person_id, public_key, salt, cost, voucher, made_at)"
          " SELECT 99, 2, ?, salt, cost, voucher, made_at FROM signing_key WHERE person_id = 2",
          public_half(seed))  # fmt: skip
    mark = {"signing_key": [[99, None, _hash_now("signing_key", 99)]]}
    _append(at=at, operation="set_secret", marks=mark)
    assert _said(stocked, stocked.kept, key=KEY) == [], "a key alone does nothing"
    _append(at=at, operation="release_lot", signed=(99, Signing(2, 99, seed).sign))
    (said,) = _said(stocked, stocked.kept, key=KEY)
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
            _append(at=at, change=f"UPDATE {table} SET {change} WHERE id = {number}", table=table, number=number)
        this = "item_id = (SELECT id FROM item WHERE code = ?)"
        forge(f"UPDATE part SET released_at = 1, released_by_id = 3 WHERE {this}", part)
        said = _said()
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
            return _append(at=at, change=change, table="receipt", number=number, **how)

        none = "was written by no act:"
        expected = {
            release(operation="release_lot", refused={"kind": "wrong-state", "sentence": "No."}):
                f"{none} it was refused, and yet names rows of receipt.",
            release(operation="release_lot", deedless=True): f"{none} no deed stands behind it.",
            release(operation="mark_anew", asked={"steps": [step]}):
                f"{none} the schema had had the step {step} before.",
            release(operation="mark_anew", asked={"steps": ["0999_later"]}):
                f"{none} the schema had no step 0999_later.",
            _append(at=at, operation="mark_anew", asked={"steps": []}): f"{none} the schema had no step for it.",
            _append(at=at, change=f"DELETE FROM hold WHERE id = {hold}", table="hold", number=hold):
                f"{none} it removes row {hold} of the table hold, and no act removes history.",
            _append(at=at, change="UPDATE state_change SET occurred_at = occurred_at - 1 WHERE id = 1",
                    table="state_change", number=1):
                f"{none} it changes row 1 of the table state_change, and no act changes history.",
        }  # fmt: skip
        told = "agreed_at = asked_at, agreed_by_id = 1"
        reset = _append(at=at, change=f"UPDATE secret_reset SET {told}", table="secret_reset", number=1)
        ended = _append(at=at, change=f"UPDATE signing_key SET ended_at = made_at WHERE id = {key}",
                        table="signing_key", number=key, operation="set_secret")  # fmt: skip
        said = _said()
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
    _append(at=at, operation="add_key", marks={"access_key": [[99, None, _hash_now("access_key", 99)]]})
    _append(at=at, change=f"UPDATE signing_key SET ended_at = {made} WHERE id = {own}", table="signing_key",
            number=own, operation="recover_administrator")  # fmt: skip
    with connected(), writing():
        count_on("deed", "id")
    api.shop.clock.forward(minutes=20)
    given = api.post("/v1/secret", {"secret": "7 crooked oars"}, who="forger")
    api.shop.tokens["forger"] = given["token"]
    api.post(f"/v1/people/{api.shop.people['laminator']}/unlocking", who="forger")
    with connected():
        assert _said(stocked, stocked.kept, key=KEY) == []


def test_what_cannot_be_read_is_named_and_keeps_nothing_else_from_being_looked_at(stocked: Any) -> None:
    at = stocked.kept.head.at + timedelta(minutes=10)
    wrong: list[dict[str, Any]] = [
        {"rows": 5}, {"rows": {"supplier": 7}}, {"rows": {"supplier": [[1, "a", "b"], [1, "b", "c"]]}},
        {"rows": {"supplier": [[1, 2, 3]]}}, {"signs": 5}, {"signs": {"key": [1]}},
        {"notes": 3, "operation": "found_account"}, {"operation": "mark_anew", "asked": None}, {"refused": "no"},
    ]  # fmt: skip
    seqs = [_append(at=at, **one) for one in wrong]
    seqs.append(_append(at=at))
    forge("UPDATE entry SET body = '[1]' WHERE seq = ?", seqs[-1])
    forge("UPDATE item SET name = 'Elsewhere' WHERE kind = 'A'")
    if not on_postgresql():  # which takes nothing of another kind
        forge("UPDATE supplier SET name = CAST(X'FF' AS TEXT)")
        forge("UPDATE material SET name = X'00'")
        forge("UPDATE sealed_head SET sealed_at = 'noon'")
    write_chain_anew()
    said = _said()
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
        said = _said()
    assert said == [
        "The table label is no longer guarded against changes of history.",
        f"The table label has a trigger {guard} of somebody else: it may write what no act writes.",
        "The table supplier has a trigger quiet of somebody else: it may write what no act writes.",
    ]
