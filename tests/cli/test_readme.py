"""The README's own commands, run as they stand there: only the port, the folder of the programs and the keys differ."""

import json
import re
import subprocess
from collections.abc import Callable
from pathlib import Path

from tests.cli.conftest import Server, Shell

README = Path(__file__).resolve().parents[2] / "README.md"


def _commands(heading: str) -> list[str]:
    """The commands below a heading, each with its continued lines."""
    section = README.read_text("utf-8").split(f"\n## {heading}\n", 1)[1].split("\n## ", 1)[0]
    lines = [line[4:] for line in section.splitlines() if line.startswith("    ")]
    commands: list[str] = []
    for line in lines:
        if commands and (commands[-1].endswith("\\") or commands[-1].count("'") % 2):
            commands[-1] += "\n" + line
        else:
            commands.append(line)
    return commands


def test_a_shop_of_ones_own_as_the_readme_has_it(potmark: Shell, serve: Callable[..., Server]) -> None:
    commands = _commands("The main job in curl")
    init = next(c for c in commands if " init " in c)
    arguments = re.findall(r'"([^"]+)"', init)
    key = potmark.done("init", "--site", arguments[0], "--zone", "Europe/Copenhagen", "--administrator", arguments[1])
    administrator, secrets = key.split()[-1], list[str]()
    server = serve()
    answers = []
    for command in (c for c in commands if c.startswith("curl") and " -d " in c):
        local = command.replace("http://127.0.0.1:8000", server.address)
        # The administrator adds people; from there on it is the lead's key, as the README says.
        key = administrator if "/v1/people" in command else secrets[0]
        done = subprocess.run(
            ["bash", "-c", local],
            cwd=potmark.folder,
            env={**potmark.environment, "KEY": key},
            capture_output=True,
            text=True,
            timeout=60,
            check=True,
        )
        answer = json.loads(done.stdout)
        assert "status" not in answer or "title" not in answer, answer
        answers.append(answer)
        if answer.get("secret"):
            secrets.append(answer["secret"])
    *_, delivery, sign = answers
    assert delivery["state"] == "quarantine"
    assert len(delivery["containers"]) == 4
    lot, handed_out, (*_, key) = delivery["code"], key, secrets
    assert server.call(f"/v1/lots/{lot}/release", {}, key=handed_out)[0] == 401, "it is the lead's own by now"
    status, released = server.call(f"/v1/lots/{lot}/release", {}, key=key)
    assert (status, released["type"]) == (403, "/problems/signature-required")
    status, released = server.call(f"/v1/lots/{lot}/release", {}, key=key, token=sign["token"])
    assert (status, released["state"]) == (201, "released")
    status, label = server.call(f"/v1/items/{released['containers'][0]}/labels", {"size": "100x50"}, key=key)
    assert (status, label["issue"]) == (201, 1)


def test_the_readme_names_files_that_are_there() -> None:
    text = README.read_text("utf-8")
    for name in re.findall(r"\]\(([^)#]+)\)", text):
        assert (README.parent / name).is_file(), name
    for command in re.findall(r"^    \./(\S+)", text, flags=re.MULTILINE):
        assert (README.parent / command).stat().st_mode & 0o111, command


def test_backing_up_restoring_and_upgrading_as_the_readme_has_it(potmark: Shell) -> None:
    """What was entered after the copy is gone when it is restored, and the account agrees."""
    commands = _commands("Install, back up, restore, upgrade")
    back_up, *restore, upgrade = commands
    potmark.founded()
    potmark.done("people", "add", "Ida Holm", "--role", "laminator")

    def run(command: str) -> str:
        local = command.replace("../", f"{README.parent}/")
        done = subprocess.run(["bash", "-c", local], cwd=potmark.folder, env=potmark.environment,
                              capture_output=True, text=True, timeout=120)  # fmt: skip
        assert done.returncode == 0, done.stderr
        return done.stdout

    assert "all agree" in run(back_up)
    potmark.done("people", "add", "Gone Again", "--role", "laminator")
    assert "all agree" in "".join(run(command) for command in restore)
    people = potmark.done("people", "list")
    assert "Ida Holm" in people
    assert "Gone Again" not in people
    install, _, upgrading = upgrade.partition(" && ")
    assert install.split() == ["../deploy/try", "--install"]
    assert "up to date already" in run(upgrading)


def test_the_readme_names_what_is_installed_and_how_large_it_is() -> None:
    text = " ".join(README.read_text("utf-8").split())
    scripts = (README.parent / "deploy" / "common.sh").read_text("utf-8")
    libraries = set(
        re.findall(
            r"lib(?:pango|harfbuzz)[\w.-]+\d", scripts.split('install_packages "Libraries', 1)[1].split("\n}", 1)[0]
        )
    )
    assert libraries == {"libpango-1.0-0", "libpangoft2-1.0-0", "libharfbuzz-subset0"}
    assert all(f"`{name}`" in text for name in libraries)
    said = subprocess.run([README.parent / "deploy" / "try", "--help"], capture_output=True, text=True, timeout=60)
    assert said.returncode == 0
    assert all(option in said.stdout for option in ("--fresh", "--json", "--install"))
