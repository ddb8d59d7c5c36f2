"""What is installed is whole: the built wheel works from another folder, without the checkout."""

import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

TOP = Path(__file__).resolve().parent.parent

_RENDER = """
from datetime import UTC, date, datetime
import labels, schemas, service
from labels.facts import PlaceLabel
from labels.render import label_pdf
assert all(package.__file__.startswith({site!r}) for package in (labels, schemas, service)), service.__file__
facts = PlaceLabel(code={code!r}, issue=1, origin="https://potmark.example.org", name="Shelf B2")
pdf = label_pdf(facts, "50x25", at=datetime(2026, 11, 3, 9, 0, tzinfo=UTC))
assert pdf.startswith(b"%PDF-"), pdf[:20]
"""


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel, built without the network from what is in the checkout."""
    made = tmp_path_factory.mktemp("wheel")
    pip = [sys.executable, "-m", "pip", "--disable-pip-version-check", "wheel", "-q", "--no-deps", "--no-index"]
    subprocess.run([*pip, "--no-build-isolation", "-w", made, TOP], check=True, cwd=made)
    return next(made.glob("potmark-*.whl"))


def test_the_wheel_holds_every_file_of_the_packages_and_nothing_else(wheel: Path) -> None:
    held = {name for name in zipfile.ZipFile(wheel).namelist() if ".dist-info/" not in name}
    there = {
        str(file.relative_to(TOP))
        for package in ("service", "schemas", "labels")
        for file in (TOP / package).rglob("*")
        if file.is_file() and "__pycache__" not in file.parts
    }
    assert held == there
    assert {Path(name).suffix for name in held} >= {".py", ".html", ".css", ".js", ".woff2", ".svg"}


def test_command_pages_and_labels_work_from_the_wheel_alone(wheel: Path, tmp_path: Path) -> None:
    from labels.codes import make

    site = tmp_path / "site"
    with zipfile.ZipFile(wheel) as packed:
        packed.extractall(site)
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    environment = {**os.environ, "PYTHONPATH": str(site), "PYTHONDONTWRITEBYTECODE": "1"}

    def run(program: str, *arguments: str) -> str:
        done = subprocess.run(
            [sys.executable, "-c", program, *arguments], cwd=elsewhere, env=environment, capture_output=True, text=True
        )
        assert done.returncode == 0, done.stderr
        return done.stdout

    command = "import sys; from service.cli import main; sys.exit(main())"
    assert "potmark init" in run(command, "--help")
    run(command, "init", "--site", "Heron Yard", "--zone", "Europe/Copenhagen", "--administrator", "Ada Lund")
    assert "all agree" in run(command, "check")
    run(_RENDER.format(site=str(site), code=make("A", 12)))
