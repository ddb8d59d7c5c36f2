"""Forging the chain itself: what it shows alone, what it shows beside a head that was kept elsewhere, and what nobody
sees."""

import json
from dataclasses import replace
from typing import Any

import rfc8785

from service.database import database, rows_of
from service.operations.ledger.against import Anchor
from service.operations.ledger.checking import check_account
from service.operations.ledger.sealed import SignedHead, read_printed, sign_head
from tests import makers
from tests.budgets.office import hand_in_head
from tests.forgeries.chains import KEY, OTHER_KEY, hash_now, mark_of, said_of
from tests.forging import forge, write_chain_anew


def test_an_honest_account_continues_from_every_head_however_it_was_kept(stocked: Any) -> None:
    stocked.shop.clock.forward(minutes=5)
    makers.place(stocked, "Shelf 2")
    second = hand_in_head(stocked, stocked.kept.head)
    assert said_of(stocked, stocked.kept, second, key=KEY) == []
    printed = stocked.get("/v1/heads", who="quality")[0]["printed"]
    number, figures = read_printed(printed)
    typed = check_account(against=[Anchor("typed", number, figures)])
    assert typed.agrees


def test_a_head_of_another_account_is_told_apart_and_kept_by_none(stocked: Any) -> None:
    other = sign_head(replace(stocked.kept.head, founding="f" * 64), KEY)
    (said,) = said_of(stocked, other, key=KEY)
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
        assert said_of() == ["The journal's head bears another time than its newest entries were written at."]
        forge("UPDATE head SET at = ?", at)
    assert said_of() == []


def test_forged_then_honestly_touched_is_seen(stocked: Any) -> None:
    """The honest act takes the forged row over as it is; its own "before" gives it away."""
    supplier = stocked.get("/v1/suppliers")[0]
    forge("UPDATE supplier SET name = 'Harrow Resins' WHERE id = ?", supplier["id"])
    answer = stocked.call("PATCH", f"/v1/suppliers/{supplier['id']}", {"approved": False}, who="lead",
                          If_Match=f'"{supplier["version"]}"')  # fmt: skip
    assert answer.status_code == 200
    (said,) = said_of()
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
    (said,) = said_of()
    assert f"Row {lead}/lead of the table person_role is there again; entry " in said


def _rewritten(change: str, seq: int, old: str, new: str) -> None:
    """A row forged, and the whole journal written anew so that it says the same: what somebody with time does."""
    forge(change)
    ((body,),) = rows_of("SELECT body FROM entry WHERE seq = ?", seq)
    assert old in body
    forge("UPDATE entry SET body = ? WHERE seq = ?", body.replace(old, new), seq)
    write_chain_anew()


def test_a_journal_written_anew_is_seen_alone_where_somebody_signed_and_else_only_beside_a_head(stocked: Any) -> None:
    _rewritten_whole("supplier", "name = 'Harrow Resins'")
    assert said_of() == [], "the chain by itself shows nothing of unsigned acts: this is why heads are kept elsewhere"
    (said,) = said_of(stocked, stocked.kept)
    assert "has another hash here: the account does not continue from it" in said
    number, figures = read_printed(_printed(stocked.kept))
    typed = check_account(against=[Anchor("typed", number, figures)])
    assert typed.differences == 1

    seq = _rewritten_whole("receipt", "remark = 'dry and cool'")
    (said,) = said_of()
    signed = f"Entry {seq} of the journal (release_lot) is not signed as it has to be: "
    assert said == f"{signed}the signature is not that of its person under what the entry says."
    ((body,),) = rows_of("SELECT body FROM entry WHERE seq = ?", seq)
    bare = {name: fact for name, fact in json.loads(body).items() if name not in ("signs", "signature")}
    forge("UPDATE entry SET body = ? WHERE seq = ?", rfc8785.dumps(bare).decode(), seq)
    write_chain_anew()
    assert said_of() == [f"{signed}it bears no signature."]


def _rewritten_whole(table: str, change: str) -> int:
    """Row 1 of a table forged, the journal written anew with it, and no sealed head left; the entry that says it."""
    seq, honest = mark_of(table, 1)
    statement = f"UPDATE {table} SET {change} WHERE id = 1"
    forge(statement)
    _rewritten(statement, seq, honest, hash_now(table, 1))
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
    seq, honest = mark_of("receipt", 1)
    forge("UPDATE receipt SET remark = 'dry and cool' WHERE id = 1")
    _rewritten("UPDATE receipt SET remark = 'dry and cool' WHERE id = 1", seq, honest, hash_now("receipt", 1))
    hashes = dict(rows_of("SELECT seq, hash FROM entry"))
    head = replace(stocked.kept.head, hash=hashes[stocked.kept.head.number], founding=hashes[1])
    again = sign_head(head, OTHER_KEY)
    number, old = mark_of("sealed_head", 1)
    forge("UPDATE sealed_head SET hash = ?, head = ?, signature = ?, public_key = ? WHERE id = 1",
          head.hash, again.text, again.signature, again.public_key)  # fmt: skip
    _rewritten("UPDATE sealed_head SET id = 1", number, old, hash_now("sealed_head", 1))
    assert any("signed with another key than this machine's" in said for said in said_of(key=KEY))
    assert any("does not continue from it" in said for said in said_of(stocked, stocked.kept))
    assert any("another key" in said for said in said_of(stocked, again, key=KEY))


def test_the_newest_acts_cut_off_are_seen_beside_a_head_and_a_restore_is_told(stocked: Any, tmp_path: Any) -> None:
    """Put back as it was before: rows, entries, head and all, which no chain can show."""
    kept = _everything()
    stocked.shop.clock.forward(minutes=5)
    for number in range(9):
        makers.place(stocked, f"Shelf {number}")
    later = hand_in_head(stocked, stocked.kept.head)
    _put_back(kept)
    assert said_of(stocked, stocked.kept, key=KEY) == []
    (said,) = said_of(stocked, stocked.kept, later, key=KEY)
    assert "is not in the account" in said
    assert "something was cut off." in said
    from service.operations.ledger.heads import declare_restored

    declare_restored(replace(stocked.shop.act("administrator"), why="the disk died; copy of the night before"))
    (said,) = said_of(stocked, stocked.kept, later, key=KEY)
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
