"""`potmark demo --story polyester`: a second, small workshop, in a folder of its own."""

import json
from pathlib import Path

from tests.cli.conftest import Shell, clean_environment


def test_the_polyester_story_is_a_workshop_of_its_own_that_agrees(tmp_path: Path) -> None:
    shell = Shell(tmp_path, clean_environment())
    told = json.loads(shell.done("demo", "--story", "polyester", "--json"))
    assert (shell.folder / ".demo-polyester" / "potmark.db").is_file()
    assert not (shell.folder / ".demo").exists()
    assert told["failed_part"] in told["links"]["failed_part_report"]
    checked = shell("check", POTMARK_DATABASE="sqlite:///.demo-polyester/potmark.db")
    assert checked.returncode == 0, checked.stdout + checked.stderr
