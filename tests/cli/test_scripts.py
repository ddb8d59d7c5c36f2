"""The scripts in deploy/: what they find broken they make anew."""

import os
import shutil
import subprocess
from pathlib import Path

import pytest

TOP = Path(__file__).resolve().parents[2]

# As it was left by an older system: a link to a Python that is gone, or one that is too old.
_OLD = '#!/bin/sh\ncase "$*" in *version_info*) exit 1;; esac\nexit 0\n'


def _shell(said: str, folder: Path, **environment: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        ["bash", "-c", f". {TOP}/deploy/common.sh; {said}"], cwd=folder, env={**os.environ, **environment},
        capture_output=True, text=True, timeout=120,
    )  # fmt: skip


def _left(folder: Path, left: str) -> Path:
    """A .venv with such a Python, and with all that says that everything is installed."""
    bin_folder = folder / ".venv" / "bin"
    bin_folder.mkdir(parents=True)
    for name in ("potmark", "python"):
        (bin_folder / name).write_text(_OLD)
        (bin_folder / name).chmod(0o755)
    if left != "a Python that is too old":
        (bin_folder / "python").unlink()
        target = "/usr/bin/false" if left == "no pip" else folder / "gone" / "python3.10"
        (bin_folder / "python").symlink_to(target)
    return bin_folder


@pytest.mark.parametrize("left", ["a link that leads nowhere", "a Python that is too old", "no pip"])
def test_a_wrong_python_under_venv_is_seen(tmp_path: Path, left: str) -> None:
    _left(tmp_path, left)
    assert _shell("venv_works", tmp_path).returncode != 0


def test_a_wrong_python_under_venv_is_made_anew_though_all_seems_installed(tmp_path: Path) -> None:
    shutil.copytree(TOP / "deploy", tmp_path / "deploy", ignore=shutil.ignore_patterns("pictures"))
    (tmp_path / "deploy" / "requirements.txt").write_text("")
    (tmp_path / "pyproject.toml").write_text("")
    bin_folder = _left(tmp_path, "a Python that is too old")
    stamp = 'printf "%s" "$(cat deploy/requirements*.txt pyproject.toml | sha256sum | cut -d" " -f1) $PWD"'
    said = _shell(
        f"{stamp} > .venv/installed-requirements; install_pinned deploy/requirements.txt", tmp_path, PIP_NO_INDEX="1"
    )
    assert "Making .venv" in said.stderr
    works = subprocess.run([bin_folder / "python", "-c", "import pip, sys; print(sys.version_info >= (3, 11))"],
                           capture_output=True, text=True, timeout=60)  # fmt: skip
    assert works.stdout == "True\n", said.stderr
    assert _shell("venv_works", tmp_path).returncode == 0


def test_the_systems_python_comes_first_and_one_that_can_make_a_venv_before_one_that_cannot(tmp_path: Path) -> None:
    for name, fails in (("python3", "*ensurepip*"), ("python3.14", "nothing")):
        (tmp_path / name).write_text(f'#!/bin/sh\ncase "$*" in {fails}) exit 1;; esac\nexit 0\n')
        (tmp_path / name).chmod(0o755)
    path = f"{tmp_path}:{os.environ['PATH']}"
    systems = _shell(
        "/usr/bin/python3 -c 'import ensurepip, venv, sys; sys.exit(sys.version_info < (3, 11))'", tmp_path
    )
    found = _shell("find_python", tmp_path, PATH=path).stdout.strip()
    assert found == ("/usr/bin/python3" if systems.returncode == 0 else f"{tmp_path}/python3.14")
    without = "/usr/bin/python3() { false; }; find_python"
    assert _shell(without, tmp_path, PATH=path).stdout.strip() == f"{tmp_path}/python3.14"
