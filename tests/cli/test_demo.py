"""`potmark demo`: an invented workshop that is built once, kept apart, and told with keys and links."""

import fcntl
import json
import os
import re
import signal
import sqlite3
import time
import urllib.request
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.cli.conftest import Server, Shell

ROLES = {"laminator", "lead", "quality", "second quality", "integrator", "administrator"}
LINKS = {
    "container_page",
    "expired_container_page",
    "weigh_page",
    "board_page",
    "partner_container_page",
    "container_label",
    "partner_container_label",
    "expired_container_label",
    "scale_label",
    "pot_label",
    "part_label",
    "failed_part_trace",
    "failed_part_report",
    "failed_part_record",
    "recall_page",
    "recall_list",
    "recall_letters",
    "api_documentation",
}


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Shell:
    """A workshop that is there; building it takes a while, so it is built once for these tests."""
    from tests.cli.conftest import clean_environment

    shell = Shell(tmp_path_factory.mktemp("demo"), clean_environment())
    shell.done("demo", "--json")
    return shell


def test_the_workshop_is_told_as_one_json_object_and_kept(built: Shell) -> None:
    told = json.loads(built.done("demo", "--json"))
    assert told.keys() == {"address", "keys", "secrets", "badges", "links", "failed_part"}
    assert set(told["keys"]) == ROLES
    assert set(told["badges"]) == ROLES - {"integrator", "administrator"}
    assert set(told["links"]) == LINKS
    assert told["failed_part"].startswith("P")
    assert json.loads(built.done("demo", "--json")) == told
    words = built.done("demo")
    assert all(key in words for key in told["keys"].values())
    assert f"{told['address']}/enter" in words


def test_only_its_owner_can_read_it(built: Shell) -> None:
    folder = built.folder / ".demo"
    keys = {"potmark-secrets.key", "potmark-signing.key", "potmark-signing.crt", "keys.json"}
    kept = {"potmark.db", "potmark.db-wal", "potmark.db-shm", *keys}
    assert {f.name for f in folder.iterdir()} <= kept
    assert folder.stat().st_mode & 0o077 == 0
    assert all(f.stat().st_mode & 0o077 == 0 for f in folder.iterdir())


def test_it_is_an_account_that_agrees(built: Shell) -> None:
    checked = built("check", POTMARK_DATABASE="sqlite:///.demo/potmark.db")
    assert checked.returncode == 0, checked.stdout + checked.stderr


def test_a_drill_prints_minutes_reach_and_what_nobody_can_explain_and_is_kept(built: Shell) -> None:
    """The lot of the old can: what came is what went into pots, what was lost, what is left; nothing is put on hold."""
    account = built.folder / ".demo" / "potmark.db"
    with sqlite3.connect(account) as before:
        (lot,) = before.execute(
            "SELECT l.code FROM container c JOIN item l ON l.id = c.lot_id JOIN recall r ON r.item_id = c.item_id"
        ).fetchone()
        holds = before.execute("SELECT count(*) FROM hold").fetchone()
    done = built("drill", "--seed", "3", "--lot", lot, POTMARK_DATABASE=f"sqlite:///{account}")
    assert done.returncode == 0, done.stderr
    said = done.stdout
    assert re.search(r"^The answer took 0\.\d+ min\.$", said, re.MULTILINE)
    assert re.search(r"^It reaches \d+ pieces, .* \d+ parts, \d+ shipped, to ", said, re.MULTILINE)
    assert re.search(r"^[\d.]+ g nobody can explain: .*found more or less than booked\.$", said, re.MULTILINE)
    assert "does not add up" not in said
    (number,) = re.findall(r"kept as document (\d+)", said)
    with sqlite3.connect(account) as after:
        assert after.execute("SELECT count(*) FROM hold").fetchone() == holds
        name, content = after.execute("SELECT name, content FROM document WHERE id = ?", (number,)).fetchone()
    kept = json.loads(content)["balance"]
    assert lot in name
    assert kept["difference"] == 0
    assert abs(kept["came"] - sum(kept[k] for k in ("used", "thrown_away", "left"))) <= kept["unexplained"]
    in_pots = sum(kept[k] for k in ("in_parts", "in_pots", "lost_in_pots", "missing_in_pots"))
    assert kept["used"] == pytest.approx(in_pots, abs=2)


def test_the_numbers_close(built: Shell) -> None:
    """What left the cans for a pot is in parts, in cups or lost, to the milligram, for each pot and for all."""
    with sqlite3.connect(built.folder / ".demo" / "potmark.db") as account:
        query = (
            "SELECT i.code, SUM(CASE WHEN m.target_id = i.id THEN m.amount ELSE 0 END),"
            " SUM(CASE WHEN m.source_id = i.id THEN m.amount ELSE 0 END), i.balance"
            " FROM item i JOIN movement m ON i.id IN (m.source_id, m.target_id)"
            " WHERE i.kind = 'M' AND m.cancelled_by_id IS NULL GROUP BY i.id"
        )
        pots = account.execute(query).fetchall()
        assert len(pots) == 600
        assert [code for code, into, out, left in pots if into != out or left != 0] == []
        kinds = dict(
            account.execute(
                "SELECT m.kind, SUM(m.amount) FROM movement m JOIN item i ON i.id = m.source_id"
                " WHERE i.kind = 'M' AND m.cancelled_by_id IS NULL GROUP BY m.kind"
            ).fetchall()
        )
    assert kinds.keys() == {"application", "left in cup", "loss"}
    assert sum(kinds.values()) == sum(into for _, into, _, _ in pots)


def test_the_story_is_in_it_and_the_report_finds_it(built: Shell, serve: Callable[..., Server]) -> None:
    server = serve("demo", "--serve", "--json", "--folder", str(built.folder / ".demo"))
    assert server.process.stdout is not None
    told = json.loads(server.process.stdout.readline())
    key = told["keys"]["quality"]
    _, failed = server.call("/v1/nonconformances?failed=true", key=key)
    assert len(failed) == 6
    assert told["failed_part"] in {one["item"] for one in failed}
    _, report = server.call(f"/v1/parts/{told['failed_part']}/investigation", key=key)
    first = report["standing_out"][0]
    assert first["lead"].startswith("Its hardener can had been open ")
    assert first["numbers"]["limit_days"] == 180
    assert first["numbers"]["after"] == {"parts": 9, "failed": 6}
    assert first["numbers"]["before"]["failed"] == 0 == first["numbers"]["elsewhere"]["failed"]
    assert first["numbers"]["p"] < 0.0001
    _, recall = server.call("/v1/recalls/1", key=key)
    parts = [piece for piece in recall["pieces"] if piece["kind"] == "P"]
    assert len(parts) == 9, "all that was made of the can after its life, and nothing before"
    assert {one["item"] for one in failed} <= {piece["code"] for piece in parts}
    assert all(piece["on_hold"] for piece in recall["pieces"])
    assert sum(piece["found"] is not None for piece in recall["pieces"]) == 3
    assert (recall["closed_at"], recall["left"] > 0) == (None, True)
    _, concessions = server.call("/v1/permissions?kind=concession", key=key)
    assert [one["decision"] for one in concessions] == ["permitted"]
    _, late = server.call("/v1/journal?late=true", key=key)
    assert [entry["operation"] for entry in late] == ["apply_mix"]
    assert server.stop(signal.SIGINT) == 0


def test_every_key_and_every_link_opens(built: Shell, serve: Callable[..., Server], potmark: Shell) -> None:
    """And a server that has drawn papers leaves nothing behind when it is stopped, neither folders nor complaints."""
    scratch = potmark.folder / "scratch"
    scratch.mkdir()
    potmark.environment["TMPDIR"] = str(scratch)
    server = serve("demo", "--serve", "--json", "--folder", str(built.folder / ".demo"))
    assert server.process.stdout is not None
    told = json.loads(server.process.stdout.readline())
    assert told["address"] == server.address
    for role, key in told["keys"].items():
        status, me = server.call("/v1/me", key=key)
        assert (status, role.removeprefix("second ") in me["roles"]) == (200, True), role
    # What quality opened, the second one decides; the part is with its customer and stays there.
    for who, answered in (("quality", 409), ("second quality", 201)):
        own = told["keys"][who]
        _, signs = server.call("/v1/signing", {"secret": told["secrets"][who]}, key=own)
        decision = {"disposition": "scrap", "because": "soft through and through"}
        path = "/v1/nonconformances/1/decision"
        assert server.call(path, decision, key=own, token=signs["token"])[0] == answered, who
    for name, link in told["links"].items():
        request = urllib.request.Request(link, headers={"Authorization": f"Bearer {told['keys']['quality']}"})
        with urllib.request.urlopen(request, timeout=60) as answer:
            assert answer.status == 200, name
            assert answer.read(5) == b"%PDF-" or not name.endswith(("label", "report", "record", "list", "letters")), (
                name
            )
    assert server.stop(signal.SIGINT) == 0
    assert server.process.stderr is not None
    assert "Traceback" not in server.process.stderr.read()
    assert list(scratch.iterdir()) == []


def test_what_cannot_be_read_is_said(potmark: Shell) -> None:
    folder = potmark.folder / ".demo"
    folder.mkdir()
    (folder / "potmark.db").touch()
    (folder / "keys.json").write_text("{")
    assert "--fresh begins again" in potmark.refused("demo")


def test_a_shop_that_lies_in_the_folder_is_not_replaced_by_the_demo(potmark: Shell) -> None:
    potmark.founded()
    before = (potmark.folder / "potmark.db").read_bytes()
    for arguments in (("demo", "--folder", "."), ("demo", "--folder", ".", "--fresh")):
        assert potmark.refused_here(*arguments).startswith("potmark.db is no demo workshop")
    assert (potmark.folder / "potmark.db").read_bytes() == before


def test_begin_again_never_harms_a_workshop_that_is_in_use(
    built: Shell, potmark: Shell, serve: Callable[..., Server]
) -> None:
    """Whoever serves it, as the demo or as an account, holds its folder; the hold ends with the last process."""
    folder = built.folder / ".demo"
    before = (folder / "potmark.db").stat().st_ino, (folder / "keys.json").read_bytes()
    potmark.environment["POTMARK_DATABASE"] = f"sqlite:///{folder}/potmark.db"
    for arguments in (("serve",), ("demo", "--serve", "--json", "--folder", str(folder))):
        server = serve(*arguments)
        said = built.refused("demo", "--fresh")
        assert "is in use by another Potmark; stop that one first" in said
        assert ((folder / "potmark.db").stat().st_ino, (folder / "keys.json").read_bytes()) == before
        if arguments == ("serve",):
            server.stop(signal.SIGTERM)
    assert server.call("/healthz") == (200, {"status": "ok"})
    assert json.loads(built.done("demo", "--json")).keys() >= {"keys"}, "looking at it is open to all"
    server.process.send_signal(signal.SIGKILL)
    server.process.wait(timeout=40)
    until = time.monotonic() + 30
    while _is_held(folder):
        assert time.monotonic() < until, "its workers see that they are alone"
        time.sleep(0.1)


def _is_held(folder: Path) -> bool:
    here = os.open(folder, os.O_RDONLY)
    try:
        fcntl.flock(here, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return True
    finally:
        os.close(here)
    return False


def test_nobody_looks_at_a_workshop_that_is_being_built(potmark: Shell) -> None:
    folder = potmark.folder / ".demo"
    folder.mkdir()
    here = os.open(folder, os.O_RDONLY)
    try:
        fcntl.flock(here, fcntl.LOCK_EX)
        for arguments in (("demo",), ("demo", "--fresh")):
            assert "is being built by another Potmark" in potmark.refused(*arguments)
        potmark.founded()
        os.rename(potmark.folder / "potmark.db", folder / "potmark.db")
        said = potmark.refused("serve", POTMARK_DATABASE="sqlite:///.demo/potmark.db")
        assert "A demo workshop is being built in" in said
    finally:
        os.close(here)
